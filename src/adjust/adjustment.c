/* adjustment.c - all rounds solved together: terms, heights, rank, misfit. */
#include "adjustment.h"

#include <math.h>
#include <string.h>

#include "flatwright/alloc.h"
#include "flatwright/stats.h"
#include "linalg.h"
#include "model.h"
#include "response.h"
#include "surface.h"

/* Rings substituted back in one matrix product. */
enum { BATCH = 64 };

static const double ROOT_HALF = 0.70710678118654752440;

/* Spreads what block b knows of one ring over the class's rows or columns: even + odd, even - odd. */
static void spread(int nblocks, int b, int n, const double *part, double *whole)
{
    if (nblocks == 1)
        memcpy(whole, part, (size_t)n * sizeof *whole);
    else
        for (int i = 0; i < n; i++) {
            double half = ROOT_HALF * part[i];
            whole[2 * i] = b == 0 ? half : whole[2 * i] + half;
            whole[2 * i + 1] = b == 0 ? half : whole[2 * i + 1] - half;
        }
}

/* Work space of a substitution: one block's terms T0 t and T1 t, and its part of a batch of rings. */
typedef struct back {
    double *t0, *t1;  /* m */
    double *y;        /* m x BATCH */
    double *x, *work; /* n x BATCH */
} back;

static void back_release(back *w)
{
    fw_free(w->t0);
    fw_free(w->t1);
    fw_free(w->y);
    fw_free(w->x);
    fw_free(w->work);
}

static fw_status back_init(back *w, const block *k, int count, fw_error *err)
{
    *w = (back){fw_alloc(k->m, sizeof(double)), fw_alloc(k->m, sizeof(double)),
                fw_alloc((size_t)k->m * count, sizeof(double)),
                fw_alloc((size_t)k->n * count, sizeof(double)),
                fw_alloc((size_t)k->n * count, sizeof(double))};
    return w->t0 && w->t1 && w->y && w->x && w->work ? FW_OK : fw_out_of_memory(err);
}

/* x = G (y - T t) and v = y - T t - H x of `count` rings from the class's first on. */
static void substitute_rings(adjustment *a, const net_class *class, const factor *f, int b,
                             int first, int count, const back *w)
{
    const fw_net *net = a->net;
    const block *k = &f->blocks[b];
    int m = k->m, n = k->n;
    for (int c = 0; c < count; c++) {
        int ring = class->rings[first + c];
        double rho = net->ring_mm[ring] / net->rmax_mm, *y = w->y + (size_t)c * m;
        block_readings(f, b, net->weighted + net->ring_first[ring], y);
        for (int i = 0; i < m; i++)
            y[i] -= w->t0[i] + rho * w->t1[i];
    }
    block_solve(k, count, w->y, w->x, w->work);
    block_add_heights(k, count, -1, w->x, w->y);
    for (int c = 0; c < count; c++) {
        int ring = class->rings[first + c];
        const double *v = w->y + (size_t)c * m;
        for (int i = 0; i < m; i++)
            a->chi_square += v[i] * v[i];
        spread(f->nblocks, b, m, v, a->residual + net->ring_first[ring]);
        spread(f->nblocks, b, n, w->x + (size_t)c * n, a->height + net->ring_height[ring]);
    }
}

static fw_status substitute_class(adjustment *a, int c, fw_error *err)
{
    const net_class *class = &a->net->classes[c];
    int batch = class->nrings < BATCH ? class->nrings : BATCH;
    factor *f = NULL;
    fw_status status = factors_get(&a->store, c, &f, err);
    for (int b = 0; !status && b < f->nblocks; b++) {
        back w;
        if (!(status = back_init(&w, &f->blocks[b], batch, err))) {
            block_terms(a->net, class, f, b, 0, a->terms.t, w.t0);
            block_terms(a->net, class, f, b, 1, a->terms.t, w.t1);
            for (int first = 0; first < class->nrings; first += batch)
                substitute_rings(a, class, f, b, first,
                                 class->nrings - first < batch ? class->nrings - first : batch, &w);
            a->rank += (size_t)f->blocks[b].rank * class->nrings;
        }
        back_release(&w);
    }
    factors_put(&a->store, c, f);
    return status;
}

void adjustment_judge(adjustment *a)
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

/* Terms, heights, residuals from net->weighted. */
static fw_status solve(adjustment *a, fw_error *err)
{
    size_t heights = a->net->ring_height[a->net->nrings];
    fw_status status = terms_solve(&a->store, &a->terms, err);
    if (status)
        return status;
    a->unknowns = heights + (size_t)a->net->nterms;
    a->rank = (size_t)a->terms.rank;
    a->height = fw_alloc(heights, sizeof *a->height);
    a->residual = fw_alloc(a->net->nreadings, sizeof *a->residual);
    if (!a->height || !a->residual)
        return fw_out_of_memory(err);
    for (int c = 0; c < a->net->nclasses && !status; c++)
        status = substitute_class(a, c, err);
    a->redundancy = a->net->nreadings - a->rank;
    return status;
}

fw_status adjustment_new(const fw_job *job, size_t n, const size_t *without, adjustment **out,
                         fw_error *err)
{
    fw_status status = FW_OK;
    adjustment *a = fw_alloc(1, sizeof *a);
    if (!a)
        return fw_out_of_memory(err);
    a->model = &model_rings;
    if ((status = net_new(job, n, without, &a->net, err)) ||
        (status = factors_init(&a->store, a->net, err)) || (status = solve(a, err)))
        goto done;
    adjustment_judge(a);
    *out = a;
    a = NULL;
done:
    adjustment_free(a);
    return status;
}

fw_status adjustment_of_column(adjustment *a, const double *nm, adjustment **out, fw_error *err)
{
    adjustment *b = fw_alloc(1, sizeof *b);
    fw_net *net = fw_alloc(1, sizeof *net);
    fw_status status = b && net ? FW_OK : fw_out_of_memory(err);
    if (status) {
        fw_free(b);
        fw_free(net);
        return status;
    }
    *net = *a->net;
    *b = (adjustment){.model = a->model, .net = net, .store = a->store, .lent = true};
    b->store.net = net;
    if (!(status = net_weigh(net, nm, err)))
        status = solve(b, err);
    a->store.bytes = b->store.bytes; /* factors made now are kept in the list of both */
    if (status)
        adjustment_free(b);
    else
        *out = b;
    return status;
}

void adjustment_free(adjustment *a)
{
    if (!a)
        return;
    for (int k = 0; k < a->nresponses; k++)
        adjustment_free(a->responses[k].a);
    fw_free(a->responses);
    terms_release(&a->terms);
    fw_free(a->height);
    fw_free(a->residual);
    surface_free(a->surface);
    if (a->lent) {
        fw_free(a->net->weighted);
        fw_free(a->net);
    } else {
        factors_release(&a->store);
        net_free(a->net);
    }
    if (a->corrected)
        fw_free(a->corrected->readings);
    fw_free(a->corrected);
    fw_free(a);
}
