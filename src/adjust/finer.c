/* finer.c - structure finer than the smooth figure: a ring, an edge, a groove. */
#include "finer.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_randist.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "flatwright/alloc.h"
#include "flatwright/stats.h"
#include "left.h"

static const double LEVEL = 0.01;
/* Stations that take part in the simulation: the highest and the lowest. */
enum { KEPT = 512 };
/* Stations from which it is told how much a station has of its own. */
static const double LOCAL = 64;

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

/*
 * own2 (nrings) <- mean square, beyond its noise, of what the stations have beside their ring's mean:
 * of as many neighbouring rings, from the rim inward, as hold LOCAL stations. sum, dof: nrings, work.
 */
static void own_squares(size_t n, const station *x, int nrings, const ring *means, double *sum,
                        double *dof, double *own2)
{
    double left = 0, s = 0, d = 0;
    int done = nrings;
    for (size_t i = 0; i < n; i++) {
        int k = x[i].ring;
        double own = x[i].residual - means[k].mean, part = 1 - 1.0 / means[k].n;
        sum[k] += own * own - x[i].u * x[i].u * part;
        dof[k] += part;
        left += part;
    }
    for (int k = nrings - 1; k >= 0; k--) {
        s += sum[k];
        d += dof[k];
        left -= dof[k];
        if (k > 0 && (d < LOCAL || left < LOCAL))
            continue;
        while (done > k)
            own2[--done] = d > 0 ? fmax(s / d, 0) : 0;
        s = d = 0;
    }
}

/* Of the n stations those that count; `means` of the rings, and what is believed of them. */
static fw_status keep(finer *f, size_t n, station *x, const ring *means, const ring *believed,
                      const double *own2, fw_error *err)
{
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
    f->ring = fw_alloc(f->n, sizeof(int));
    f->ring_sd = fw_alloc(f->nrings, sizeof(double));
    if (!f->rho || !f->theta || !f->mean || !f->sd || !f->ring || !f->ring_sd)
        return fw_out_of_memory(err);
    for (int k = 0; k < f->nrings; k++)
        f->ring_sd[k] = believed[k].u;
    for (int i = 0; i < f->n; i++) {
        const station *at = &x[i < f->n / 2 ? (size_t)i : n - (size_t)(f->n - i)];
        double v = at->u * at->u * (1 - 1.0 / means[at->ring].n), t2 = own2[at->ring];
        double w = t2 > 0 ? t2 / (t2 + v) : 0;
        f->rho[i] = at->rho;
        f->theta[i] = at->theta;
        f->mean[i] = believed[at->ring].mean + w * (at->residual - means[at->ring].mean);
        f->sd[i] = sqrt(w * v);
        f->ring[i] = at->ring;
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
    ring *means = fw_alloc(room, sizeof *means), *believed = fw_alloc(room, sizeof *believed);
    double *c = fw_alloc(s->nused, sizeof *c), *own = fw_alloc(3 * room, sizeof *own);
    double square = 0, noise = 0;
    if (!x || !means || !believed || !c || !own) {
        status = fw_out_of_memory(err);
        goto done;
    }
    smooth_solve(s, s->nused, c);
    double clear = a->net->faces[face].clear_mm;
    size_t n = left_stations(profile, clear, s, c, x);
    for (size_t i = 0; i < n; i++) {
        square += x[i].residual * x[i].residual;
        noise += x[i].u * x[i].u;
    }
    f.rms_nm = n ? sqrt(fmax(square - noise, 0) / (double)n) : 0;
    f.nrings = left_rings(n, x, clear, means);
    memcpy(believed, means, (size_t)f.nrings * sizeof *means);
    left_believe(f.nrings, believed);
    own_squares(n, x, f.nrings, means, own, own + room, own + 2 * room);
    status = keep(&f, n, x, means, believed, own + 2 * room, err);
done:
    fw_free(x);
    fw_free(means);
    fw_free(believed);
    fw_free(c);
    fw_free(own);
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
    fw_free(f->ring);
    fw_free(f->ring_sd);
    *f = (finer){0};
}

void finer_draw(const finer *f, int count, gsl_rng *rng, double *zone, double *extra)
{
    for (int k = 0; k < count; k++) {
        for (int q = 0; q < f->nrings; q++)
            zone[q] = gsl_ran_gaussian_ziggurat(rng, f->ring_sd[q]);
        for (int i = 0; i < f->n; i++)
            extra[i + (size_t)k * f->n] = f->mean[i] + (f->ring ? zone[f->ring[i]] : 0) +
                                          gsl_ran_gaussian_ziggurat(rng, f->sd[i]);
    }
}
