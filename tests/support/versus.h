/* versus.h - a job adjusted ring by ring and as one dense system: heights, uncertainties, rank. */
#ifndef TESTS_VERSUS_H
#define TESTS_VERSUS_H

#include "flatwright/job.h"

/* What has been compared so far. */
typedef struct versus_tally {
    int full, partial, untied, restricted; /* faces */
    int heights;
    int less; /* heights that could have been told: one ring on a diameter, see Known shortfalls */
} versus_tally;

/* Fails the test unless both agree in all that is told; adds to the tally. */
void versus_dense(const fw_job *job, versus_tally *t);

#endif
