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
    bool *firm;   /* heights: would be told if all scan terms were known */
    double chi_square;
} dense;

void dense_solve(const fw_job *job, dense *d);
void dense_release(dense *d);
/* Index of a height, -1: none. Any angle; position on it. */
int dense_find(const dense *d, int flat, int state, double angle, double position);

/* What the datum rests on. */
typedef enum dense_datum {
    DENSE_TIED = 0,
    DENSE_UNTIED = 1, /* every diameter has a piston of its own and the centre is on none of them */
    DENSE_FIRM = 2,   /* or-ed in: on the firm heights only */
    DENSE_DATUMS = 4
} dense_datum;

/*
 * Heights of a flat's state on the datum over its clear stations. levelling = scan: one piston for
 * the diameters tied by a reading at the centre, one for each other, one slope per diameter; setup:
 * one plane. Value, standard uncertainty and whether it is determined, for every height of the flat;
 * others are left alone. Returns how many are determined.
 */
int dense_on_datum(const dense *d, const fw_job *job, int flat, int state, int datum,
                   double *value, double *u, bool *known);

#endif
