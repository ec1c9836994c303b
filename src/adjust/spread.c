/* spread.c - what a class of rings says about the heights of one flat, or about a removal. */
#include "spread.h"

#include <math.h>
#include <string.h>

#include "flatwright/alloc.h"
#include "linalg.h"
#include "terms_root.h"

/* Below this a null vector (of unit length) does not touch a height. */
static const double LOOSE = 1e-7;

static const double ROOT_HALF = 0.70710678118654752440;

static int partner(const net_class *class, int column, int face)
{
    const net_column *c = &class->columns[column];
    for (int j = 0; j < class->ncolumns; j++)
        if (class->columns[j].face == face && class->columns[j].angle == c->angle &&
            class->columns[j].sign == c->sign)
            return j;
    return -1;
}

bool spread_contrasts(const net_class *class, int column, contrast what)
{
    return class->columns[column].face == what.plus &&
           (what.minus < 0 || partner(class, column, what.minus) >= 0);
}

static void find_contrasts(const net_class *class, contrast what, class_spread *s)
{
    for (int j = 0; j < class->ncolumns; j++) {
        if (!spread_contrasts(class, j, what))
            continue;
        s->column[0][s->n] = j;
        s->column[1][s->n] = what.minus < 0 ? -1 : partner(class, j, what.minus);
        s->angle[s->n] = class->columns[j].angle;
        s->sign[s->n++] = class->columns[j].sign;
    }
}

/* A height of a class taken apart, from one half's unknowns: even ones, or odd ones. */
static double from_half(int column, int b, const double *part)
{
    return (b == 1 && column % 2 ? -ROOT_HALF : ROOT_HALF) * part[column / 2];
}

/* out (n x count) <- the contrasts of the rows of part (block unknowns x count). */
static void contrast_rows(const class_spread *s, const factor *f, int b, int count,
                          const double *part, double *out)
{
    const int *plus = s->column[0], *minus = s->column[1];
    bool whole = f->nblocks == 1;
    for (int q = 0; q < count; q++, part += f->blocks[b].n, out += s->n) {
        for (int i = 0; i < s->n && whole; i++)
            out[i] = part[plus[i]] - (minus[i] < 0 ? 0 : part[minus[i]]);
        for (int i = 0; i < s->n && !whole; i++)
            out[i] = from_half(plus[i], b, part) -
                     (minus[i] < 0 ? 0 : from_half(minus[i], b, part));
    }
}

/* g (n x m) <- the contrasts of G. work: n x block unknowns. */
static void contrast_inverse(const class_spread *s, const factor *f, int b, double *work, double *g)
{
    const block *k = &f->blocks[b];
    if (k->g) {
        contrast_rows(s, f, b, k->m, k->g, g);
        return;
    }
    contrast_rows(s, f, b, k->n, k->inverse, work);
    block_times_design(k, s->n, work, g);
}

/* Of paired rings b0 has pistons only, b1 tilts; of the centre there are no tilts. */
static void find_seen(const fw_net *net, const net_class *class, class_spread *s)
{
    term_range all = {0, net->nterms}, pistons = {0, net->npistons};
    bool paired = class->paired && s->b1;
    s->seen[0] = class->centre || paired ? pistons : all;
    s->seen[1] = paired ? (term_range){net->npistons, net->nterms - net->npistons} : all;
}

/* What a unit of each term does gives way to that of each coordinate. */
static fw_status turn(const adjustment *a, class_spread *s, fw_error *err)
{
    fw_status status = FW_OK;
    for (int power = 0; power < (s->b1 ? 2 : 1); power++)
        for (int r = 0; r < a->terms.nranges && !status; r++) {
            term_range range = a->terms.range[r], seen = s->seen[power];
            double *b = power ? s->b1 : s->b0;
            if (range.first < seen.first + seen.count && seen.first < range.first + range.count)
                status = terms_turn(&a->terms, r, s->n, b + (size_t)range.first * s->n, err);
        }
    return status;
}

static fw_status fill_blocks(const adjustment *a, const net_class *class, const factor *f,
                             bool covariance, class_spread *s, fw_error *err)
{
    int n = s->n;
    double rho = a->net->ring_mm[class->rings[0]] / a->net->rmax_mm;
    double *g = fw_alloc((size_t)n * class->nrows, sizeof *g);
    double *work = fw_alloc((size_t)n * class->ncolumns, sizeof *work);
    if (!g || !work) {
        fw_free(g);
        fw_free(work);
        return fw_out_of_memory(err);
    }
    find_seen(a->net, class, s);
    for (int b = 0; b < f->nblocks; b++) {
        const block *k = &f->blocks[b];
        int d = k->n - k->rank;
        contrast_inverse(s, f, b, work, g);
        if (covariance)
            fw_gram_rows(n, k->m, g, n, s->k, n);
        block_add_terms(a->net, class, f, b, 0, n, g, n, -1, 0, s->b0, n);
        block_add_terms(a->net, class, f, b, 1, n, g, n, s->b1 ? -1 : -rho, 0,
                        s->b1 ? s->b1 : s->b0, n);
        contrast_rows(s, f, b, d, k->null, s->null + (size_t)s->nnull * n);
        s->nnull += d;
    }
    for (int q = 0; q < s->nnull; q++)
        for (int i = 0; i < n; i++)
            s->loose[i] = s->loose[i] || fabs(s->null[i + (size_t)q * n]) > LOOSE;
    fw_free(g);
    fw_free(work);
    return turn(a, s, err);
}

fw_status class_spread_new(adjustment *a, int class, contrast what, spread_depth depth,
                           class_spread *out, fw_error *err)
{
    const net_class *c = &a->net->classes[class];
    size_t most = (size_t)c->ncolumns, nterms = (size_t)a->net->nterms;
    class_spread s = {.depth = depth};
    factor *f = NULL;
    fw_status status = FW_OK;
    if (depth > SPREAD_PLACES && (status = factors_get(&a->store, class, &f, err)))
        return status;
    s.column[0] = fw_alloc(most, sizeof(int));
    s.column[1] = fw_alloc(most, sizeof(int));
    s.angle = fw_alloc(most, sizeof(int));
    s.sign = fw_alloc(most, sizeof(int));
    if (s.column[0] && s.column[1] && s.angle && s.sign) {
        find_contrasts(c, what, &s);
        size_t n = (size_t)s.n;
        bool terms = depth >= SPREAD_TERMS;
        s.k = fw_alloc(depth == SPREAD_COVARIANCE ? n * n : 0, sizeof(double));
        s.b0 = fw_alloc(terms ? n * nterms : 0, sizeof(double));
        s.b1 = c->nrings > 1 ? fw_alloc(terms ? n * nterms : 0, sizeof(double)) : NULL;
        s.null = fw_alloc(terms ? n * most : 0, sizeof(double));
        s.loose = fw_alloc(n, sizeof *s.loose);
    }
    if (!s.k || !s.b0 || (c->nrings > 1 && !s.b1) || !s.null || !s.loose)
        status = fw_out_of_memory(err);
    else if (s.n > 0 && depth > SPREAD_PLACES)
        status = fill_blocks(a, c, f, depth == SPREAD_COVARIANCE, &s, err);
    if (f)
        factors_put(&a->store, class, f);
    if (status)
        class_spread_release(&s);
    else
        *out = s;
    return status;
}

void class_spread_release(class_spread *s)
{
    fw_free(s->column[0]);
    fw_free(s->column[1]);
    fw_free(s->angle);
    fw_free(s->sign);
    fw_free(s->k);
    fw_free(s->b0);
    fw_free(s->b1);
    fw_free(s->null);
    fw_free(s->loose);
    *s = (class_spread){0};
}

fw_status spreads_init(spreads *store, adjustment *a, contrast what, fw_error *err)
{
    *store = (spreads){.a = a, .what = what};
    store->kept = fw_alloc((size_t)a->net->nclasses, sizeof *store->kept);
    return store->kept ? FW_OK : fw_out_of_memory(err);
}

static void drop(class_spread *s)
{
    if (s)
        class_spread_release(s);
    fw_free(s);
}

void spreads_release(spreads *store)
{
    for (int c = 0; store->kept && c < store->a->net->nclasses; c++)
        drop(store->kept[c]);
    fw_free(store->kept);
    *store = (spreads){0};
}

fw_status spreads_get(spreads *store, int class, spread_depth depth, class_spread **s,
                      fw_error *err)
{
    *s = store->kept[class];
    if (*s)
        return FW_OK;
    if (!(*s = fw_alloc(1, sizeof **s)))
        return fw_out_of_memory(err);
    fw_status status = class_spread_new(store->a, class, store->what, depth, *s, err);
    if (status) {
        fw_free(*s);
        *s = NULL;
    }
    return status;
}

void spreads_put(spreads *store, int class, class_spread *s)
{
    if (!s || s == store->kept[class])
        return;
    size_t n = (size_t)s->n, wide = (size_t)store->a->net->nterms * (s->b1 ? 2 : 1);
    size_t bytes = sizeof(double) * n * (n + wide + (size_t)s->nnull);
    if (s->depth < SPREAD_COVARIANCE || store->bytes + bytes > FW_SPREADS_KEPT) {
        drop(s);
        return;
    }
    store->kept[class] = s;
    store->bytes += bytes;
}
