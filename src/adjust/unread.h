/* unread.h - the rim that no station reached: PV and verdict do not speak of it. */
#ifndef ADJUST_UNREAD_H
#define ADJUST_UNREAD_H

#include "flatwright/result.h"

/* Distance in mm of a profile's outermost station in the clear aperture from the centre; 0: none. */
double unread_outermost_mm(const fw_profile *profile);

/* r->unread, from the figures of today: of the flat with the widest. Test: tests/unit/unread.c. */
void unread_name(fw_result *r);

#endif
