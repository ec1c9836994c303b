/* terms_gram.c - the normal equations of the terms of the scans. */
#include "terms_gram.h"

#include <string.h>

#include "flatwright/alloc.h"
#include "linalg.h"

/* Normal equations of a range as they grow. */
typedef struct gram {
    term_range range;
    double *n; /* count x count */
    double *b; /* count */
} gram;

/* One block's equations while its share is made: heights eliminated, M = I - H G. */
typedef struct share {
    const fw_net *net;
    const net_class *class;
    const factor *f;
    int b;
    double moment[3]; /* sum of rho^p over the class's rings */
    double *gt, *tg;  /* n x count: G T of one power, and transposed */
    double *row;      /* count: of M T */
    double *y, *x;    /* m x 3; n */
} share;

static fw_status share_new(const fw_net *net, const net_class *class, const factor *f, int b,
                           int count, share *out, fw_error *err)
{
    size_t m = (size_t)f->blocks[b].m, n = (size_t)f->blocks[b].n, wide = (size_t)count;
    *out = (share){.net = net,
                   .class = class,
                   .f = f,
                   .b = b,
                   .gt = fw_alloc(n * wide, sizeof(double)),
                   .tg = fw_alloc(n * wide, sizeof(double)),
                   .row = fw_alloc(wide, sizeof(double)),
                   .y = fw_alloc(3 * m, sizeof(double)),
                   .x = fw_alloc(n, sizeof(double))};
    return out->gt && out->tg && out->row && out->y && out->x ? FW_OK : fw_out_of_memory(err);
}

static void share_release(share *s)
{
    fw_free(s->gt);
    fw_free(s->tg);
    fw_free(s->row);
    fw_free(s->y);
    fw_free(s->x);
}

/* tg (count x n) <- (G T)' of one power, whose terms are `count` from `first` on. */
static void take_up(share *s, int power, int first, int count)
{
    const block *k = &s->f->blocks[s->b];
    int n = k->n;
    memset(s->gt, 0, (size_t)n * count * sizeof *s->gt);
    block_add_terms(s->net, s->class, s->f, s->b, power, n, k->g, n, 1, first, s->gt, n);
    for (int i = 0; i < n; i++)
        for (int t = 0; t < count; t++)
            s->tg[t + (size_t)i * count] = s->gt[i + (size_t)t * n];
}

/* Row i of M T, T of one power. */
static void lay_row(share *s, int power, int i, int first, int count)
{
    const block *k = &s->f->blocks[s->b];
    int index[2];
    double value[2];
    int entries = block_term_entries(s->net, s->class, s->f, s->b, power, i, index, value);
    memset(s->row, 0, (size_t)count * sizeof *s->row);
    for (int e = 0; e < entries; e++)
        s->row[index[e] - first] += value[e];
    for (int p = 2 * i; p < 2 * i + 2; p++)
        fw_add(count, -k->entry[p], s->tg + (size_t)k->column[p] * count, 1, s->row);
}

/* The moments; y (m x 2) <- M times the sums of y and of rho y over the rings. */
static void sum_rings(share *s)
{
    const block *k = &s->f->blocks[s->b];
    int m = k->m;
    double *one = s->y + 2 * (size_t)m;
    for (int c = 0; c < s->class->nrings; c++) {
        int ring = s->class->rings[c];
        double rho = s->net->ring_mm[ring] / s->net->rmax_mm;
        block_readings(s->f, s->b, s->net->weighted + s->net->ring_first[ring], one);
        for (int i = 0; i < m; i++) {
            s->y[i] += one[i];
            s->y[m + i] += rho * one[i];
        }
        s->moment[0] += 1;
        s->moment[1] += rho;
        s->moment[2] += rho * rho;
    }
    for (double *y = s->y; y < one; y += m) {
        fw_gemm(0, 0, k->n, 1, m, 1, k->g, k->n, y, m, 0, s->x, k->n);
        block_add_heights(k, 1, -1, s->x, y);
    }
}

/* b += T' M y, and the columns of n that belong to row i: T' (row i of M T), of `power` and above. */
static void add_row(share *s, int power, int i, int from, int count, gram *g)
{
    int index[2], m = s->f->blocks[s->b].m;
    double value[2];
    for (int p = power; p < 2; p++) {
        int entries = block_term_entries(s->net, s->class, s->f, s->b, p, i, index, value);
        for (int e = 0; e < entries; e++) {
            size_t at = (size_t)(index[e] - g->range.first);
            fw_add(count, s->moment[power + p] * value[e], s->row, 1,
                   g->n + from + at * (size_t)g->range.count);
            if (p == power)
                g->b[at] += value[e] * s->y[i + p * m];
        }
    }
}

static fw_status add_block(const fw_net *net, const net_class *class, const factor *f, int b,
                           gram *g, fw_error *err)
{
    const block *k = &f->blocks[b];
    share s;
    if (k->m == k->rank || g->range.count == 0)
        return FW_OK;
    fw_status status = share_new(net, class, f, b, g->range.count, &s, err);
    if (!status)
        sum_rings(&s);
    for (int power = 0; power < 2 && !status; power++) {
        if (!(power ? k->tilts : k->pistons))
            continue;
        int first = power && k->pistons ? net->npistons : g->range.first;
        int from = first - g->range.first; /* the terms of this power */
        int count = power == 0 && k->tilts ? net->npistons : g->range.count - from;
        take_up(&s, power, first, count);
        for (int i = 0; i < k->m; i++) {
            lay_row(&s, power, i, first, count);
            add_row(&s, power, i, from, count, g); /* the lower triangle is not read */
        }
    }
    share_release(&s);
    return status;
}

fw_status terms_gram(factors *store, int half, int nranges, term_range range, double *n, double *b,
                     fw_error *err)
{
    gram g = {range, n, b};
    fw_status status = FW_OK;
    for (int k = 0; k < store->net->nclasses && !status; k++) {
        factor *f = NULL;
        status = factors_get(store, k, &f, err);
        for (int i = 0; !status && i < f->nblocks; i++)
            if (terms_sees(&f->blocks[i], half, nranges))
                status = add_block(store->net, &store->net->classes[k], f, i, &g, err);
        factors_put(store, k, f);
    }
    return status;
}
