/* finer.h - structure finer than the smooth figure: a ring, an edge, a groove. */
#ifndef ADJUST_FINER_H
#define ADJUST_FINER_H

#include <gsl/gsl_rng.h>

#include "flatwright/result.h"
#include "smooth.h"

/*
 * What the smooth figure of the highest order leaves is tested (chi-square; F where sigma is
 * estimated). Where it is significant at 1 % the residuals count, as far as they can be believed: the
 * mean of a ring, and of each station what is left beside it. Of a residual r with variance v that is
 *     mean w r, variance w v, w = t^2 / (t^2 + v), t^2 = mean r^2 - mean v over its like.
 * So a turned-down rim, which all diameters see, is not discounted as one station's noise would be.
 * Source: derived; the shrinkage of Efron & Morris, J. Am. Stat. Assoc. 68, 117 (1973), from memory.
 */
typedef struct finer {
    double p, rms_nm;
    bool significant;
    int n;               /* stations kept: all, or those that can decide PV */
    double *rho, *theta; /* over the clear radius; rad */
    double *mean, *sd;   /* nm; sd of what is the station's own */
    int *ring;           /* n: its ring; NULL where there are none */
    int nrings;
    double *ring_sd;     /* nrings: of the ring's mean, nm */
} finer;

fw_status finer_find(adjustment *a, int face, const fw_profile *profile, const smooth *s,
                     finer *out, fw_error *err);
void finer_release(finer *f);

/*
 * extra (f->n x count) <- draws of the residuals, to be added to the smooth figure at the stations.
 * zone (f->nrings) is work.
 */
void finer_draw(const finer *f, int count, gsl_rng *rng, double *zone, double *extra);

#endif
