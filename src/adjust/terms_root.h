/* terms_root.h - products with the root of the terms' covariance, and with what is open of them. */
#ifndef ADJUST_TERMS_ROOT_H
#define ADJUST_TERMS_ROOT_H

#include "terms.h"

/*
 * The covariance of the coordinates of a range, for readings of unit variance, is C = root root', root
 * (terms of the range x roots[range].count); null (terms x nulls[range].count) spans the changes of
 * them that the heights can make up for. Ranges do not meet. Neither is ever laid out. Columns of b
 * (nrows x terms of the range, ldb apart) are what a unit of each coordinate does.
 * Test: tests/unit/terms_root.c
 */

/* b (nrows x terms of the range): what a unit of each term does gives way to that of each coordinate. */
fw_status terms_turn(const scan_terms *t, int range, int nrows, double *b, fw_error *err);

/* x (rank of the range x nrows, columns ldx apart) <- root' b': its covariance is x'x. */
void terms_root_times(const scan_terms *t, int range, int nrows, const double *b, int ldb,
                      double *x, int ldx);

/* x (rank of the range) += amount times the row of the root that a term has, one of all terms. */
void terms_root_add(const scan_terms *t, int range, int term, double amount, double *x);

/* y (nnull of the range x nrows, columns ldy apart) <- null' b'. */
void terms_null_times(const scan_terms *t, int range, int nrows, const double *b, int ldb,
                      double *y, int ldy);

#endif
