/* versus_surface.c - a job solved as circle polynomials, and as one dense system. */
#include "versus_surface.h"

#include <lapacke.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "adjust/surface.h"
#include "close.h"

#define RAD 0.017453292519943295769

/* A term that null directions move by more than this is open. */
static const double OPEN = 1e-5;

/* Readings as rows; columns are the terms of the faces, then piston and tilts of each setting. */
typedef struct matrix {
    int m, n, terms;
    double *a, *b;                /* m x n, m */
    double *s, *vt, *x;          /* n: singular values, n x n, least-norm solution */
    int rank;
    double chi;
    bool near;
} matrix;

static bool clear_of(const fw_flat *f, double s)
{
    return s <= f->clear_mm / 2 + 0.01 && s >= f->bore_mm / 2 - 0.01;
}

/* The first scan that shares its plane with this one. */
static int setting_of(const fw_job *job, int scan)
{
    const fw_scan *s = &job->scans[scan];
    for (int k = 0; k < scan && job->levelling == FW_LEVELLING_SETUP; k++) {
        const fw_scan *o = &job->scans[k];
        if (o->round == s->round && o->bottom == s->bottom && o->top == s->top &&
            fabs(remainder(o->turn_deg - s->turn_deg, 360)) < 0.03)
            return k;
    }
    return scan;
}

static void put_row(const surface *of, const fw_job *job, const fw_reading *r, double w, matrix *d)
{
    const fw_scan *s = &job->scans[r->scan];
    int flat[2] = {s->bottom, s->top}, i = d->m++, plane = d->terms + 3 * setting_of(job, r->scan);
    double angle[2] = {s->diameter_deg * RAD, (s->turn_deg - s->diameter_deg) * RAD};
    double *row = d->a + i; /* leading dimension: all readings */
    size_t ld = job->nreadings;
    for (int j = 0; j < d->terms; j++) {
        const net_face *f = &of->net->faces[of->column[j].face];
        struct fw_term z = of->terms.basis->terms[of->column[j].term];
        for (int side = 0; side < 2; side++)
            if (f->flat == flat[side] && f->state == fw_job_state(job, flat[side], s->round))
                row[(size_t)j * ld] +=
                    w * fw_zernike(z.n, z.m, r->position_mm / (job->flats[flat[side]].clear_mm / 2),
                                   angle[side]);
    }
    row[(size_t)plane * ld] = w;
    row[(size_t)(plane + 1) * ld] = w * r->position_mm / 100;
    if (job->levelling == FW_LEVELLING_SETUP) {
        row[(size_t)(plane + 1) * ld] = w * r->position_mm / 100 * cos(angle[0]);
        row[(size_t)(plane + 2) * ld] = w * r->position_mm / 100 * sin(angle[0]);
    }
    d->b[i] = w * r->deviation_nm;
}

static void decompose(matrix *d, int ld)
{
    int m = d->m, n = d->n, k = m < n ? m : n;
    double *u = calloc((size_t)ld * (size_t)(k + 1), sizeof *u);
    double *rest = calloc((size_t)k + 1, sizeof *rest);
    double *copy = calloc((size_t)ld * (size_t)n, sizeof *copy);
    memcpy(copy, d->a, (size_t)ld * (size_t)n * sizeof *copy);
    assert_int_equal(
        LAPACKE_dgesvd(LAPACK_COL_MAJOR, 'S', 'A', m, n, copy, ld, d->s, u, ld, d->vt, n, rest), 0);
    while (d->rank < k && d->s[d->rank] > 1e-9 * d->s[0])
        d->near = d->s[d->rank++] < 1e-5 * d->s[0] || d->near;
    for (int q = 0; q < d->rank; q++) {
        double c = 0;
        for (int i = 0; i < m; i++)
            c += u[i + (size_t)q * (size_t)ld] * d->b[i];
        for (int j = 0; j < n; j++)
            d->x[j] += d->vt[q + (size_t)j * (size_t)n] * c / d->s[q];
    }
    for (int i = 0; i < m; i++) {
        double left = d->b[i];
        for (int j = 0; j < n; j++)
            left -= d->a[i + (size_t)j * (size_t)ld] * d->x[j];
        d->chi += left * left;
    }
    free(u);
    free(rest);
    free(copy);
}

static void matrix_new(const surface *of, const fw_job *job, matrix *d)
{
    size_t m = job->nreadings, n = (size_t)of->n + 3 * job->nscans;
    bool known = true;
    *d = (matrix){.terms = of->n, .n = (int)n};
    d->a = calloc(m * n + 1, sizeof *d->a);
    d->b = calloc(m + 1, sizeof *d->b);
    d->s = calloc(n + 1, sizeof *d->s);
    d->vt = calloc(n * n + 1, sizeof *d->vt);
    d->x = calloc(n + 1, sizeof *d->x);
    for (size_t i = 0; i < m; i++)
        known = known && job->readings[i].sigma_nm > 0;
    for (size_t i = 0; i < m; i++) {
        const fw_reading *r = &job->readings[i];
        const fw_scan *s = &job->scans[r->scan];
        double p = fabs(r->position_mm);
        if (clear_of(&job->flats[s->bottom], p) && clear_of(&job->flats[s->top], p))
            put_row(of, job, r, known ? 1 / r->sigma_nm : 1, d);
    }
    decompose(d, (int)m);
}

static void matrix_release(matrix *d)
{
    free(d->a);
    free(d->b);
    free(d->s);
    free(d->vt);
    free(d->x);
}

/* to (n) <- what is given by column, as coefficients of circle polynomials. */
static void as_circle(const surface *of, const double *from, double *to)
{
    int nb = of->terms.basis->nterms;
    double c[128];
    for (int f = 0; f < of->net->nfaces; f++) {
        memset(c, 0, sizeof c);
        for (int j = 0; j < of->n; j++)
            if (of->column[j].face == f)
                c[of->column[j].term] = from[j];
        surface_to_circle(&of->terms, of->net->faces[f].flat, nb, 1, c, nb);
        for (int j = 0; j < of->n; j++)
            if (of->column[j].face == f)
                to[j] = c[of->column[j].term];
    }
}

/* move, variance (n) <- how far free directions move a coefficient, and its variance if none. */
static void spread_of(const surface *of, double *move, double *variance)
{
    size_t n = (size_t)of->n;
    double *from = calloc(n + 1, sizeof *from), *to = calloc(n + 1, sizeof *to);
    surface_null z = {0};
    assert_int_equal(surface_null_new(of, of->order, &z, NULL), FW_OK);
    for (int q = 0; q < z.d; q++) {
        as_circle(of, z.v + (size_t)q * n, to);
        for (size_t j = 0; j < n; j++)
            move[j] = fmax(move[j], fabs(to[j]));
    }
    for (int q = 0; q < of->p; q++) {
        memset(from, 0, n * sizeof *from);
        for (int i = 0; i < of->p; i++)
            from[of->used_column[i]] = of->root[i + (size_t)q * (size_t)of->p];
        as_circle(of, from, to);
        for (size_t j = 0; j < n; j++)
            variance[j] += to[j] * to[j];
    }
    surface_null_release(&z);
    free(from);
    free(to);
}

static void compare_terms(const surface *of, const matrix *d, surface_tally *t)
{
    size_t n = (size_t)of->n, all = (size_t)d->n;
    double *move = calloc(n + 1, sizeof *move), *variance = calloc(n + 1, sizeof *variance);
    double *c = calloc(n + 1, sizeof *c);
    spread_of(of, move, variance);
    as_circle(of, of->c, c);
    /* Free directions that hardly touch a coefficient: both solutions choose along them as they like. */
    double apart = 0, widest = 0;
    for (size_t j = 0; j < n; j++) {
        apart = hypot(apart, c[j] - d->x[j]);
        widest = fmax(widest, sqrt(variance[j]));
    }
    for (size_t j = 0; j < n; j++) {
        double free_part = 0, v = 0;
        for (size_t q = 0; q < all; q++) {
            double e = d->vt[q + j * all];
            if (q < (size_t)d->rank)
                v += e * e / (d->s[q] * d->s[q]);
            else
                free_part = fmax(free_part, fabs(e));
        }
        assert_int_equal(move[j] > OPEN, free_part > OPEN);
        if (free_part > OPEN) {
            t->open++;
            continue;
        }
        t->terms++;
        assert_close(c[j], d->x[j], 1e-7, 1e-6 + 2 * free_part * apart);
        assert_close(sqrt(variance[j]), sqrt(v), 1e-6, 1e-9 + 2 * free_part * widest);
    }
    free(move);
    free(variance);
    free(c);
}

void versus_surface(const fw_job *job, int order, surface_tally *t)
{
    fw_net *net = NULL;
    surface *of = NULL;
    matrix d;
    fw_error err = {0};
    if (net_new(job, 0, NULL, &net, &err) || surface_new(net, order, NULL, NULL, &of, &err))
        fail_msg("%s", err.text);
    matrix_new(of, job, &d);
    t->jobs++;
    t->orders[of->order]++;
    assert_int_equal(of->readings, d.m);
    if (d.near)
        t->near++;
    else {
        assert_int_equal(of->p + of->scan_rank, d.rank);
        assert_close(surface_chi(of, of->order), d.chi, 1e-7, 1e-9 * d.m);
        t->lacking += of->p < of->n;
        compare_terms(of, &d, t);
    }
    matrix_release(&d);
    surface_free(of);
    net_free(net);
}
