/* profile.h - heights on the datum with their uncertainty, and which of them are determined. */
#ifndef ADJUST_PROFILE_H
#define ADJUST_PROFILE_H

#include "flatwright/result.h"
#include "spread.h"

/*
 * The profile of a face, or of a removal. The datum is laid over all stations of the flat, its
 * diameters tied by the centre. Where that leaves heights undetermined that another would tell, each
 * diameter gets its own piston, or stations that were read too seldom are left out.
 */
fw_status profile_new(adjustment *a, contrast what, fw_profile *out, fw_error *err);
void profile_release(fw_profile *p);

#endif
