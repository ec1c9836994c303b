/* circle.h - is the set going round in circles, and what would break it. */
#ifndef SHOP_CIRCLE_H
#define SHOP_CIRCLE_H

#include "flatwright/track.h"

/* As fw_track_circle says; rounds, faces and spells of the track are filled in. */
fw_track_circle circle_find(const fw_track *track);

#endif
