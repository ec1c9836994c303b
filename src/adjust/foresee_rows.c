/* foresee_rows.c - the same forecast from the covariance of what a candidate itself would read. */
#include <string.h>

#include "flatwright/alloc.h"
#include "foresee.h"
#include "foresee_modes.h"
#include "linalg.h"
#include "outlook_cells.h"

/* Candidates that what is remembered serves, at the least, before one is taken as read. */
static const double MANY = 10;

/*
 * Readings y = A x + T t + e of heights x, nothing known of the terms t. What Q' y does not see of T, Q
 * orthonormal and Q'T = 0, is all that they tell; it takes off a flat's sum <C, W>
 *     |U|^2,   R'R = Q'(A C A' + V) Q,   U = R^-T Q' A C W.
 * foresee_by_terms goes through all heights and terms for the same; here are as many rows as readings.
 */
typedef struct reading {
    const outlook *o;
    const region *of;
    int n;
    struct seen *rows;
    double *whole; /* n x n: A C A' + V, all rows as they are read */
    double *m;     /* without their terms; then its triangle */
    double *e;     /* n x ncounts: A C W, then U */
} reading;

/* Rows of a region whose places are those of a cell, from `at` on. mix: its mode of those terms bind. */
typedef struct part {
    const cell *c;
    int at;
    const double *mix;
} part;

/* A row of A: coef[0] at one place of the region, coef[1] at another; 0: that place is not in it. */
typedef struct seen {
    int at[2];
    double coef[2];
    bool apart; /* one is not */
    equation row;
    const part *part;
} seen;

static seen see(const equation *row, const part *of)
{
    seen s = {.row = *row, .part = of};
    for (int side = 0; side < 2; side++) {
        bool known = row->column[side] >= 0;
        s.at[side] = known ? of->at + row->column[side] : 0;
        s.coef[side] = known ? row->coef[side] : 0;
        s.apart = s.apart || !known;
    }
    return s;
}

/* All parts' rows, a diameter's one after the other. */
static fw_status find_rows(reading *v, const setup *p, int nparts, const part *parts, fw_error *err)
{
    int diameters = v->o->ndiameters, each = 0, before = 0;
    equation *rows = fw_alloc(2 * (size_t)diameters, sizeof *rows);
    v->rows = fw_alloc(2 * (size_t)diameters * nparts, sizeof *v->rows);
    fw_status status = rows && v->rows ? FW_OK : fw_out_of_memory(err);
    for (int k = 0; k < nparts && !status; k++)
        each += foresee_equations(v->o, parts[k].c, p, rows) / diameters;
    for (int k = 0; k < nparts && !status; k++) {
        int n = foresee_equations(v->o, parts[k].c, p, rows), own = n / diameters;
        for (int i = 0; i < n; i++)
            v->rows[i / own * each + before + i % own] = see(&rows[i], &parts[k]);
        before += own;
    }
    v->n = each * diameters;
    fw_free(rows);
    return status;
}

/* Entry of A C A'; what is not in the region has the prior. */
static double meet(const reading *v, const seen *a, const seen *b)
{
    const double *c0 = v->of->c + (size_t)a->at[0] * v->of->n,
                 *c1 = v->of->c + (size_t)a->at[1] * v->of->n;
    double sum = a->coef[0] * (b->coef[0] * c0[b->at[0]] + b->coef[1] * c0[b->at[1]]) +
                 a->coef[1] * (b->coef[0] * c1[b->at[0]] + b->coef[1] * c1[b->at[1]]);
    return a->apart && a->part == b->part ? sum + foresee_apart(v->o, &a->row, &b->row) : sum;
}

static void meet_heights(const reading *v, double noise)
{
    size_t n = (size_t)v->n;
    for (size_t i = 0; i < n; i++) {
        for (size_t l = 0; l <= i; l++)
            v->whole[l + i * n] = v->whole[i + l * n] = meet(v, &v->rows[i], &v->rows[l]);
        v->whole[i + i * n] += noise;
    }
    for (int j = 0; j < v->of->ncounts; j++) {
        const double *cw = v->of->cw[j];
        double *e = v->e + (size_t)j * n;
        for (size_t i = 0; i < n; i++)
            e[i] = v->rows[i].coef[0] * cw[v->rows[i].at[0]] +
                   v->rows[i].coef[1] * cw[v->rows[i].at[1]];
    }
}

/*
 * The new terms of a scan, by Householder's reflections. Each scan has its own terms, and all are alike;
 * a setting levelled as a whole is as one long scan.
 */
static fw_status factor_terms(const reading *v, const knot *s, fw_qr *qr, fw_error *err)
{
    int rows = v->o->plane ? v->n : v->n / v->o->ndiameters, index[3];
    int nterms = foresee_terms(v->o, s);
    double c0[3], c1[3], *t = fw_alloc((size_t)rows * nterms, sizeof *t);
    if (!t)
        return fw_out_of_memory(err);
    for (int i = 0; i < rows; i++) {
        const double *mix = v->rows[i].part->mix;
        for (int a = foresee_entries(v->o, s, &v->rows[i].row, index, c0, c1) - 1; a >= 0; a--)
            t[i + (size_t)index[a] * rows] = mix[0] * c0[a] + mix[1] * c1[a];
    }
    fw_status status = fw_qr_factor(qr, rows, nterms, t, NULL, 0, err);
    fw_free(t);
    return status;
}

/* b (n x m) <- a' (a is m x n). */
static void transpose(size_t m, size_t n, const double *a, double *b)
{
    for (size_t j = 0; j < n; j++)
        for (size_t i = 0; i < m; i++)
            b[j + i * n] = a[i + j * m];
}

/* a (qr->m x columns) <- Q' a. For few rows and many columns. */
static void reflect(const fw_qr *qr, size_t columns, double *a)
{
    for (; columns; columns--, a += qr->m)
        for (int k = 0; k < qr->rank; k++) {
            const double *v = qr->a + (size_t)k * qr->m; /* v[k], which is 1, is not stored */
            double along = a[k];
            for (int i = k + 1; i < qr->m; i++)
                along += v[i] * a[i];
            along *= qr->tau[k];
            a[k] -= along;
            for (int i = k + 1; i < qr->m; i++)
                a[i] -= along * v[i];
        }
}

/* Leaves of every qr->m of `size` numbers those that are not of the terms. */
static void keep_rest(const fw_qr *qr, size_t size, double *a)
{
    double *to = a;
    for (size_t i = 0; i < size; i += (size_t)qr->m)
        for (int k = qr->rank; k < qr->m; k++)
            *to++ = a[i + (size_t)k];
}

/* m <- Q' m Q, e <- Q' e, by the Q of one scan for each. */
static void shed_terms(reading *v, const fw_qr *qr)
{
    size_t n = (size_t)v->n, scans = n / (size_t)qr->m, left = scans * (size_t)(qr->m - qr->rank);
    reflect(qr, scans * (size_t)v->of->ncounts, v->e);
    keep_rest(qr, n * (size_t)v->of->ncounts, v->e);
    reflect(qr, scans * n, v->whole);
    keep_rest(qr, n * n, v->whole);
    transpose(left, n, v->whole, v->m);
    reflect(qr, scans * left, v->m);
    keep_rest(qr, n * left, v->m);
    v->n = (int)left;
}

static void reading_release(reading *v)
{
    fw_free(v->rows);
    fw_free(v->m);
    fw_free(v->whole);
    fw_free(v->e);
}

static fw_status make_room(reading *v, fw_error *err)
{
    size_t n = (size_t)v->n;
    v->m = fw_alloc(n * n, sizeof *v->m);
    v->whole = fw_alloc(n * n, sizeof *v->whole);
    v->e = fw_alloc(n * v->of->ncounts, sizeof *v->e);
    return v->m && v->whole && v->e ? FW_OK : fw_out_of_memory(err);
}

/* U, in e. terms: of a scan, rank below its rows. */
static fw_status reduce(reading *v, const fw_qr *terms, double noise, fw_error *err)
{
    fw_status status = make_room(v, err);
    if (status)
        return status;
    meet_heights(v, noise);
    shed_terms(v, terms);
    if ((status = fw_cholesky(v->n, v->m, err)))
        return status;
    fw_upper_solve_transposed(v->n, v->of->ncounts, v->m, v->n, v->e, v->n);
    return FW_OK;
}

/* sum -= `rings` times what p tells of a region; s: the knot whose terms the parts bring in, or NULL. */
static fw_status take_off(reading v, const knot *s, const setup *p, double times, int nparts,
                          const part *parts, double rings, double *sum, fw_error *err)
{
    double noise = v.o->sigma_nm * v.o->sigma_nm / times;
    fw_qr terms = {.m = 1};
    fw_status status = find_rows(&v, p, nparts, parts, err);
    if (!status && v.n && s)
        status = factor_terms(&v, s, &terms, err);
    if (!status && v.n && terms.rank < terms.m && !(status = reduce(&v, &terms, noise, err)))
        for (int j = 0; j < v.of->ncounts; j++) {
            const double *u = v.e + (size_t)j * v.n;
            sum[v.of->flat[j]] -= rings * fw_dot(v.n, u, 1, u);
        }
    fw_qr_release(&terms);
    reading_release(&v);
    return status;
}

/* parts (2 ncells) <- the bound modes, mix (2 for each cell) as the cells have it; their number. */
static int list_parts(const knot *s, double (*mix)[2], part *parts)
{
    int n = 0;
    for (int i = 0, at = 0; i < s->ncells; i++)
        for (int k = 0, count = cell_mix(&s->cells[i], mix + 2 * (size_t)i); k < count; k++) {
            parts[n++] = (part){&s->cells[i], at, mix[2 * i + k]};
            at += s->cells[i].n;
        }
    return n;
}

fw_status foresee_by_rows(const outlook *o, knot *s, const setup *p, double times, double *sum,
                          fw_error *err)
{
    double(*mix)[2] = fw_alloc(2 * (size_t)s->ncells, sizeof *mix), unused[2][2];
    part *parts = fw_alloc(2 * (size_t)s->ncells, sizeof *parts);
    fw_status status = mix && parts ? FW_OK : fw_out_of_memory(err);
    if (!status && !s->modes)
        status = foresee_remember(o, s, err);
    if (!status)
        status = take_off((reading){.o = o, .of = &s->modes->bound}, s, p, times,
                          list_parts(s, mix, parts), parts, 1, sum, err);
    for (int i = 0; i < s->ncells && !status; i++) {
        const part all = {.c = &s->cells[i]};
        double rings = all.c->moment[0] - cell_mix(all.c, unused);
        if (rings > 0)
            status = take_off((reading){.o = o, .of = &s->modes->rest[i]}, NULL, p, times, 1, &all,
                              rings, sum, err);
    }
    fw_free(mix);
    fw_free(parts);
    return status;
}

static double cube(double x)
{
    return x * x * x;
}

bool foresee_rows_cheaper(const outlook *o, const knot *s)
{
    double nt = s->nt + foresee_terms(o, s), n = knot_modes(s), r = 0, mix[2][2];
    double by_terms = cube(nt) / 6 + n * nt * nt / 2, by_rows = n * n * nt / MANY;
    for (int f = 0; f < o->job->nflats; f++)
        by_terms += (double)s->rank[f] * o->nparams[f] * nt;
    for (int i = 0; i < s->ncells; i++) {
        const cell *c = &s->cells[i];
        double own = (c->kind == CELL_PLAIN && c->sides == 3 ? 2.0 : c->sides > 0) * o->ndiameters;
        int modes = cell_mix(c, mix);
        by_terms += own * (c->n * nt + (own + modes * nt) * nt / 2);
        by_rows += c->moment[0] > modes ? cube(own) / 6 + own * own * c->n / 2 : 0;
        r += modes * own;
    }
    return by_rows + cube(r) / 6 + r * r * n / 2 < by_terms;
}
