/* plan.c - what to do to a flat: the strokes chosen become rows, and a forecast. */
#include <float.h>
#include <math.h>

#include "flatwright/alloc.h"
#include "shop/draft.h"
#include "shop/forecast.h"

#define TRIAL_NM 40.0   /* most that a trial spell may take off at the fastest rate believed */
#define ROUND_HOURS 4.0 /* at most, before the flat is read again */
#define TICK 2400.0     /* times are set in whole strokes, forty a minute */
#define SHORTEST (1 / TICK)
#define A_LITTLE 0.25   /* over whole hours: not worth one more spell, all is done a little less */
#define SAME 0.02       /* hours: a minute more makes no spell */
#define SIGNIFICANT 2.0
#define SETTING_UP 0.5 /* hours that go by before and after a spell */
#define GREEN 546.07   /* nm, where the job names no light */

/* All times, and the hours, in one proportion. */
static void scale_rows(draft *d, double by, fw_plan *plan)
{
    plan->hours = 0;
    plan->fraction *= by;
    for (int i = 0; i < plan->nrows; i++) {
        d->hours[i] = plan->rows[i].hours = fmax(floor(by * d->hours[i] * TICK), 1) / TICK;
        plan->hours += d->hours[i];
    }
}

/* The times become rows. A trial is one stroke, and short. */
static void set_rows(draft *d, double fraction, bool trial, fw_plan *plan)
{
    plan->fraction = fraction;
    for (int i = 0; i < d->n; i++) {
        const fw_stroke *s = draft_stroke(d, i);
        double hours = fraction * d->hours[i];
        if (trial) {
            const double *unit =
                d->menu->unit + (size_t)d->seen[d->stroke[i]] * (size_t)d->menu->npoints;
            fw_quantity rate = fw_habit_rate(d->habit, s->method);
            double peak = 0;
            for (int k = 0; k < d->menu->npoints; k++)
                peak = fmax(peak, unit[k]);
            hours = fmin(hours, TRIAL_NM / ((rate.value_nm + rate.u_nm) * peak));
        }
        d->hours[i] = hours = round(hours * TICK) / TICK;
        if (hours < SHORTEST)
            continue;
        d->stroke[plan->nrows] = d->stroke[i];
        d->hours[plan->nrows] = hours;
        plan->rows[plan->nrows++] = (fw_plan_row){.stroke = *s, .hours = hours};
        plan->hours += hours;
    }
    d->n = plan->nrows;
    double whole = floor(plan->hours + SAME);
    if (plan->hours > whole + SAME && plan->hours < (1 + A_LITTLE) * whole)
        scale_rows(d, whole / plan->hours, plan);
    plan->spells = (int)ceil(plan->hours - SAME);
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

/*
 * How much of the plan's own pattern the figure holds, over the uncertainty of that; under the
 * weights by which the plan was chosen.
 */
static double significance(const draft *d, const view *v, double *taken)
{
    const fw_menu *menu = &d->weighed;
    menu_project(menu, d->power, taken);
    double own = menu_dot(menu, taken, taken), mean = 0, square = 0;
    if (!(own > 0))
        return 0;
    for (int k = 0; k < v->ndraws; k++) {
        double c = menu_dot(menu, v->draws + (size_t)k * (size_t)menu->npoints, taken) / own;
        mean += c / v->ndraws;
        square += c * c / v->ndraws;
    }
    return mean / sqrt(fmax(square - mean * mean, DBL_MIN));
}

static fw_status conclude(const draft *d, const fw_job *job, const view *v, fw_plan *plan,
                          fw_error *err)
{
    int n = d->menu->npoints;
    double *taken = fw_alloc((size_t)n, sizeof *taken);
    int place[FW_PLAN_ROWS];
    forecast f = {0};
    fw_status status = FW_OK;
    if (!taken)
        return fw_out_of_memory(err);
    for (int i = 0; i < d->n; i++) {
        place[i] = d->seen[d->stroke[i]];
        for (int k = 0; k < n; k++)
            taken[k] += d->hours[i] * d->p[k + (size_t)d->stroke[i] * (size_t)n];
    }
    for (int k = 0; k < n; k++)
        plan->removed_nm += d->menu->weight[k] * taken[k];
    menu_project(d->menu, d->power, taken);
    look(d, taken, job->flatness_nm, d->menu->flat.bore_mm, plan);
    plan->z = significance(d, v, taken);
    if ((status = forecast_new(d->menu, d->habit, v, job->measure, d->n, place, d->hours, &f,
                               err)))
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
    return status;
}

static bool knows_any(const fw_habit *habit)
{
    bool any = false;
    for (int m = 0; m < FW_HABIT_METHODS; m++)
        any = any || fw_habit_knows(habit, (fw_method)m);
    return any;
}

/* The strokes, and whether they are a trial: one alone, since its method is not known yet. */
static fw_status choose(draft *d, double hours, bool *trial, fw_error *err)
{
    fw_status status = FW_OK;
    bool any = knows_any(d->habit);
    if (any && (status = draft_choose(d, FW_PLAN_ROWS, hours, err)))
        return status;
    *trial = !any || (d->n > 0 && !fw_habit_knows(d->habit, draft_stroke(d, 0)->method));
    if (*trial)
        status = draft_choose(d, 1, hours, err);
    *trial = *trial && d->n > 0;
    return status;
}

fw_status fw_plan_flat(const fw_result *result, int flat, const fw_habit *habit,
                       fw_menu *menu, double fraction, fw_plan *plan, fw_error *err)
{
    const fw_job *job = result->job;
    view v = {0};
    draft d = {0};
    fw_plan made = {.flat = flat};
    fw_status status = view_new(result, flat, menu, &v, err);
    if (status)
        return status;
    bool power = job->measure == FW_MEASURE_IRREGULARITY, trial = false;
    if ((status = draft_new(menu, habit, &v, power, &d, err)) ||
        (status = choose(&d, ROUND_HOURS / fraction, &trial, err)))
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
