/* foresight.h - a job with made-up pairings added, on a prior, as one dense system. */
#ifndef TESTS_FORESIGHT_H
#define TESTS_FORESIGHT_H

#include <stdbool.h>

#include "flatwright/job.h"

/* A pairing taken as read `times` times: a scan on every diameter at all stations both flats have. */
typedef struct extra {
    int bottom, top;
    double turn;
    int times;
} extra;

typedef struct foresight {
    const fw_job *job;
    double variance; /* multiplies sigma^2 of the job's readings, or is it where none is stated */
    double sigma;    /* of the added readings */
    int ndiameters, nstations;
    const double *diameters, *stations;
    const bool *untied; /* per flat: no centre ties its diameters; NULL: as read */
} foresight;

/*
 * The mean variance over all flats' stations on the datum; u (nflats): the root of each flat's mean.
 * Normal equations of all heights and terms, one Cholesky factor: nothing of the rings' structure.
 */
double foresight_score(const foresight *f, int n, const extra *extras, double *u);

#endif
