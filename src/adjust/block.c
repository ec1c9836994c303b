/* block.c - one ring's equations in dense form, factored once for all rings of its class. */
#include "block.h"

#include <math.h>
#include <string.h>

#include "flatwright/alloc.h"
#include "linalg.h"

static const double ROOT2 = 1.41421356237309504880, ROOT_HALF = 0.70710678118654752440;

/* H of block b: 0 even or general, 1 odd. Heights with keep[j] false stay out: column -1 in place. */
static void fill_h(const net_class *class, const factor *f, int b, const int *place, block *k)
{
    for (int i = 0; i < k->m; i++) {
        const net_row *row = &class->rows[block_row(f, i)];
        k->coef[i] = row->weight * (f->nblocks == 2 ? ROOT2 : 1);
        for (int side = 0; side < 2; side++) {
            int column = row->column[side], j = place[f->nblocks == 2 ? column / 2 : column];
            if (j >= 0)
                k->h[i + (size_t)j * k->m] += b == 1 && column % 2 ? -row->weight : row->weight;
        }
    }
}

/* G = (I - N N') D P R11^-1 Q1'. */
static fw_status generalised_inverse(block *k, const fw_qr *qr, fw_error *err)
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
            qt[i + (size_t)j * m] = k->q[j + (size_t)i * m];
    if ((status = fw_qr_solve(qr, m, qt, k->g, err)) || (status = fw_qr_null(qr, k->null, err)))
        goto done;
    fw_gemm(1, 0, d, m, n, 1, k->null, n, k->g, n, 0, part, d ? d : 1);
    if (d)
        fw_gemm(0, 0, n, m, d, -1, k->null, n, part, d, 1, k->g, n);
done:
    fw_free(qt);
    fw_free(part);
    return status;
}

static fw_status block_factor(block *k, bool whole, fw_error *err)
{
    fw_qr qr = {0};
    fw_status status = fw_qr_factor(&qr, k->m, k->n, k->h, NULL, 0, err);
    if (status)
        return status;
    k->rank = qr.rank;
    if (!(status = fw_qr_form(&qr, k->q, err)) && whole) {
        k->g = fw_alloc((size_t)k->n * k->m, sizeof *k->g);
        k->null = fw_alloc((size_t)k->n * (k->n - k->rank), sizeof *k->null);
        status = k->g && k->null ? generalised_inverse(k, &qr, err) : fw_out_of_memory(err);
    }
    fw_qr_release(&qr);
    return status;
}

fw_status factor_new(const net_class *class, const bool *keep, factor **out, fw_error *err)
{
    int step = class->paired ? 2 : 1, n = 0;
    fw_status status = FW_OK;
    factor *f = fw_alloc(1, sizeof *f);
    int *place = fw_alloc(class->ncolumns, sizeof *place);
    if (!f || !place) {
        status = fw_out_of_memory(err);
        goto done;
    }
    f->nblocks = step;
    f->bytes = sizeof *f;
    for (int j = 0; j < class->ncolumns; j += step)
        place[j / step] = !keep || keep[j] ? n++ : -1;
    for (int b = 0; b < f->nblocks && !status; b++) {
        block *k = &f->blocks[b];
        k->m = class->nrows / step;
        k->n = n;
        k->pistons = b == 0;
        k->tilts = !class->centre && (b == 1 || !class->paired);
        k->h = fw_alloc((size_t)k->m * n, sizeof *k->h);
        k->q = fw_alloc((size_t)k->m * k->m, sizeof *k->q);
        k->coef = fw_alloc(k->m, sizeof *k->coef);
        if (!k->h || !k->q || !k->coef) {
            status = fw_out_of_memory(err);
            break;
        }
        fill_h(class, f, b, place, k);
        status = block_factor(k, !keep, err);
        f->bytes += sizeof(double) *
                    ((size_t)k->m * (k->m + 2 * (size_t)n + 1) + (size_t)n * (n - k->rank));
    }
    if (!status) {
        *out = f;
        f = NULL;
    }
done:
    factor_free(f);
    fw_free(place);
    return status;
}

void factor_free(factor *f)
{
    if (!f)
        return;
    for (int b = 0; b < 2; b++) {
        fw_free(f->blocks[b].h);
        fw_free(f->blocks[b].q);
        fw_free(f->blocks[b].g);
        fw_free(f->blocks[b].null);
        fw_free(f->blocks[b].coef);
    }
    fw_free(f);
}

fw_status factors_init(factors *store, const fw_net *net, fw_error *err)
{
    *store = (factors){.net = net};
    store->kept = fw_alloc(net->nclasses, sizeof *store->kept);
    return store->kept ? FW_OK : fw_out_of_memory(err);
}

void factors_release(factors *store)
{
    for (int c = 0; store->kept && c < store->net->nclasses; c++)
        factor_free(store->kept[c]);
    fw_free(store->kept);
    *store = (factors){0};
}

fw_status factors_get(factors *store, int class, factor **f, fw_error *err)
{
    *f = store->kept[class];
    return *f ? FW_OK : factor_new(&store->net->classes[class], NULL, f, err);
}

void factors_put(factors *store, int class, factor *f)
{
    if (!f || store->kept[class] == f)
        return;
    if (store->bytes + f->bytes > FW_FACTORS_KEPT) {
        factor_free(f);
        return;
    }
    store->kept[class] = f;
    store->bytes += f->bytes;
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

/* The entries of row i of T_power: at most two; returns how many. */
static int term_entries(const fw_net *net, const net_class *class, const factor *f, int b,
                        int power, int i, int *index, double *value)
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
        int entries = term_entries(net, class, f, b, power, i, index, value);
        for (int q = 0; q < entries; q++)
            for (int r = 0; r < rows; r++)
                out[r + (size_t)(index[q] - first) * ldo] +=
                    scale * value[q] * left[r + (size_t)i * ldl];
    }
}

void block_terms(const fw_net *net, const net_class *class, const factor *f, int b, int power,
                 const double *t, double *y)
{
    int index[2];
    double value[2];
    for (int i = 0; i < f->blocks[b].m; i++) {
        int entries = term_entries(net, class, f, b, power, i, index, value);
        y[i] = 0;
        for (int q = 0; q < entries; q++)
            y[i] += value[q] * t[index[q]];
    }
}
