/* response.c - the bench in the adjustment: what is known taken off, unknown bending solved. */
#include "response.h"

#include <math.h>
#include <string.h>

#include "bench/effects.h"
#include "flatwright/alloc.h"
#include "linalg.h"
#include "model.h"
#include "profile.h"

/* Part of a cause's square that must be left of it, in the residuals, for its size to be told. */
static const double TOLD = 1e-10;
/* A combination told worse than this part of plate theory stays as theory has it. */
static const double DULL = 0.5;
/* Part of a column below which it is rounding. */
static const double NOTHING = 1e-9;

/* The unknown sizes b of the causes `of`, as departures from 1. */
typedef struct sizes {
    int n, rank;
    int *of;        /* n: index into the effects */
    double *e;      /* nreadings of the net x n: E */
    double *root;   /* n x rank: (E'E)^+ = root root' */
    double *b;      /* n: departures from plate theory */
    double *told;   /* n: how much of each is told by the readings, 0 .. 1 */
} sizes;

static void sizes_release(sizes *z)
{
    fw_free(z->of);
    fw_free(z->e);
    fw_free(z->root);
    fw_free(z->b);
    fw_free(z->told);
    *z = (sizes){0};
}

/* In the order of the net, weighted. */
static fw_status weigh(adjustment *a, const double *nm, double **out, fw_error *err)
{
    fw_net net = *a->net;
    fw_status status = net_weigh(&net, nm, err);
    *out = net.weighted;
    return status;
}

/* E, column by column; *most <- the largest square of W^1/2 c. */
static fw_status leave(adjustment *a, const effects *e, sizes *z, double *most, fw_error *err)
{
    size_t m = a->net->nreadings;
    for (int k = 0; k < z->n; k++) {
        adjustment *c = NULL;
        fw_status status = a->model->column(a, e->list[z->of[k]].nm, &c, err);
        if (status)
            return status;
        memcpy(z->e + (size_t)k * m, c->residual, m * sizeof *z->e);
        *most = fmax(*most, fw_dot((int)m, c->net->weighted, 1, c->net->weighted));
        adjustment_free(c);
    }
    return FW_OK;
}

/* root and rank from E'E; most is the largest square that a column had before. */
static fw_status decompose(const adjustment *a, sizes *z, double most, fw_error *err)
{
    int n = z->n, m = (int)a->net->nreadings;
    fw_status status;
    double *gram = fw_alloc((size_t)n * n, sizeof *gram), *w = fw_alloc(n, sizeof *w);
    if (!gram || !w) {
        status = fw_out_of_memory(err);
        goto done;
    }
    fw_gemm(1, 0, n, n, m, 1, z->e, m, z->e, m, 0, gram, n);
    if ((status = fw_eigen_symmetric(n, gram, w, err)))
        goto done;
    for (int k = 0; k < n; k++) {
        if (!(w[k] > TOLD * most) || a->variance / w[k] > DULL * DULL)
            continue;
        for (int i = 0; i < n; i++) {
            double v = gram[i + (size_t)k * n];
            z->root[i + (size_t)z->rank * n] = v / sqrt(w[k]);
            z->told[i] += v * v;
        }
        z->rank++;
    }
done:
    fw_free(gram);
    fw_free(w);
    return status;
}

/* b (n) <- (E'E)^+ E' y, y weighted. */
static void size_of(const adjustment *a, const sizes *z, const double *y, double *b)
{
    size_t m = a->net->nreadings;
    memset(b, 0, (size_t)z->n * sizeof *b);
    for (int r = 0; r < z->rank; r++) {
        double along = 0;
        for (int k = 0; k < z->n; k++)
            along += z->root[k + (size_t)r * z->n] *
                     fw_dot((int)m, z->e + (size_t)k * m, 1, y);
        for (int k = 0; k < z->n; k++)
            b[k] += z->root[k + (size_t)r * z->n] * along;
    }
}

static fw_status sizes_new(adjustment *a, const effects *e, sizes *z, fw_error *err)
{
    size_t n = 0, m = a->net->nreadings;
    double most = 0;
    fw_status status;
    z->of = fw_alloc(e->n, sizeof *z->of);
    if (!z->of)
        return fw_out_of_memory(err);
    for (int k = 0; k < e->n; k++)
        if (e->list[k].kind == EFFECT_PLATE)
            z->of[n++] = k;
    z->n = (int)n;
    z->e = fw_alloc(n * m, sizeof *z->e);
    z->root = fw_alloc(n * n, sizeof *z->root);
    z->b = fw_alloc(n, sizeof *z->b);
    z->told = fw_alloc(n, sizeof *z->told);
    if (!z->e || !z->root || !z->b || !z->told)
        return fw_out_of_memory(err);
    if (!(status = leave(a, e, z, &most, err)) && !(status = decompose(a, z, most, err)))
        size_of(a, z, a->net->weighted, z->b);
    return status;
}

/* A copy of the job whose readings are its own. */
static fw_status copy_job(const fw_job *job, fw_job **out, fw_error *err)
{
    fw_job *copy = fw_alloc(1, sizeof *copy);
    if (!copy)
        return fw_out_of_memory(err);
    *copy = *job;
    copy->readings = fw_alloc(job->nreadings, sizeof *copy->readings);
    if (!copy->readings) {
        fw_free(copy);
        return fw_out_of_memory(err);
    }
    memcpy(copy->readings, job->readings, job->nreadings * sizeof *copy->readings);
    *out = copy;
    return FW_OK;
}

static void take_off(fw_job *job, double size, const effect *e)
{
    for (size_t i = 0; i < job->nreadings; i++)
        job->readings[i].deviation_nm -= size * e->nm[i];
}

/* One more response, of `size` times nm with what the unknown sizes take up of it taken off; nm is lost. */
static fw_status add_response(adjustment *a, const effects *e, const sizes *z, fw_source source,
                              int flat, double size, double *nm, fw_error *err)
{
    size_t n = a->corrected->nreadings;
    double *weighted = NULL, *b = fw_alloc(z->n, sizeof *b), before = 0, after = 0;
    adjustment *made = NULL;
    fw_status status = b ? weigh(a, nm, &weighted, err) : fw_out_of_memory(err);
    if (status)
        goto done;
    size_of(a, z, weighted, b);
    for (size_t i = 0; i < n; i++) {
        before = fmax(before, fabs(nm[i]));
        for (int k = 0; k < z->n; k++)
            nm[i] -= b[k] * e->list[z->of[k]].nm[i];
        after = fmax(after, fabs(nm[i]));
        nm[i] *= size;
    }
    if (after <= NOTHING * before)
        goto done;
    if (!(status = a->model->column(a, nm, &made, err)))
        a->responses[a->nresponses++] = (response){source, flat, made};
done:
    fw_free(weighted);
    fw_free(b);
    return status;
}

/* The uncertainties of the effects, in standard uncertainties of their own. */
static double uncertainty_of(effect_kind kind, fw_source *source)
{
    *source = kind == EFFECT_BOW    ? FW_SOURCE_WARMTH
              : kind == EFFECT_RISE ? FW_SOURCE_VIEW
                                    : FW_SOURCE_BENDING;
    return kind == EFFECT_PLATE ? FW_PLATE_RELATIVE : kind == EFFECT_RISE ? FW_VIEW_RELATIVE : 1;
}

/* Causes with an uncertainty of their own, then the sizes solved for with theirs. */
static fw_status respond(adjustment *a, const effects *e, const sizes *z, fw_error *err)
{
    size_t n = a->corrected->nreadings;
    const sizes none = {0};
    fw_source source;
    fw_status status = FW_OK;
    double *nm = fw_alloc(n, sizeof *nm);
    a->responses = fw_alloc((size_t)e->n + (size_t)z->rank, sizeof *a->responses);
    if (!nm || !a->responses)
        status = fw_out_of_memory(err);
    for (int k = 0; k < e->n && !status; k++) {
        double size = uncertainty_of(e->list[k].kind, &source);
        memcpy(nm, e->list[k].nm, n * sizeof *nm);
        status = add_response(a, e, z, source, e->list[k].flat, size, nm, err);
    }
    for (int r = 0; r < z->rank && !status && a->variance > 0; r++) {
        memset(nm, 0, n * sizeof *nm);
        for (int k = 0; k < z->n; k++)
            for (size_t i = 0; i < n; i++)
                nm[i] += z->root[k + (size_t)r * z->n] * e->list[z->of[k]].nm[i];
        status = add_response(a, e, &none, FW_SOURCE_BENDING, -1, sqrt(a->variance), nm, err);
    }
    fw_free(nm);
    return status;
}

/* Plate theory's factor of every flat, and what stays of its uncertainty where it is not told. */
static void tell_sizes(const adjustment *a, const effects *e, const sizes *z, fw_bench *told)
{
    for (int k = 0; k < z->n; k++) {
        fw_bench_flat *flat = &told->flats[e->list[z->of[k]].flat];
        double square = 0;
        for (int r = 0; r < z->rank; r++)
            square += pow(z->root[k + (size_t)r * z->n], 2);
        flat->solved = z->told[k] > TOLD;
        flat->factor = 1 + z->b[k];
        flat->factor_u = sqrt(a->variance * square + pow(FW_PLATE_RELATIVE, 2) *
                                                         fmax(1 - z->told[k], 0));
    }
}

static fw_status adjust(const fw_job *job, const adjust_model *model, int order, fw_job *corrected,
                        const effects *e, fw_bench *told, adjustment **out, fw_error *err)
{
    sizes z = {0};
    adjustment *a = NULL;
    fw_status status;
    for (int k = 0; k < e->n; k++)
        if (e->list[k].kind == EFFECT_PLATE || e->list[k].kind == EFFECT_RISE)
            take_off(corrected, 1, &e->list[k]);
    if ((status = model->solve(corrected, order, &a, err)))
        goto done;
    if (job->bending == FW_BENDING_SOLVE) {
        if ((status = sizes_new(a, e, &z, err)))
            goto done;
        for (int k = 0; k < z.n; k++)
            take_off(corrected, z.b[k], &e->list[z.of[k]]);
        adjustment_free(a);
        a = NULL;
        if ((status = model->solve(corrected, order, &a, err)))
            goto done;
        a->unknowns += (size_t)z.n;
        a->rank += (size_t)z.rank;
        a->redundancy -= (size_t)z.rank;
        adjustment_judge(a);
    }
    a->corrected = corrected;
    if (!(status = respond(a, e, &z, err)))
        tell_sizes(a, e, &z, told);
    if (status)
        a->corrected = NULL;
done:
    sizes_release(&z);
    if (status)
        adjustment_free(a);
    else
        *out = a;
    return status;
}

fw_status response_adjust(const fw_job *job, const adjust_model *model, int order, fw_bench *told,
                          adjustment **out, fw_error *err)
{
    effects e = {0};
    fw_job *corrected = NULL;
    fw_status status = bench_tell(job, told, err);
    if (status || (status = effects_new(job, &e, err)))
        goto done;
    if (!e.n)
        status = model->solve(job, order, out, err);
    else if (!(status = copy_job(job, &corrected, err)) &&
             (status = adjust(job, model, order, corrected, &e, told, out, err))) {
        fw_free(corrected->readings);
        fw_free(corrected);
    }
done:
    effects_release(&e);
    return status;
}

fw_status response_widen(adjustment *a, contrast what, fw_profile *profile, double *rms_nm,
                         fw_error *err)
{
    double square = 0;
    size_t n = 0;
    *rms_nm = 0;
    for (int k = 0; k < a->nresponses; k++) {
        fw_profile add = {0};
        fw_status status = a->model->profile(a->responses[k].a, what, &add, err);
        if (status)
            return status;
        for (int d = 0; d < profile->ndiameters; d++)
            for (size_t i = 0; i < profile->diameters[d].npoints; i++) {
                fw_point *p = &profile->diameters[d].points[i];
                double moved = add.diameters[d].points[i].height_nm;
                p->u_nm = hypot(p->u_nm, moved);
                if (!p->clear || !p->determined)
                    continue;
                square += moved * moved;
                n += k == 0;
            }
        profile_release(&add);
    }
    *rms_nm = n ? sqrt(square / (double)n) : 0;
    return FW_OK;
}
