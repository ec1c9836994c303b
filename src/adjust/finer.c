/* finer.c - structure finer than the smooth figure: a ring, an edge, a groove. */
#include "finer.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_randist.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "figure/along.h"
#include "flatwright/alloc.h"
#include "flatwright/mating.h"
#include "flatwright/stats.h"

static const double LEVEL = 0.01;
/* Stations that take part in the simulation: the highest and the lowest. */
enum { KEPT = 512 };

typedef struct station {
    double rho, theta, height, residual, u;
} station;

static double test(const adjustment *a, const smooth *s)
{
    double dof = s->ndata - s->nused, excess = smooth_chi(s, s->nused) - s->free_chi;
    if (dof < 1 || !(a->variance > 0))
        return NAN;
    excess = excess > 0 ? excess : 0;
    if (a->net->sigma_known && a->birge <= 1)
        return fw_chi_square_tail(excess / a->variance, dof);
    return gsl_cdf_fdist_Q(excess / dof / a->variance, dof, (double)a->redundancy);
}

/* Takes the best line off the residuals of one diameter: the heights know neither piston nor slope. */
static void level(int n, station *x)
{
    double s0 = n, s1 = 0, s2 = 0, r0 = 0, r1 = 0;
    for (int i = 0; i < n; i++) {
        s1 += x[i].rho;
        s2 += x[i].rho * x[i].rho;
        r0 += x[i].residual;
        r1 += x[i].residual * x[i].rho;
    }
    double det = s0 * s2 - s1 * s1;
    double slope = det > 0 ? (s0 * r1 - s1 * r0) / det : 0, piston = n ? (r0 - slope * s1) / s0 : 0;
    for (int i = 0; i < n; i++)
        x[i].residual -= piston + slope * x[i].rho;
}

static size_t list_stations(const net_face *face, const fw_profile *p, const smooth *s,
                            const double *c, station *x)
{
    size_t n = 0;
    for (int k = 0; k < p->ndiameters; k++) {
        const fw_diameter *d = &p->diameters[k];
        double theta = s->basis->line ? 0 : d->angle_deg * FW_RAD;
        size_t first = n;
        along line = along_new(s->basis, s->nused, s->used, c, theta);
        for (size_t i = 0; i < d->npoints; i++) {
            const fw_point *pt = &d->points[i];
            if (!pt->clear || !pt->determined)
                continue;
            double rho = pt->position_mm / face->clear_mm, fit = along_at(&line, rho);
            x[n++] = (station){rho, theta, fit, pt->height_nm - fit, pt->u_nm};
        }
        level((int)(n - first), x + first);
        for (size_t i = first; i < n; i++)
            x[i].height += x[i].residual;
    }
    return n;
}

static int by_height(const void *a, const void *b)
{
    double x = ((const station *)a)->height, y = ((const station *)b)->height;
    return (x > y) - (x < y);
}

/* The k lowest stations come first, in no order (C. A. R. Hoare, Algorithm 65: find, 1961). */
static void part_lowest(size_t n, station *x, size_t k)
{
    size_t low = 0, high = n;
    while (k > low && k < high) {
        double pivot = x[low + (high - low) / 2].height;
        size_t i = low, j = high - 1;
        while (i <= j) {
            while (x[i].height < pivot)
                i++;
            while (x[j].height > pivot)
                j--;
            if (i > j)
                break;
            station swap = x[i];
            x[i++] = x[j];
            x[j] = swap;
            if (j-- == 0)
                break;
        }
        if (k <= j + 1)
            high = j + 1;
        else if (k >= i)
            low = i;
        else
            return;
    }
}

static fw_status keep(finer *f, size_t n, station *x, fw_error *err)
{
    double rms2 = f->rms_nm * f->rms_nm;
    f->n = n > KEPT ? KEPT : (int)n;
    size_t lowest = (size_t)f->n / 2, highest = (size_t)f->n - lowest;
    part_lowest(n, x, lowest);
    part_lowest(n - lowest, x + lowest, n - lowest - highest);
    qsort(x, lowest, sizeof *x, by_height);
    qsort(x + n - highest, highest, sizeof *x, by_height);
    f->rho = fw_alloc(f->n, sizeof(double));
    f->theta = fw_alloc(f->n, sizeof(double));
    f->mean = fw_alloc(f->n, sizeof(double));
    f->sd = fw_alloc(f->n, sizeof(double));
    if (!f->rho || !f->theta || !f->mean || !f->sd)
        return fw_out_of_memory(err);
    for (int i = 0; i < f->n; i++) {
        const station *at = &x[i < f->n / 2 ? (size_t)i : n - (size_t)(f->n - i)];
        double w = rms2 + at->u * at->u > 0 ? rms2 / (rms2 + at->u * at->u) : 0;
        f->rho[i] = at->rho;
        f->theta[i] = at->theta;
        f->mean[i] = w * at->residual;
        f->sd[i] = sqrt(w) * at->u;
    }
    return FW_OK;
}

fw_status finer_find(adjustment *a, int face, const fw_profile *profile, const smooth *s,
                     finer *out, fw_error *err)
{
    finer f = {.p = test(a, s)};
    size_t room = 0;
    fw_status status = FW_OK;
    f.significant = f.p < LEVEL;
    *out = f;
    if (!f.significant)
        return FW_OK;
    for (int k = 0; k < profile->ndiameters; k++)
        room += profile->diameters[k].npoints;
    station *x = fw_alloc(room, sizeof *x);
    double *c = fw_alloc(s->nused, sizeof *c), square = 0, noise = 0;
    if (!x || !c) {
        status = fw_out_of_memory(err);
        goto done;
    }
    smooth_solve(s, s->nused, c);
    size_t n = list_stations(&a->net->faces[face], profile, s, c, x);
    for (size_t i = 0; i < n; i++) {
        square += x[i].residual * x[i].residual;
        noise += x[i].u * x[i].u;
    }
    f.rms_nm = n ? sqrt(fmax(square - noise, 0) / (double)n) : 0;
    status = keep(&f, n, x, err);
done:
    fw_free(x);
    fw_free(c);
    if (status)
        finer_release(&f);
    else
        *out = f;
    return status;
}

void finer_release(finer *f)
{
    fw_free(f->rho);
    fw_free(f->theta);
    fw_free(f->mean);
    fw_free(f->sd);
    *f = (finer){0};
}

void finer_draw(const finer *f, int count, gsl_rng *rng, double *extra)
{
    for (int k = 0; k < count; k++)
        for (int i = 0; i < f->n; i++)
            extra[i + (size_t)k * f->n] = f->mean[i] + gsl_ran_gaussian_ziggurat(rng, f->sd[i]);
}
