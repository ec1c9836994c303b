/* adjustment.c - all rounds solved together: terms, heights, rank, misfit. */
#include "adjustment.h"

#include <math.h>
#include <string.h>

#include "flatwright/alloc.h"
#include "flatwright/stats.h"
#include "linalg.h"

/* Rings substituted back in one matrix product. */
enum { BATCH = 64 };

static const double ROOT_HALF = 0.70710678118654752440;

/* Spreads what block b knows of one ring over the class's rows or columns: even + odd, even - odd. */
static void spread(int nblocks, int b, int n, const double *part, double *whole)
{
    for (int i = 0; i < n; i++) {
        if (nblocks == 1) {
            whole[i] = part[i];
            continue;
        }
        double half = ROOT_HALF * part[i];
        whole[2 * i] = (b == 0 ? 0 : whole[2 * i]) + half;
        whole[2 * i + 1] = (b == 0 ? 0 : whole[2 * i + 1]) + (b == 0 ? half : -half);
    }
}

fw_status adjustment_residuals(const adjustment *a, const net_class *class, const factor *f,
                               int first, int count, double *v, double *x, fw_error *err)
{
    const fw_net *net = a->net;
    int most = f->blocks[0].m;
    fw_status status = FW_OK;
    double *y = fw_alloc((size_t)most * count, sizeof *y);
    double *part = fw_alloc((size_t)f->blocks[0].n * count, sizeof *part);
    if (!y || !part) {
        status = fw_out_of_memory(err);
        goto done;
    }
    for (int b = 0; b < f->nblocks; b++) {
        const block *k = &f->blocks[b];
        for (int c = 0; c < count; c++) {
            int ring = class->rings[first + c];
            block_readings(net, class, f, b, ring, y + (size_t)c * k->m);
            block_subtract_terms(net, class, f, b, net->ring_mm[ring] / net->rmax_mm, a->terms.t,
                                 y + (size_t)c * k->m);
        }
        fw_gemm(0, 0, k->n, count, k->m, 1, k->g, k->n, y, k->m, 0, part, k->n);
        fw_gemm(0, 0, k->m, count, k->n, -1, k->h, k->m, part, k->n, 1, y, k->m);
        for (int c = 0; c < count; c++) {
            spread(f->nblocks, b, k->m, y + (size_t)c * k->m, v + (size_t)c * class->nrows);
            if (x)
                spread(f->nblocks, b, k->n, part + (size_t)c * k->n,
                       x + (size_t)c * class->ncolumns);
        }
    }
done:
    fw_free(y);
    fw_free(part);
    return status;
}

static fw_status substitute_class(adjustment *a, int c, fw_error *err)
{
    const net_class *class = &a->net->classes[c];
    factor *f = NULL;
    fw_status status = factors_get(&a->store, c, &f, err);
    double *v = fw_alloc((size_t) class->nrows * BATCH, sizeof *v);
    double *x = fw_alloc((size_t) class->ncolumns * BATCH, sizeof *x);
    if (!status && (!v || !x))
        status = fw_out_of_memory(err);
    for (int first = 0; first < class->nrings && !status; first += BATCH) {
        int count = class->nrings - first < BATCH ? class->nrings - first : BATCH;
        if ((status = adjustment_residuals(a, class, f, first, count, v, x, err)))
            break;
        for (int k = 0; k < count; k++)
            memcpy(a->height + a->net->ring_height[class->rings[first + k]],
                   x + (size_t)k * class->ncolumns, (size_t) class->ncolumns * sizeof *x);
        for (size_t i = 0; i < (size_t) class->nrows * count; i++)
            a->chi_square += v[i] * v[i];
    }
    for (int b = 0; !status && b < f->nblocks; b++)
        a->rank += (size_t)f->blocks[b].rank * class->nrings;
    factors_put(&a->store, c, f);
    fw_free(v);
    fw_free(x);
    return status;
}

/* Sigma believed and tested (chi-square, then Birge), or estimated from the residuals. */
static void judge_misfit(adjustment *a)
{
    double dof = (double)a->redundancy;
    a->birge = 1;
    a->p_value = NAN;
    a->sigma0 = dof > 0 ? sqrt(a->chi_square / dof) : NAN;
    a->variance = a->net->sigma_known ? 1 : a->sigma0 * a->sigma0;
    if (!a->net->sigma_known || dof <= 0)
        return;
    a->p_value = fw_chi_square_tail(a->chi_square, dof);
    if (a->p_value < FW_SIGMA_TEST_LEVEL) {
        a->birge = a->sigma0;
        a->variance = a->birge * a->birge;
    }
}

fw_status adjustment_new(const fw_job *job, size_t n, const size_t *without, adjustment **out,
                         fw_error *err)
{
    fw_status status = FW_OK;
    adjustment *a = fw_alloc(1, sizeof *a);
    if (!a)
        return fw_out_of_memory(err);
    if ((status = net_new(job, n, without, &a->net, err)) ||
        (status = factors_init(&a->store, a->net, err)) ||
        (status = terms_solve(&a->store, &a->terms, err)))
        goto done;
    size_t heights = a->net->ring_height[a->net->nrings];
    a->unknowns = heights + (size_t)a->net->nterms;
    a->rank = (size_t)a->terms.rank;
    a->height = fw_alloc(heights, sizeof *a->height);
    if (!a->height) {
        status = fw_out_of_memory(err);
        goto done;
    }
    for (int c = 0; c < a->net->nclasses; c++)
        if ((status = substitute_class(a, c, err)))
            goto done;
    a->redundancy = a->net->nreadings - a->rank;
    judge_misfit(a);
    *out = a;
    a = NULL;
done:
    adjustment_free(a);
    return status;
}

void adjustment_free(adjustment *a)
{
    if (!a)
        return;
    factors_release(&a->store);
    terms_release(&a->terms);
    fw_free(a->height);
    net_free(a->net);
    fw_free(a);
}
