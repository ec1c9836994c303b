/* madeset.h - a made-up set: flats of a seed, as they are after the rows of a work list. */
#ifndef SHOP_MADESET_H
#define SHOP_MADESET_H

#include <gsl/gsl_rng.h>

#include "figure/madeup.h"
#include "flatwright/result.h"
#include "shop/hand.h"

typedef struct madeset {
    const fw_job *job; /* borrowed: flats and target */
    fw_basis *basis;
    madeup *flats; /* before any work */
    hand hand;
} madeset;

/*
 * The set of a seed; `rng`, seeded with it, goes on to the errors of its readings. Each flat's PV
 * (rms, irregularity) over its whole face is drawn between half a target and fifteen. Release with
 * madeset_release in every case.
 */
fw_status madeset_draw(madeset *set, const fw_job *job, unsigned long seed, gsl_rng *rng,
                       fw_error *err);
void madeset_release(madeset *set);

/*
 * Reads the set by the scans of `job`, in the states that its work leaves: as planned_read, less
 * what was taken off. `errors`: with the errors of sigma_nm and levels of level_nm; else none.
 */
fw_status madeset_read(const madeset *set, fw_job *job, bool errors, double level_nm, gsl_rng *rng,
                       fw_error *err);

/*
 * Puts a flat's true heights in `round` in place of those of a profile's points, on the plane that fits
 * its face best by area: the datum of the surface model. What is told stays what it was.
 */
fw_status madeset_profile(const madeset *set, const fw_job *job, int flat, int round,
                          fw_profile *profile, fw_error *err);

/* The measure of the target over a flat's whole face in `round`, by the work of `job`. */
fw_status madeset_size(const madeset *set, const fw_job *job, int flat, int round, double *size_nm,
                       fw_error *err);

#endif
