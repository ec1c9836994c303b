/* light.c - lamps, and the surface height that a fringe or a wave stands for. */
#include <math.h>
#include <string.h>

#include "flatwright/mating.h"
#include "flatwright/nearest.h"
#include "flatwright/units.h"
#include "job/parts.h"

/*
 * Standard air but for the laser, which is given for a room at 20 C; the two differ by 5e-6 of the
 * wavelength. Lines of ordinary lamps are not defined better than about 0.001 nm.
 */
static const fw_lamp lamps[] = {
    {"mercury-green", 546.074, "optical-glass catalogue line e, Hg I, air"},
    {"mercury-blue", 435.8343, "optical-glass catalogue line g, Hg I, air"},
    {"helium-yellow", 587.5618, "optical-glass catalogue line d, He I, air"},
    {"sodium", 589.2938, "mean of the D lines 588.9950 and 589.5924, Na I, air"},
    {"hene-red", 632.8191,
     "vacuum wavelength 632.9908, CIPM Recommendation 2 (2007), over the index of air 1.000271"},
    {"cadmium-red", 643.8469, "optical-glass catalogue line C', Cd I, air"},
};

const char *const fw_unit_names[4] = {"nm", "um", "fringe", "wave"};

const fw_lamp *fw_lamps(int *count)
{
    *count = (int)(sizeof lamps / sizeof lamps[0]);
    return lamps;
}

const fw_lamp *fw_lamp_find(const char *name)
{
    for (size_t i = 0; i < sizeof lamps / sizeof lamps[0]; i++)
        if (fw_same_name(lamps[i].name, name))
            return &lamps[i];
    return NULL;
}

double fw_unit_nm(fw_unit unit, const fw_light *light)
{
    switch (unit) {
    case FW_UNIT_NM:
        return 1;
    case FW_UNIT_UM:
        return 1000;
    case FW_UNIT_FRINGE: /* h = lambda / (2 cos i) */
        return light->wavelength_nm / (2 * cos(light->incidence_deg * FW_RAD));
    case FW_UNIT_WAVE:
        return light->wavelength_nm;
    }
    return NAN;
}

bool fw_unit_find(const char *name, fw_unit *unit)
{
    static const char *const micro[] = {"\xC2\xB5m", "\xCE\xBCm"}; /* micro sign, Greek mu */
    for (int i = 0; i < 4; i++)
        if (strcmp(fw_unit_names[i], name) == 0) {
            *unit = (fw_unit)i;
            return true;
        }
    if (strcmp(name, micro[0]) != 0 && strcmp(name, micro[1]) != 0)
        return false;
    *unit = FW_UNIT_UM;
    return true;
}
