/* surface_outlook.h - what is known of today's surfaces as terms, and what a pairing would add. */
#ifndef ADJUST_SURFACE_OUTLOOK_H
#define ADJUST_SURFACE_OUTLOOK_H

#include "outlook.h"
#include "surface.h"

/*
 * Terms of today's flats up to the judged order, orthonormal over the clear aperture: the mean
 * variance of a flat's heights over its area is the trace of its block. On a prior that gives every
 * height the variance prior^2 the terms have prior^2 / nterms each.
 */
typedef struct surface_outlook {
    surface_terms terms; /* up to the judged order */
    int n;               /* nflats x terms.basis->nterms */
    double *cov;         /* n x n */
} surface_outlook;

/* From an outlook whose lines, sides and noise are known. */
fw_status surface_outlook_new(const outlook *o, surface_outlook **out, fw_error *err);
void surface_outlook_free(surface_outlook *s);

/* As outlook_foresee and outlook_commit, over the area instead of stations. */
fw_status surface_foresee(const outlook *o, const setup *p, double times, double *sum,
                          fw_error *err);
fw_status surface_commit(const outlook *o, const setup *p, double times, fw_error *err);

#endif
