/* finer.h - structure finer than the smooth figure: a ring, an edge, a groove. */
#ifndef ADJUST_FINER_H
#define ADJUST_FINER_H

#include <gsl/gsl_rng.h>

#include "flatwright/result.h"
#include "smooth.h"

/*
 * What the smooth figure of the highest order leaves is tested (chi-square; F where sigma is
 * estimated). Where it is significant at 1 % each station gets what can be believed of its residual r:
 *     mean w r, variance w u^2, w = t^2 / (t^2 + u^2), t^2 = mean r^2 - mean u^2.
 */
typedef struct finer {
    double p, rms_nm;
    bool significant;
    int n;               /* stations kept: all, or those that can decide PV */
    double *rho, *theta; /* over the clear radius; rad */
    double *mean, *sd;   /* nm */
} finer;

fw_status finer_find(adjustment *a, int face, const fw_profile *profile, const smooth *s,
                     finer *out, fw_error *err);
void finer_release(finer *f);

/* extra (f->n x count) <- draws of the residuals, to be added to the smooth figure at the stations. */
void finer_draw(const finer *f, int count, gsl_rng *rng, double *extra);

#endif
