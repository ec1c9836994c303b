/* lstsq.h - least squares by orthogonal methods; the building block of every fit here. */
#ifndef FLATWRIGHT_LSTSQ_H
#define FLATWRIGHT_LSTSQ_H

#include "status.h"

/*
 * Minimises |A x - b| by Householder QR with column pivoting (LAPACK dgeqp3) on columns scaled
 * to unit length.
 *   m, n       in   rows, columns; m >= 0, n >= 0
 *   a          in   m x n, column-major, untouched
 *   b          in   m
 *   tolerance  in   a column counts as dependent when its pivot is below tolerance times the first;
 *                   0: 1e-13
 *   x          out  n; dependent columns get 0
 *   cofactor   out  n x n, (A'A)^-1, rows and columns of dependent ones 0; NULL: not wanted
 *   residual   out  m, b - A x; NULL: not wanted
 *   rank       out  NULL: not wanted
 * Returns FW_OK; FW_SYSTEM on a non-finite entry or no memory, outputs then unchanged. Cost 2 m n^2.
 * Tests: tests/unit/linalg.c, tests/reference (NIST StRD, GUM H.3, levelling networks).
 */
fw_status fw_lstsq(int m, int n, const double *a, const double *b, double tolerance,
                   double *x, double *cofactor, double *residual, int *rank, fw_error *err);

#endif
