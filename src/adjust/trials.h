/* trials.h - would a good flat be judged within, and a poor one not? Made-up flats, read by a plan. */
#ifndef ADJUST_TRIALS_H
#define ADJUST_TRIALS_H

#include "flatwright/rehearse.h"
#include "model.h"

/*
 * Counts the verdicts and fills good_within, poor_within and pv_u_nm of every flat.
 *   planned   in   of planned_new; its deviations are overwritten
 *   model     in   solves it; surfaces of the order that readings ask for, unless the job says which
 *   hurry     in   stop as soon as it is clear that it is not enough; the counts and pv_u_nm are then those
 *                 of the trials made
 *   enough    out  are the counts those of fw_rehearse?
 */
fw_status trials_run(fw_job *planned, const adjust_model *model, bool hurry, fw_expected *expected,
                     bool *enough, fw_error *err);

/* Is PV so unsure that no good flat will be judged within? */
bool trials_unsure(const fw_job *job, double pv_u_nm);

#endif
