/* terms.h - the pistons and tilts of the scans: what is left when every ring is eliminated. */
#ifndef ADJUST_TERMS_H
#define ADJUST_TERMS_H

#include "block.h"

/* A stretch of the terms that is solved by itself. */
typedef struct term_range {
    int first, count;
} term_range;

typedef struct scan_terms {
    int n;
    int rank;
    double *t;       /* n */
    double *root[2]; /* of each range, rank x rank: upper triangles, see terms_root.h */
    int *row;        /* n: the row of its range's root that a term has; -1: it is left out */
    int nnull;
    double *null; /* n x nnull: changes of t that the heights can make up for */
    int nranges;
    term_range range[2], roots[2], nulls[2]; /* which terms; its rank, after those before; columns of null */
} scan_terms;

/*
 * The ranges that do not meet: pistons and tilts apart when every ring is paired (even parts see
 * only p, odd ones only q); else one range of all. Returns their number, 1 or 2.
 */
int terms_ranges(const fw_net *net, term_range range[2]);

/*
 * Orthonormal modes over the rings of a class: the columns of v (nrings x nv) are functions of the
 * ring, here 1 and rho; q (nrings x k), r (k x nv), k = min(nrings, nv). Destroys v. All of a
 * class's rings are then k blocks: y_i = sum of q[ring, i] y_ring stands before r[i, .].
 */
fw_status terms_modes(int nrings, int nv, double *v, double *q, double *r, fw_error *err);

/* length (nterms) <- how much the readings say of each term before the heights take their share. */
void terms_lengths(const fw_net *net, double *length);

/* Solves for the terms. Release with terms_release. */
fw_status terms_solve(factors *store, scan_terms *out, fw_error *err);
void terms_release(scan_terms *t);

#endif
