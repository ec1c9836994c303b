/* nnls.h - least squares with coefficients that may not be negative: glass is only taken off. */
#ifndef FLATWRIGHT_NNLS_H
#define FLATWRIGHT_NNLS_H

#include "status.h"

/*
 * Minimises |A x - b| with x_j >= 0 for j >= nfree; the first nfree coefficients have any sign.
 *   m, n      in   rows, columns; m >= 1, n >= 1
 *   nfree     in   0 <= nfree <= n: piston and tilts come first
 *   a         in   m x n, column-major, untouched
 *   b         in   m
 *   x         out  n
 *   dual      out  n, A'(b - A x): <= 0 where x is 0, 0 elsewhere; NULL: not wanted
 *   residual  out  |A x - b|; NULL: not wanted
 * Active sets on a QR factorisation that follows them: columns enter by Gram-Schmidt, twice, and
 * leave by plane rotations. A column enters when its dual is above 1e-13 |a_j| |b|; one that turns
 * out dependent on those inside (what is left of it below 1e-12 of its length), or whose
 * coefficient would be negative, is passed over until the residual has fallen. So it cannot go
 * round in circles, and it ends. With dependent columns the solution is one of several.
 * Returns FW_OK; FW_SYSTEM without memory, with an entry that is not finite, or (never seen) when
 * 10 n + 100 steps do not end it. Outputs are unchanged on failure.
 * Cost: m n for each column that enters or leaves.
 * Source: Lawson & Hanson, Solving Least Squares Problems (1974), ch. 23.
 * Tests: tests/unit/nnls.c, tests/reference/nnls.c.
 */
fw_status fw_nnls(int m, int n, int nfree, const double *a, const double *b, double *x,
                  double *dual, double *residual, fw_error *err);

#endif
