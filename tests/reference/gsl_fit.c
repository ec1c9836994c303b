/* gsl_fit.c - whole jobs against the weighted linear fit of the GNU Scientific Library, live. */
#include <gsl/gsl_blas.h>
#include <gsl/gsl_linalg.h>
#include <gsl/gsl_multifit.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "../support/close.h"
#include "../support/design.h"
#include "../support/truth.h"
#include "flatwright/result.h"

#define RAD 0.017453292519943295769

/* An unknown height: of a state of a flat at a point, in rectangular coordinates of its own face. */
typedef struct point {
    int flat, state;
    double x, y;
} point;

typedef struct fit {
    size_t n, p, nheights;
    point *height;
    gsl_matrix *x, *cov;
    gsl_vector *w, *y, *c;
    double chi_square;
    size_t rank;
} fit;

/* The unknown at a point, made when it is new: x = s cos theta, y = s sin theta whatever the name. */
static size_t unknown(fit *f, int flat, int state, double angle, double s)
{
    double x = s * cos(angle * RAD), y = s * sin(angle * RAD);
    for (size_t i = 0; i < f->nheights; i++)
        if (f->height[i].flat == flat && f->height[i].state == state &&
            hypot(f->height[i].x - x, f->height[i].y - y) < 1e-6)
            return i;
    f->height[f->nheights] = (point){flat, state, x, y};
    return f->nheights++;
}

/* First reading's scan of the same setup, or the scan itself: whose terms a scan has. */
static size_t owner(const fw_job *job, size_t scan)
{
    const fw_scan *s = &job->scans[scan];
    for (size_t k = 0; k < scan && job->levelling == FW_LEVELLING_SETUP; k++) {
        const fw_scan *o = &job->scans[k];
        if (o->round == s->round && o->bottom == s->bottom && o->top == s->top &&
            fabs(remainder(o->turn_deg - s->turn_deg, 360)) < 1e-6)
            return k;
    }
    return scan;
}

/* Columns: heights, then p, q (setup: p, q1, q2) of every scan or setup. */
static void lay_columns(const fw_job *job, fit *f, size_t (*at)[2], size_t *term)
{
    size_t per = job->levelling == FW_LEVELLING_SETUP ? 3 : 2;
    for (size_t i = 0; i < job->nreadings; i++) {
        const fw_scan *s = &job->scans[job->readings[i].scan];
        double p = job->readings[i].position_mm;
        at[i][0] =
            unknown(f, s->bottom, fw_job_state(job, s->bottom, s->round), s->diameter_deg, p);
        at[i][1] = unknown(f, s->top, fw_job_state(job, s->top, s->round),
                           s->turn_deg - s->diameter_deg, p);
    }
    f->p = f->nheights;
    for (size_t k = 0; k < job->nscans; k++) {
        size_t first = owner(job, k);
        term[k] = first == k ? f->p : term[first];
        f->p += first == k ? per : 0;
    }
}

static void fit_job(const fw_job *job, fit *f)
{
    double ignored;
    size_t(*at)[2] = malloc(job->nreadings * sizeof *at),
    *term = malloc(job->nscans * sizeof *term);
    *f = (fit){.n = job->nreadings, .height = malloc(2 * job->nreadings * sizeof *f->height)};
    lay_columns(job, f, at, term);
    f->x = gsl_matrix_calloc(f->n, f->p);
    f->cov = gsl_matrix_alloc(f->p, f->p);
    f->w = gsl_vector_alloc(f->n);
    f->y = gsl_vector_alloc(f->n);
    f->c = gsl_vector_alloc(f->p);
    for (size_t i = 0; i < f->n; i++) {
        const fw_reading *r = &job->readings[i];
        double theta = job->scans[r->scan].diameter_deg * RAD, arm = r->position_mm / 100;
        bool setup = job->levelling == FW_LEVELLING_SETUP;
        gsl_matrix_set(f->x, i, at[i][0], 1);
        gsl_matrix_set(f->x, i, at[i][1], 1);
        gsl_matrix_set(f->x, i, term[r->scan], 1);
        gsl_matrix_set(f->x, i, term[r->scan] + 1, arm * (setup ? cos(theta) : 1));
        if (setup)
            gsl_matrix_set(f->x, i, term[r->scan] + 2, arm * sin(theta));
        gsl_vector_set(f->w, i, 1 / (r->sigma_nm * r->sigma_nm));
        gsl_vector_set(f->y, i, r->deviation_nm);
    }
    gsl_multifit_linear_workspace *work = gsl_multifit_linear_alloc(f->n, f->p);
    assert_int_equal(
        gsl_multifit_wlinear_tsvd(f->x, f->w, f->y, 1e-10, f->c, f->cov, &ignored, &f->rank, work),
        0);
    gsl_multifit_linear_free(work);
    /* GSL 2.7's own chi-square takes the directions it truncated for fitted: from the residuals, then. */
    gsl_vector *v = gsl_vector_alloc(f->n);
    gsl_multifit_linear_residuals(f->x, f->y, f->c, v);
    f->chi_square = 0;
    for (size_t i = 0; i < f->n; i++)
        f->chi_square += gsl_vector_get(f->w, i) * gsl_vector_get(v, i) * gsl_vector_get(v, i);
    gsl_vector_free(v);
    free(at);
    free(term);
}

static void fit_release(fit *f)
{
    gsl_matrix_free(f->x);
    gsl_matrix_free(f->cov);
    gsl_vector_free(f->w);
    gsl_vector_free(f->y);
    gsl_vector_free(f->c);
    free(f->height);
}

/* A row of the datum's parameters; index 0 is the piston of the centre. */
static void datum_row(const fw_job *job, const fw_profile *p, int k, double s, gsl_vector *row)
{
    double angle = p->diameters[k].angle_deg * RAD;
    bool tied = false;
    for (size_t i = 0; i < p->diameters[k].npoints; i++)
        tied = tied || p->diameters[k].points[i].position_mm == 0;
    gsl_vector_set_zero(row);
    if (job->levelling == FW_LEVELLING_SETUP) {
        gsl_vector_set(row, 0, 1);
        gsl_vector_set(row, 1, s / 100 * cos(angle));
        gsl_vector_set(row, 2, s / 100 * sin(angle));
    } else {
        gsl_vector_set(row, tied ? 0 : (size_t)k + 1, 1);
        gsl_vector_set(row, (size_t)p->ndiameters + 1 + (size_t)k, s / 100);
    }
}

/*
 * Rows of L over all unknowns: the heights of a profile on the datum, h - d (D'D)^-1 D'h, D over the
 * clear stations with the centre once.
 */
static gsl_matrix *datum_matrix(const fw_job *job, fit *f, const fw_face *face)
{
    const fw_profile *p = &face->profile;
    size_t rows = profile_size(p), r = 0;
    size_t q = job->levelling == FW_LEVELLING_SETUP ? 3 : 1 + 2 * (size_t)p->ndiameters;
    gsl_matrix *l = gsl_matrix_calloc(rows, f->p), *d = gsl_matrix_calloc(f->p, q),
               *dd = gsl_matrix_calloc(q, q);
    gsl_vector *row = gsl_vector_alloc(q), *v = gsl_vector_alloc(q);
    for (int k = 0; k < p->ndiameters; k++)
        for (size_t i = 0; i < p->diameters[k].npoints; i++) {
            const fw_point *pt = &p->diameters[k].points[i];
            size_t at =
                unknown(f, face->flat, face->state, p->diameters[k].angle_deg, pt->position_mm);
            datum_row(job, p, k, pt->position_mm, row);
            if (pt->position_mm == 0) /* on no slope */
                gsl_vector_set_basis(row, 0);
            if (2 * fabs(pt->position_mm) <= job->flats[face->flat].clear_mm)
                gsl_matrix_set_row(d, at, row);
        }
    gsl_blas_dgemm(CblasTrans, CblasNoTrans, 1, d, d, 0, dd);
    for (size_t j = 0; j < q; j++) /* a piston that no diameter has */
        if (gsl_matrix_get(dd, j, j) == 0)
            gsl_matrix_set(dd, j, j, 1);
    gsl_linalg_cholesky_decomp1(dd);
    for (int k = 0; k < p->ndiameters; k++)
        for (size_t i = 0; i < p->diameters[k].npoints; i++, r++) {
            double s = p->diameters[k].points[i].position_mm;
            gsl_vector_view out = gsl_matrix_row(l, r);
            datum_row(job, p, k, s, row);
            gsl_linalg_cholesky_solve(dd, row, v);
            gsl_blas_dgemv(CblasNoTrans, -1, d, v, 0, &out.vector);
            size_t at = unknown(f, face->flat, face->state, p->diameters[k].angle_deg, s);
            gsl_matrix_set(l, r, at, gsl_matrix_get(l, r, at) + 1);
        }
    gsl_matrix_free(d);
    gsl_matrix_free(dd);
    gsl_vector_free(row);
    gsl_vector_free(v);
    return l;
}

static double worst_height, worst_u;

static void compare_face(const fw_job *job, fit *f, const fw_face *face, double birge)
{
    size_t r = 0;
    gsl_matrix *l = datum_matrix(job, f, face);
    gsl_vector *through = gsl_vector_alloc(f->p);
    for (int k = 0; k < face->profile.ndiameters; k++)
        for (size_t i = 0; i < face->profile.diameters[k].npoints; i++, r++) {
            const fw_point *pt = &face->profile.diameters[k].points[i];
            gsl_vector_view row = gsl_matrix_row(l, r);
            double height, square;
            gsl_blas_ddot(&row.vector, f->c, &height);
            gsl_blas_dgemv(CblasNoTrans, 1, f->cov, &row.vector, 0, through);
            gsl_blas_ddot(&row.vector, through, &square);
            double u = birge * sqrt(square);
            worst_height = fmax(worst_height, fabs(pt->height_nm - height));
            worst_u = fmax(worst_u, fabs(pt->u_nm / u - 1));
            assert_close(pt->height_nm, height, 0, 1e-8);
            assert_close(pt->u_nm, u, 1e-8, 0);
        }
    gsl_matrix_free(l);
    gsl_vector_free(through);
}

static const struct {
    const char *name;
    design d;
    double noise; /* in stated sigmas: 2 brings the Birge ratio in */
} JOBS[] = {
    {"four diameters of 13",
     {.nflats = 3, .ndiam = 4, .nstations = 13, .rounds = 1, .turned = 2},
     1},
    {"weights, reversed, swapped",
     {.nflats = 3,
      .ndiam = 3,
      .nstations = 9,
      .rounds = 1,
      .turned = 2,
      .reversed = true,
      .swapped = true,
      .weights = true},
     1},
    {"one plane a setup, clear",
     {.nflats = 3,
      .ndiam = 4,
      .nstations = 9,
      .rounds = 1,
      .turned = 2,
      .setup = true,
      .clear = true},
     2},
    {"no centre, clear",
     {.nflats = 4, .ndiam = 2, .nstations = 10, .rounds = 1, .turned = 1, .clear = true},
     2},
    {"three rounds", {.nflats = 3, .ndiam = 2, .nstations = 7, .rounds = 3, .turned = 1}, 1},
};

static void whole_jobs(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof JOBS / sizeof *JOBS; i++) {
        sim s;
        fit f;
        fw_result *r = NULL;
        sim_init(&s, JOBS[i].d.nflats, 200, 11 + i);
        s.stated_nm = 1.5;
        s.sigma_nm = 1.5 * JOBS[i].noise;
        worst_height = worst_u = 0;
        design_read(&JOBS[i].d, &s);
        fit_job(s.job, &f);
        assert_int_equal(fw_solve(s.job, NULL, &r, NULL), FW_OK);
        assert_int_equal(r->fit.unknowns, f.p);
        assert_int_equal(r->fit.rank, f.rank);
        assert_close(r->fit.chi_square, f.chi_square, 1e-10, 0);
        assert_int_equal(r->fit.birge > 1, JOBS[i].noise > 1);
        for (int k = 0; k < r->nfaces; k++) {
            assert_true(r->faces[k].profile.determined);
            compare_face(s.job, &f, &r->faces[k], r->fit.birge);
        }
        print_message(
            "%-26s %zu readings, %zu unknowns, rank %zu: chi-square within %.1g of it, heights "
            "%.1g nm, u %.1g of it\n",
            JOBS[i].name, f.n, f.p, f.rank, fabs(r->fit.chi_square / f.chi_square - 1),
            worst_height, worst_u);
        fit_release(&f);
        fw_result_free(r);
        sim_release(&s);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(whole_jobs)};
    return cmocka_run_group_tests_name("gsl_fit", tests, NULL, NULL);
}
