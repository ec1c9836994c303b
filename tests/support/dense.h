/* dense.h - the whole job as one dense matrix and its singular values: slow, and independent. */
#ifndef TESTS_DENSE_H
#define TESTS_DENSE_H

#include <stdbool.h>

#include "flatwright/job.h"

typedef struct dense_height {
    int flat, state;
    double angle, position; /* own line in [0, 180); the centre has angle 0 */
    bool clear;
} dense_height;

typedef struct dense {
    int readings, unknowns, heights, rank;
    int surface_null; /* dimension of the null space seen on the heights */
    dense_height *height;
    double *x;    /* least-norm solution, unknowns */
    double *cov;  /* unknowns x unknowns, unit variance (weights 1/sigma) */
    double *null; /* unknowns x (unknowns - rank) */
    double chi_square;
} dense;

void dense_solve(const fw_job *job, dense *d);
void dense_release(dense *d);
/* Index of a height, -1: none. Any angle; position on it. */
int dense_find(const dense *d, int flat, int state, double angle, double position);

/*
 * Heights of a flat's state on the datum of levelling = scan over its clear stations: one piston for
 * the diameters tied by a reading at the centre, one for each other, one slope per diameter. Value,
 * standard uncertainty and whether it is determined, for every height of the flat; others are left
 * alone. use[i] false leaves a height out of the datum; NULL: all are used.
 */
void dense_on_datum(const dense *d, const fw_job *job, int flat, int state, const bool *use,
                    double *value, double *u, bool *known);

/* The same; untied: every diameter has a piston of its own and the centre is on none of them. */
void dense_on_untied(const dense *d, const fw_job *job, int flat, int state, const bool *use,
                     bool untied, double *value, double *u, bool *known);

#endif
