/* terms_gram.c - the normal equations of the terms of the scans. */
#include "terms_gram.h"

#include <stdlib.h>
#include <string.h>

#include "flatwright/alloc.h"
#include "linalg.h"

/* Normal equations of a range as they grow. */
typedef struct gram {
    term_range range;
    double *n; /* count x count, packed */
    double *b; /* count */
} gram;

/* An entry of T = T0 + rho T1, and its product with its row of H. */
typedef struct term_entry {
    int term, row, power; /* term: of the range */
    int column[2];        /* the row's heights */
    double value, on_height[2];
} term_entry;

/* One block's equations while its share is made: heights eliminated, M = I - H G. */
typedef struct share {
    const fw_net *net;
    const net_class *class;
    const factor *f;
    int b;
    double moment[3]; /* sum of rho^p over the class's rings */
    int nentries;
    term_entry *entries; /* by term */
    double *y;           /* m x 3, the last of them for one ring or term */
    double *x, *work;    /* n each */
} share;

static int by_term(const void *a, const void *b)
{
    const term_entry *x = a, *y = b;
    return x->term != y->term ? (x->term > y->term) - (x->term < y->term)
                              : (x->row > y->row) - (x->row < y->row);
}

static fw_status share_new(const fw_net *net, const net_class *class, const factor *f, int b,
                           int first, share *out, fw_error *err)
{
    const block *k = &f->blocks[b];
    *out = (share){.net = net,
                   .class = class,
                   .f = f,
                   .b = b,
                   .entries = fw_alloc(3 * (size_t)k->m, sizeof *out->entries),
                   .y = fw_alloc(3 * (size_t)k->m, sizeof(double)),
                   .x = fw_alloc(k->n, sizeof(double)),
                   .work = fw_alloc(k->n, sizeof(double))};
    if (!out->entries || !out->y || !out->x || !out->work)
        return fw_out_of_memory(err);
    for (int i = 0; i < k->m; i++)
        for (int power = 0; power < 2; power++) {
            int index[2];
            double value[2];
            int found = block_term_entries(net, class, f, b, power, i, index, value);
            for (int e = 0; e < found; e++)
                out->entries[out->nentries++] = (term_entry){
                    .term = index[e] - first,
                    .row = i,
                    .power = power,
                    .column = {k->column[2 * i], k->column[2 * i + 1]},
                    .value = value[e],
                    .on_height = {value[e] * k->entry[2 * i], value[e] * k->entry[2 * i + 1]}};
        }
    qsort(out->entries, (size_t)out->nentries, sizeof *out->entries, by_term);
    return FW_OK;
}

static void share_release(share *s)
{
    fw_free(s->entries);
    fw_free(s->y);
    fw_free(s->x);
    fw_free(s->work);
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
        block_solve(k, 1, y, s->x, s->work);
        block_add_heights(k, 1, -1, s->x, y);
    }
}

/*
 * The column of n of the term whose entries begin at `from`, down to the diagonal, and its b; their end.
 * With t the column of T and x = G t, what an entry says of it is value (t - H x) in its row.
 */
static int add_term(share *s, int from, gram *g)
{
    const block *k = &s->f->blocks[s->b];
    int term = s->entries[from].term, power = s->entries[from].power, to = from;
    double *t = s->y + 2 * (size_t)k->m, *x = s->x, *n = g->n + fw_packed(0, term);
    memset(t, 0, (size_t)k->m * sizeof *t);
    memset(x, 0, (size_t)k->n * sizeof *x);
    for (; to < s->nentries && s->entries[to].term == term; to++) {
        const term_entry *e = &s->entries[to];
        t[e->row] += e->value;
        fw_add(k->n, e->value, block_column(k, e->row, s->work), 1, x);
        g->b[term] += e->value * s->y[e->row + power * k->m];
    }
    for (const term_entry *e = s->entries; e < s->entries + to; e++)
        n[e->term] += s->moment[power + e->power] *
                      (e->value * t[e->row] - e->on_height[0] * x[e->column[0]] -
                       e->on_height[1] * x[e->column[1]]);
    return to;
}

static fw_status add_block(const fw_net *net, const net_class *class, const factor *f, int b,
                           gram *g, fw_error *err)
{
    const block *k = &f->blocks[b];
    share s;
    if (k->m == k->rank || g->range.count == 0)
        return FW_OK;
    fw_status status = share_new(net, class, f, b, g->range.first, &s, err);
    if (!status)
        sum_rings(&s);
    for (int i = 0; i < s.nentries && !status;)
        i = add_term(&s, i, g);
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
