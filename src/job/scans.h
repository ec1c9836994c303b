/* scans.h - finding the scan of a reading among thousands. */
#ifndef JOB_SCANS_H
#define JOB_SCANS_H

#include <stdbool.h>
#include <stddef.h>

#include "flatwright/job.h"

/* The scans met so far, in the order they were met, with a hash table over them. Starts as {0}. */
typedef struct fw_scans {
    size_t count, room;
    fw_scan *list;
    size_t nslots; /* a power of two */
    int *slots;    /* index into list plus 1; 0: free */
    size_t last;   /* the one found before: rows of one scan mostly follow each other */
} fw_scans;

/*
 * The index of the scan equal to `key` in round, flats, turn, diameter and label; a new one gets a
 * copy of the label. Cost: constant. -1: no memory, or more scans than an int counts.
 * Test: tests/unit/readings.c
 */
int fw_scans_find(fw_scans *scans, const fw_scan *key);

void fw_scans_release(fw_scans *scans);

#endif
