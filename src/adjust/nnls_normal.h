/* nnls_normal.h - non-negative least squares from normal equations, made as far as they are needed. */
#ifndef ADJUST_NNLS_NORMAL_H
#define ADJUST_NNLS_NORMAL_H

#include "flatwright/status.h"

/* Column j of G (n), which stays where it is until the end. */
typedef const double *normal_column(void *context, int j);

/*
 * Minimises x'Gx - 2 c'x with x >= 0, G n x n, symmetric, positive definite.
 *   c        in      n; -INFINITY: that x_j stays 0
 *   column   in      asked once for every column whose x_j is above 0 at any time, called with context
 *   x        in/out  n; on entry where to start from, >= 0, and 0 where c is -INFINITY
 * Plans are solved by it; fw_nnls, which bears worse conditions, is what it is held against.
 * Active sets as there, on a Cholesky factor that follows them. What is let in is the column of
 * the largest dual c - G x above 1e-13 of the largest c; one that depends on those inside, or whose
 * coming in brings nothing, is passed over until something else has.
 * Returns FW_OK; FW_SYSTEM without memory, or (never seen) when 10 n + 100 steps do not end it;
 * x is lost then. Cost: n times the columns inside for each that comes in.
 * Source: Lawson & Hanson (1974), ch. 23. Test: tests/unit/nnls_normal.c.
 */
fw_status nnls_normal(int n, const double *c, normal_column *column, void *context, double *x,
                      fw_error *err);

#endif
