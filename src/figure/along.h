/* along.h - a figure along a diameter: one polynomial in place of all its terms. */
#ifndef FIGURE_ALONG_H
#define FIGURE_ALONG_H

#include "flatwright/basis.h"

/* By its Chebyshev coefficients; of the degree of the basis at most. */
typedef struct along {
    int n;
    double a[FW_BASIS_ORDER_MAX + 1];
} along;

/*
 * The figure sum of c[k] times term used[k], k < nused, on the diameter at theta (rad; 0 on a line):
 * the same but for rounding, at the cost of its degree a place. Test: tests/unit/basis.c.
 */
along along_new(const fw_basis *basis, int nused, const int *used, const double *c, double theta);

/* Its height at x, signed, over the clear radius. */
double along_at(const along *p, double x);

#endif
