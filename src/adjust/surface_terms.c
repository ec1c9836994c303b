/* surface_terms.c - the terms of a face along a line: polynomials of the position. */
#include "surface_terms.h"

#include <math.h>
#include <stdlib.h>

#include "figure/form.h"
#include "flatwright/alloc.h"
#include "linalg.h"

/* Radial parts (n, |m|), n = 0 .. top: of order n there are n / 2 + 1. */
static int radial_index(int n, int m)
{
    int below = n % 2 ? (n + 1) * (n + 1) / 4 : n * (n + 2) / 4;
    return below + abs(m) / 2;
}

/* R with R'R = <F F'> over the annulus, the plane taken off. */
static fw_status annular(const fw_basis *basis, double bore_ratio, double **out, fw_error *err)
{
    fw_form *form = NULL;
    size_t n = (size_t)basis->nterms;
    fw_status status = fw_form_new(basis, bore_ratio, 0, NULL, NULL, &form, err);
    if (status)
        return status;
    double *r = fw_alloc(n * n, sizeof *r);
    if (!r)
        status = fw_out_of_memory(err);
    for (size_t i = 0; r && i < n * n; i++)
        r[i] = form->gram[i];
    if (!status && (status = fw_cholesky((int)n, r, err)))
        fw_free(r);
    if (!status)
        *out = r;
    fw_form_free(form);
    return status;
}


void surface_terms_release(surface_terms *t)
{
    int nflats = t->job ? t->job->nflats : 0;
    for (int f = 0; f < nflats && t->triangle; f++)
        fw_free(t->triangle[f]);
    for (int f = 0; f < nflats * nflats && t->radial; f++)
        fw_free(t->radial[f]);
    for (int f = 0; f < nflats && t->held; f++)
        fw_free(t->held[f]);
    fw_free(t->held);
    fw_basis_free(t->basis);
    fw_free(t->triangle);
    fw_free(t->radial);
    *t = (surface_terms){0};
}

double surface_span(const surface_terms *t, int flat, int partner)
{
    return fmin(t->job->flats[flat].clear_mm, t->job->flats[partner].clear_mm) / 2;
}

void surface_legendre(int order, double x, double *p)
{
    p[0] = 1;
    if (order > 0)
        p[1] = x;
    for (int n = 2; n <= order; n++) /* n P_n = (2 n - 1) x P_(n-1) - (n - 1) P_(n-2) */
        p[n] = ((2 * n - 1) * x * p[n - 1] - (n - 1) * p[n - 2]) / n;
}

/* c_l = (2 l + 1) / 2 sum w_i P_l(x_i) f(x_i span / clear): Gauss's rule is exact here. */
static fw_status project(const fw_basis *basis, double scale, double *out, fw_error *err)
{
    int top = basis->order, nodes = top + 1;
    double *x = fw_alloc((size_t)nodes, sizeof *x), *w = fw_alloc((size_t)nodes, sizeof *w);
    double *p = fw_alloc((size_t)nodes, sizeof *p);
    fw_status status = x && w && p ? FW_OK : fw_out_of_memory(err);
    if (!status)
        fw_gauss(nodes, x, w);
    for (int i = 0; i < nodes && !status; i++) {
        surface_legendre(top, x[i], p);
        for (int n = 0; n <= top; n++)
            for (int m = n % 2; m <= n; m += 2) {
                double f = fw_zernike_norm(n, m) * fw_zernike_radial(n, m, x[i] * scale);
                double *c = out + (size_t)radial_index(n, m) * (size_t)nodes;
                for (int l = n % 2; l <= n; l += 2)
                    c[l] += (2 * l + 1) / 2.0 * w[i] * p[l] * f;
            }
    }
    fw_free(x);
    fw_free(w);
    fw_free(p);
    return status;
}

/* Radial parts of F from those of Z: column j of R F' = Z', solved forward; R is triangular. */
static void orthogonalise(const fw_basis *basis, const double *triangle, double *radial)
{
    size_t nb = (size_t)basis->nterms, rows = (size_t)basis->order + 1;
    for (int j = 0; j < basis->nterms; j++) {
        struct fw_term term = basis->terms[j];
        if (term.m < 0) /* the sine shares the cosine's */
            continue;
        double *f = radial + (size_t)radial_index(term.n, term.m) * rows;
        for (int i = 0; i < j; i++) {
            double share = triangle[(size_t)i + (size_t)j * nb];
            if (basis->terms[i].m != term.m || share == 0)
                continue;
            const double *g = radial + (size_t)radial_index(basis->terms[i].n, term.m) * rows;
            for (size_t l = 0; l < rows; l++)
                f[l] -= share * g[l];
        }
        for (size_t l = 0; l < rows; l++)
            f[l] /= triangle[(size_t)j * (nb + 1)];
    }
}

static fw_status radial_parts(surface_terms *t, int flat, int partner, const double **out,
                              fw_error *err)
{
    double **slot = &t->radial[(size_t)flat * (size_t)t->job->nflats + (size_t)partner];
    int top = t->basis->order;
    if (!*slot) {
        double *made = fw_alloc((size_t)(radial_index(top + 1, 0) + 1) * ((size_t)top + 1),
                                sizeof *made);
        double scale = surface_span(t, flat, partner) / (t->job->flats[flat].clear_mm / 2);
        if (!made)
            return fw_out_of_memory(err);
        fw_status status = project(t->basis, scale, made, err);
        if (status) {
            fw_free(made);
            return status;
        }
        if (t->triangle[flat])
            orthogonalise(t->basis, t->triangle[flat], made);
        *slot = made;
    }
    *out = *slot;
    return FW_OK;
}

/* The piston (m = 0) or tilt over the clear radius (|m| = 1) of each term over the annulus. */
static fw_status planes(surface_terms *t, int flat, fw_error *err)
{
    const fw_basis *basis = t->basis;
    const fw_flat *f = &t->job->flats[flat];
    int rows = basis->order + 1, nodes = rows + 2;
    double low = f->bore_mm * f->bore_mm / (f->clear_mm * f->clear_mm);
    const double *radial = NULL;
    double *x = fw_alloc((size_t)nodes, sizeof *x), *w = fw_alloc((size_t)nodes, sizeof *w);
    double *p = fw_alloc((size_t)rows, sizeof *p);
    double *held = t->held[flat] = fw_alloc((size_t)basis->nterms, sizeof *held);
    fw_status status = x && w && p && held ? radial_parts(t, flat, flat, &radial, err)
                                           : fw_out_of_memory(err);
    if (!status)
        fw_gauss(nodes, x, w);
    for (int i = 0; i < nodes && !status; i++) {
        double u = (1 + low) / 2 + (1 - low) / 2 * x[i]; /* rho^2; its mean is (1 + low) / 2 */
        surface_legendre(basis->order, sqrt(u), p);
        for (int j = 0; j < basis->nterms; j++) {
            struct fw_term term = basis->terms[j];
            const double *c = radial + (size_t)radial_index(term.n, term.m) * (size_t)rows;
            if (abs(term.m) <= 1)
                held[j] += w[i] / 2 * fw_dot(rows, c, 1, p) *
                           (term.m ? sqrt(u) / ((1 + low) / 2) : 1);
        }
    }
    fw_free(x);
    fw_free(w);
    fw_free(p);
    return status;
}

fw_status surface_terms_init(surface_terms *t, const fw_job *job, int top, fw_error *err)
{
    size_t nflats = (size_t)job->nflats;
    *t = (surface_terms){.job = job};
    fw_status status = fw_basis_new(false, top, &t->basis, err);
    if (status)
        return status;
    t->triangle = fw_alloc(nflats, sizeof *t->triangle);
    t->radial = fw_alloc(nflats * nflats, sizeof *t->radial);
    t->held = fw_alloc(nflats, sizeof *t->held);
    if (!t->triangle || !t->radial || !t->held)
        return fw_out_of_memory(err);
    for (int f = 0; f < job->nflats && !status; f++) {
        if (!(job->flats[f].bore_mm > 0))
            continue;
        status = annular(t->basis, job->flats[f].bore_mm / job->flats[f].clear_mm,
                         &t->triangle[f], err);
        if (!status)
            status = planes(t, f, err);
    }
    return status;
}

void surface_to_circle(const surface_terms *t, int flat, int n, int ncols, double *c, int ldc)
{
    if (t->triangle[flat])
        fw_upper_solve(n, ncols, t->triangle[flat], t->basis->nterms, c, ldc);
}

fw_status surface_along(surface_terms *t, int flat, int partner, double theta_rad, bool datum,
                        double *out, fw_error *err)
{
    const double *radial = NULL, *held = datum ? t->held[flat] : NULL;
    size_t rows = (size_t)t->basis->order + 1;
    double tilt = surface_span(t, flat, partner) / (t->job->flats[flat].clear_mm / 2);
    fw_status status = radial_parts(t, flat, partner, &radial, err);
    if (status)
        return status;
    for (int j = 0; j < t->basis->nterms; j++) {
        struct fw_term term = t->basis->terms[j];
        double around = term.m < 0 ? sin(-term.m * theta_rad) : cos(term.m * theta_rad);
        const double *f = radial + (size_t)radial_index(term.n, term.m) * rows;
        for (size_t l = 0; l < rows; l++)
            out[l + (size_t)j * rows] = around * f[l];
        if (held && abs(term.m) <= 1)
            out[(term.m ? 1 : 0) + (size_t)j * rows] -=
                held[j] * around * (term.m ? tilt : 1);
    }
    return FW_OK;
}
