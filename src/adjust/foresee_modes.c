/* foresee_modes.c - what is known of heights that a candidate reads, once for all candidates. */
#include "foresee_modes.h"

#include <string.h>

#include "flatwright/alloc.h"
#include "foresee.h"
#include "linalg.h"
#include "outlook_cells.h"

static fw_status region_new(region *r, int n, const double *c, fw_error *err)
{
    r->n = n;
    r->c = c;
    r->cw = fw_alloc(n, sizeof *r->cw);
    r->flat = fw_alloc(n, sizeof *r->flat);
    return r->cw && r->flat ? FW_OK : fw_out_of_memory(err);
}

static void add_count(region *r, const double *cw, int flat)
{
    r->cw[r->ncounts] = cw;
    r->flat[r->ncounts++] = flat;
}

static void region_release(region *r)
{
    fw_free(r->cw);
    fw_free(r->flat);
}

void foresee_forget(knot *s)
{
    struct modes *m = s->modes;
    fw_free(s->now);
    s->now = NULL;
    if (!m)
        return;
    for (int i = 0; i < m->ncells && m->rest; i++)
        region_release(&m->rest[i]);
    region_release(&m->bound);
    fw_free(m->rest);
    fw_free(m->c);
    fw_free(m->cw);
    fw_free(m);
    s->modes = NULL;
}

/* c (n x n) <- of the bound modes: K of each, and what the terms bind. */
static fw_status fill_covariance(const knot *s, int n, double *c, fw_error *err)
{
    double mix[2][2], *stack = fw_alloc((size_t)n * s->nt, sizeof *stack);
    if (!stack)
        return fw_out_of_memory(err);
    for (int i = 0, at = 0; i < s->ncells; i++) {
        const cell *of = &s->cells[i];
        cell_stack(of, of->b, s->nt, n, stack + at);
        for (int k = 0, count = cell_mix(of, mix); k < count; k++, at += of->n)
            for (int j = 0; j < of->n; j++)
                memcpy(c + at + (size_t)(at + j) * n, of->k + (size_t)j * of->n,
                       (size_t)of->n * sizeof *c);
    }
    fw_gram_rows(n, s->nt, stack, n, c, n);
    fw_free(stack);
    return FW_OK;
}

/* The bound modes' columns of one flat: those of C, their datum d (p x n) and what it meets, dc = d C. */
static void list_counts(const outlook *o, const knot *s, int flat, share *list, double *d,
                        double *dc)
{
    struct modes *m = s->modes;
    int n = m->bound.n, p = o->nparams[flat], before = m->bound.ncounts;
    for (int k = 0, count = knot_shares(o, s, flat, list); k < count; k++) {
        const double *c = m->c + (size_t)list[k].row * n;
        if (list[k].first) {
            double *cw = m->cw + (size_t)m->bound.ncounts * n;
            memcpy(cw, c, (size_t)n * sizeof *cw);
            add_count(&m->bound, cw, flat);
        }
        d[list[k].index + (size_t)(m->bound.ncounts - before - 1) * p] += list[k].value;
        for (int j = 0; j < n; j++)
            dc[list[k].index + (size_t)j * p] += list[k].value * c[j];
    }
}

/* C W of one flat: C less what the datum takes off, (half d C)' (half d). */
static fw_status weigh_flat(const outlook *o, const knot *s, int flat, fw_error *err)
{
    struct modes *m = s->modes;
    int n = m->bound.n, p = o->nparams[flat], rank = s->rank[flat], before = m->bound.ncounts;
    size_t size = (size_t)p * n, less = (size_t)rank * n;
    share *list = fw_alloc(3 * (size_t)n, sizeof *list);
    double *d = fw_alloc(2 * size, sizeof *d), *half = fw_alloc(2 * less, sizeof *half);
    fw_status status = list && d && half ? FW_OK : fw_out_of_memory(err);
    if (!status)
        list_counts(o, s, flat, list, d, d + size);
    if (!status && rank) {
        fw_gemm(0, 0, rank, 2 * n, p, 1, s->half[flat], rank, d, p, 0, half, rank);
        fw_gemm(1, 0, n, m->bound.ncounts - before, rank, -1, half + less, rank, half, rank, 1,
                m->cw + (size_t)before * n, n);
    }
    fw_free(list);
    fw_free(d);
    fw_free(half);
    return status;
}

/* The datum is of the bound modes alone: of the rest all of K counts. */
static fw_status list_rest(const outlook *o, const cell *c, region *r, fw_error *err)
{
    fw_status status = region_new(r, c->n, c->k, err);
    for (int f = 0; f < o->job->nflats && !status; f++)
        for (int j = c->first[f]; j < c->first[f + 1]; j++)
            if (c->scored[j])
                add_count(r, c->k + (size_t)j * c->n, f);
    return status;
}

fw_status foresee_remember(const outlook *o, knot *s, fw_error *err)
{
    int n = knot_modes(s);
    struct modes *m = s->modes = fw_alloc(1, sizeof *m);
    if (!m)
        return fw_out_of_memory(err);
    m->c = fw_alloc((size_t)n * n, sizeof *m->c);
    m->cw = fw_alloc((size_t)n * n, sizeof *m->cw);
    m->rest = fw_alloc(s->ncells, sizeof *m->rest);
    m->ncells = s->ncells;
    fw_status status = m->c && m->cw && m->rest ? region_new(&m->bound, n, m->c, err)
                                                : fw_out_of_memory(err);
    if (!status)
        status = fill_covariance(s, n, m->c, err);
    for (int f = 0; f < o->job->nflats && !status; f++)
        status = weigh_flat(o, s, f, err);
    for (int i = 0; i < s->ncells && !status; i++)
        status = list_rest(o, &s->cells[i], &m->rest[i], err);
    if (status)
        foresee_forget(s);
    return status;
}
