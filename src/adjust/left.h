/* left.h - what the smooth figure leaves of a flat's heights, station by station and ring by ring. */
#ifndef ADJUST_LEFT_H
#define ADJUST_LEFT_H

#include "flatwright/result.h"
#include "smooth.h"

/* Order of the terms that stations bear, for each gap between them. */
#define LEFT_TERMS_A_GAP 0.45

/* Mean gap between neighbouring clear stations of the diameter read most densely; infinite: none. */
double left_spacing_mm(const fw_profile *profile);

/* A clear station whose height is determined. */
typedef struct station {
    double rho, theta; /* signed, over the clear radius; rad */
    double height;     /* nm; of the smooth figure and the residual */
    double residual;   /* nm; its diameter's best line is taken off: heights know neither piston nor slope */
    double u;          /* nm, of the height */
    int ring;
} station;

/* The stations at one distance from the middle. */
typedef struct ring {
    double rho;
    double mean, u; /* of the residuals, as if the stations' errors were independent; nm */
    int n;
} ring;

/*
 * x <- the stations of a profile, diameter by diameter; returns how many. Room for all its points.
 *   c  in  s->nused coefficients
 */
size_t left_stations(const fw_profile *profile, double clear_mm, const smooth *s, const double *c,
                     station *x);

/* Sorts the stations by rings, list <- the rings from the middle out; returns how many. */
int left_rings(size_t n, station *x, double clear_mm, ring *list);

/*
 * Mean and u <- what can be believed of the ring's mean: w mean and w^(1/2) u with
 * w = t^2 / (t^2 + u^2), t^2 = mean square of the means less that of u, over all rings.
 */
void left_believe(int nrings, ring *list);

#endif
