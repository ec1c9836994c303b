/* planned.h - a measuring plan as a job: every scan and reading in its place, nothing read yet. */
#ifndef ADJUST_PLANNED_H
#define ADJUST_PLANNED_H

#include <gsl/gsl_rng.h>

#include "figure/madeup.h"
#include "flatwright/rehearse.h"

/*
 * The set of `job` in round 1, without work, with the scheme's readings, all zero; to be solved by the
 * scheme's model. Owned by the caller.
 */
fw_status planned_new(const fw_job *job, const fw_scheme *scheme, fw_job **out, fw_error *err);

/*
 * Reads made-up flats, one for each of the job: d = h_bottom + h_top + p + q s + e. With level_nm
 * above 0 each scan (levelling = setup: each pairing) has a random piston and edge tilt of that size.
 */
void planned_read(fw_job *planned, const madeup *flats, double level_nm, gsl_rng *rng);

#endif
