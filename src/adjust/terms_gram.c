/* terms_gram.c - the normal equations of the terms of the scans. */
#include "terms_gram.h"

#include <stdlib.h>

#include "flatwright/alloc.h"
#include "linalg.h"

/* Normal equations of a range as they grow. */
typedef struct gram {
    term_range range;
    double *n; /* count x count */
    double *b; /* count */
} gram;

/* An entry of T = T0 + rho T1: a term in a row, and what the row's heights take from it. */
typedef struct bearing {
    int term, row, power; /* term: of the range */
    int column[2];        /* the row's heights */
    double value, taken[2]; /* value; times the row of H */
} bearing;

/* One block's equations while its share is made: heights eliminated, M = I - H G. */
typedef struct share {
    const fw_net *net;
    const net_class *class;
    const factor *f;
    int b;
    double moment[3];  /* sum of rho^p over the class's rings */
    int nbearings;
    bearing *bearings; /* by term */
    double *y, *x;     /* m x 3; n */
} share;

static int by_term(const void *a, const void *b)
{
    const bearing *x = a, *y = b;
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
                   .bearings = fw_alloc(3 * (size_t)k->m, sizeof *out->bearings),
                   .y = fw_alloc(3 * (size_t)k->m, sizeof(double)),
                   .x = fw_alloc(k->n, sizeof(double))};
    if (!out->bearings || !out->y || !out->x)
        return fw_out_of_memory(err);
    for (int i = 0; i < k->m; i++)
        for (int power = 0; power < 2; power++) {
            int index[2];
            double value[2];
            int entries = block_term_entries(net, class, f, b, power, i, index, value);
            for (int e = 0; e < entries; e++)
                out->bearings[out->nbearings++] =
                    (bearing){index[e] - first,
                              i,
                              power,
                              {k->column[2 * i], k->column[2 * i + 1]},
                              value[e],
                              {value[e] * k->entry[2 * i], value[e] * k->entry[2 * i + 1]}};
        }
    qsort(out->bearings, (size_t)out->nbearings, sizeof *out->bearings, by_term);
    return FW_OK;
}

static void share_release(share *s)
{
    fw_free(s->bearings);
    fw_free(s->y);
    fw_free(s->x);
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

/* What M leaves of an entry in the row of another, of which `height` is the column of G. */
static double left_of(const bearing *e, const bearing *other, const double *height)
{
    double left = e->row == other->row ? e->value : 0;
    return left - (e->taken[0] * height[e->column[0]] + e->taken[1] * height[e->column[1]]);
}

/* A bearing's share of its column of n, down to the diagonal, and of b. */
static void add_bearing(const share *s, int which, gram *g)
{
    const block *k = &s->f->blocks[s->b];
    const bearing *own = &s->bearings[which];
    const double *height = k->g + (size_t)own->row * k->n;
    double *n = g->n + (size_t)own->term * g->range.count;
    const double weight[2] = {s->moment[own->power] * own->value,
                              s->moment[own->power + 1] * own->value};
    for (const bearing *e = s->bearings; e <= own; e++)
        n[e->term] += weight[e->power] * left_of(e, own, height);
    for (const bearing *e = own - 1; e >= s->bearings && e->term == own->term; e--)
        n[e->term] += weight[e->power] * left_of(e, own, height); /* of one term: both ways round */
    g->b[own->term] += own->value * s->y[own->row + own->power * k->m];
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
    for (int i = 0; i < s.nbearings && !status; i++)
        add_bearing(&s, i, g);
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
