/* form.c - fixed matrices that turn the coefficients of a smooth figure into its quantities. */
#include "flatwright/form.h"

#include <math.h>

#include "figure/form.h"
#include "flatwright/alloc.h"

/* Circles for the symmetric part: see fill_zone; 18 leave 1e-3. */
#define STEPS_AN_ORDER 18

/* Means over the area: sum w_q g(t_q) at radii t_q, and every term there without its plane. */
typedef struct area {
    int nodes;
    double *t, *w; /* nodes; w adds up to 1 */
    double *f;     /* nodes x nterms: the terms' dependence on the radius */
    double t2;     /* mean of t^2 */
    double t4;     /* mean of (t^2 - t2)^2 */
} area;

/* 0: the term can hold piston and sphere; 1, -1: tilt along x, y; else neither. */
static int part_of(const fw_basis *basis, int term)
{
    return basis->line ? basis->terms[term].n % 2 : basis->terms[term].m;
}

/* The term along the ray where its angular factor is 1. */
static double along_radius(const fw_basis *basis, int term, double t)
{
    struct fw_term z = basis->terms[term];
    if (basis->line)
        return fw_legendre(z.n, t);
    int m = z.m < 0 ? -z.m : z.m;
    return fw_zernike_norm(z.n, m) * fw_zernike_radial(z.n, m, t);
}

/* x or y of a point, by the tilt that is asked for. */
static double plane_at(const fw_basis *basis, int part, double rho, double theta)
{
    if (basis->line)
        return cos(theta) < 0 ? -rho : rho;
    return rho * (part > 0 ? cos(theta) : sin(theta));
}

static void area_release(area *a)
{
    fw_free(a->t);
    fw_free(a->w);
    fw_free(a->f);
}

/* The mean of g over the disc's area is its mean over t^2, on a line its mean over t. */
static void place_nodes(area *a, bool line, double bore)
{
    double low = line ? bore : bore * bore;
    fw_gauss(a->nodes, a->t, a->w);
    for (int q = 0; q < a->nodes; q++) {
        double at = 0.5 * (1 + low) + 0.5 * (1 - low) * a->t[q];
        a->t[q] = line ? at : sqrt(at);
        a->w[q] *= 0.5;
    }
    for (int q = 0; q < a->nodes; q++)
        a->t2 += a->w[q] * a->t[q] * a->t[q];
    for (int q = 0; q < a->nodes; q++) {
        double s = a->t[q] * a->t[q] - a->t2;
        a->t4 += a->w[q] * s * s;
    }
}

/* The caller releases it, also after a failure. */
static fw_status area_init(area *a, const fw_basis *basis, double bore, fw_error *err)
{
    *a = (area){0};
    /* a product of two terms has degree `order` in t^2, 2 order in t: so many nodes are exact */
    a->nodes = (basis->order > 2 ? basis->order : 2) + 1;
    size_t n = (size_t)a->nodes;
    a->t = fw_alloc(n, sizeof *a->t);
    a->w = fw_alloc(n, sizeof *a->w);
    a->f = fw_alloc(n * (size_t)basis->nterms, sizeof *a->f);
    if (!a->t || !a->w || !a->f)
        return fw_fail(err, FW_SYSTEM, "no memory for the averages of a figure");
    place_nodes(a, basis->line, bore);
    for (int j = 0; j < basis->nterms; j++)
        for (int q = 0; q < a->nodes; q++)
            a->f[q + j * a->nodes] = along_radius(basis, j, a->t[q]);
    return FW_OK;
}

/* Takes the plane out of term j over the area; returns the piston or tilt it held. */
static double take_plane(area *a, int part, int j)
{
    double *f = a->f + j * a->nodes;
    double over = 0, under = 0;
    if (part < -1 || part > 1)
        return 0;
    for (int q = 0; q < a->nodes; q++) {
        double plane = part ? a->t[q] : 1;
        over += a->w[q] * f[q] * plane;
        under += a->w[q] * plane * plane;
    }
    for (int q = 0; q < a->nodes; q++)
        f[q] -= over / under * (part ? a->t[q] : 1);
    return over / under;
}

/* power_j = -b_j, b_j = <f_j (t^2 - t2)> / <(t^2 - t2)^2>. */
static double power_of(const area *a, int j)
{
    double over = 0;
    for (int q = 0; q < a->nodes; q++)
        over += a->w[q] * a->f[q + j * a->nodes] * (a->t[q] * a->t[q] - a->t2);
    return -over / a->t4;
}

/* gram_ij = <f_i f_j>; terms of unlike angle are orthogonal. */
static void fill_gram(fw_form *form, const fw_basis *basis, const area *a)
{
    int n = form->nterms;
    for (int i = 0; i < n; i++)
        for (int j = 0; j < n; j++) {
            double sum = 0;
            if (part_of(basis, i) != part_of(basis, j))
                continue;
            for (int q = 0; q < a->nodes; q++)
                sum += a->w[q] * a->f[q + i * a->nodes] * a->f[q + j * a->nodes];
            form->gram[i + j * n] = basis->line || basis->terms[i].m == 0 ? sum : sum / 2;
        }
}

/* Heights of term j at the points, less the piston or tilt it holds. */
static void fill_heights(fw_form *form, const fw_basis *basis, int j, double held,
                         const double *rho, const double *theta)
{
    int part = part_of(basis, j);
    double *height = form->height + (size_t)j * (size_t)form->npoints;
    for (int i = 0; i < form->npoints; i++) {
        height[i] = fw_basis_value(basis, j, rho[i], theta[i]);
        if (held != 0)
            height[i] -= held * (part ? plane_at(basis, part, rho[i], theta[i]) : 1);
    }
}

/*
 * What piston and sphere leave of the round term j on circles from the bore to the rim. It is a
 * polynomial of degree `order` / 2 in t^2; on K Chebyshev steps in t^2 its PV comes out at least
 * cos(pi order / (4 K)) of what it is.
 */
static void fill_zone(fw_form *form, const fw_basis *basis, int j, double held, double t2,
                      double bore)
{
    double *zone = form->zone + (size_t)form->nround * (size_t)form->nradii;
    const double pi = 3.14159265358979323846;
    for (int k = 0; k < form->nradii; k++) {
        double u = 1 - (1 - bore * bore) * (1 + cos(pi * k / (form->nradii - 1))) / 2;
        zone[k] = along_radius(basis, j, sqrt(u)) - held + form->power[j] * (u - t2);
    }
    form->round[form->nround++] = j;
}

static fw_status form_alloc(fw_form **out, const fw_basis *basis, int npoints, fw_error *err)
{
    fw_form *form = fw_alloc(1, sizeof *form);
    if (!form)
        return fw_fail(err, FW_SYSTEM, "no memory for the quantities of a figure");
    size_t n = (size_t)basis->nterms, m = (size_t)npoints;
    size_t nround = (size_t)(basis->order / 2);
    form->npoints = npoints;
    form->nterms = basis->nterms;
    form->nradii = STEPS_AN_ORDER * basis->order + 1;
    form->height = fw_alloc(m * n, sizeof *form->height);
    form->bowl = fw_alloc(m, sizeof *form->bowl);
    form->power = fw_alloc(n, sizeof *form->power);
    form->gram = fw_alloc(n * n, sizeof *form->gram);
    form->zone = fw_alloc(nround * (size_t)form->nradii, sizeof *form->zone);
    form->round = fw_alloc(nround, sizeof *form->round);
    if (!form->height || !form->bowl || !form->power || !form->gram || !form->zone
        || !form->round) {
        fw_form_free(form);
        return fw_fail(err, FW_SYSTEM, "no memory for a figure of %d terms at %d points",
                       basis->nterms, npoints);
    }
    *out = form;
    return FW_OK;
}

fw_status fw_form_new(const fw_basis *basis, double bore_ratio, int npoints, const double *rho,
                      const double *theta, fw_form **out, fw_error *err)
{
    area a = {0};
    fw_form *form = NULL;
    fw_status status = FW_OK;
    if (!(bore_ratio >= 0 && bore_ratio < 1))
        return fw_fail(err, FW_INPUT, "bore ratio %g is not in 0 .. 1", bore_ratio);
    status = form_alloc(&form, basis, npoints, err);
    if (status)
        goto done;
    status = area_init(&a, basis, bore_ratio, err);
    if (status)
        goto done;
    for (int i = 0; i < npoints; i++)
        form->bowl[i] = rho[i] * rho[i] - a.t2;
    for (int j = 0; j < form->nterms; j++) {
        int part = part_of(basis, j);
        double held = take_plane(&a, part, j);
        fill_heights(form, basis, j, held, rho, theta);
        if (part == 0) {
            form->power[j] = power_of(&a, j);
            fill_zone(form, basis, j, held, a.t2, bore_ratio);
        }
    }
    fill_gram(form, basis, &a);
    *out = form;
    form = NULL;
done:
    fw_form_free(form);
    area_release(&a);
    return status;
}

void fw_form_free(fw_form *form)
{
    if (form) {
        fw_free(form->height);
        fw_free(form->bowl);
        fw_free(form->power);
        fw_free(form->gram);
        fw_free(form->zone);
        fw_free(form->round);
    }
    fw_free(form);
}
