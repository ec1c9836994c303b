/* terms_root.h - products with the root of the covariance of the scan terms. */
#ifndef ADJUST_TERMS_ROOT_H
#define ADJUST_TERMS_ROOT_H

#include "terms.h"

/*
 * The covariance of the terms of a range, for readings of unit variance, is C =
 * P U U' P': U the upper triangle terms.root, P what lays its rows at their
 * terms, as terms.row says. Ranges do not meet.
 */

/*
 * x (rank of the range x nrows, columns ldx apart) <- U'P'b', b (nrows x terms
 * of the range, columns ldb apart) what a unit of each term does: its
 * covariance is x'x. Test: tests/unit/terms_root.c
 */
void terms_root_times(const scan_terms *t, int range, int nrows, const double *b, int ldb,
                      double *x, int ldx);

/* x (rank of all ranges) += amount times the row of P U that a term has. */
void terms_root_add(const scan_terms *t, int term, double amount, double *x);

#endif
