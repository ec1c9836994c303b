/* view.c - a flat's present figure as it is believed, drawn many times over a grid. */
#include <assert.h>
#include <gsl/gsl_randist.h>
#include <math.h>
#include <stdlib.h>

#include "adjust/belief.h"
#include "adjust/linalg.h"
#include "adjust/model.h"
#include "base/draws.h"
#include "figure/along.h"
#include "flatwright/alloc.h"
#include "flatwright/mating.h"
#include "shop/plan.h"

/* Finer than what is judged, as far as the stations bear it: the finest swing between sparse ones. */
enum { COARSEST = 12, FINEST = 16, DRAWS = 200, SEED = 19270417, ZONES = 64 };

#define TERMS_A_GAP 0.45 /* between stations: order of the terms for each */
#define NEAR_MM 0.05   /* stations of one ring */
#define LEAST 0.05    /* smallest rms believed of a figure beforehand, in targets; as when judged */
#define EXACT 1e-24   /* variance of unit weight below which readings count as exact */

/* Mean gap between neighbouring clear stations of the diameter read most densely. */
static double spacing_of(const fw_profile *profile)
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

static int find_face(const adjustment *a, const fw_face *face)
{
    for (int i = 0; i < a->net->nfaces; i++)
        if (a->net->faces[i].flat == face->flat && a->net->faces[i].state == face->state)
            return i;
    return -1;
}

/* A ring of stations: what the smooth figure leaves there, all diameters together. */
typedef struct ring {
    double r_mm, sum, u2;
    int n;
} ring;

static int by_radius(const void *a, const void *b)
{
    const ring *x = a, *y = b;
    return (x->r_mm > y->r_mm) - (x->r_mm < y->r_mm);
}

/* Takes piston and slope off the residuals of one diameter. */
static void level(int n, const double *s, double *v)
{
    double s1 = 0, s2 = 0, a = 0, b = 0;
    for (int i = 0; i < n; i++) {
        s1 += s[i];
        s2 += s[i] * s[i];
        a += v[i];
        b += v[i] * s[i];
    }
    double det = n * s2 - s1 * s1, slope = det > 0 ? (n * b - s1 * a) / det : 0;
    for (int i = 0; i < n; i++)
        v[i] -= (a - slope * s1) / n + slope * s[i];
}

/* Residuals of one diameter into the list; work: 2 npoints. Returns how many. */
static int list_residuals(const smooth *s, const double *c, const fw_diameter *d, double clear_mm,
                          double *work, ring *list)
{
    double *place = work, *left = work + d->npoints;
    along line = along_new(s->basis, s->basis->nterms, NULL, c,
                           s->basis->line ? 0 : d->angle_deg * FW_RAD);
    int n = 0;
    for (size_t i = 0; i < d->npoints; i++) {
        const fw_point *p = &d->points[i];
        if (!p->clear || !p->determined || !(p->u_nm >= 0))
            continue;
        place[n] = p->position_mm;
        left[n] = p->height_nm - along_at(&line, p->position_mm / clear_mm);
        list[n] = (ring){.r_mm = fabs(p->position_mm), .u2 = p->u_nm * p->u_nm, .n = 1};
        n++;
    }
    if (n > 2)
        level(n, place, left);
    for (int i = 0; i < n; i++)
        list[i].sum = n > 2 ? left[i] : 0;
    return n;
}

/* Equal radii together; each mean kept in the part in which it can be believed. */
static int believe(int n, ring *list)
{
    int rings = 0;
    double square = 0, noise = 0;
    qsort(list, (size_t)n, sizeof *list, by_radius);
    for (int i = 0; i < n; i++) {
        if (rings > 0 && list[i].r_mm - list[rings - 1].r_mm < NEAR_MM) {
            list[rings - 1].sum += list[i].sum;
            list[rings - 1].u2 += list[i].u2;
            list[rings - 1].n++;
        } else
            list[rings++] = list[i];
    }
    for (int k = 0; k < rings; k++) {
        list[k].sum /= list[k].n;
        list[k].u2 /= (double)list[k].n * list[k].n;
        square += list[k].sum * list[k].sum / rings;
        noise += list[k].u2 / rings;
    }
    double real = fmax(square - noise, 0);
    for (int k = 0; k < rings; k++) {
        double part = real + list[k].u2 > 0 ? real / (real + list[k].u2) : 0;
        list[k].sum *= part;
        list[k].u2 *= part;
    }
    return rings;
}

/* Adds to every draw the zones that are finer than the terms, linear between the rings. */
static void add_zones(const fw_menu *menu, int rings, const ring *list, gsl_rng *rng, view *v)
{
    double at[64] = {0}, z[ZONES] = {0};
    assert(rings >= 2 && rings <= ZONES);
    for (int k = 0; k < v->ndraws; k++) {
        for (int q = 0; q < rings; q++)
            z[q] = list[q].sum + gsl_ran_gaussian_ziggurat(rng, sqrt(list[q].u2));
        for (int g = 0; g < menu->nradii; g++) {
            double r = menu->r_mm[g * menu->nangles];
            int q = 0;
            while (q + 2 < rings && list[q + 1].r_mm < r)
                q++;
            double t = (r - list[q].r_mm) / (list[q + 1].r_mm - list[q].r_mm);
            at[g] = z[q] + fmin(fmax(t, 0), 1) * (z[q + 1] - z[q]);
        }
        for (int i = 0; i < menu->npoints; i++)
            v->draws[i + (size_t)k * (size_t)menu->npoints] += at[i / menu->nangles];
    }
}

static fw_status see_zones(const smooth *s, const fw_profile *profile, const fw_menu *menu,
                           const double *c, gsl_rng *rng, view *v, fw_error *err)
{
    size_t most = 0, all = 0;
    int terms = s->basis->nterms, n = 0;
    for (int d = 0; d < profile->ndiameters; d++) {
        all += profile->diameters[d].npoints;
        most = profile->diameters[d].npoints > most ? profile->diameters[d].npoints : most;
    }
    double *mean = fw_alloc((size_t)terms, sizeof *mean), *work = fw_alloc(2 * most, sizeof *work);
    ring *list = fw_alloc(all, sizeof *list);
    fw_status status = mean && work && list ? FW_OK : fw_out_of_memory(err);
    if (!status) {
        for (int k = 0; k < v->ndraws; k++)
            for (int j = 0; j < terms; j++)
                mean[j] += c[j + (size_t)k * (size_t)terms] / v->ndraws;
        for (int d = 0; d < profile->ndiameters; d++)
            n += list_residuals(s, mean, &profile->diameters[d], menu->clear_mm, work, list + n);
        int rings = believe(n, list);
        if (rings >= 2 && rings <= ZONES)
            add_zones(menu, rings, list, rng, v);
    }
    fw_free(mean);
    fw_free(work);
    fw_free(list);
    return status;
}

/* v->draws <- the terms at the grid times the coefficients c (nterms x DRAWS), projected. */
static fw_status evaluate(const smooth *s, const fw_menu *menu, const double *c, view *v,
                          fw_error *err)
{
    int n = menu->npoints, terms = s->basis->nterms;
    double *at = fw_alloc((size_t)n * (size_t)terms, sizeof *at);
    double *around = fw_alloc((size_t)menu->nangles, sizeof *around);
    if (!at || !around) {
        fw_free(at);
        fw_free(around);
        return fw_out_of_memory(err);
    }
    for (int j = 0; j < terms; j++) {
        for (int k = 0; k < menu->nangles; k++)
            around[k] = fw_basis_around(s->basis, j, menu->theta[k]);
        for (int first = 0; first < n; first += menu->nangles) {
            double radial = fw_basis_radial(s->basis, j, menu->r_mm[first] / menu->clear_mm);
            for (int k = 0; k < menu->nangles; k++)
                at[first + k + (size_t)j * (size_t)n] = radial * around[k];
        }
    }
    fw_gemm(0, 0, n, v->ndraws, terms, 1, at, n, c, terms, 0, v->draws, n);
    fw_free(at);
    fw_free(around);
    return FW_OK;
}

static void settle(const fw_menu *menu, view *v)
{
    int n = menu->npoints;
    for (int k = 0; k < v->ndraws; k++) {
        double *one = v->draws + (size_t)k * (size_t)n;
        menu_project(menu, false, one);
        for (int i = 0; i < n; i++)
            v->mean[i] += one[i] / v->ndraws;
    }
}

static fw_status draw(adjustment *a, const smooth *s, const fw_profile *profile,
                      const fw_menu *menu, view *v, fw_error *err)
{
    double dof = a->net->sigma_known ? 0 : (double)a->redundancy;
    gsl_rng *rng = draws_new(SEED);
    double *c = fw_alloc((size_t)s->basis->nterms * DRAWS, sizeof *c);
    fw_status status = FW_OK;
    if (!rng || !c)
        status = fw_out_of_memory(err);
    else {
        status = belief_draw(s, fmax(a->variance, EXACT), dof, LEAST * a->net->job->flatness_nm,
                             DRAWS, rng, c, err);
        if (!status)
            status = evaluate(s, menu, c, v, err);
        if (!status)
            status = see_zones(s, profile, menu, c, rng, v, err);
        if (!status)
            settle(menu, v);
    }
    draws_free(rng);
    fw_free(c);
    return status;
}

fw_status view_new(const fw_result *result, int flat, const fw_menu *menu, view *out,
                   fw_error *err)
{
    const fw_face *face = &result->faces[result->today[flat]];
    adjustment *a = result->adjustment;
    int which = a ? find_face(a, face) : -1;
    smooth s = {0};
    view v = {.ndraws = DRAWS};
    if (which < 0 || !isfinite(face->figure.pv.value_nm) || !(a->variance >= 0))
        return fw_fail(err, FW_INPUT, "the figure of flat '%s' is not determined",
                       result->job->flats[flat].name);
    v.spacing_mm = spacing_of(&face->profile);
    double gaps = 2 * menu->clear_mm / v.spacing_mm;
    int order = (int)fmin(fmax(TERMS_A_GAP * gaps, COARSEST), FINEST);
    fw_status status = a->model->smooth(a, which, &face->profile, order, &s, err);
    if (status || !s.basis)
        return status ? status
                      : fw_fail(err, FW_INPUT, "the figure of flat '%s' is not determined",
                                result->job->flats[flat].name);
    v.apart_rad = 180 * FW_RAD / face->profile.ndiameters;
    if (s.order) { /* the terms, not the stations, say how fine a structure is seen */
        v.spacing_mm = menu->clear_mm / s.basis->order;
        v.apart_rad = 180 * FW_RAD / s.basis->order;
    }
    v.draws = fw_alloc((size_t)menu->npoints * DRAWS, sizeof(double));
    v.mean = fw_alloc((size_t)menu->npoints, sizeof(double));
    status = v.draws && v.mean ? draw(a, &s, &face->profile, menu, &v, err)
                               : fw_out_of_memory(err);
    smooth_release(&s);
    if (status)
        view_release(&v);
    else
        *out = v;
    return status;
}

void view_release(view *v)
{
    fw_free(v->draws);
    fw_free(v->mean);
    *v = (view){0};
}
