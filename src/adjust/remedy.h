/* remedy.h - the pairing that would show most of what is undetermined. */
#ifndef ADJUST_REMEDY_H
#define ADJUST_REMEDY_H

#include <stdbool.h>

#include "adjustment.h"

typedef struct remedy {
    bool found;
    int bottom, top; /* flats */
    double turn_deg;
    int left; /* undetermined patterns of a ring that would remain */
} remedy;

/*
 * Tries every ordered pair of today's faces at every turn of the job (default: multiples of the
 * diameters' spacing) on a model ring read by all present scans, and keeps the one that leaves least.
 *   today  in  per flat: its face in a->net, -1: not read
 */
fw_status remedy_find(const adjustment *a, const int *today, remedy *out, fw_error *err);

#endif
