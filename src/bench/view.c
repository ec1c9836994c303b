/* view.c - the false rise of an oblique view, and the gap that a lamp's line allows. */
#include "flatwright/view.h"

#include <math.h>
#include <string.h>

double fw_view_rise_nm(double gap_um, double eye_mm, double r_mm)
{
    double slope = r_mm / eye_mm;
    return 1e3 * gap_um * slope * slope / 2;
}

double fw_view_contrast_um(const fw_light *light)
{
    static const struct {
        const char *source;
        double width_nm;
    } lines[] = {{"sodium", 0.5974},      {"mercury-green", 0.05}, {"mercury-blue", 0.05},
                 {"helium-yellow", 0.05}, {"cadmium-red", 0.05},   {"hene-red", 0.002}};
    for (size_t i = 0; i < sizeof lines / sizeof lines[0]; i++)
        if (strcmp(lines[i].source, light->source) == 0)
            return 1e-3 * light->wavelength_nm * light->wavelength_nm / (4 * lines[i].width_nm);
    return NAN;
}
