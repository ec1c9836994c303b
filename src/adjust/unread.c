/* unread.c - the rim that no station reached: PV and verdict do not speak of it. */
#include "unread.h"

#include <math.h>
#include <stdio.h>

#include "flatwright/mating.h"

/* Of the clear radius: as much of a rim is left in practice, for fringes end before the glass does. */
static const double RIM = 0.05;

/* Distance of a profile's outermost station in the clear aperture from the centre. */
static double outermost_mm(const fw_profile *profile)
{
    double most = 0;
    for (int k = 0; k < profile->ndiameters; k++) {
        const fw_diameter *d = &profile->diameters[k];
        for (size_t i = 0; i < d->npoints; i++)
            if (d->points[i].clear)
                most = fmax(most, fabs(d->points[i].position_mm));
    }
    return most;
}

void unread_name(fw_result *r)
{
    double least = 1, read_mm = 0, radius_mm = 0;
    int n = 0, widest = -1;
    for (int flat = 0; flat < r->job->nflats && r->model == FW_MODEL_PROFILE; flat++) {
        const fw_face *face = &r->faces[r->today[flat]];
        double read = outermost_mm(&face->profile), radius = face->figure.radius_mm;
        if (face->figure.nterms == 0 || read >= (1 - RIM) * radius - FW_POSITION_TOLERANCE_MM)
            continue;
        if (read / radius < least) {
            least = read / radius;
            read_mm = read;
            radius_mm = radius;
            widest = flat;
        }
        n++;
    }
    if (widest < 0)
        return;
    char more[32] = "";
    if (n > 1)
        snprintf(more, sizeof more, ", and %d more", n - 1);
    snprintf(r->unread, sizeof r->unread,
             "%s beyond %.4g mm of %.4g%s; PV%s not speak of that rim", r->job->flats[widest].name,
             read_mm, radius_mm, more,
             r->job->measure == FW_MEASURE_RMS ? " does" : " and verdict do");
}
