/* left.c - what the smooth figure leaves of a flat's heights, station by station and ring by ring. */
#include "left.h"

#include <math.h>
#include <stdlib.h>

#include "figure/along.h"
#include "flatwright/mating.h"

#define NEAR_MM 0.05 /* stations of one ring */

double left_spacing_mm(const fw_profile *profile)
{
    double best = INFINITY;
    for (int d = 0; d < profile->ndiameters; d++) {
        const fw_diameter *at = &profile->diameters[d];
        double total = 0;
        int n = 0;
        for (size_t i = 1; i < at->npoints; i++)
            if (at->points[i].clear && at->points[i - 1].clear) {
                total += at->points[i].position_mm - at->points[i - 1].position_mm;
                n++;
            }
        if (n > 1)
            best = fmin(best, total / n);
    }
    return best;
}

/* Takes the best line off the residuals of one diameter. */
static void level(size_t n, station *x)
{
    double s0 = (double)n, s1 = 0, s2 = 0, r0 = 0, r1 = 0;
    for (size_t i = 0; i < n; i++) {
        s1 += x[i].rho;
        s2 += x[i].rho * x[i].rho;
        r0 += x[i].residual;
        r1 += x[i].residual * x[i].rho;
    }
    double det = s0 * s2 - s1 * s1;
    double slope = det > 0 ? (s0 * r1 - s1 * r0) / det : 0, piston = n ? (r0 - slope * s1) / s0 : 0;
    for (size_t i = 0; i < n; i++)
        x[i].residual -= piston + slope * x[i].rho;
}

size_t left_stations(const fw_profile *profile, double clear_mm, const smooth *s, const double *c,
                     station *x)
{
    size_t n = 0;
    for (int k = 0; k < profile->ndiameters; k++) {
        const fw_diameter *d = &profile->diameters[k];
        double theta = s->basis->line ? 0 : d->angle_deg * FW_RAD;
        size_t first = n;
        along line = along_new(s->basis, s->nused, s->used, c, theta);
        for (size_t i = 0; i < d->npoints; i++) {
            const fw_point *pt = &d->points[i];
            if (!pt->clear || !pt->determined)
                continue;
            double rho = pt->position_mm / clear_mm, fit = along_at(&line, rho);
            x[n++] = (station){rho, theta, fit, pt->height_nm - fit, pt->u_nm, 0};
        }
        level(n - first, x + first);
        for (size_t i = first; i < n; i++)
            x[i].height += x[i].residual;
    }
    return n;
}

static int by_radius(const void *a, const void *b)
{
    double x = fabs(((const station *)a)->rho), y = fabs(((const station *)b)->rho);
    return (x > y) - (x < y);
}

int left_rings(size_t n, station *x, double clear_mm, ring *list)
{
    int rings = 0;
    qsort(x, n, sizeof *x, by_radius);
    for (size_t i = 0; i < n; i++) {
        double rho = fabs(x[i].rho);
        if (rings == 0 || (rho - list[rings - 1].rho) * clear_mm >= NEAR_MM)
            list[rings++] = (ring){.rho = rho};
        ring *at = &list[x[i].ring = rings - 1];
        at->mean += x[i].residual;
        at->u += x[i].u * x[i].u;
        at->n++;
    }
    for (int k = 0; k < rings; k++) {
        list[k].mean /= list[k].n;
        list[k].u = sqrt(list[k].u) / list[k].n;
    }
    return rings;
}

void left_believe(int nrings, ring *list)
{
    double t2 = 0;
    for (int k = 0; k < nrings; k++)
        t2 += (list[k].mean * list[k].mean - list[k].u * list[k].u) / nrings;
    for (int k = 0; k < nrings; k++) {
        double part = t2 > 0 ? t2 / (t2 + list[k].u * list[k].u) : 0;
        list[k].mean *= part;
        list[k].u *= sqrt(part);
    }
}
