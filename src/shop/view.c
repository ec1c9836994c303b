/* view.c - a flat's present figure as it is believed, drawn many times over a grid. */
#include <assert.h>
#include <gsl/gsl_randist.h>
#include <math.h>
#include <stdlib.h>

#include "adjust/belief.h"
#include "adjust/left.h"
#include "adjust/linalg.h"
#include "adjust/model.h"
#include "base/draws.h"
#include "flatwright/alloc.h"
#include "flatwright/mating.h"
#include "shop/plan.h"

/* Finer than what is judged, as far as the stations bear it: the finest swing between sparse ones. */
enum { COARSEST = 12, FINEST = 16, DRAWS = 200, SEED = 19270417, ZONES = 64 };

#define LEAST 0.05    /* smallest rms believed of a figure beforehand, in targets; as when judged */
#define EXACT 1e-24   /* variance of unit weight below which readings count as exact */

static int find_face(const adjustment *a, const fw_face *face)
{
    for (int i = 0; i < a->net->nfaces; i++)
        if (a->net->faces[i].flat == face->flat && a->net->faces[i].state == face->state)
            return i;
    return -1;
}

/* Adds to every draw the zones that are finer than the terms, linear between the rings. */
static void add_zones(const fw_menu *menu, int rings, const ring *list, gsl_rng *rng, view *v)
{
    double at[FW_MENU_RADII] = {0}, z[ZONES] = {0};
    assert(rings >= 2 && rings <= ZONES);
    for (int k = 0; k < v->ndraws; k++) {
        for (int q = 0; q < rings; q++)
            z[q] = list[q].mean + gsl_ran_gaussian_ziggurat(rng, list[q].u);
        for (int g = 0; g < menu->nradii; g++) {
            double rho = menu->r_mm[g * menu->nangles] / menu->clear_mm;
            int q = 0;
            while (q + 2 < rings && list[q + 1].rho < rho)
                q++;
            double t = (rho - list[q].rho) / (list[q + 1].rho - list[q].rho);
            at[g] = z[q] + fmin(fmax(t, 0), 1) * (z[q + 1] - z[q]);
        }
        for (int i = 0; i < menu->npoints; i++)
            v->draws[i + (size_t)k * (size_t)menu->npoints] += at[i / menu->nangles];
    }
}

static fw_status see_zones(const smooth *s, const fw_profile *profile, const fw_menu *menu,
                           const double *c, gsl_rng *rng, view *v, fw_error *err)
{
    size_t all = 0;
    for (int d = 0; d < profile->ndiameters; d++)
        all += profile->diameters[d].npoints;
    double *mean = fw_alloc((size_t)s->nused, sizeof *mean);
    station *x = fw_alloc(all, sizeof *x);
    ring *list = fw_alloc(all, sizeof *list);
    fw_status status = mean && x && list ? FW_OK : fw_out_of_memory(err);
    if (!status) {
        for (int k = 0; k < v->ndraws; k++)
            for (int j = 0; j < s->nused; j++)
                mean[j] += c[s->used[j] + (size_t)k * (size_t)s->basis->nterms] / v->ndraws;
        size_t n = left_stations(profile, menu->clear_mm, s, mean, x);
        int rings = left_rings(n, x, menu->clear_mm, list);
        left_believe(rings, list);
        if (rings >= 2 && rings <= ZONES)
            add_zones(menu, rings, list, rng, v);
    }
    fw_free(mean);
    fw_free(x);
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
    v.spacing_mm = left_spacing_mm(&face->profile);
    double gaps = 2 * menu->clear_mm / v.spacing_mm;
    int order = (int)fmin(fmax(LEFT_TERMS_A_GAP * gaps, COARSEST), FINEST);
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
