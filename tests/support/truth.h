/* truth.h - the true heights of a made-up set on a profile's datum, laid independently. */
#ifndef TESTS_TRUTH_H
#define TESTS_TRUTH_H

#include "flatwright/result.h"
#include "simulate.h"

/* The number of points of a profile, diameter after diameter; the centre counts on each. */
size_t profile_size(const fw_profile *p);

/* The point of a profile at a position on the diameter named by any angle; NULL: none. */
const fw_point *profile_find(const fw_profile *p, double angle_deg, double position_mm);

/*
 * True heights at the points of p (profile_size of them, the caller frees), NAN where p tells none,
 * on the datum over the clear points: levelling = scan: one piston for the diameters that hold the
 * centre and one for each other, a slope per diameter; setup: one plane.
 * minus < 0: the heights of `state`; else the removal, state less state `minus`.
 * all: over all clear points of p; else over those it tells.
 */
double *truth_on_datum(sim *s, int flat, int state, int minus, const fw_profile *p, bool all);

/*
 * The largest departure of a profile from truth, and how much it tells. A profile told in part is on
 * one datum or the other; it has to agree with truth on one of them.
 */
typedef struct truth_match {
    size_t told, untold;
    double worst_nm;
} truth_match;

void truth_compare(sim *s, int flat, int state, int minus, const fw_profile *p, truth_match *m);

#endif
