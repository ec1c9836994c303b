/* match.h - values that are meant to be the same are made one. */
#ifndef ADJUST_MATCH_H
#define ADJUST_MATCH_H

#include <stddef.h>

#include "flatwright/status.h"

/* Distinct values found in a stream, later grouped within a tolerance. Starts as {0}. */
typedef struct match {
    size_t count, size;
    double *value; /* open-addressing table of distinct values */
    int *group;    /* -1: empty slot; else the group, after match_group */
    int ngroups;
    double *centre; /* of each group: midway between its extremes; ascending */
} match;

/* Takes note of a value. Amortised O(1). */
fw_status match_add(match *m, double value, fw_error *err);

/* Groups the values: a group spans at most `tolerance` above its smallest value. */
fw_status match_group(match *m, double tolerance, fw_error *err);

/* The group of a value that was added. */
int match_find(const match *m, double value);

void match_release(match *m);

#endif
