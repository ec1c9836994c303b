/* practice.h - what a practice job's files are written by. */
#ifndef SHOP_PRACTICE_H
#define SHOP_PRACTICE_H

#include <stdio.h>

#include "flatwright/job.h"

/*
 * The set's job.ini, its title marked as invented, its model that of the rehearsal unless this is
 * FW_MODEL_AUTO; every other line stays as it was typed.
 */
fw_status practice_settings(const fw_job *job, fw_model model, FILE *out, fw_error *err);

#endif
