/* block.c - one ring's equations, factored once for all rings of its class. */
#include "block.h"

#include <math.h>
#include <string.h>

#include "balance.h"
#include "flatwright/alloc.h"
#include "linalg.h"

static const double ROOT2 = 1.41421356237309504880, ROOT_HALF = 0.70710678118654752440;

/* Least reciprocal condition of a ring's normal equations: they cost no more than 1e-10 of a figure. */
static const double RCOND_LEAST = 1e-6;

/* H of block b: 0 even or general, 1 odd. */
static void fill_h(const net_class *class, const factor *f, int b, block *k)
{
    for (int i = 0; i < k->m; i++) {
        const net_row *row = &class->rows[block_row(f, i)];
        k->coef[i] = row->weight * (f->nblocks == 2 ? ROOT2 : 1);
        for (int side = 0; side < 2; side++) {
            int column = row->column[side];
            k->column[2 * i + side] = f->nblocks == 2 ? column / 2 : column;
            k->entry[2 * i + side] = b == 1 && column % 2 ? -row->weight : row->weight;
        }
    }
}

/* G = (I - N N') D P R11^-1 Q1', q being all of Q. */
static fw_status generalised_inverse(block *k, const fw_qr *qr, const double *q, fw_error *err)
{
    int m = k->m, n = k->n, d = n - k->rank;
    fw_status status;
    double *qt = fw_alloc((size_t)m * m, sizeof *qt), *part = fw_alloc((size_t)d * m, sizeof *part);
    if (!qt || !part) {
        status = fw_out_of_memory(err);
        goto done;
    }
    for (int j = 0; j < m; j++)
        for (int i = 0; i < m; i++)
            qt[i + (size_t)j * m] = q[j + (size_t)i * m];
    if ((status = fw_qr_solve(qr, m, qt, k->g, err)) || (status = fw_qr_null(qr, k->null, err)))
        goto done;
    fw_gemm(1, 0, d, m, n, 1, k->null, n, k->g, n, 0, part, d ? d : 1);
    if (d)
        fw_gemm(0, 0, n, m, d, -1, k->null, n, part, d, 1, k->g, n);
    for (int j = 0; j < m; j++)
        memcpy(k->left + (size_t)j * (m - k->rank), qt + k->rank + (size_t)j * m,
               (size_t)(m - k->rank) * sizeof *qt);
done:
    fw_free(qt);
    fw_free(part);
    return status;
}

/* By QR with column pivoting: whatever the weights. */
static fw_status factor_by_qr(block *k, fw_error *err)
{
    int m = k->m, n = k->n;
    fw_qr qr = {0};
    double *h = fw_alloc((size_t)m * n, sizeof *h), *q = fw_alloc((size_t)m * m, sizeof *q);
    fw_status status = h && q ? FW_OK : fw_out_of_memory(err);
    for (int i = 0; i < 2 * m && !status; i++)
        h[i / 2 + (size_t)k->column[i] * m] += k->entry[i];
    if (status || (status = fw_qr_factor(&qr, m, n, h, NULL, 0, err)) ||
        (status = fw_qr_form(&qr, q, err)))
        goto done;
    k->rank = qr.rank;
    k->g = fw_alloc((size_t)n * m, sizeof *k->g);
    k->null = fw_alloc((size_t)n * (n - k->rank), sizeof *k->null);
    k->left = fw_alloc((size_t)m * (m - k->rank), sizeof *k->left);
    status = k->g && k->null && k->left ? generalised_inverse(k, &qr, q, err)
                                        : fw_out_of_memory(err);
done:
    fw_qr_release(&qr);
    fw_free(h);
    fw_free(q);
    return status;
}

/* a += scale N N'. */
static void add_null(const block *k, double scale, double *a)
{
    int n = k->n, d = n - k->rank;
    fw_gemm(0, 1, n, n, d, scale, k->null, n, k->null, n, 1, a, n);
}

/*
 * From the graph of the ring, without decomposing H: with s the mean of the diagonal,
 *     K = (H'H + s N N')^-1 - N N' / s = (H'H)^+.
 * *good: the condition of that matrix is such that no figure suffers; else nothing is made.
 */
static fw_status factor_by_graph(block *k, bool *good, fw_error *err)
{
    int n = k->n;
    double scale = 0, rcond = 0, *a = fw_alloc((size_t)n * n, sizeof *a);
    *good = false;
    if (!a)
        return fw_out_of_memory(err);
    fw_status status = balance_null(k, &k->null, &k->rank, err);
    if (status)
        goto done;
    for (int i = 0; i < k->m; i++)
        for (int p = 2 * i; p < 2 * i + 2; p++) {
            scale += k->entry[p] * k->entry[p] / n;
            for (int q = 2 * i; q < 2 * i + 2; q++)
                a[k->column[p] + (size_t)k->column[q] * n] += k->entry[p] * k->entry[q];
        }
    add_null(k, scale, a);
    if ((status = fw_inverse_definite(n, a, &rcond, err)) || !(rcond > RCOND_LEAST))
        goto done;
    *good = true;
    add_null(k, -1 / scale, a);
    k->inverse = a;
    a = NULL;
done:
    fw_free(a);
    if (!*good) {
        fw_free(k->null);
        k->null = NULL;
    }
    return status;
}

static fw_status block_factor(block *k, fw_error *err)
{
    bool good = false;
    fw_status status = factor_by_graph(k, &good, err);
    return status || good ? status : factor_by_qr(k, err);
}

static size_t block_bytes(const block *k)
{
    size_t m = (size_t)k->m, n = (size_t)k->n, left = k->left ? m * (m - (size_t)k->rank) : 0;
    return sizeof(double) * (left + n * (k->g ? m : n) + n * (n - (size_t)k->rank) + 4 * m);
}

static fw_status block_new(const net_class *class, const factor *f, int b, block *k, fw_error *err)
{
    k->m = class->nrows / f->nblocks;
    k->n = class->ncolumns / f->nblocks;
    k->pistons = b == 0;
    k->tilts = !class->centre && (b == 1 || !class->paired);
    k->column = fw_alloc(2 * (size_t)k->m, sizeof *k->column);
    k->entry = fw_alloc(2 * (size_t)k->m, sizeof *k->entry);
    k->coef = fw_alloc(k->m, sizeof *k->coef);
    if (!k->column || !k->entry || !k->coef)
        return fw_out_of_memory(err);
    fill_h(class, f, b, k);
    return block_factor(k, err);
}

fw_status factor_new(const net_class *class, factor **out, fw_error *err)
{
    fw_status status = FW_OK;
    factor *f = fw_alloc(1, sizeof *f);
    if (!f)
        return fw_out_of_memory(err);
    f->nblocks = class->paired ? 2 : 1;
    f->bytes = sizeof *f;
    for (int b = 0; b < f->nblocks && !status; b++)
        if (!(status = block_new(class, f, b, &f->blocks[b], err)))
            f->bytes += block_bytes(&f->blocks[b]);
    if (status)
        factor_free(f);
    else
        *out = f;
    return status;
}

void block_times_design(const block *k, int rows, const double *a, double *out)
{
    for (int i = 0; i < k->m; i++, out += rows) {
        const double *p = a + (size_t)k->column[2 * i] * rows;
        const double *q = a + (size_t)k->column[2 * i + 1] * rows;
        for (int j = 0; j < rows; j++)
            out[j] = k->entry[2 * i] * p[j] + k->entry[2 * i + 1] * q[j];
    }
}

void block_solve(const block *k, int count, const double *y, double *x, double *work)
{
    int m = k->m, n = k->n;
    if (k->g) {
        fw_gemm(0, 0, n, count, m, 1, k->g, n, y, m, 0, x, n);
        return;
    }
    memset(work, 0, (size_t)n * count * sizeof *work);
    for (int c = 0; c < count; c++)
        for (int p = 0; p < 2 * m; p++)
            work[k->column[p] + (size_t)c * n] += k->entry[p] * y[p / 2 + (size_t)c * m];
    fw_gemm(0, 0, n, count, n, 1, k->inverse, n, work, n, 0, x, n);
}

const double *block_column(const block *k, int i, double *work)
{
    if (k->g)
        return k->g + (size_t)i * k->n;
    const double *p = k->inverse + (size_t)k->column[2 * i] * k->n;
    const double *q = k->inverse + (size_t)k->column[2 * i + 1] * k->n;
    for (int j = 0; j < k->n; j++)
        work[j] = k->entry[2 * i] * p[j] + k->entry[2 * i + 1] * q[j];
    return work;
}

double block_leverage(const block *k, int i)
{
    const double *h = k->entry + 2 * i;
    int p = k->column[2 * i], q = k->column[2 * i + 1];
    if (k->g) {
        const double *g = k->g + (size_t)i * k->n;
        return h[0] * g[p] + h[1] * g[q];
    }
    const double *of_p = k->inverse + (size_t)p * k->n, *of_q = k->inverse + (size_t)q * k->n;
    return h[0] * (h[0] * of_p[p] + h[1] * of_q[p]) + h[1] * (h[0] * of_p[q] + h[1] * of_q[q]);
}

/* M = I - H G projects on what H does not reach; its Cholesky factor with pivoting has orthonormal rows. */
fw_status block_left(const block *k, double **left, fw_error *err)
{
    int m = k->m, rows = m - k->rank, n = k->n;
    fw_status status = FW_OK;
    double *made = fw_alloc((size_t)m * rows, sizeof *made), *work = fw_alloc(n, sizeof *work);
    double *maker = fw_alloc(k->left ? 0 : (size_t)m * m, sizeof *maker);
    if (!made || !work || !maker)
        status = fw_out_of_memory(err);
    else if (k->left)
        memcpy(made, k->left, (size_t)m * rows * sizeof *made);
    else {
        for (int j = 0; j < m; j++) {
            const double *g = block_column(k, j, work);
            for (int i = 0; i < m; i++)
                maker[i + (size_t)j * m] = (i == j) - k->entry[2 * i] * g[k->column[2 * i]] -
                                           k->entry[2 * i + 1] * g[k->column[2 * i + 1]];
        }
        status = fw_root_of_projection(m, rows, maker, made, err);
    }
    fw_free(maker);
    fw_free(work);
    if (status)
        fw_free(made);
    else
        *left = made;
    return status;
}

void factor_free(factor *f)
{
    if (!f)
        return;
    for (int b = 0; b < 2; b++) {
        fw_free(f->blocks[b].column);
        fw_free(f->blocks[b].entry);
        fw_free(f->blocks[b].left);
        fw_free(f->blocks[b].inverse);
        fw_free(f->blocks[b].g);
        fw_free(f->blocks[b].null);
        fw_free(f->blocks[b].coef);
    }
    fw_free(f);
}

void block_readings(const factor *f, int b, const double *weighted, double *y)
{
    int m = f->blocks[b].m;
    double sign = b == 0 ? 1 : -1;
    if (f->nblocks == 1)
        memcpy(y, weighted, (size_t)m * sizeof *y);
    else
        for (int i = 0; i < m; i++)
            y[i] = (weighted[2 * i] + sign * weighted[2 * i + 1]) * ROOT_HALF;
}

int block_term_entries(const fw_net *net, const net_class *class, const factor *f, int b, int power,
                       int i, int index[2], double value[2])
{
    const block *k = &f->blocks[b];
    const net_row *row = &class->rows[block_row(f, i)];
    const net_scan *scan = &net->scans[row->scan];
    if (power == 0) {
        index[0] = scan->piston;
        value[0] = k->coef[i];
        return k->pistons;
    }
    for (int q = 0; q < scan->ntilt; q++) {
        index[q] = scan->tilt[q];
        value[q] = k->coef[i] * row->sign * scan->tilt_coef[q];
    }
    return k->tilts ? scan->ntilt : 0;
}

void block_add_terms(const fw_net *net, const net_class *class, const factor *f, int b, int power,
                     int rows, const double *left, int ldl, double scale, int first, double *out,
                     int ldo)
{
    int index[2];
    double value[2];
    for (int i = 0; i < f->blocks[b].m; i++) {
        int entries = block_term_entries(net, class, f, b, power, i, index, value);
        for (int q = 0; q < entries; q++)
            for (int r = 0; r < rows; r++)
                out[r + (size_t)(index[q] - first) * ldo] +=
                    scale * value[q] * left[r + (size_t)i * ldl];
    }
}

void block_add_heights(const block *k, int count, double scale, const double *x, double *y)
{
    for (int c = 0; c < count; c++, x += k->n, y += k->m)
        for (int i = 0; i < k->m; i++)
            y[i] += scale * (k->entry[2 * i] * x[k->column[2 * i]] +
                             k->entry[2 * i + 1] * x[k->column[2 * i + 1]]);
}

void block_terms(const fw_net *net, const net_class *class, const factor *f, int b, int power,
                 const double *t, double *y)
{
    int index[2];
    double value[2];
    for (int i = 0; i < f->blocks[b].m; i++) {
        int entries = block_term_entries(net, class, f, b, power, i, index, value);
        y[i] = 0;
        for (int q = 0; q < entries; q++)
            y[i] += value[q] * t[index[q]];
    }
}
