/* plan.c - times at the strokes of the menu that leave the least expected square of the figure. */
#include <math.h>
#include <string.h>

#include "adjust/linalg.h"
#include "flatwright/alloc.h"
#include "flatwright/nnls.h"
#include "shop/forecast.h"

#define TRIAL_NM 40.0   /* most that a trial spell may take off at the fastest rate believed */
#define HOUR_WORTH 0.03 /* of the figure's mean square: an hour that brings less is too long */
#define WORTH 1e-5      /* of the figure's mean square: a stroke that brings less is left out */
#define TICK 2400.0      /* times are set in whole strokes, forty a minute */
#define SHORTEST (2 / TICK)
#define SIGNIFICANT 2.0
#define SETTING_UP 0.5 /* hours that go by before and after a spell */
#define GREEN 546.07   /* nm, where the job names no light */

#define NARROW 0.2 /* of the radius: so wide a zone errs by its peak, a wider one by less */
#define ENDS 3.0  /* PV counts the middle and the rim of the aperture, however small their area */
#define FLOOR 0.5 /* weight that every place keeps */

enum { PASSES = 2, MODES = FW_HABIT_MODES, N = FW_HABIT_SIZE, ROWS = FW_PLAN_ROWS };

/* A flat's plan while it is made. */
typedef struct draft {
    const fw_menu *menu;
    const fw_habit *habit;
    const view *v;
    bool power;  /* power does no harm */
    double *p;   /* npoints x nstrokes: what an hour is believed to take off; 0: not to be used */
    double *a;   /* the same on the datum, by the roots of the weights */
    double *h;   /* npoints: the figure believed, likewise */
    double *own; /* nstrokes: expected square of an hour's own error */
    double hour; /* half the cost of an hour, nm^2 */
    int n;
    int stroke[ROWS];
    double t[ROWS];
} draft;

/* v (npoints) <- what the stroke is believed to take off in an hour. */
static void believed(const fw_menu *menu, const fw_habit *habit, int j, double *v)
{
    const fw_stroke *s = &menu->strokes[j];
    const double *unit = menu->unit + (size_t)j * (size_t)menu->npoints;
    double t[MODES];
    for (int ring = 0; ring < menu->nradii; ring++) {
        double factor = 0;
        fw_habit_modes(s, &menu->flat, menu->r_mm[ring * menu->nangles], t);
        for (int q = 0; q < MODES; q++)
            factor += habit->mean[(int)s->method * MODES + q] * t[q];
        for (int i = ring * menu->nangles; i < (ring + 1) * menu->nangles; i++)
            v[i] = fmax(factor, 0) * unit[i];
    }
}

/* What is not known of an hour's removal, rate and shape, as a part of it. */
static double error_part(const fw_habit *habit, fw_method method)
{
    int first = (int)method * MODES;
    double square = 0, rate = habit->mean[first];
    for (int q = first; q < first + MODES; q++)
        square += habit->cov[q * (N + 1)];
    return sqrt(square / (rate * rate) + PLAN_UNLEARNED * PLAN_UNLEARNED);
}

/*
 * Would the readings show what the stroke leaves? A zone narrower than two gaps between stations,
 * or one at the rim or in the middle narrower than a gap, a side narrower than the diameters are
 * apart: they leave ridges that nobody sees.
 */
static bool seen(const view *v, const fw_menu *menu, const fw_stroke *s)
{
    fw_travel t;
    bool local = s->method == FW_RING || s->method == FW_SIDE;
    if (!local)
        return true;
    bool ends = s->outer_mm >= menu->flat.radius_mm || s->inner_mm <= menu->flat.bore_mm;
    if (s->outer_mm - s->inner_mm < (ends ? 1 : 2) * v->spacing_mm ||
        fw_stroke_travel(s, &menu->flat, &t, NULL) != FW_OK)
        return false;
    double middle = 0.5 * (t.from_mm + t.to_mm);
    return s->method == FW_RING || 2 * (t.aside_mm + t.lap_mm) >= v->apart_rad * middle;
}

static void project_weighted(const fw_menu *menu, bool power, double *v)
{
    menu_project(menu, power, v);
    for (int i = 0; i < menu->npoints; i++)
        v[i] *= sqrt(menu->weight[i]);
}

/* Part of the square of a stroke's highest place that its error counts beside its mean square. */
static double narrow(const fw_menu *menu, int j)
{
    const fw_stroke *s = &menu->strokes[j];
    bool local = s->method == FW_RING || s->method == FW_SIDE;
    return local ? NARROW * menu->flat.radius_mm / (s->outer_mm - s->inner_mm) : 0;
}

/* Every stroke under the weights of `menu`. */
static void weigh(draft *d, const fw_menu *menu)
{
    int n = menu->npoints;
    memcpy(d->h, d->v->mean, (size_t)n * sizeof *d->h);
    project_weighted(menu, d->power, d->h);
    d->hour = 0.5 * HOUR_WORTH * fw_dot(n, d->h, 1, d->h);
    for (int j = 0; j < menu->nstrokes; j++) {
        const double *p = d->p + (size_t)j * (size_t)n;
        double *a = d->a + (size_t)j * (size_t)n, part, peak = 0;
        for (int i = 0; i < n; i++)
            peak = fmax(peak, p[i]);
        part = error_part(d->habit, menu->strokes[j].method);
        d->own[j] = part * part * (menu_dot(menu, p, p) + peak * peak * narrow(menu, j));
        memcpy(a, p, (size_t)n * sizeof *a);
        project_weighted(menu, d->power, a);
    }
}

/*
 * Least |h - A t|^2 + sum own t^2 + 2 hour sum t over t >= 0 for the strokes chosen. With G = A'A +
 * diag own and g = A'h - hour it is least t'Gt - 2 g't; G = R'R makes it |R t - R^-T g|^2.
 */
static fw_status minimise(draft *d, const fw_menu *menu, fw_error *err)
{
    double r[ROWS * ROWS] = {0}, b[ROWS];
    int n = d->n, np = menu->npoints;
    for (int i = 0; i < n; i++) {
        const double *a = d->a + (size_t)d->stroke[i] * (size_t)np;
        b[i] = fw_dot(np, a, 1, d->h) - d->hour;
        for (int k = 0; k <= i; k++)
            r[k + i * n] = fw_dot(np, a, 1, d->a + (size_t)d->stroke[k] * (size_t)np) +
                           (i == k ? d->own[d->stroke[i]] : 0);
    }
    fw_status status = fw_cholesky(n, r, err);
    if (status)
        return status;
    fw_upper_solve_transposed(n, 1, r, n, b, n);
    return fw_nnls(n, n, 0, r, b, d->t, NULL, NULL, err);
}

/* Strokes without time go out. Is the last one still in? */
static bool keep_used(draft *d)
{
    int last = d->stroke[d->n - 1], kept = 0;
    for (int i = 0; i < d->n; i++)
        if (d->t[i] > 0) {
            d->stroke[kept] = d->stroke[i];
            d->t[kept++] = d->t[i];
        }
    d->n = kept;
    return kept > 0 && d->stroke[kept - 1] == last;
}

/*
 * Strokes one by one: always the one that by itself would bring most of what is still to be had,
 * then all times anew. As in Lawson & Hanson, but never more than `most` of them.
 * left (npoints): weighted, what the plan would leave.
 */
static fw_status choose(draft *d, const fw_menu *menu, int most, double *left, fw_error *err)
{
    int n = menu->npoints, s = menu->nstrokes;
    double *gain = fw_alloc((size_t)s, sizeof *gain);
    bool *barred = fw_alloc((size_t)s, sizeof *barred);
    fw_status status = gain && barred ? FW_OK : fw_out_of_memory(err);
    double least = WORTH * fw_dot(n, d->h, 1, d->h);
    d->n = 0;
    memcpy(left, d->h, (size_t)n * sizeof *left);
    while (!status && d->n < most) {
        int best = -1;
        fw_gemm(1, 0, s, 1, n, 1, d->a, n, left, n, 0, gain, s);
        for (int i = 0; i < d->n; i++)
            barred[d->stroke[i]] = true;
        for (int j = 0; j < s; j++) {
            double *a = d->a + (size_t)j * (size_t)n, g = gain[j] - d->hour;
            double square = barred[j] || g <= 0 ? 0 : fw_dot(n, a, 1, a) + d->own[j];
            gain[j] = square > 0 ? g * g / square : 0;
            best = gain[j] > (best < 0 ? least : gain[best]) ? j : best;
        }
        if (best < 0)
            break;
        draft before = *d;
        d->stroke[d->n++] = best;
        if ((status = minimise(d, menu, err)))
            break;
        if (!keep_used(d)) {
            *d = before;
            barred[best] = true;
            continue;
        }
        memset(barred, 0, (size_t)s * sizeof *barred);
        memcpy(left, d->h, (size_t)n * sizeof *left);
        for (int i = 0; i < d->n; i++)
            fw_gemm(0, 0, n, 1, 1, -d->t[i], d->a + (size_t)d->stroke[i] * (size_t)n, n,
                    &(double){1}, 1, 1, left, n);
    }
    fw_free(gain);
    fw_free(barred);
    return status;
}

/*
 * PV is decided by the few places that stick out: weights grow with the square of what is left
 * there, and the strokes are chosen again.
 */
static fw_status choose_for_peaks(draft *d, int most, fw_error *err)
{
    const fw_menu *menu = d->menu;
    fw_menu weighed = {0};
    int n = menu->npoints, inner = menu->flat.bore_mm > 0 || !menu->line ? menu->nangles : 0;
    double *left = fw_alloc((size_t)n, sizeof *left), *factor = fw_alloc((size_t)n, sizeof *factor);
    fw_status status = left && factor ? FW_OK : fw_out_of_memory(err);
    for (int i = 0; i < n && !status; i++)
        factor[i] = i < inner || i >= n - menu->nangles ? ENDS : 1;
    for (int pass = 0; pass <= PASSES && !status; pass++) {
        if ((status = menu_reweigh(menu, factor, &weighed, err)))
            break;
        weigh(d, &weighed);
        status = choose(d, &weighed, most, left, err);
        double square = 0;
        for (int i = 0; i < n; i++) {
            left[i] /= weighed.weight[i] > 0 ? sqrt(weighed.weight[i]) : INFINITY;
            square += menu->weight[i] * left[i] * left[i];
        }
        for (int i = 0; i < n && square > 0; i++)
            factor[i] = sqrt(factor[i] * (FLOOR + left[i] * left[i] / square));
        menu_release(&weighed);
        weighed = (fw_menu){0};
    }
    fw_free(left);
    fw_free(factor);
    return status;
}

/* The largest first. */
static void order(draft *d)
{
    double size[ROWS];
    int n = d->menu->npoints;
    for (int i = 0; i < d->n; i++) {
        const double *a = d->a + (size_t)d->stroke[i] * (size_t)n;
        size[i] = d->t[i] * fw_length(n, a);
    }
    for (int i = 1; i < d->n; i++)
        for (int k = i; k > 0 && size[k] > size[k - 1]; k--) {
            int stroke = d->stroke[k];
            double t = d->t[k], was = size[k];
            d->stroke[k] = d->stroke[k - 1];
            d->t[k] = d->t[k - 1];
            size[k] = size[k - 1];
            d->stroke[k - 1] = stroke;
            d->t[k - 1] = t;
            size[k - 1] = was;
        }
}

/* The times become rows. A trial is one stroke, and short. */
static void set_rows(draft *d, double fraction, bool trial, fw_plan *plan)
{
    plan->fraction = fraction;
    for (int i = 0; i < d->n && plan->nrows < FW_PLAN_ROWS; i++) {
        const fw_stroke *s = &d->menu->strokes[d->stroke[i]];
        double hours = fraction * d->t[i];
        if (trial) {
            const double *unit = d->menu->unit + (size_t)d->stroke[i] * (size_t)d->menu->npoints;
            fw_quantity rate = fw_habit_rate(d->habit, s->method);
            double peak = 0;
            for (int k = 0; k < d->menu->npoints; k++)
                peak = fmax(peak, unit[k]);
            hours = fmin(hours, TRIAL_NM / ((rate.value_nm + rate.u_nm) * peak));
        }
        d->t[i] = hours = round(hours * TICK) / TICK;
        if (hours < SHORTEST)
            continue;
        d->stroke[plan->nrows] = d->stroke[i];
        d->t[plan->nrows] = hours;
        plan->rows[plan->nrows++] = (fw_plan_row){.stroke = *s, .hours = hours};
        plan->hours += hours;
    }
    d->n = plan->nrows;
    plan->spells = (int)ceil(plan->hours - 1e-9);
    plan->warnings |= trial ? FW_WARN_TRIAL : 0;
}

/* Where it is highest, and where the plan would make a good place bad. */
static void look(const draft *d, const double *taken, double target, double bore_mm, fw_plan *plan)
{
    const fw_menu *menu = d->menu;
    int top = 0;
    plan->good_from_mm = INFINITY;
    plan->good_to_mm = -INFINITY;
    for (int i = 0; i < menu->npoints; i++) {
        double before = d->v->mean[i], after = before - taken[i];
        top = before > d->v->mean[top] ? i : top;
        if (fabs(before) > target / 2 ||
            !(fabs(after) > target / 2 && fabs(after) > 2 * fabs(before)))
            continue;
        plan->warnings |= FW_WARN_GOOD;
        plan->good_from_mm = fmin(plan->good_from_mm, menu->r_mm[i]);
        plan->good_to_mm = fmax(plan->good_to_mm, menu->r_mm[i]);
    }
    plan->high_mm = menu->r_mm[top];
    plan->high_rad = menu->theta[top];
    if (d->v->mean[top] > target / 2 && bore_mm > 0 && top < menu->nangles)
        plan->warnings |= FW_WARN_BORE;
    if (d->v->mean[top] > target / 2 && top >= menu->npoints - menu->nangles)
        plan->warnings |= FW_WARN_EDGE;
}

/* How much of the plan's own pattern the figure holds, over the uncertainty of that. */
static double significance(const draft *d, const view *v, const double *taken)
{
    double own = menu_dot(d->menu, taken, taken), mean = 0, square = 0;
    if (!(own > 0))
        return 0;
    for (int k = 0; k < v->ndraws; k++) {
        double c = menu_dot(d->menu, v->draws + (size_t)k * (size_t)d->menu->npoints, taken) / own;
        mean += c / v->ndraws;
        square += c * c / v->ndraws;
    }
    double sd = sqrt(fmax(square - mean * mean, 0));
    return sd > 0 ? mean / sd : mean > 0 ? INFINITY : 0;
}

static fw_status conclude(const draft *d, const fw_job *job, const view *v, fw_plan *plan,
                          fw_error *err)
{
    int n = d->menu->npoints;
    double *taken = fw_alloc((size_t)n, sizeof *taken), *one = fw_alloc((size_t)n, sizeof *one);
    forecast f = {0};
    fw_status status = FW_OK;
    if (!taken || !one) {
        status = fw_out_of_memory(err);
        goto done;
    }
    for (int i = 0; i < d->n; i++) {
        believed(d->menu, d->habit, d->stroke[i], one);
        for (int k = 0; k < n; k++)
            taken[k] += d->t[i] * one[k];
    }
    for (int k = 0; k < n; k++)
        plan->removed_nm += d->menu->weight[k] * taken[k];
    menu_project(d->menu, d->power, taken);
    plan->z = significance(d, v, taken);
    look(d, taken, job->flatness_nm, d->menu->flat.bore_mm, plan);
    if ((status = forecast_new(d->menu, d->habit, v, job->measure, d->n, d->stroke, d->t, &f, err)))
        goto done;
    plan->pv_before_nm = f.pv[0].value_nm;
    plan->pv_after_nm = f.pv[d->n].value_nm;
    plan->pv_after_u_nm = f.pv[d->n].u_nm;
    for (int i = 0; i < d->n; i++) {
        plan->rows[i].pv_before_nm = f.pv[i].value_nm;
        plan->rows[i].pv_after_nm = f.pv[i + 1].value_nm;
        plan->rows[i].pv_after_u_nm = f.pv[i + 1].u_nm;
    }
    plan->gain_nm_per_h =
        (f.judged[0].value_nm - f.judged[d->n].value_nm) / (plan->hours + SETTING_UP);
    plan->significant = plan->nrows > 0 && plan->z > SIGNIFICANT && plan->gain_nm_per_h > 0;
    plan->warnings |= plan->significant        ? 0
                      : plan->z <= SIGNIFICANT ? FW_WARN_NOISE
                                               : FW_WARN_NO_GAIN;
    double wave = isnan(job->light.wavelength_nm) ? GREEN : job->light.wavelength_nm;
    plan->warnings |=
        (plan->pv_before_nm > wave ? FW_WARN_WAVE : 0) | (d->menu->line ? FW_WARN_LINE : 0);
done:
    fw_free(taken);
    fw_free(one);
    return status;
}

static void draft_release(draft *d)
{
    fw_free(d->p);
    fw_free(d->a);
    fw_free(d->h);
    fw_free(d->own);
}

static fw_status draft_new(const fw_menu *menu, const fw_habit *habit, const view *v, bool power,
                           draft *out, fw_error *err)
{
    size_t n = (size_t)menu->npoints, s = (size_t)menu->nstrokes;
    draft d = {.menu = menu,
               .habit = habit,
               .v = v,
               .power = power,
               .p = fw_alloc(n * s, sizeof(double)),
               .a = fw_alloc(n * s, sizeof(double)),
               .h = fw_alloc(n, sizeof(double)),
               .own = fw_alloc(s, sizeof(double))};
    if (!d.p || !d.a || !d.h || !d.own) {
        draft_release(&d);
        return fw_out_of_memory(err);
    }
    for (size_t j = 0; j < s; j++)
        if (seen(v, menu, &menu->strokes[j]))
            believed(menu, habit, (int)j, d.p + j * n);
    *out = d;
    return FW_OK;
}

fw_status fw_plan_flat(const fw_result *result, int flat, const fw_habit *habit,
                       const fw_menu *menu, double fraction, fw_plan *plan, fw_error *err)
{
    const fw_job *job = result->job;
    view v = {0};
    draft d = {0};
    fw_plan made = {.flat = flat};
    fw_status status = view_new(result, flat, menu, &v, err);
    if (status)
        return status;
    bool power = job->measure == FW_MEASURE_IRREGULARITY;
    if ((status = draft_new(menu, habit, &v, power, &d, err)) ||
        (status = choose_for_peaks(&d, ROWS, err)))
        goto done;
    order(&d);
    bool trial = d.n > 0 && !fw_habit_knows(habit, menu->strokes[d.stroke[0]].method);
    if (trial && (status = choose_for_peaks(&d, 1, err)))
        goto done;
    set_rows(&d, fraction, trial, &made);
    status = conclude(&d, job, &v, &made, err);
done:
    draft_release(&d);
    view_release(&v);
    if (!status)
        *plan = made;
    return status;
}
