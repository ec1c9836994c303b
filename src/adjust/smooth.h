/* smooth.h - a flat's smooth figure by generalised least squares, all orders at once. */
#ifndef ADJUST_SMOOTH_H
#define ADJUST_SMOOTH_H

#include "adjustment.h"
#include "flatwright/basis.h"

/*
 * One face's heights inside the clear aperture are replaced by a sum of terms, all other heights and
 * the scans' pistons and tilts staying free, and everything but the coefficients is eliminated.
 * That is the generalised least-squares fit of the terms to the face's heights with their full
 * covariance; what is not determined of the heights carries no weight in it.
 * Terms are nested by order: order k is the leading `count` of the used terms.
 */
typedef struct smooth {
    fw_basis *basis;
    int nused;
    int *used;       /* nused: the basis terms that the readings determine, in order */
    double *r;       /* nused x nused, upper triangular: information R'R for unit variance */
    double *z;       /* nused: R c = z */
    double floor;    /* chi-square that no order takes away */
    double free_chi; /* chi-square with the heights free */
    int order;       /* the order that is shown; 0: what the readings ask for */
    int ndata;       /* what the readings tell of the face's heights beyond the datum: dimensions */
} smooth;

/* Terms up to `order`; line: the flat was read on one diameter only. */
fw_status smooth_new(adjustment *a, int face, bool line, int order, smooth *out, fw_error *err);
void smooth_release(smooth *s);

/* Used terms whose order is at most k. */
int smooth_count(const smooth *s, int k);

/* Chi-square of the fit with the first `count` used terms. */
double smooth_chi(const smooth *s, int count);

/* c (count) <- the coefficients of the first `count` used terms. */
void smooth_solve(const smooth *s, int count, double *c);

#endif
