/* terms_rows.c - the terms of the scans from all their equations, whatever their condition. */
#include "terms_rows.h"

#include <string.h>

#include "flatwright/alloc.h"
#include "linalg.h"
#include "stack.h"

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

/*
 * With orthonormal modes over the rings of a class in place of 1 and rho, (1, rho) = q r, all its rings
 * are one block a mode: y_i = sum of q[ring, i] y_ring stands before r[i, .]. Appends
 * Q2' (y_i - (r_i0 T0 + r_i1 T1) t) for every mode i of one block.
 */
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
    if ((status = fw_qr_thin(nr, nv, v, q, r, err)))
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

fw_status terms_of_rows(factors *store, int half, int nranges, term_range range,
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
