/* terms.c - the pistons and tilts of the scans: what is left when every ring is eliminated. */
#include "terms.h"

#include <math.h>
#include <string.h>

#include "flatwright/alloc.h"
#include "linalg.h"
#include "stack.h"
#include "terms_gram.h"

int terms_ranges(const fw_net *net, term_range range[2])
{
    range[0] = (term_range){0, net->npistons};
    range[1] = (term_range){net->npistons, net->nterms - net->npistons};
    for (int c = 0; c < net->nclasses; c++)
        if (!net->classes[c].paired && !net->classes[c].centre) {
            range[0].count = net->nterms;
            return 1;
        }
    return 2;
}

fw_status terms_modes(int nrings, int nv, double *v, double *q, double *r, fw_error *err)
{
    return fw_qr_thin(nrings, nv, v, q, r, err);
}

/* z (m x k) <- Y q, with Y the block's readings of all rings of the class, one column a ring. */
static void mode_readings(const fw_net *net, const net_class *class, const factor *f, int b, int k,
                          const double *q, double *y, double *z)
{
    int m = f->blocks[b].m;
    memset(z, 0, (size_t)m * k * sizeof *z);
    for (int c = 0; c < class->nrings; c++) {
        block_readings(f, b, net->weighted + net->ring_first[class->rings[c]], y);
        for (int j = 0; j < k; j++)
            for (int i = 0; i < m; i++)
                z[i + (size_t)j * m] += q[c + (size_t)j * class->nrings] * y[i];
    }
}

/* Appends Q2' (y_i - (r_i0 T0 + r_i1 T1) t) for every mode i of one block of one class. */
static fw_status push_block(const fw_net *net, const net_class *class, const factor *f, int b,
                            term_range range, stack *s, fw_error *err)
{
    const block *k = &f->blocks[b];
    int m = k->m, rows = m - k->rank, nv = k->pistons + k->tilts, nr = class->nrings;
    int modes = nr < nv ? nr : nv;
    fw_status status = FW_OK;
    if (rows == 0)
        return FW_OK;
    double *v = fw_alloc((size_t)nr * nv, sizeof *v), *q = fw_alloc((size_t)nr * modes, sizeof *q);
    double *y = fw_alloc(m, sizeof *y), *z = fw_alloc((size_t)m * modes, sizeof *z);
    double *left = NULL, r[4];
    status = v && q && y && z ? block_left(k, &left, err) : fw_out_of_memory(err);
    if (status)
        goto done;
    for (int c = 0; c < nr; c++) {
        v[c] = 1;
        if (k->tilts)
            v[c + (size_t)k->pistons * nr] = net->ring_mm[class->rings[c]] / net->rmax_mm;
    }
    if ((status = terms_modes(nr, nv, v, q, r, err)))
        goto done;
    mode_readings(net, class, f, b, modes, q, y, z);
    for (int i = 0; i < modes; i++) {
        double *at = stack_push(s, rows, err);
        if (!at) {
            status = FW_SYSTEM;
            goto done;
        }
        if (k->pistons)
            block_add_terms(net, class, f, b, 0, rows, left, rows, r[i], range.first, at, s->size);
        if (k->tilts)
            block_add_terms(net, class, f, b, 1, rows, left, rows, r[i + k->pistons * modes],
                            range.first, at, s->size);
        fw_gemm(0, 0, rows, 1, m, 1, left, rows, z + (size_t)i * m, m, 0,
                at + (size_t)range.count * s->size, s->size);
    }
done:
    fw_free(v);
    fw_free(q);
    fw_free(y);
    fw_free(z);
    fw_free(left);
    return status;
}

void terms_lengths(const fw_net *net, double *length)
{
    memset(length, 0, (size_t)net->nterms * sizeof *length);
    for (int c = 0; c < net->nclasses; c++) {
        const net_class *class = &net->classes[c];
        double arm = 0;
        for (int k = 0; k < class->nrings; k++)
            arm += pow(net->ring_mm[class->rings[k]] / net->rmax_mm, 2);
        for (int i = 0; i < class->nrows; i++) {
            const net_scan *scan = &net->scans[class->rows[i].scan];
            double w = class->rows[i].weight;
            length[scan->piston] += w * w * class->nrings;
            for (int q = 0; q < scan->ntilt; q++)
                length[scan->tilt[q]] += w * w * arm;
        }
    }
    for (int j = 0; j < net->nterms; j++)
        length[j] = sqrt(length[j]);
}

/* What qr and c, its Q' times the readings, say of one range. */
static fw_status keep_range(const fw_qr *qr, const double *c, int half, scan_terms *out,
                            fw_error *err)
{
    int n = out->range[half].count, r = qr->rank, d = n - r;
    size_t nt = (size_t)out->n, first = (size_t)out->range[half].first;
    double *null = fw_alloc((size_t)n * d, sizeof *null);
    out->root[half] = fw_alloc((size_t)r * r, sizeof *null);
    fw_status status = null && out->root[half] ? FW_OK : fw_out_of_memory(err);
    if (status || (status = fw_qr_solve(qr, 1, c, out->t + first, err)) ||
        (status = fw_qr_null(qr, null, err)))
        goto done;
    fw_qr_root(qr, out->root[half]);
    for (int k = 0; k < n; k++)
        out->row[first + (size_t)qr->perm[k]] = k < r ? k : -1;
    for (int j = 0; j < d; j++)
        memcpy(out->null + first + (size_t)(out->nnull + j) * nt, null + (size_t)j * n,
               (size_t)n * sizeof *null);
    out->roots[half] = (term_range){out->rank, r};
    out->nulls[half] = (term_range){out->nnull, d};
    out->rank += r;
    out->nnull += d;
done:
    fw_free(null);
    return status;
}

/* All blocks of one class that see the range. */
static fw_status push_class(factors *store, int c, int half, int nranges, term_range range,
                            stack *s, fw_error *err)
{
    factor *f = NULL;
    fw_status status = factors_get(store, c, &f, err);
    for (int b = 0; !status && b < f->nblocks; b++)
        if (terms_sees(&f->blocks[b], half, nranges))
            status = push_block(store->net, &store->net->classes[c], f, b, range, s, err);
    factors_put(store, c, f);
    return status;
}

/* One range from all its equations by QR: whatever their condition. */
static fw_status factor_rows(factors *store, int half, int nranges, term_range range,
                             const double *length, fw_qr *qr, double *c, fw_error *err)
{
    int n = range.count;
    stack s = {0};
    double *a = NULL;
    fw_status status = stack_init(&s, n + 1, err);
    for (int k = 0; k < store->net->nclasses && !status; k++)
        status = push_class(store, k, half, nranges, range, &s, err);
    if (status || (status = stack_compress(&s, err)))
        goto done;
    a = fw_alloc((size_t)(n + 1) * n, sizeof *a);
    if (!a) {
        status = fw_out_of_memory(err);
        goto done;
    }
    for (int j = 0; j < n; j++)
        memcpy(a + (size_t)j * (n + 1), s.a + (size_t)j * s.size, (size_t)(n + 1) * sizeof *a);
    memcpy(c, s.a + (size_t)n * s.size, (size_t)(n + 1) * sizeof *c);
    if (!(status = fw_qr_factor(qr, n + 1, n, a, length, 0, err)))
        status = fw_qr_apply(qr, 1, 1, c, err);
done:
    stack_release(&s);
    fw_free(a);
    return status;
}

static fw_status solve_range(factors *store, int half, const double *length, scan_terms *out,
                             fw_error *err)
{
    fw_qr qr = {0};
    bool good = false;
    term_range range = out->range[half];
    double *c = fw_alloc((size_t)range.count + 1, sizeof *c);
    fw_status status =
        c ? terms_of_gram(store, half, out->nranges, range, length, &qr, c, &good, err)
          : fw_out_of_memory(err);
    if (!status && !good)
        status = factor_rows(store, half, out->nranges, range, length, &qr, c, err);
    if (!status)
        status = keep_range(&qr, c, half, out, err);
    fw_qr_release(&qr);
    fw_free(c);
    return status;
}

fw_status terms_solve(factors *store, scan_terms *out, fw_error *err)
{
    const fw_net *net = store->net;
    size_t n = (size_t)net->nterms;
    fw_status status = FW_OK;
    scan_terms made = {.n = net->nterms};
    made.nranges = terms_ranges(net, made.range);
    made.t = fw_alloc(n, sizeof(double));
    made.row = fw_alloc(n, sizeof(int));
    made.null = fw_alloc(n * n, sizeof(double));
    double *length = fw_alloc(n, sizeof *length);
    if (!made.t || !made.row || !made.null || !length)
        status = fw_out_of_memory(err);
    else
        terms_lengths(net, length);
    for (int half = 0; half < made.nranges && !status; half++)
        status = solve_range(store, half, length + made.range[half].first, &made, err);
    fw_free(length);
    if (status)
        terms_release(&made);
    else
        *out = made;
    return status;
}

void terms_release(scan_terms *t)
{
    fw_free(t->t);
    fw_free(t->root[0]);
    fw_free(t->root[1]);
    fw_free(t->row);
    fw_free(t->null);
    *t = (scan_terms){0};
}
