/* terms_gram.c - the terms of the scans from their normal equations, where these lose nothing. */
#include "terms_gram.h"

#include <string.h>

#include "flatwright/alloc.h"

/* Least pivot, of columns of unit length; sound plans have 0.05 and more. It costs 1e-12 of a figure. */
static const double PIVOT_LEAST = 1e-2;

/* Normal equations of a range as they grow. */
typedef struct gram {
    term_range range;
    double *n; /* count x count */
    double *b; /* count */
} gram;

/* The entries of T_power, two places a row; where there is none, 0 at the first term. */
typedef struct entries {
    int *at;
    double *value;
} entries;

static void list_entries(const fw_net *net, const net_class *class, const factor *f, int b,
                         int power, int first, entries *e)
{
    for (int i = 0; i < f->blocks[b].m; i++) {
        int index[2], n = block_term_entries(net, class, f, b, power, i, index, e->value + 2 * i);
        for (int q = 0; q < 2; q++)
            e->at[2 * i + q] = q < n ? index[q] - first : 0;
        for (int q = n; q < 2; q++)
            e->value[2 * i + q] = 0;
    }
}

/* tm (count x m) <- T' M, column by column: M e_i = e_i - H (column i of G). T meets `count` terms. */
static void project(const block *k, const entries *e, int count, double *tm)
{
    int m = k->m, n = k->n;
    memset(tm, 0, (size_t)count * m * sizeof *tm);
    for (int i = 0; i < m; i++) {
        const double *g = k->g + (size_t)i * n;
        double *to = tm + (size_t)i * count;
        for (int j = 0; j < m; j++) {
            double left = (i == j) - k->entry[2 * j] * g[k->column[2 * j]] -
                          k->entry[2 * j + 1] * g[k->column[2 * j + 1]];
            to[e->at[2 * j]] += e->value[2 * j] * left;
            to[e->at[2 * j + 1]] += e->value[2 * j + 1] * left;
        }
    }
}

/* moment[p] <- sum of rho^p over the class's rings, y (m x 2) <- sums of y and of rho y. */
static void sum_rings(const fw_net *net, const net_class *class, const factor *f, int b,
                      double moment[3], double *one, double *y)
{
    int m = f->blocks[b].m;
    memset(y, 0, 2 * (size_t)m * sizeof *y);
    for (int c = 0; c < class->nrings; c++) {
        int ring = class->rings[c];
        double rho = net->ring_mm[ring] / net->rmax_mm;
        block_readings(f, b, net->weighted + net->ring_first[ring], one);
        for (int i = 0; i < m; i++) {
            y[i] += one[i];
            y[m + i] += rho * one[i];
        }
        moment[0] += 1;
        moment[1] += rho;
        moment[2] += rho * rho;
    }
}

static fw_status add_block(const fw_net *net, const net_class *class, const factor *f, int b,
                           gram *g, fw_error *err)
{
    const block *k = &f->blocks[b];
    int m = k->m, count = g->range.count;
    double moment[3] = {0};
    if (m == k->rank || count == 0)
        return FW_OK;
    entries e = {fw_alloc(2 * (size_t)m, sizeof *e.at), fw_alloc(2 * (size_t)m, sizeof *e.value)};
    double *tm = fw_alloc((size_t)count * m, sizeof *tm), *y = fw_alloc(3 * (size_t)m, sizeof *y);
    fw_status status = e.at && e.value && tm && y ? FW_OK : fw_out_of_memory(err);
    if (status)
        goto done;
    sum_rings(net, class, f, b, moment, y + 2 * (size_t)m, y);
    for (int p = 0; p < 2; p++) {
        if (!(p ? k->tilts : k->pistons))
            continue;
        int first = p && k->pistons ? net->npistons : g->range.first, from = first - g->range.first;
        int n = p == 0 && k->tilts ? net->npistons : count - from; /* the terms of this power */
        list_entries(net, class, f, b, p, first, &e);
        project(k, &e, n, tm);
        for (int q = p; q < 2; q++) /* the lower triangle is not read */
            block_add_terms(net, class, f, b, q, n, tm, n, moment[p + q], g->range.first,
                            g->n + from, count);
        fw_gemm(0, 0, n, 1, m, 1, tm, n, y + (size_t)p * m, m, 1, g->b + from, count);
    }
done:
    fw_free(e.at);
    fw_free(e.value);
    fw_free(tm);
    fw_free(y);
    return status;
}

fw_status terms_of_gram(factors *store, int half, int nranges, term_range range,
                        const double *length, fw_qr *qr, double *c, bool *good, fw_error *err)
{
    size_t count = (size_t)range.count;
    gram g = {range, fw_alloc(count * count, sizeof(double)), fw_alloc(count, sizeof(double))};
    fw_status status = g.n && g.b ? FW_OK : fw_out_of_memory(err);
    for (int k = 0; k < store->net->nclasses && !status; k++) {
        factor *f = NULL;
        status = factors_get(store, k, &f, err);
        for (int b = 0; !status && b < f->nblocks; b++)
            if (terms_sees(&f->blocks[b], half, nranges))
                status = add_block(store->net, &store->net->classes[k], f, b, &g, err);
        factors_put(store, k, f);
    }
    if (status || (status = fw_qr_of_gram(qr, range.count, g.n, length, PIVOT_LEAST, good, err)) ||
        !*good)
        goto done;
    for (int i = 0; i < qr->rank; i++)
        c[i] = g.b[qr->perm[i]] * qr->scale[qr->perm[i]];
    fw_upper_solve_transposed(qr->rank, 1, qr->a, qr->m, c, qr->m);
done:
    fw_free(g.n);
    fw_free(g.b);
    return status;
}
