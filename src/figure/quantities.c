/* quantities.c - PV, rms, power and irregularity of figures, one by one or in blocks. */
#include <assert.h>
#include <math.h>
#include <string.h>

#include "base/product.h"
#include "figure/form.h"
#include "flatwright/alloc.h"

/* Multiplications of one block's product: OpenBLAS starts threads from about 260 000. */
#define BLOCK_WORK 200000
#define BLOCK_MIN 4
#define BLOCK_MAX 128

/* Highest less lowest of h + s b; NAN for n = 0. Four chains, because a maximum has latency. */
static double spread(int n, const double *h, double s, const double *b)
{
    double hi[4], lo[4];
    int i = 0;
    if (n == 0)
        return NAN;
    for (int k = 0; k < 4; k++)
        hi[k] = lo[k] = h[0] + s * b[0];
    for (; i + 4 <= n; i += 4)
        for (int k = 0; k < 4; k++) {
            double v = h[i + k] + s * b[i + k];
            hi[k] = v > hi[k] ? v : hi[k];
            lo[k] = v < lo[k] ? v : lo[k];
        }
    for (; i < n; i++) {
        double v = h[i] + s * b[i];
        hi[0] = v > hi[0] ? v : hi[0];
        lo[0] = v < lo[0] ? v : lo[0];
    }
    return fmax(fmax(hi[0], hi[1]), fmax(hi[2], hi[3]))
           - fmin(fmin(lo[0], lo[1]), fmin(lo[2], lo[3]));
}

/* The round terms among the leading `count`. */
static int round_among(const fw_form *form, int count)
{
    int n = 0;
    while (n < form->nround && form->round[n] < count)
        n++;
    return n;
}

void fw_form_heights(const fw_form *form, int count, const double *c, double *height)
{
    assert(count >= 0 && count <= form->nterms);
    product(form->npoints, 1, count, 1, form->height, form->npoints, c, form->nterms + 1, 0, height,
            form->npoints);
}

/* A run of figures, and room for what is between their coefficients and their quantities. */
typedef struct block {
    int count, n, ldc;
    const double *c;  /* count x n */
    double *h;        /* npoints x n */
    double *zone;     /* nradii x n */
    double *picked;   /* nround x n */
    double *gc;       /* count x n */
    double *power;    /* n */
} block;

static void block_power(const fw_form *form, block *b)
{
    for (int s = 0; s < b->n; s++) {
        const double *c = b->c + (size_t)s * (size_t)b->ldc;
        b->power[s] = 0;
        for (int j = 0; j < b->count; j++)
            b->power[s] += form->power[j] * c[j];
    }
}

static void block_heights(const fw_form *form, block *b, const double *extra, double *pv,
                          double *irregularity)
{
    size_t m = (size_t)form->npoints;
    if (extra && m)
        memcpy(b->h, extra, m * (size_t)b->n * sizeof *b->h);
    product(form->npoints, b->n, b->count, 1, form->height, form->npoints, b->c, b->ldc,
            extra ? 1 : 0, b->h, form->npoints);
    for (int s = 0; s < b->n; s++) {
        const double *h = b->h + (size_t)s * m;
        if (pv)
            pv[s] = spread(form->npoints, h, 0, form->bowl);
        if (irregularity)
            irregularity[s] = spread(form->npoints, h, b->power[s], form->bowl);
    }
}

/* rms^2 = c' G c. The Gram matrix has rows for all terms; the leading square is used. */
static void block_rms(const fw_form *form, block *b, double *rms)
{
    product(b->count, b->n, b->count, 1, form->gram, form->nterms, b->c, b->ldc, 0, b->gc,
            b->count);
    for (int s = 0; s < b->n; s++) {
        const double *c = b->c + (size_t)s * (size_t)b->ldc;
        double sum = 0;
        for (int j = 0; j < b->count; j++)
            sum += c[j] * b->gc[j + (size_t)s * (size_t)b->count];
        rms[s] = sqrt(fmax(sum, 0));
    }
}

static void block_symmetric(const fw_form *form, block *b, double *symmetric)
{
    int nround = round_among(form, b->count);
    for (int s = 0; s < b->n; s++)
        for (int r = 0; r < nround; r++)
            b->picked[r + s * nround] = b->c[form->round[r] + (size_t)s * (size_t)b->ldc];
    product(form->nradii, b->n, nround, 1, form->zone, form->nradii, b->picked, nround, 0, b->zone,
            form->nradii);
    for (int s = 0; s < b->n; s++) {
        const double *zone = b->zone + (size_t)s * (size_t)form->nradii;
        symmetric[s] = spread(form->nradii, zone, 0, zone);
    }
}

/* Rounds to a whole number of cache lines. */
static size_t rows(int n)
{
    return ((size_t)n + 7) / 8 * 8;
}

static int block_size(const fw_form *form, int count, int nsamples)
{
    long one = (long)(form->npoints + 1) * (count + 1);
    int n = one < BLOCK_WORK / BLOCK_MAX ? BLOCK_MAX : (int)(BLOCK_WORK / one);
    n = n < BLOCK_MIN ? BLOCK_MIN : n;
    return n < nsamples ? n : nsamples;
}

fw_status fw_form_batch(const fw_form *form, int count, int nsamples, const double *c, int ldc,
                        const double *extra, const fw_shapes *out, fw_error *err)
{
    assert(count >= 0 && count <= form->nterms && ldc >= count);
    int step = block_size(form, count, nsamples);
    size_t n = (size_t)step;
    size_t total = n * (rows(form->npoints) + rows(form->nradii) + rows(form->nround) + rows(count)
                        + 1);
    double *scratch = fw_alloc(total, sizeof *scratch);
    if (!scratch)
        return fw_fail(err, FW_SYSTEM, "no memory for the quantities of %d figures", nsamples);
    block b = {.count = count, .ldc = ldc > 0 ? ldc : 1, .h = scratch};
    b.zone = b.h + n * rows(form->npoints);
    b.picked = b.zone + n * rows(form->nradii);
    b.gc = b.picked + n * rows(form->nround);
    b.power = b.gc + n * rows(count);
    for (int first = 0; first < nsamples; first += step) {
        size_t at = (size_t)first;
        b.n = nsamples - first < step ? nsamples - first : step;
        b.c = c + at * (size_t)b.ldc;
        block_power(form, &b);
        if (out->power_nm)
            memcpy(out->power_nm + at, b.power, (size_t)b.n * sizeof *b.power);
        if (out->pv_nm || out->irregularity_nm)
            block_heights(form, &b, extra ? extra + at * (size_t)form->npoints : NULL,
                          out->pv_nm ? out->pv_nm + at : NULL,
                          out->irregularity_nm ? out->irregularity_nm + at : NULL);
        if (out->rms_nm)
            block_rms(form, &b, out->rms_nm + at);
        if (out->symmetric_nm)
            block_symmetric(form, &b, out->symmetric_nm + at);
    }
    fw_free(scratch);
    return FW_OK;
}

fw_status fw_form_quantities(const fw_form *form, int count, const double *c, fw_shape *out,
                             fw_error *err)
{
    fw_shape one = {0};
    fw_shapes where = {&one.pv_nm, &one.rms_nm, &one.power_nm, &one.irregularity_nm,
                       &one.symmetric_nm};
    fw_status status = fw_form_batch(form, count, 1, c, count, NULL, &where, err);
    if (status == FW_OK)
        *out = one;
    return status;
}

/* slope (count) <- that of highest less lowest of h + power * bowl; bowl NULL: of h. */
static void slope_of(const fw_form *form, int count, const double *h, double power,
                     const double *bowl, double *slope)
{
    int high = 0, low = 0;
    for (int i = 1; i < form->npoints; i++) {
        double b = bowl ? power * bowl[i] : 0;
        high = h[i] + b > h[high] + (bowl ? power * bowl[high] : 0) ? i : high;
        low = h[i] + b < h[low] + (bowl ? power * bowl[low] : 0) ? i : low;
    }
    for (int j = 0; j < count; j++) {
        const double *f = form->height + (size_t)j * (size_t)form->npoints;
        slope[j] = form->npoints ? f[high] - f[low] : 0;
        if (bowl && form->npoints)
            slope[j] += form->power[j] * (bowl[high] - bowl[low]);
    }
}

fw_status fw_form_slopes(const fw_form *form, int count, const double *c, double *pv,
                         double *irregularity, double *power, fw_error *err)
{
    double sphere = 0, *h = fw_alloc((size_t)form->npoints, sizeof *h);
    if (!h)
        return fw_out_of_memory(err);
    fw_form_heights(form, count, c, h);
    for (int j = 0; j < count; j++) {
        power[j] = form->power[j];
        sphere += form->power[j] * c[j];
    }
    slope_of(form, count, h, 0, NULL, pv);
    slope_of(form, count, h, sphere, form->bowl, irregularity);
    fw_free(h);
    return FW_OK;
}
