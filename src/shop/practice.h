/* practice.h - what a practice job's files are written by. */
#ifndef SHOP_PRACTICE_H
#define SHOP_PRACTICE_H

#include <stdio.h>

#include "flatwright/job.h"

/* The set's job.ini, its title marked as invented; every other line stays as it was typed. */
fw_status practice_settings(const fw_job *job, FILE *out, fw_error *err);

#endif
