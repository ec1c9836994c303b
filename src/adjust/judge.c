/* judge.c - the smooth figure's numbers, their uncertainties, and the verdict. */
#include "judge.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/draws.h"
#include "belief.h"
#include "budget.h"
#include "flatwright/alloc.h"
#include "flatwright/conform.h"
#include "flatwright/form.h"
#include "flatwright/mating.h"
#include "left.h"
#include "linalg.h"
#include "model.h"

enum {
    ORDER_MAX = 8,
    ORDER_FINE = 12, /* where there is structure finer than that */
    FEW = 250,      /* draws that settle a clear case, and u to 5 % */
    SAMPLES = 1200, /* where it is close: standard error of a probability near 0.95 0.006 */
    SEED = 20100131
};

/* Draws stop early where the share within is this near to none or all. */
static const double CLEAR_CASE = 0.004;

/* Smallest rms believed of a figure beforehand, in targets. */
static const double LEAST = 0.1;

/* Variance of unit weight below which readings count as exact: rounding. */
static const double EXACT = 1e-24;

/*
 * The best order by the corrected Akaike criterion, chi^2 / s^2 + 2 k + 2 k (k + 1) / (n - k - 1);
 * `highest` where there are too few readings for any. Source: Burnham & Anderson, Model Selection
 * and Multimodel Inference, from memory.
 */
static int best_order(const smooth *s, double variance, int highest)
{
    double least = INFINITY;
    int best = highest;
    for (int k = 1; k <= highest; k++) { /* order 1: nothing but the datum */
        int count = smooth_count(s, k);
        double room = s->ndata - count - 1;
        if (room <= 0)
            break;
        double aicc = (variance > 0 ? smooth_chi(s, count) / variance : 0) + 2.0 * count +
                      2.0 * count * (count + 1) / room;
        if (aicc < least) {
            least = aicc;
            best = k;
        }
    }
    return best;
}

static fw_quantity summary(int n, const double *x)
{
    double mean = 0, sum = 0;
    for (int i = 0; i < n; i++)
        mean += x[i] / n;
    for (int i = 0; i < n; i++)
        sum += (x[i] - mean) * (x[i] - mean);
    return (fw_quantity){mean, sqrt(sum / (n - 1))};
}

/* The points at which PV is taken: along the diameters, or at the stations where finer structure counts. */
static fw_status lay_points(const adjustment *a, int which, const fw_profile *p, const smooth *s,
                            const finer *f, fw_form **out, fw_error *err)
{
    const net_face *face = &a->net->faces[which];
    if (f->significant)
        return fw_form_new(s->basis, face->bore_mm / face->clear_mm, f->n, f->rho, f->theta, out,
                           err);
    return a->model->form(a, which, p, s->basis, out, err);
}

static double share_within(const fw_job *job, int n, const fw_shapes *shapes)
{
    const double *judged = job->measure == FW_MEASURE_PV    ? shapes->pv_nm
                           : job->measure == FW_MEASURE_RMS ? shapes->rms_nm
                                                            : shapes->irregularity_nm;
    int within = 0;
    for (int i = 0; i < n; i++)
        within += judged[i] <= job->flatness_nm;
    return (double)within / n;
}

/* What a simulation needs, and its draws: five quantities of SAMPLES each in x. */
typedef struct trial {
    const adjustment *a;
    const smooth *s;
    const finer *f;
    const fw_form *form;
    gsl_rng *rng;
    belief *b;
    double *c, *extra, *zone, *x;
} trial;

static fw_shapes shapes_from(const trial *t, int first)
{
    double *x = t->x + first;
    return (fw_shapes){x, x + SAMPLES, x + 2 * SAMPLES, x + 3 * SAMPLES, x + 4 * SAMPLES};
}

static fw_status draw_shapes(const trial *t, int first, int count, fw_error *err)
{
    const adjustment *a = t->a;
    int ld = t->s->basis->nterms;
    double dof = a->net->sigma_known ? 0 : (double)a->redundancy;
    fw_shapes shapes = shapes_from(t, first);
    fw_status status = belief_take(t->b, dof, count, t->rng, t->c, err);
    if (status)
        return status;
    if (t->extra)
        finer_draw(t->f, count, t->rng, t->zone, t->extra);
    if ((status = fw_form_batch(t->form, ld, count, t->c, ld, t->extra, &shapes, err)))
        return status;
    for (int i = 0; i < count && t->extra; i++) /* the finer structure has its share in the rms */
        shapes.rms_nm[i] = hypot(shapes.rms_nm[i], t->f->rms_nm);
    return FW_OK;
}

/*
 * The figure's terms: means and standard deviations over `count` draws c (nterms x count) of the
 * coefficients; of a single draw the coefficients, and no uncertainty.
 */
static fw_status keep_terms(const smooth *s, int count, const double *c, fw_figure *figure,
                            fw_error *err)
{
    int n = s->basis->nterms;
    fw_figure_term *terms = fw_alloc(n, sizeof *terms);
    if (!terms)
        return fw_out_of_memory(err);
    for (int j = 0; j < n; j++) {
        double mean = 0, square = 0;
        for (int k = 0; k < count; k++)
            mean += c[j + (size_t)k * n] / count;
        for (int k = 0; k < count; k++)
            square += (c[j + (size_t)k * n] - mean) * (c[j + (size_t)k * n] - mean);
        terms[j] = (fw_figure_term){s->basis->terms[j].n, s->basis->terms[j].m, mean,
                                    count > 1 ? sqrt(square / (count - 1)) : NAN};
    }
    figure->line = s->basis->line;
    figure->nterms = n;
    figure->terms = terms;
    return FW_OK;
}

double fw_figure_height(const fw_figure *figure, double rho, double theta)
{
    double height = figure->nterms ? 0 : NAN;
    for (int j = 0; j < figure->nterms; j++) {
        const fw_figure_term *t = &figure->terms[j];
        height += t->value_nm *
                  (figure->line ? fw_legendre(t->n, rho) : fw_zernike(t->n, t->m, rho, theta));
    }
    return height;
}

/* JCGM 101: every quantity's mean and standard deviation over draws of the joint distribution. */
static fw_status simulate(const adjustment *a, const widened *w, const finer *f,
                          const fw_form *form, fw_figure *figure, fw_budget *budget, fw_error *err)
{
    const smooth *s = &w->wide;
    int n = FEW, ld = s->basis->nterms, last = FEW;
    fw_status status = FW_OK;
    trial t = {a, s, f, form, draws_new(SEED), NULL, NULL, NULL, NULL, NULL};
    t.c = fw_alloc((size_t)s->basis->nterms * SAMPLES, sizeof *t.c);
    t.x = fw_alloc(5 * (size_t)SAMPLES, sizeof *t.x);
    if (f->significant) {
        t.extra = fw_alloc((size_t)f->n * SAMPLES, sizeof *t.extra);
        t.zone = fw_alloc((size_t)f->nrings, sizeof *t.zone);
    }
    if (!t.rng || !t.c || !t.x || (f->significant && !(t.extra && t.zone))) {
        status = fw_out_of_memory(err);
        goto done;
    }
    fw_shapes shapes = shapes_from(&t, 0);
    if ((status = belief_new(s, fmax(a->variance, EXACT), LEAST * a->net->job->flatness_nm, &t.b,
                             err)) ||
        (status = draw_shapes(&t, 0, FEW, err)) ||
        (status = keep_terms(s, FEW, t.c, figure, err)))
        goto done;
    double p = share_within(a->net->job, FEW, &shapes);
    if (p > CLEAR_CASE && p < 1 - CLEAR_CASE) {
        n = SAMPLES;
        last = SAMPLES - FEW;
        if ((status = draw_shapes(&t, FEW, SAMPLES - FEW, err)))
            goto done;
    }
    figure->pv = summary(n, shapes.pv_nm);
    figure->rms = summary(n, shapes.rms_nm);
    figure->power = summary(n, shapes.power_nm);
    figure->irregularity = summary(n, shapes.irregularity_nm);
    figure->symmetric = summary(n, shapes.symmetric_nm);
    figure->probability_within = share_within(a->net->job, n, &shapes);
    status = budget_fill(a, w, form, last, t.c, ld, budget, err);
done:
    draws_free(t.rng);
    belief_free(t.b);
    fw_free(t.c);
    fw_free(t.x);
    fw_free(t.extra);
    fw_free(t.zone);
    return status;
}

/* Without a known noise: the least-squares figure itself, and no uncertainty. */
static fw_status plain_figure(const adjustment *a, const widened *w, const fw_form *form, int order,
                              fw_figure *figure, fw_budget *budget, fw_error *err)
{
    const smooth *s = w->s;
    fw_shape shape;
    int ld = s->basis->nterms, count = smooth_count(s, order);
    fw_status status;
    double *fit = fw_alloc(count, sizeof *fit), *c = fw_alloc(ld, sizeof *c);
    if (!fit || !c) {
        status = fw_out_of_memory(err);
        goto done;
    }
    smooth_solve(s, count, fit);
    for (int k = 0; k < count; k++)
        c[s->used[k]] = fit[k];
    if ((status = fw_form_quantities(form, ld, c, &shape, err)) ||
        (status = keep_terms(s, 1, c, figure, err)))
        goto done;
    figure->pv.value_nm = shape.pv_nm;
    figure->rms.value_nm = shape.rms_nm;
    figure->power.value_nm = shape.power_nm;
    figure->irregularity.value_nm = shape.irregularity_nm;
    figure->symmetric.value_nm = shape.symmetric_nm;
    figure->verdict = FW_UNDECIDED;
    status = budget_fill(a, w, form, 1, c, ld, budget, err);
done:
    fw_free(fit);
    fw_free(c);
    return status;
}

static void clear_figure(fw_figure *f)
{
    fw_quantity none = {NAN, NAN};
    *f = (fw_figure){.pv = none,
                     .rms = none,
                     .power = none,
                     .irregularity = none,
                     .symmetric = none,
                     .pv_raw_nm = NAN,
                     .probability_within = NAN,
                     .verdict = FW_UNDETERMINED,
                     .finer_p = NAN};
}

/* PV of the heights themselves, noise included. */
static double raw_pv(const fw_profile *p)
{
    double high = -INFINITY, low = INFINITY;
    for (int k = 0; k < p->ndiameters; k++)
        for (size_t i = 0; i < p->diameters[k].npoints; i++) {
            const fw_point *pt = &p->diameters[k].points[i];
            if (pt->clear && pt->determined) {
                high = fmax(high, pt->height_nm);
                low = fmin(low, pt->height_nm);
            }
        }
    return high >= low ? high - low : NAN;
}

/* Are all terms determined that the stations could tell - of the whole figure, or of its sphere? */
static bool all_told(const smooth *s, const bool *countable, bool sphere)
{
    for (int j = 0, k = 0; j < s->basis->nterms; j++) {
        bool used = k < s->nused && s->used[k] == j;
        k += used;
        if (countable[j] && !used &&
            (!sphere || (s->basis->terms[j].m == 0 && s->basis->terms[j].n % 2 == 0)))
            return false;
    }
    return s->nused > 0;
}

/* What is left of a figure whose shape is not determined: its power, where that is. */
static void keep_power(bool told, fw_figure *figure)
{
    fw_quantity power = figure->power;
    int order = figure->order;
    fw_free(figure->terms);
    clear_figure(figure);
    figure->order = order;
    if (told)
        figure->power = power;
}

/* Do the stations bear terms up to ORDER_FINE? */
static bool bears_more(const fw_profile *profile, double clear_mm)
{
    return LEFT_TERMS_A_GAP * 2 * clear_mm / left_spacing_mm(profile) >= ORDER_FINE;
}

/*
 * Finer structure is believed from terms of higher order first, with their full covariance, where the
 * stations bear them; then from what those leave, ring by ring and station by station.
 */
static fw_status judge(adjustment *a, int face, const fw_profile *profile, const smooth *s,
                       const bool *countable, fw_figure *figure, fw_budget *budget, fw_error *err)
{
    widened w = {0};
    finer f = {0}, left = {0};
    smooth fine = {0};
    fw_form *form = NULL;
    fw_status status = FW_OK;
    bool known = a->variance >= 0;
    figure->order =
        s->order ? s->order : best_order(s, known ? a->variance : 0, s->basis->order);
    figure->radius_mm = a->net->faces[face].clear_mm;
    if (known && (status = a->model->finer(a, face, profile, s, &f, err)))
        goto done;
    bool again = f.significant && !s->order && bears_more(profile, figure->radius_mm);
    const smooth *fit = again ? &fine : s;
    const finer *rest = again ? &left : &f;
    if (again && ((status = a->model->smooth(a, face, profile, ORDER_FINE, &fine, err)) ||
                  (status = a->model->finer(a, face, profile, &fine, &left, err))))
        goto done;
    if ((status = lay_points(a, face, profile, fit, rest, &form, err)) ||
        (status = widened_new(a, face, fit, &w, err)) ||
        (status = known
                      ? simulate(a, &w, rest, form, figure, budget, err)
                      : plain_figure(a, &w, form, s->basis->order, figure, budget, err)))
        goto done;
    bool shape = all_told(s, countable, false), power = all_told(s, countable, true);
    budget_undetermined(budget, power, shape);
    if (!shape) {
        keep_power(power, figure);
        goto done;
    }
    figure->pv_raw_nm = raw_pv(profile);
    figure->finer = f.significant;
    figure->finer_p = f.p;
    figure->finer_rms_nm = f.rms_nm;
    if (known)
        figure->verdict = fw_conform_verdict(figure->probability_within, a->net->job->confidence);
done:
    widened_release(&w);
    finer_release(&f);
    finer_release(&left);
    smooth_release(&fine);
    fw_form_free(form);
    return status;
}

fw_status judge_face(adjustment *a, int face, const fw_profile *profile, fw_figure *figure,
                     fw_budget *budget, fw_error *err)
{
    smooth s = {0};
    bool *countable = NULL;
    fw_status status;
    clear_figure(figure);
    *budget = (fw_budget){0};
    if (face < 0)
        return FW_OK;
    if ((status = a->model->smooth(a, face, profile, ORDER_MAX, &s, err)) || !s.basis)
        return status;
    countable = fw_alloc(s.basis->nterms, sizeof *countable);
    if (!countable)
        status = fw_out_of_memory(err);
    else if (!(status = a->model->countable(a, face, profile, s.basis, countable, err)))
        status = judge(a, face, profile, &s, countable, figure, budget, err);
    fw_free(countable);
    smooth_release(&s);
    return status;
}
