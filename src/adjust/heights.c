/* heights.c - the figure of a face anywhere on it, between the diameters too. */
#include <math.h>

#include "base/draws.h"
#include "belief.h"
#include "budget.h"
#include "flatwright/alloc.h"
#include "flatwright/result.h"
#include "linalg.h"
#include "model.h"
#include "surface.h"
#include "surface_profile.h"

enum { ORDER = 8, DRAWS = 400, SEED = 20100131 };

static const double LEAST = 0.1, EXACT = 1e-24; /* as when judged */

static int net_face_of(const adjustment *a, const fw_face *face)
{
    for (int f = 0; f < a->net->nfaces; f++)
        if (a->net->faces[f].flat == face->flat && a->net->faces[f].state == face->state)
            return f;
    return -1;
}

/* c (nterms x DRAWS) <- figures that can be believed; without a known noise one, the fitted. */
static fw_status draw(adjustment *a, int face, const smooth *s, int *ndraws, double *c,
                      fw_error *err)
{
    widened w = {0};
    double dof = a->net->sigma_known ? 0 : (double)a->redundancy;
    fw_status status = widened_new(a, face, s, &w, err);
    if (status)
        return status;
    if (a->variance >= 0) {
        gsl_rng *rng = draws_new(SEED);
        *ndraws = DRAWS;
        status = rng ? belief_draw(&w.wide, fmax(a->variance, EXACT), dof,
                                   LEAST * a->net->job->flatness_nm, DRAWS, rng, c, err)
                     : fw_out_of_memory(err);
        draws_free(rng);
    } else {
        double *fit = fw_alloc((size_t)s->nused, sizeof *fit);
        *ndraws = 1;
        if (fit)
            smooth_solve(s, s->nused, fit);
        else
            status = fw_out_of_memory(err);
        for (int k = 0; fit && k < s->nused; k++)
            c[s->used[k]] = fit[k];
        fw_free(fit);
    }
    widened_release(&w);
    return status;
}

/* Mean and standard deviation of the drawn figures at the points, less their plane. */
static fw_status evaluate(const adjustment *a, int face, const smooth *s, int ndraws,
                          const double *c, int n, const double *r_mm, const double *theta_rad,
                          double *height, double *u, fw_error *err)
{
    const net_face *f = &a->net->faces[face];
    fw_form *form = NULL;
    double *rho = fw_alloc((size_t)n, sizeof *rho);
    double *one = fw_alloc((size_t)n, sizeof *one), *square = fw_alloc((size_t)n, sizeof *square);
    fw_status status = rho && one && square ? FW_OK : fw_out_of_memory(err);
    for (int i = 0; i < n && !status; i++) {
        rho[i] = r_mm[i] / f->clear_mm;
        height[i] = 0;
    }
    if (!status)
        status = fw_form_new(s->basis, f->bore_mm / f->clear_mm, n, rho, theta_rad, &form, err);
    for (int pass = 0; pass < 2 && !status; pass++)
        for (int k = 0; k < ndraws; k++) {
            fw_form_heights(form, s->basis->nterms, c + (size_t)k * (size_t)s->basis->nterms, one);
            for (int i = 0; i < n; i++)
                if (pass)
                    square[i] += pow(one[i] - height[i], 2) / ndraws;
                else
                    height[i] += one[i] / ndraws;
        }
    for (int i = 0; i < n && !status; i++)
        u[i] = ndraws > 1 ? sqrt(square[i]) : NAN;
    fw_form_free(form);
    fw_free(rho);
    fw_free(one);
    fw_free(square);
    return status;
}

/* Profiles: the smooth figure is all that is known between the diameters. */
static fw_status of_smooth(adjustment *a, int face, const fw_profile *profile, int n,
                           const double *r_mm, const double *theta_rad, double *height, double *u,
                           fw_error *err)
{
    smooth s = {0};
    int ndraws = 0;
    double *c = NULL;
    fw_status status = a->model->smooth(a, face, profile, ORDER, &s, err);
    if (!status && s.basis && !s.basis->line) {
        c = fw_alloc((size_t)s.basis->nterms * DRAWS, sizeof *c);
        status = c ? draw(a, face, &s, &ndraws, c, err) : fw_out_of_memory(err);
        if (!status)
            status = evaluate(a, face, &s, ndraws, c, n, r_mm, theta_rad, height, u, err);
    }
    fw_free(c);
    smooth_release(&s);
    return status;
}

/* Surfaces: the terms themselves, and what the bench makes uncertain of them. */
static fw_status of_surface(const adjustment *a, int face, int n, const double *r_mm,
                            const double *theta_rad, double *height, double *u, fw_error *err)
{
    fw_status status = surface_heights(a, face, n, r_mm, theta_rad, height, u, err);
    double *moved = fw_alloc((size_t)n, sizeof *moved), *none = fw_alloc((size_t)n, sizeof *none);
    if (!status && (!moved || !none))
        status = fw_out_of_memory(err);
    for (int i = 0; i < n && !status; i++)
        u[i] = sqrt(u[i]);
    for (int k = 0; k < a->nresponses && !status; k++) {
        status = surface_heights(a->responses[k].a, face, n, r_mm, theta_rad, moved, none, err);
        for (int i = 0; i < n && !status; i++)
            u[i] = hypot(u[i], moved[i]);
    }
    fw_free(moved);
    fw_free(none);
    return status;
}

fw_status fw_face_heights(const fw_result *result, int face, int n, const double *r_mm,
                          const double *theta_rad, double *height_nm, double *u_nm, fw_error *err)
{
    adjustment *a = result->adjustment;
    const fw_face *of = &result->faces[face];
    int which = a ? net_face_of(a, of) : -1;
    for (int i = 0; i < n; i++)
        height_nm[i] = u_nm[i] = NAN;
    if (which < 0)
        return FW_OK;
    if (a->surface)
        return of_surface(a, which, n, r_mm, theta_rad, height_nm, u_nm, err);
    if (!isfinite(of->figure.pv.value_nm))
        return FW_OK;
    return of_smooth(a, which, &of->profile, n, r_mm, theta_rad, height_nm, u_nm, err);
}
