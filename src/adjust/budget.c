/* budget.c - where a flat's uncertainty comes from: noise and the bench, source by source. */
#include "budget.h"

#include <math.h>
#include <string.h>

#include "flatwright/alloc.h"
#include "linalg.h"
#include "model.h"

enum { FIGURES = 64 };

/* Variance of unit weight below which readings count as exact: rounding. */
static const double EXACT = 1e-24;

static fw_status fold(const smooth *s, double variance, widened *w, fw_error *err)
{
    int n = s->nused, k = w->n, m = n + k;
    double sd = sqrt(fmax(variance, EXACT)), *a = fw_alloc((size_t)m * (m + 1), sizeof *a);
    fw_status status;
    if (!a)
        return fw_out_of_memory(err);
    for (int j = 0; j < k; j++) {
        a[j + (size_t)j * m] = sd;
        for (int i = 0; i < n; i++)
            a[k + i + (size_t)j * m] = -w->z[i + (size_t)j * n];
    }
    for (int j = 0; j < n; j++)
        memcpy(a + k + (size_t)(k + j) * m, s->r + (size_t)j * n, (size_t)n * sizeof *a);
    memcpy(a + k + (size_t)m * m, s->z, (size_t)n * sizeof *a);
    if ((status = fw_qr_reduce(m, m + 1, a, m, err)))
        goto done;
    for (int j = 0; j < n; j++) {
        memcpy(w->wide.r + (size_t)j * n, a + k + (size_t)(k + j) * m, (size_t)n * sizeof *a);
        w->wide.z[j] = a[k + j + (size_t)m * m];
    }
done:
    fw_free(a);
    return status;
}

fw_status widened_new(adjustment *a, int face, const smooth *s, widened *out, fw_error *err)
{
    size_t n = (size_t)s->nused;
    widened w = {.s = s, .n = a->nresponses, .wide = *s};
    fw_status status = FW_OK;
    w.z = fw_alloc(n * (size_t)w.n, sizeof *w.z);
    w.wide.r = fw_alloc(n * n, sizeof *w.wide.r);
    w.wide.z = fw_alloc(n, sizeof *w.wide.z);
    if (!w.z || !w.wide.r || !w.wide.z) {
        status = fw_out_of_memory(err);
        goto done;
    }
    for (int k = 0; k < w.n && !status; k++) {
        smooth moved = {0};
        status = a->model->moved(a->responses[k].a, face, s, &moved, err);
        if (!status && moved.nused != s->nused)
            status = fw_fail(err, FW_SYSTEM, "the bench's effect on a figure does not fit it");
        if (!status)
            memcpy(w.z + (size_t)k * n, moved.z, n * sizeof *w.z);
        smooth_release(&moved);
    }
    memcpy(w.wide.r, s->r, n * n * sizeof *w.wide.r);
    memcpy(w.wide.z, s->z, n * sizeof *w.wide.z);
    if (!status && w.n && a->variance >= 0)
        status = fold(s, a->variance, &w, err);
done:
    if (status)
        widened_release(&w);
    else
        *out = w;
    return status;
}

void widened_release(widened *w)
{
    fw_free(w->z);
    fw_free(w->wide.r);
    fw_free(w->wide.z);
    *w = (widened){0};
}

/* Mean squares of what every source does to the three quantities. */
typedef struct squares {
    double of[FW_SOURCES][3];
} squares;

/* One quantity of one figure: noise |R^-T g|^2 s^2, and (g' c_k)^2 = ((R^-T g)' z_k)^2 of each cause. */
static void add_squares(const adjustment *a, const widened *w, int quantity, double *g, squares *q)
{
    int n = w->s->nused;
    double pure = a->variance / (a->birge * a->birge);
    fw_upper_solve_transposed(n, 1, w->s->r, n, g, n);
    double noise = fw_dot(n, g, 1, g);
    q->of[FW_SOURCE_NOISE][quantity] += noise * pure;
    q->of[FW_SOURCE_SPREAD][quantity] += noise * (a->variance - pure);
    for (int k = 0; k < w->n; k++)
        q->of[a->responses[k].source][quantity] += pow(fw_dot(n, g, 1, w->z + (size_t)k * n), 2);
}

static void put_shares(const adjustment *a, const widened *w, const squares *q, int nfigures,
                       fw_budget *out)
{
    bool present[FW_SOURCES] = {[FW_SOURCE_NOISE] = true, [FW_SOURCE_SPREAD] = a->birge > 1};
    double total[3] = {0};
    *out = (fw_budget){0};
    for (int k = 0; k < w->n; k++)
        present[a->responses[k].source] = true;
    for (int s = 0; s < FW_SOURCES; s++) {
        if (!present[s])
            continue;
        for (int k = 0; k < 3; k++)
            total[k] += q->of[s][k] / nfigures;
        out->shares[out->nshares++] = (fw_share){.source = (fw_source)s,
                                                 .power_nm = sqrt(q->of[s][0] / nfigures),
                                                 .irregularity_nm = sqrt(q->of[s][1] / nfigures),
                                                 .pv_nm = sqrt(q->of[s][2] / nfigures)};
    }
    out->total = (fw_share){.power_nm = sqrt(total[0]),
                            .irregularity_nm = sqrt(total[1]),
                            .pv_nm = sqrt(total[2])};
}

fw_status budget_fill(const adjustment *a, const widened *w, const fw_form *form, int ndraws,
                      const double *c, int ld, fw_budget *out, fw_error *err)
{
    int n = w->s->nused, step = ndraws > FIGURES ? ndraws / FIGURES : 1, nfigures = 0;
    squares q = {{{0}}};
    fw_status status = FW_OK;
    double *slope = fw_alloc(3 * (size_t)ld, sizeof *slope), *g = fw_alloc(n, sizeof *g);
    if (!slope || !g)
        status = fw_out_of_memory(err);
    for (int d = 0; d < ndraws && !status; d += step) {
        if ((status = fw_form_slopes(form, ld, c + (size_t)d * ld, slope + 2 * (size_t)ld,
                                     slope + ld, slope, err)))
            break;
        for (int quantity = 0; quantity < 3; quantity++) {
            for (int k = 0; k < n; k++)
                g[k] = slope[w->s->used[k] + (size_t)quantity * ld];
            add_squares(a, w, quantity, g, &q);
        }
        nfigures++;
    }
    if (!status && nfigures)
        put_shares(a, w, &q, nfigures, out);
    fw_free(slope);
    fw_free(g);
    return status;
}

void budget_undetermined(fw_budget *budget, bool power, bool shape)
{
    double open = shape ? 0 : NAN;
    if (power && shape)
        return;
    budget->shares[budget->nshares++] = (fw_share){.source = FW_SOURCE_UNDETERMINED,
                                                   .power_nm = power ? 0 : NAN,
                                                   .irregularity_nm = open,
                                                   .pv_nm = open};
    budget->total.pv_nm += open;
    budget->total.irregularity_nm += open;
    budget->total.power_nm += power ? 0 : NAN;
}
