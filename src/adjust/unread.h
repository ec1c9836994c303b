/* unread.h - the rim that no station reached: PV and verdict do not speak of it. */
#ifndef ADJUST_UNREAD_H
#define ADJUST_UNREAD_H

#include "flatwright/result.h"

/*
 * r->unread, of the flat with the widest such rim today; "" where surfaces are told, to the edge of the
 * aperture. Test: tests/unit/unread.c.
 */
void unread_name(fw_result *r);

#endif
