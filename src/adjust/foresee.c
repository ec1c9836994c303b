/* foresee.c - the covariance after a pairing, by the update of Woodbury ring by ring. */
#include <math.h>
#include <string.h>

#include "flatwright/alloc.h"
#include "foresee.h"
#include "linalg.h"
#include "outlook.h"
#include "outlook_cells.h"
#include "surface_outlook.h"
#include "waves.h"

/* What becomes of a knot: B of every cell and the triangle of the terms; K when it is committed. */
typedef struct update {
    const outlook *o;
    knot *s;
    const setup *p;
    double noise; /* variance of a reading of the candidate */
    bool commit;
    int nold, nt;
    double *b[2];              /* of all cells one after the other: n x nt each */
    size_t *offset;            /* where each cell's begin */
    double *normal;            /* nt x nt, then its triangle */
    double *sum;               /* per flat: <K, W> */
    equation *rows;            /* of one cell */
    double *m, *kh, *u, *e[2]; /* its work: rows x rows, n x rows, rows x n, rows x nt */
    int rows_of_modes;
    double *mode; /* of all cells one under the other: rows_of_modes x nt */
} update;

/* kh = K H', m = H K H' + noise; what is not in the cell has the prior. */
static void meet_heights(const update *u, const cell *c, int nrows)
{
    for (int i = 0; i < nrows; i++) {
        double *kh = u->kh + (size_t)i * c->n;
        memset(kh, 0, (size_t)c->n * sizeof *kh);
        for (int side = 0; side < 2; side++) {
            int at = u->rows[i].column[side];
            for (int j = 0; j < c->n && at >= 0; j++)
                kh[j] += u->rows[i].coef[side] * c->k[j + (size_t)at * c->n];
        }
    }
    for (int i = 0; i < nrows; i++)
        for (int l = 0; l <= i; l++) {
            const equation *r = &u->rows[l];
            double sum = foresee_apart(u->o, r, &u->rows[i]) + (i == l ? u->noise : 0);
            for (int side = 0; side < 2; side++)
                if (r->column[side] >= 0)
                    sum += r->coef[side] * u->kh[r->column[side] + (size_t)i * c->n];
            u->m[l + (size_t)i * nrows] = sum;
        }
}

/* e (rows x nt) = H B for the old terms, T for the new ones. */
static void meet_terms(const update *u, const cell *c, int nrows)
{
    int index[3];
    double c0[3], c1[3];
    for (int p = 0; p < 2; p++) {
        memset(u->e[p], 0, (size_t)nrows * u->nt * sizeof *u->e[p]);
        for (int q = 0; q < u->nold && c->b[p]; q++)
            for (int i = 0; i < nrows; i++)
                for (int side = 0; side < 2; side++)
                    if (u->rows[i].column[side] >= 0)
                        u->e[p][i + (size_t)q * nrows] +=
                            u->rows[i].coef[side] *
                            c->b[p][u->rows[i].column[side] + (size_t)q * c->n];
    }
    for (int i = 0; i < nrows; i++)
        for (int a = foresee_entries(u->o, u->s, &u->rows[i], index, c0, c1) - 1; a >= 0; a--) {
            size_t at = i + (size_t)(u->nold + index[a]) * nrows;
            u->e[0][at] += c0[a];
            u->e[1][at] += c1[a];
        }
}

fw_status foresee_update(int n, int rows, const double *kh, double *m, double *u, fw_error *err)
{
    fw_status status = fw_cholesky(rows, m, err);
    for (int j = 0; j < n; j++)
        for (int i = 0; i < rows; i++)
            u[i + (size_t)j * rows] = kh[j + (size_t)i * n];
    if (!status)
        fw_upper_solve_transposed(rows, n, m, rows, u, rows);
    return status;
}

/* With M = R'R: u = R^-T H K, e <- R^-T e; B -= u' e, normal += e'e over the rings, sum -= <u'u, W>. */
static fw_status update_cell(update *v, cell *c, size_t offset, fw_error *err)
{
    int nrows = foresee_equations(v->o, c, v->p, v->rows), n = c->n;
    for (int p = 0; p < 2; p++)
        if (c->b[p])
            memcpy(v->b[p] + offset, c->b[p], (size_t)n * v->nold * sizeof(double));
    for (int f = 0; f < v->o->job->nflats; f++)
        v->sum[f] += c->kept[f];
    if (!nrows)
        return FW_OK;
    meet_heights(v, c, nrows);
    meet_terms(v, c, nrows);
    fw_status status = foresee_update(n, nrows, v->kh, v->m, v->u, err);
    if (status)
        return status;
    for (int p = 0; p < 2; p++) {
        if (!c->b[p])
            continue;
        fw_upper_solve_transposed(nrows, v->nt, v->m, nrows, v->e[p], nrows);
        fw_gemm(1, 0, n, v->nt, nrows, -1, v->u, nrows, v->e[p], nrows, 1, v->b[p] + offset, n);
    }
    int modes = cell_modes(c, (size_t)nrows * v->nt, v->e, v->e);
    for (int k = 0; k < modes; k++)
        fw_gram(v->nt, nrows, v->e[k], nrows, v->normal, v->nt);
    for (int f = 0; f < v->o->job->nflats; f++) {
        int from = c->first[f], size = c->first[f + 1] - from;
        const double *u = v->u + (size_t)from * nrows;
        fw_gemm(0, 0, nrows, size, size, 1, u, nrows, c->w + from + (size_t)from * n, n, 0, v->kh,
                nrows);
        for (size_t i = 0; i < (size_t)nrows * size; i++)
            v->sum[f] -= u[i] * v->kh[i];
    }
    if (v->commit)
        fw_gemm(1, 0, n, n, nrows, -1, v->u, nrows, v->u, nrows, 1, c->k, n);
    return FW_OK;
}

static void update_release(update *v)
{
    fw_free(v->b[0]);
    fw_free(v->b[1]);
    fw_free(v->offset);
    fw_free(v->normal);
    fw_free(v->sum);
    fw_free(v->rows);
    fw_free(v->m);
    fw_free(v->kh);
    fw_free(v->u);
    fw_free(v->e[0]);
    fw_free(v->e[1]);
    fw_free(v->mode);
}

static fw_status make_room(update *v, fw_error *err)
{
    size_t nrows = 2 * (size_t)v->o->ndiameters, nt = (size_t)v->nt, most = 0, all = 0;
    v->offset = fw_alloc(v->s->ncells, sizeof *v->offset);
    if (!v->offset)
        return fw_out_of_memory(err);
    for (int i = 0; i < v->s->ncells; i++) {
        size_t n = (size_t)v->s->cells[i].n;
        v->offset[i] = all;
        all += n * nt;
        most = n > most ? n : most;
    }
    v->b[0] = fw_alloc(all, sizeof(double));
    v->b[1] = fw_alloc(all, sizeof(double));
    v->normal = fw_alloc(nt * nt, sizeof(double));
    v->sum = fw_alloc(v->o->job->nflats, sizeof(double));
    v->rows = fw_alloc(nrows, sizeof *v->rows);
    v->m = fw_alloc(nrows * nrows, sizeof(double));
    v->kh = fw_alloc(most * nrows, sizeof(double));
    v->u = fw_alloc(most * nrows, sizeof(double));
    v->e[0] = fw_alloc(nrows * nt, sizeof(double));
    v->e[1] = fw_alloc(nrows * nt, sizeof(double));
    return v->b[0] && v->b[1] && v->normal && v->sum && v->rows && v->m && v->kh && v->u &&
                   v->e[0] && v->e[1]
               ? FW_OK
               : fw_out_of_memory(err);
}

/* The terms have unit covariance before (normal 1), the new ones none; R'R = normal after. */
static fw_status update_knot(update *v, fw_error *err)
{
    fw_status status = make_room(v, err);
    for (int q = 0; q < v->nold && !status; q++)
        v->normal[q + (size_t)q * v->nt] = 1;
    for (int i = 0; i < v->s->ncells && !status; i++)
        status = update_cell(v, &v->s->cells[i], v->offset[i], err);
    if (status || !v->p)
        return status;
    for (int q = v->nold; q < v->nt; q++) {
        double *at = &v->normal[q + (size_t)q * v->nt];
        *at = *at > 0 ? *at * (1 + FORESEE_RIDGE * v->nt) : 1;
    }
    return fw_cholesky(v->nt, v->normal, err);
}

/* The modes of the cells one under the other, on the terms as they are then: v->mode R^-1. */
static fw_status stack_modes(update *v, fw_error *err)
{
    int rows = v->rows_of_modes = knot_modes(v->s), at = 0;
    v->mode = fw_alloc((size_t)rows * v->nt, sizeof *v->mode);
    if (!v->mode)
        return fw_out_of_memory(err);
    for (int i = 0; i < v->s->ncells; i++) {
        double *const b[2] = {v->b[0] + v->offset[i], v->b[1] + v->offset[i]};
        at += cell_stack(&v->s->cells[i], b, v->nt, rows, v->mode + at);
    }
    if (v->p)
        fw_upper_solve_right(rows, v->nt, v->normal, v->nt, v->mode, rows);
    return FW_OK;
}

static double square(size_t n, const double *x)
{
    double sum = 0;
    for (size_t i = 0; i < n; i++)
        sum += x[i] * x[i];
    return sum;
}

/* The terms' part in the variance of a flat's stations, less what its datum takes off. */
static fw_status add_terms(const update *v, int flat, double *sum, fw_error *err)
{
    int p = v->o->nparams[flat], rank = v->s->rank[flat];
    double *part = fw_alloc((size_t)p * v->nt, sizeof *part),
           *z = fw_alloc((size_t)rank * v->nt, sizeof *z);
    share *list = fw_alloc(3 * (size_t)v->rows_of_modes, sizeof *list);
    fw_status status = part && z && list ? FW_OK : fw_out_of_memory(err);
    int n = status ? 0 : knot_shares(v->o, v->s, flat, list);
    for (int q = 0; q < v->nt && !status; q++)
        for (int k = 0; k < n; k++) {
            double mode = v->mode[list[k].row + (size_t)q * v->rows_of_modes];
            part[list[k].index + (size_t)q * p] += list[k].value * mode;
            *sum += list[k].first ? mode * mode : 0;
        }
    if (!status && rank) {
        fw_gemm(0, 0, rank, v->nt, p, 1, v->s->half[flat], rank, part, p, 0, z, rank);
        *sum -= square((size_t)rank * v->nt, z);
    }
    fw_free(part);
    fw_free(z);
    fw_free(list);
    return status;
}

fw_status foresee_by_terms(const outlook *o, knot *s, const setup *p, double times, double *sum,
                           fw_error *err)
{
    update v = {
        .o = o, .s = s, .p = p, .noise = o->sigma_nm * o->sigma_nm / times, .nold = s->nt};
    v.nt = s->nt + (p ? foresee_terms(o, s) : 0);
    fw_status status = update_knot(&v, err);
    if (!status)
        status = stack_modes(&v, err);
    for (int f = 0; f < o->job->nflats && !status; f++) {
        sum[f] += v.sum[f];
        status = add_terms(&v, f, &sum[f], err);
    }
    update_release(&v);
    return status;
}

/* sum += as it is, which is kept until the knot changes. */
static fw_status foresee_nothing(const outlook *o, knot *s, double *sum, fw_error *err)
{
    fw_status status = FW_OK;
    if (!s->now) {
        s->now = fw_alloc(o->job->nflats, sizeof *s->now);
        status = s->now ? foresee_by_terms(o, s, NULL, 1, s->now, err) : fw_out_of_memory(err);
    }
    for (int f = 0; f < o->job->nflats && !status; f++)
        sum[f] += s->now[f];
    return status;
}

static fw_status foresee_knot(const outlook *o, knot *s, const setup *p, double times, double *sum,
                              fw_error *err)
{
    if (p && !foresee_rows_cheaper(o, s))
        return foresee_by_terms(o, s, p, times, sum, err);
    fw_status status = foresee_nothing(o, s, sum, err);
    return status || !p ? status : foresee_by_rows(o, s, p, times, sum, err);
}

fw_status outlook_foresee(outlook *o, const setup *p, double times, double *sum, fw_error *err)
{
    fw_status status = FW_OK;
    if (o->faces)
        return surface_foresee(o, p, times, sum, err);
    if (o->waves)
        return waves_foresee(o->waves, p, times, sum, err);
    memset(sum, 0, (size_t)o->job->nflats * sizeof *sum);
    for (int k = 0; k < o->nknots && !status; k++)
        status = foresee_knot(o, &o->knots[k], p, times, sum, err);
    return status;
}

/* A copy of an r x c matrix with more rows and columns, zeros there; NULL: no memory. */
static double *grown(const double *a, int r, int c, int to_r, int to_c)
{
    double *out = fw_alloc((size_t)to_r * to_c, sizeof *out);
    for (int j = 0; j < c && out; j++)
        memcpy(out + (size_t)j * to_r, a + (size_t)j * r, (size_t)r * sizeof *out);
    return out;
}

static fw_status replace(double **a, double *with, fw_error *err)
{
    if (!with)
        return fw_out_of_memory(err);
    fw_free(*a);
    *a = with;
    return FW_OK;
}

/* Places that a committed setup reads and the cell did not hold: they are bound to others now. */
static fw_status widen_cell(const outlook *o, const knot *s, cell *c, const setup *p, fw_error *err)
{
    equation *rows = fw_alloc(2 * (size_t)o->ndiameters, sizeof *rows);
    if (!rows)
        return fw_out_of_memory(err);
    int n = c->n, nrows = foresee_equations(o, c, p, rows);
    fw_status status = FW_OK;
    for (int i = 0; i < nrows; i++)
        for (int side = 0; side < 2; side++) {
            int *find = &c->find[outlook_slot(o, rows[i].at[side])];
            if (*find >= 0)
                continue;
            *find = c->n;
            c->scored[c->n] = false;
            c->at[c->n++] = rows[i].at[side]; /* as many as there are slots */
        }
    fw_free(rows);
    if (c->n == n)
        return FW_OK;
    if (!(status = replace(&c->k, grown(c->k, n, n, c->n, c->n), err)))
        status = replace(&c->w, grown(c->w, n, n, c->n, c->n), err);
    for (int b = 0; b < 2 && !status; b++)
        if (c->b[b])
            status = replace(&c->b[b], grown(c->b[b], n, s->nt, c->n, s->nt), err);
    for (int j = n; j < c->n && !status; j++)
        c->k[j + (size_t)j * c->n] = o->prior_nm * o->prior_nm;
    return status;
}

static fw_status take_over(update *v, fw_error *err)
{
    fw_status status = FW_OK;
    for (int i = 0; i < v->s->ncells && !status; i++) {
        cell *c = &v->s->cells[i];
        for (int p = 0; p < 2 && !status; p++) {
            if (!c->b[p])
                continue;
            double *b = v->b[p] + v->offset[i];
            fw_upper_solve_right(c->n, v->nt, v->normal, v->nt, b, c->n);
            status = replace(&c->b[p], grown(b, c->n, v->nt, c->n, v->nt), err);
        }
        cell_keep(c, v->o->job->nflats);
    }
    v->s->nt = v->nt;
    return status ? status : knot_compress(v->s, err);
}

fw_status outlook_commit(outlook *o, const setup *p, double times, fw_error *err)
{
    fw_status status = FW_OK;
    if (o->faces)
        return surface_commit(o, p, times, err);
    if (o->waves)
        return waves_commit(o->waves, p, times, err);
    for (int k = 0; k < o->nknots && !status; k++) {
        knot *s = &o->knots[k];
        foresee_forget(s);
        for (int i = 0; i < s->ncells && !status; i++)
            status = widen_cell(o, s, &s->cells[i], p, err);
        update v = {.o = o,
                    .s = s,
                    .p = p,
                    .noise = o->sigma_nm * o->sigma_nm / times,
                    .commit = true,
                    .nold = s->nt,
                    .nt = s->nt + foresee_terms(o, s)};
        if (!status && !(status = update_knot(&v, err)))
            status = take_over(&v, err);
        update_release(&v);
    }
    return status;
}
