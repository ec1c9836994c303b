/* enough.h - how many repeats of what would bring every flat's uncertainty below the limit. */
#ifndef ADJUST_ENOUGH_H
#define ADJUST_ENOUGH_H

#include "candidates.h"
#include "flatwright/next.h"

/*
 * Fills next->enough. Candidate i of the public list is contender of[i]; today as for outlook_init;
 * after (nflats for each contender): what outlook_foresee says of one reading of it.
 * What has been allocated is released with fw_next_free, also after a failure.
 */
fw_status enough_find(const adjustment *a, const outlook_flat *today, const candidates *c,
                      const int *of, const double *after, fw_next *next, fw_error *err);

/*
 * u2 (nflats) <- what each flat's mean variance, nm^2, cannot fall below by so many settings more,
 * whichever they are: that of a height which only readings of its own tell, all others known.
 * Not for an outlook over the area. FW_SYSTEM. Test: tests/unit/enough.c
 */
fw_status enough_least(const outlook *o, int settings, double *u2, fw_error *err);

#endif
