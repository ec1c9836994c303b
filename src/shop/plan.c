/* plan.c - times at the strokes of the menu that leave the least expected square of the figure. */
#include <math.h>
#include <string.h>

#include "adjust/linalg.h"
#include "flatwright/alloc.h"
#include "flatwright/nnls.h"
#include "shop/forecast.h"

#define TINY 1e-12
#define TRIAL_NM 40.0   /* most that a trial spell may take off at the fastest rate believed */
#define HOUR_WORTH 0.01 /* of the figure's mean square: an hour that brings less is too long */
#define WORTH 0.001     /* of the gain: a stroke that brings less is left out, a few at most */
#define TICK 900.0      /* times are set in four seconds */
#define SHORTEST (12.0 / 3600)
#define SIGNIFICANT 2.0
#define SETTING_UP 0.5 /* hours that go by before and after a spell */
#define GREEN 546.07   /* nm, where the job names no light */

#define CLOSE 1e-4

#define FINEST 1.2 /* of the distance between stations, or diameters: what they still show */
#define FLOOR 0.5  /* weight that every place keeps */

enum { WIDEST = 40, SWEEPS = 200, PASSES = 2, MODES = FW_HABIT_MODES, N = FW_HABIT_SIZE };

/* A flat's plan while it is made. */
typedef struct draft {
    const fw_menu *menu;
    const fw_habit *habit;
    const double *mean; /* npoints: the figure believed */
    bool power;         /* power does no harm */
    double finest_mm;   /* radius of a lap whose traces the stations still see */
    double across_rad;  /* width of a side that the diameters still see */
    double hour;        /* half the cost of an hour, nm^2 */
    int n;
    int stroke[WIDEST];
    double t[WIDEST];
    double square[WIDEST * WIDEST], onto[WIDEST]; /* E = t'Gt - 2 g't, g less the cost of time */
    double gain;                                  /* -E */
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

/* v (npoints x MODES) <- removal in an hour for a unit of each parameter of the stroke's method. */
void forecast_parts(const fw_menu *menu, int j, double *v)
{
    const double *unit = menu->unit + (size_t)j * (size_t)menu->npoints;
    double t[MODES];
    for (int i = 0; i < menu->npoints; i++) {
        if (i % menu->nangles == 0)
            fw_habit_modes(&menu->strokes[j], &menu->flat, menu->r_mm[i], t);
        for (int q = 0; q < MODES; q++)
            v[i + q * menu->npoints] = unit[i] * t[q];
    }
}

static void project_weighted(const fw_menu *menu, bool power, double *v)
{
    menu_project(menu, power, v);
    for (int i = 0; i < menu->npoints; i++)
        v[i] *= sqrt(menu->weight[i]);
}

/* Expected square of the error that an hour of the stroke brings; work: npoints x (MODES + 1). */
static double error_square(const draft *d, int j, double *work)
{
    int n = d->menu->npoints, first = (int)d->menu->strokes[j].method * MODES;
    double gram[MODES * MODES], sum = 0, *whole = work + (size_t)MODES * (size_t)n;
    forecast_parts(d->menu, j, work);
    for (int q = 0; q < MODES; q++)
        project_weighted(d->menu, d->power, work + q * n);
    fw_gemm(1, 0, MODES, MODES, n, 1, work, n, work, n, 0, gram, MODES);
    for (int p = 0; p < MODES; p++)
        for (int q = 0; q < MODES; q++)
            sum += d->habit->cov[first + p + (first + q) * N] * gram[p + q * MODES];
    believed(d->menu, d->habit, j, whole);
    return sum + PLAN_UNLEARNED * PLAN_UNLEARNED * menu_dot(d->menu, whole, whole);
}

static bool same_zone(const fw_stroke *a, const fw_stroke *b)
{
    return a->method == FW_SIDE && b->method == FW_SIDE && a->inner_mm == b->inner_mm &&
           a->outer_mm == b->outer_mm;
}

/*
 * Least t'Gt - 2 g't over t >= 0, one time after the other. g (n) becomes g - G t. Good to a part in
 * a thousand, which is enough to choose by.
 * Source: Franc, Hlavac & Navara, CAIP 2005 (from memory).
 */
static void descend(int n, const double *square, double *onto, double *t)
{
    double first = 0;
    for (int sweep = 0; sweep < SWEEPS; sweep++) {
        double most = 0;
        for (int j = 0; j < n; j++) {
            const double *column = square + (size_t)j * (size_t)n;
            double change = fmax(-t[j], column[j] > 0 ? onto[j] / column[j] : 0);
            if (change == 0)
                continue;
            t[j] += change;
            for (int i = 0; i < n; i++)
                onto[i] -= change * column[i];
            most = fmax(most, change * change * column[j]);
        }
        first = fmax(first, most);
        if (most <= CLOSE * first)
            break;
    }
}

/*
 * Would the readings show what the stroke leaves? A lap hardly wider than the stations are apart, a
 * hub smaller than that left standing, a side narrower than the diameters are apart: they leave
 * ridges that nobody sees.
 */
static bool seen(const draft *d, const fw_stroke *s)
{
    fw_travel t;
    double hub = s->inner_mm - d->menu->flat.bore_mm;
    if (s->method != FW_RING && s->method != FW_SIDE)
        return true;
    if (fw_stroke_travel(s, &d->menu->flat, &t, NULL) != FW_OK || t.lap_mm < d->finest_mm)
        return false;
    if (s->method == FW_RING)
        return hub <= 0 || hub >= d->finest_mm;
    return 2 * t.lap_mm >= 0.5 * (s->inner_mm + s->outer_mm) * d->across_rad;
}

/*
 * The strokes that bring most of what the whole menu would, each one's error by itself; left
 * (npoints): what the whole menu would leave.
 */
static fw_status choose(draft *d, double *left, fw_error *err)
{
    const fw_menu *menu = d->menu;
    int n = menu->npoints, s = menu->nstrokes;
    double *a = fw_alloc((size_t)n * (size_t)s, sizeof *a), *h = fw_alloc((size_t)n, sizeof *h);
    double *square = fw_alloc((size_t)s * (size_t)s, sizeof *square),
           *t = fw_alloc((size_t)s, sizeof *t);
    double *onto = fw_alloc((size_t)s, sizeof *onto), *own = fw_alloc((size_t)s, sizeof *own);
    double *work = fw_alloc((size_t)n * (MODES + 1), sizeof *work);
    fw_status status = FW_OK;
    if (!a || !h || !square || !t || !onto || !own || !work) {
        status = fw_out_of_memory(err);
        goto done;
    }
    memcpy(h, d->mean, (size_t)n * sizeof *h);
    project_weighted(menu, d->power, h);
    d->hour = 0.5 * HOUR_WORTH * pow(fw_length(n, h), 2);
    for (int j = 0; j < s; j++) {
        double *column = a + (size_t)j * (size_t)n;
        if (!seen(d, &menu->strokes[j]))
            continue;
        own[j] = j > 0 && same_zone(&menu->strokes[j - 1], &menu->strokes[j])
                     ? own[j - 1]
                     : error_square(d, j, work);
        believed(menu, d->habit, j, column);
        project_weighted(menu, d->power, column);
    }
    fw_gemm(1, 0, s, s, n, 1, a, n, a, n, 0, square, s);
    fw_gemm(1, 0, s, 1, n, 1, a, n, h, n, 0, onto, s);
    for (int j = 0; j < s; j++) {
        square[j * (s + 1)] += own[j];
        onto[j] -= d->hour;
    }
    descend(s, square, onto, t);
    fw_gemm(0, 0, n, 1, s, -1, a, n, t, s, 0, left, n);
    for (int i = 0; i < n; i++) /* h - A t, the weights' roots taken out again */
        left[i] = menu->weight[i] > 0 ? (h[i] + left[i]) / sqrt(menu->weight[i]) : 0;
    for (int j = 0; j < s; j++)
        t[j] *= sqrt(square[j * (s + 1)]);
    for (d->n = 0; d->n < WIDEST; d->n++) {
        int best = 0;
        for (int j = 1; j < s; j++)
            best = t[j] > t[best] ? j : best;
        if (!(t[best] > 0))
            break;
        d->stroke[d->n] = best;
        t[best] = 0;
    }
done:
    fw_free(a);
    fw_free(h);
    fw_free(square);
    fw_free(t);
    fw_free(onto);
    fw_free(own);
    fw_free(work);
    return status;
}

/* G and g of the strokes kept, errors that several share counted together. */
static fw_status reckon(draft *d, fw_error *err)
{
    const fw_menu *menu = d->menu;
    int n = menu->npoints, k = d->n, w = k * MODES;
    double *v = fw_alloc((size_t)n * (size_t)w, sizeof *v);
    double *gram = fw_alloc((size_t)w * (size_t)w, sizeof *gram);
    double *p = fw_alloc((size_t)n * (size_t)k, sizeof *p), *h = fw_alloc((size_t)n, sizeof *h);
    fw_status status = FW_OK;
    double loose[WIDEST];
    if (!v || !gram || !p || !h) {
        status = fw_out_of_memory(err);
        goto done;
    }
    memcpy(h, d->mean, (size_t)n * sizeof *h);
    project_weighted(menu, d->power, h);
    for (int i = 0; i < k; i++) {
        double *at = v + (size_t)i * MODES * (size_t)n, *whole = p + (size_t)i * (size_t)n;
        forecast_parts(menu, d->stroke[i], at);
        for (int q = 0; q < MODES; q++)
            project_weighted(menu, d->power, at + q * n);
        believed(menu, d->habit, d->stroke[i], whole);
        loose[i] = PLAN_UNLEARNED * PLAN_UNLEARNED * menu_dot(menu, whole, whole);
        project_weighted(menu, d->power, whole);
    }
    fw_gemm(1, 0, w, w, n, 1, v, n, v, n, 0, gram, w);
    fw_gemm(1, 0, k, k, n, 1, p, n, p, n, 0, d->square, WIDEST);
    fw_gemm(1, 0, k, 1, n, 1, p, n, h, n, 0, d->onto, WIDEST);
    for (int i = 0; i < k; i++)
        d->onto[i] -= d->hour;
    for (int i = 0; i < k; i++)
        for (int j = 0; j < k; j++) {
            int a = (int)menu->strokes[d->stroke[i]].method * MODES;
            int b = (int)menu->strokes[d->stroke[j]].method * MODES;
            double sum = i == j ? loose[i] : 0;
            for (int x = 0; x < MODES; x++)
                for (int y = 0; y < MODES; y++)
                    sum += d->habit->cov[a + x + (b + y) * N] *
                           gram[i * MODES + x + (size_t)(j * MODES + y) * (size_t)w];
            d->square[i + j * WIDEST] += sum;
        }
done:
    fw_free(v);
    fw_free(gram);
    fw_free(p);
    fw_free(h);
    return status;
}

/* Least t'Gt - 2 g't over t >= 0: G = U L U', so the matrix is L^1/2 U', the right side L^-1/2 U'g. */
static fw_status minimise(draft *d, fw_error *err)
{
    double u[WIDEST * WIDEST], l[WIDEST], a[WIDEST * WIDEST], b[WIDEST];
    int n = d->n;
    d->gain = 0;
    if (n == 0)
        return FW_OK;
    for (int i = 0; i < n; i++)
        for (int j = 0; j < n; j++)
            u[i + j * n] = d->square[i + j * WIDEST];
    fw_status status = fw_eigen_symmetric(n, u, l, err);
    if (status)
        return status;
    for (int k = 0; k < n; k++) {
        double root = sqrt(fmax(l[k], TINY * l[n - 1]));
        b[k] = 0;
        for (int i = 0; i < n; i++) {
            a[k + i * n] = root * u[i + k * n];
            b[k] += u[i + k * n] * d->onto[i] / root;
        }
    }
    if ((status = fw_nnls(n, n, 0, a, b, d->t, NULL, NULL, err)))
        return status;
    for (int i = 0; i < n; i++) {
        d->gain += 2 * d->onto[i] * d->t[i];
        for (int j = 0; j < n; j++)
            d->gain -= d->t[i] * d->t[j] * d->square[i + j * WIDEST];
    }
    return FW_OK;
}

static void drop(draft *d, int k)
{
    d->n--;
    for (int i = k; i < d->n; i++) {
        d->stroke[i] = d->stroke[i + 1];
        d->t[i] = d->t[i + 1];
        d->onto[i] = d->onto[i + 1];
    }
    for (int j = 0; j < d->n; j++)
        for (int i = 0; i < d->n; i++)
            d->square[i + j * WIDEST] = d->square[i + (i >= k) + (j + (j >= k)) * WIDEST];
}

/* Leaves out the stroke that does least, again and again, while there are many or it hardly counts. */
static fw_status thin_out(draft *d, int most, fw_error *err)
{
    fw_status status = minimise(d, err);
    double whole = d->gain;
    while (!status && d->n > 0) {
        draft fewer = *d;
        int least = 0;
        for (int i = 1; i < d->n; i++)
            if (d->t[i] * d->t[i] * d->square[i * (WIDEST + 1)] <
                d->t[least] * d->t[least] * d->square[least * (WIDEST + 1)])
                least = i;
        drop(&fewer, least);
        status = minimise(&fewer, err);
        if (status || (d->n <= most && d->t[least] > 0 && whole - fewer.gain > WORTH * whole))
            break;
        *d = fewer;
    }
    return status;
}

/* The largest first. */
static void order(draft *d)
{
    for (int i = 1; i < d->n; i++)
        for (int k = i; k > 0 && d->t[k] * d->t[k] * d->square[k * (WIDEST + 1)] >
                                     d->t[k - 1] * d->t[k - 1] * d->square[(k - 1) * (WIDEST + 1)];
             k--) {
            int stroke = d->stroke[k];
            double t = d->t[k], own = d->square[k * (WIDEST + 1)];
            d->stroke[k] = d->stroke[k - 1];
            d->t[k] = d->t[k - 1];
            d->square[k * (WIDEST + 1)] = d->square[(k - 1) * (WIDEST + 1)];
            d->stroke[k - 1] = stroke;
            d->t[k - 1] = t;
            d->square[(k - 1) * (WIDEST + 1)] = own;
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
        double before = d->mean[i], after = before - taken[i];
        top = before > d->mean[top] ? i : top;
        if (fabs(before) > target / 2 ||
            !(fabs(after) > target / 2 && fabs(after) > 2 * fabs(before)))
            continue;
        plan->warnings |= FW_WARN_GOOD;
        plan->good_from_mm = fmin(plan->good_from_mm, menu->r_mm[i]);
        plan->good_to_mm = fmax(plan->good_to_mm, menu->r_mm[i]);
    }
    plan->high_mm = menu->r_mm[top];
    plan->high_rad = menu->theta[top];
    if (d->mean[top] > target / 2 && bore_mm > 0 && top < menu->nangles)
        plan->warnings |= FW_WARN_BORE;
    if (d->mean[top] > target / 2 && top >= menu->npoints - menu->nangles)
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

/*
 * PV is decided by the few places that stick out: weights grow with the square of what is left
 * there, and the strokes are chosen again.
 */
static fw_status choose_for_peaks(draft *d, fw_menu *weighed, fw_error *err)
{
    const fw_menu *menu = d->menu;
    int n = menu->npoints;
    double *left = fw_alloc((size_t)n, sizeof *left), *factor = fw_alloc((size_t)n, sizeof *factor);
    fw_status status = left && factor ? choose(d, left, err) : fw_out_of_memory(err);
    for (int i = 0; i < n && !status; i++)
        factor[i] = 1;
    for (int pass = 0; pass < PASSES && !status; pass++) {
        double square = menu_dot(menu, left, left);
        for (int i = 0; i < n; i++)
            factor[i] = sqrt(factor[i] * (FLOOR + left[i] * left[i] / square));
        menu_release(weighed);
        *weighed = (fw_menu){0};
        if ((status = menu_reweigh(menu, factor, weighed, err)))
            break;
        d->menu = weighed;
        status = choose(d, left, err);
    }
    fw_free(left);
    fw_free(factor);
    return status;
}

fw_status fw_plan_flat(const fw_result *result, int flat, const fw_habit *habit,
                       const fw_menu *menu, double fraction, fw_plan *plan, fw_error *err)
{
    const fw_job *job = result->job;
    view v = {0};
    fw_plan made = {.flat = flat};
    fw_status status = view_new(result, flat, menu, &v, err);
    if (status)
        return status;
    draft d = {.menu = menu,
               .habit = habit,
               .mean = v.mean,
               .across_rad = FINEST * v.apart_rad,
               .finest_mm = FINEST * v.spacing_mm,
               .power = job->measure == FW_MEASURE_IRREGULARITY};
    fw_menu weighed = {0};
    if ((status = choose_for_peaks(&d, &weighed, err)) || (status = reckon(&d, err)) ||
        (status = thin_out(&d, FW_PLAN_ROWS, err)))
        goto done;
    order(&d);
    bool trial = d.n > 0 && !fw_habit_knows(habit, menu->strokes[d.stroke[0]].method);
    if (trial && ((status = reckon(&d, err)) || (status = thin_out(&d, 1, err))))
        goto done;
    if (trial)
        d.n = d.n > 1 ? 1 : d.n;
    d.menu = menu;
    set_rows(&d, fraction, trial, &made);
    status = conclude(&d, job, &v, &made, err);
done:
    menu_release(&weighed);
    view_release(&v);
    if (!status)
        *plan = made;
    return status;
}
