/* balance.h - what a ring's readings cannot tell of its heights, by following them. */
#ifndef ADJUST_BALANCE_H
#define ADJUST_BALANCE_H

#include "block.h"

/*
 * Every row of H binds two heights, e1 x1 + e2 x2 with |e1| = |e2|, so H x = 0 means x2 = -(e1/e2) x1
 * along every reading. Heights that hang together by readings have such an x, up to a factor, unless
 * some closed way along them asks for x = -x. Exact, whatever the weights.
 * null  out  n x (n - rank), orthonormal: +-1 / sqrt(heights) on one such set each; owned by the caller
 * Source: signed graphs, Harary 1953 (from memory); derived. Test: tests/unit/block.c
 */
fw_status balance_null(const block *k, double **null, int *rank, fw_error *err);

#endif
