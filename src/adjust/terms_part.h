/* terms_part.h - terms of the scans that no reading joins to others, solved by themselves. */
#ifndef ADJUST_TERMS_PART_H
#define ADJUST_TERMS_PART_H

#include <stdbool.h>

#include "linalg.h"

/*
 * `count` unknowns, for readings of unit variance: with U the upper triangle `root` and P what lays
 * its rows at their unknowns, their covariance is P U U' P'.
 */
typedef struct term_part {
    int count, rank, nnull;
    double *root; /* rank x rank, zeros below */
    int *row;     /* count: the row of root that an unknown has; -1: it is left out */
    double *null; /* count x nnull, orthonormal: changes that the heights can make up for */
} term_part;

/* What qr and c, its Q' times the readings, say: the part, and its solution x (count). */
fw_status terms_part_of_qr(const fw_qr *qr, const double *c, term_part *out, double *x,
                           fw_error *err);

/*
 * The same of normal equations: gram (count x count, packed) and b (count). *good: no unknown
 * is so ill determined that the squares cost more than 1e-12 of a figure; else nothing is made.
 * length (count): of the columns before the heights took their share; whole: of how many columns, of
 * which these are a part, gram has the rounding.
 */
fw_status terms_part_of_gram(int count, const double *gram, const double *b, const double *length,
                             int whole, term_part *out, double *x, bool *good, fw_error *err);

void terms_part_release(term_part *p);

#endif
