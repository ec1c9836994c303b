/* foresee_modes.h - what is known of heights that a candidate reads, once for all candidates. */
#ifndef ADJUST_FORESEE_MODES_H
#define ADJUST_FORESEE_MODES_H

#include "outlook.h"

/* Heights, their covariance C, and what of it counts for a flat: columns of C W, W a projector. */
typedef struct region {
    int n;
    const double *c; /* n x n */
    int ncounts;
    const double **cw; /* ncounts: columns, all flats' */
    int *flat;         /* ncounts: whose */
} region;

/*
 * The rings of a cell fall into modes: one or two that the terms and the datum bind to all other cells,
 * and the rest, which are alike and of which each knows but its own covariance K.
 */
struct modes {
    double *c, *cw;
    region bound; /* of all cells, as knot_shares has them */
    int ncells;
    region *rest; /* per cell: one of the rest */
};

/* Fills s->modes; released with foresee_forget. */
fw_status foresee_remember(const outlook *o, knot *s, fw_error *err);

#endif
