/* whiten.c - one flat's heights on a class of rings, freed of what correlates them in a ring. */
#include "whiten.h"

#include <string.h>

#include "flatwright/alloc.h"
#include "linalg.h"

static const double ROOT_HALF = 0.70710678118654752440;

/* What is left of null vectors, of unit length over all flats, when they do not touch this one. */
static const double UNTOUCHED = 1e-7;

void whiten_take(whiten_part part, int n, const double *from, int stride, double *to)
{
    for (int i = 0; i < n; i++) {
        const double *x = from + (size_t)whiten_first(part, i) * stride;
        to[i] = part == WHITEN_ALL    ? x[0]
                : part == WHITEN_EVEN ? (x[0] + x[stride]) * ROOT_HALF
                                      : (x[0] - x[stride]) * ROOT_HALF;
    }
}

/* out (n x cols) <- the part of every column of a matrix with ld rows. */
static void take_columns(const whiten *w, int cols, const double *from, int ld, double *out)
{
    for (int j = 0; j < cols; j++)
        whiten_take(w->part, w->n, from + (size_t)j * ld, 1, out + (size_t)j * w->n);
}

/* k (n x n) <- the part of K, by rows and by columns. */
static void take_covariance(const whiten *w, const class_spread *s, double *k, double *work)
{
    int n = w->n;
    take_columns(w, s->n, s->k, s->n, work); /* n x s->n */
    for (int i = 0; i < n; i++)
        whiten_take(w->part, n, work + i, n, k + (size_t)i * n);
}

/*
 * p (n x d) <- an orthonormal basis of what no null vector of the ring touches; d. Without null
 * vectors the heights themselves.
 */
static fw_status determined(whiten *w, const class_spread *s, double *p, fw_error *err)
{
    int n = w->n, nulls = s->nnull;
    fw_qr qr = {0};
    double *z = fw_alloc((size_t)n * nulls, sizeof *z), *unit = fw_alloc(nulls, sizeof *unit),
           *q = fw_alloc((size_t)n * n, sizeof *q);
    fw_status status = z && unit && q ? FW_OK : fw_out_of_memory(err);
    if (status)
        goto done;
    take_columns(w, nulls, s->null, s->n, z);
    for (int j = 0; j < nulls; j++)
        unit[j] = 1;
    if ((status = fw_qr_factor(&qr, n, nulls, z, unit, UNTOUCHED, err)) ||
        (status = fw_qr_form(&qr, q, err)))
        goto done;
    w->d = n - qr.rank;
    memcpy(p, q + (size_t)qr.rank * n, (size_t)n * w->d * sizeof *p);
done:
    fw_qr_release(&qr);
    fw_free(z);
    fw_free(unit);
    fw_free(q);
    return status;
}

static void add_weights(const adjustment *a, int class, const class_spread *s, double *weight2,
                        double *whole)
{
    const net_class *c = &a->net->classes[class];
    for (int i = 0; i < c->nrows; i++)
        for (int side = 0; side < 2; side++)
            whole[c->rows[i].column[side]] += c->rows[i].weight * c->rows[i].weight;
    for (int i = 0; i < s->n; i++)
        weight2[i] = whole[s->column[0][i]];
}

static fw_status fill(whiten *w, const adjustment *a, int class, const class_spread *s,
                      fw_error *err)
{
    int n = w->n, nt = a->net->nterms;
    size_t room = (size_t)n * (nt > s->n ? nt : s->n);
    double *p = fw_alloc((size_t)n * n, sizeof *p), *k = fw_alloc((size_t)n * n, sizeof *k);
    double *kp = fw_alloc((size_t)n * n, sizeof *kp), *work = fw_alloc(room, sizeof *work);
    double *whole = fw_alloc(a->net->classes[class].ncolumns, sizeof *whole);
    double *weight2 = fw_alloc(s->n, sizeof *weight2);
    fw_status status =
        p && k && kp && work && whole && weight2 ? FW_OK : fw_out_of_memory(err);
    if (status || (status = determined(w, s, p, err)))
        goto done;
    int d = w->d;
    take_covariance(w, s, kp, work);
    fw_gemm(0, 0, n, d, n, 1, kp, n, p, n, 0, work, n);
    fw_gemm(1, 0, d, d, n, 1, p, n, work, n, 0, k, d);
    if ((status = fw_cholesky(d, k, err)))
        goto done;
    for (int j = 0; j < n; j++)
        for (int i = 0; i < d; i++)
            w->w[i + (size_t)j * d] = p[j + (size_t)i * n];
    fw_upper_solve_transposed(d, n, k, d, w->w, d);
    for (int power = 0; power < (s->b1 ? 2 : 1); power++) {
        const double *from = power ? s->b1 : s->b0;
        double *to = power ? w->b1 : w->b0;
        size_t first = (size_t)w->seen[power].first;
        int count = w->seen[power].count;
        take_columns(w, count, from + first * s->n, s->n, work);
        fw_gemm(0, 0, d, count, n, 1, w->w, d, work, n, 0, to + first * d, d);
    }
    add_weights(a, class, s, weight2, whole);
    for (int i = 0; i < n; i++) /* alike for + and - */
        w->weight2[i] = weight2[whiten_first(w->part, i)];
done:
    fw_free(p);
    fw_free(k);
    fw_free(kp);
    fw_free(work);
    fw_free(whole);
    fw_free(weight2);
    return status;
}

/* Of paired rings even parts see pistons, odd ones tilts. */
static term_range see(const fw_net *net, whiten_part part, term_range seen)
{
    int last = seen.first + seen.count;
    if (part == WHITEN_EVEN && last > net->npistons)
        last = net->npistons;
    if (part == WHITEN_ODD && seen.first < net->npistons)
        seen.first = net->npistons;
    return (term_range){seen.first, last > seen.first ? last - seen.first : 0};
}

fw_status whiten_new(const adjustment *a, int class, const class_spread *s, whiten_part part,
                     whiten *out, fw_error *err)
{
    whiten w = {.part = part, .n = part == WHITEN_ALL ? s->n : s->n / 2};
    size_t n = (size_t)w.n, nt = (size_t)a->net->nterms;
    w.w = fw_alloc(n * n, sizeof(double));
    w.b0 = fw_alloc(n * nt, sizeof(double));
    w.b1 = s->b1 ? fw_alloc(n * nt, sizeof(double)) : NULL;
    w.weight2 = fw_alloc(n, sizeof(double));
    for (int power = 0; power < 2; power++)
        w.seen[power] = see(a->net, part, s->seen[power]);
    fw_status status = w.w && w.b0 && (w.b1 || !s->b1) && w.weight2 ? fill(&w, a, class, s, err)
                                                        : fw_out_of_memory(err);
    if (status)
        whiten_release(&w);
    else
        *out = w;
    return status;
}

void whiten_release(whiten *w)
{
    fw_free(w->w);
    fw_free(w->b0);
    fw_free(w->b1);
    fw_free(w->weight2);
    *w = (whiten){0};
}
