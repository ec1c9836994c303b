/* rehearse.h - a measuring plan before any reading: what the heights' covariance will be. */
#ifndef ADJUST_REHEARSE_H
#define ADJUST_REHEARSE_H

#include "flatwright/rehearse.h"

/* fw_rehearse; hurry: the trials of a scheme that is not enough are broken off. */
fw_status rehearse(const fw_job *job, const fw_scheme *scheme, bool hurry, fw_rehearsal **rehearsal,
                   fw_error *err);

/* A copy of a scheme with lists of its own; FW_SYSTEM leaves what was made, for scheme_release. */
fw_status scheme_copy(const fw_scheme *from, fw_scheme *to, fw_error *err);
void scheme_release(fw_scheme *scheme);

#endif
