/* unknowns.h - what the readings do not carry, in the trade's words, and what would show it. */
#ifndef ADJUST_UNKNOWNS_H
#define ADJUST_UNKNOWNS_H

#include "adjustment.h"
#include "flatwright/result.h"

/*
 * Fills result->unknowns from the adjustment and today's profiles in result (job, faces, today).
 * Cost: one dense rank per candidate pairing on a model ring; nothing when all is determined.
 */
fw_status unknowns_find(adjustment *a, fw_result *result, fw_error *err);

#endif
