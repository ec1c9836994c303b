/* mating.c - which point of the top meets which point of the bottom. */
#include "flatwright/mating.h"

#include <math.h>

fw_line fw_line_of(double angle_deg)
{
    double full = fmod(angle_deg, 360);
    if (full < 0)
        full += 360;
    if (full >= 360 - FW_ANGLE_TOLERANCE_DEG)
        full = 0; /* a hair below a whole turn */
    fw_line line = {full, 1};
    if (full >= 180 - FW_ANGLE_TOLERANCE_DEG) {
        line.flip = -1;
        line.angle_deg = full < 180 ? 0 : full - 180;
    }
    return line;
}

fw_line fw_line_of_top(double turn_deg, double diameter_deg)
{
    return fw_line_of(turn_deg - diameter_deg);
}
