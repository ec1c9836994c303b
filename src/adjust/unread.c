/* unread.c - the rim that no station reached: PV and verdict do not speak of it. */
#include "unread.h"

#include <math.h>
#include <stdio.h>

#include "flatwright/mating.h"

/* Of the clear radius: as much of a rim is left in practice, for fringes end before the glass does. */
static const double RIM = 0.05;

double unread_outermost_mm(const fw_profile *profile)
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
    const fw_figure *widest = NULL;
    int n = 0, named = 0;
    for (int flat = 0; flat < r->job->nflats; flat++) {
        const fw_figure *f = &r->faces[r->today[flat]].figure;
        if (f->nterms == 0 || f->read_mm >= (1 - RIM) * f->radius_mm - FW_POSITION_TOLERANCE_MM)
            continue;
        if (!widest || f->read_mm / f->radius_mm < widest->read_mm / widest->radius_mm) {
            widest = f;
            named = flat;
        }
        n++;
    }
    if (!widest)
        return;
    char more[32] = "";
    if (n > 1)
        snprintf(more, sizeof more, ", and %d more", n - 1);
    snprintf(r->unread, sizeof r->unread,
             "%s beyond %.4g mm of %.4g%s; PV%s not speak of that rim", r->job->flats[named].name,
             widest->read_mm, widest->radius_mm, more,
             r->job->measure == FW_MEASURE_RMS ? " does" : " and verdict do");
}
