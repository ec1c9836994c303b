/* forecast.c - the figure after a plan: figure, rate and shape uncertain together. */
#include "shop/forecast.h"

#include <gsl/gsl_randist.h>
#include <math.h>
#include <string.h>

#include "adjust/linalg.h"
#include "base/draws.h"
#include "flatwright/alloc.h"

enum { MODES = FW_HABIT_MODES, N = FW_HABIT_SIZE, SEED = 18930223 };

/* Part of a variance below which what the parameters before leave of it is rounding. */
static const double NOTHING = 1e-12;

void forecast_parts(const fw_menu *menu, int j, double *v)
{
    const double *unit = menu->unit + (size_t)j * (size_t)menu->npoints;
    const double *modes = menu->modes + (size_t)j * MODES * (size_t)menu->nradii;
    for (int i = 0; i < menu->npoints; i++)
        for (int q = 0; q < MODES; q++)
            v[i + q * menu->npoints] = unit[i] * modes[q + i / menu->nangles * MODES];
}

/*
 * root (N x N) <- lower triangle, root root' = the habit's covariance, which may be singular. Unlike
 * eigenvectors, whose signs hang on rounding, it gives the same draws for nearly the same habit.
 */
static void factor(const fw_habit *habit, double *root)
{
    memset(root, 0, N * N * sizeof *root);
    for (int k = 0; k < N; k++)
        for (int i = k; i < N; i++) {
            double left = habit->cov[i + k * N];
            for (int j = 0; j < k; j++)
                left -= root[i + j * N] * root[k + j * N];
            if (i > k)
                root[i + k * N] = root[k + k * N] > 0 ? left / root[k + k * N] : 0;
            else if (left > NOTHING * habit->cov[k + k * N])
                root[k + k * N] = sqrt(left);
        }
}

/* One person's strokes as they may be. */
static void draw_habit(const fw_habit *habit, const double *root, gsl_rng *rng, double *b)
{
    memcpy(b, habit->mean, N * sizeof *b);
    for (int k = 0; k < N; k++) {
        double z = gsl_ran_gaussian_ziggurat(rng, 1);
        for (int i = k; i < N; i++)
            b[i] += root[i + k * N] * z;
    }
}

/* h less what the stroke takes off; a negative rate stays at nothing. removed: npoints, work. */
static void take_off(const fw_menu *menu, const double *parts, const double *b, double hours,
                     gsl_rng *rng, double *removed, double *h)
{
    int n = menu->npoints;
    double c[MODES], sum = 0;
    for (int q = 1; q < MODES; q++)
        sum += 1.0 / q / q;
    for (int q = 0; q < MODES; q++) {
        double loose = q == 0 ? 0 : PLAN_UNLEARNED * fmax(b[0], 0) / q / sqrt(sum);
        c[q] = hours * (b[q] + gsl_ran_gaussian_ziggurat(rng, 1) * loose);
    }
    memset(removed, 0, (size_t)n * sizeof *removed);
    for (int q = 0; q < MODES; q++)
        fw_add(n, c[q], parts + (size_t)q * (size_t)n, 1, removed);
    for (int i = 0; i < n; i++)
        h[i] -= removed[i] > 0 ? removed[i] : 0;
}

static double pv_of(int n, const double *h)
{
    double low = INFINITY, high = -INFINITY;
    for (int i = 0; i < n; i++) {
        low = h[i] < low ? h[i] : low;
        high = h[i] > high ? h[i] : high;
    }
    return high - low;
}

/* Sums of both quantities and of their squares; work: npoints. */
static void note(const fw_menu *menu, fw_measure measure, const double *h, double *work,
                 fw_quantity *pv, fw_quantity *judged)
{
    memcpy(work, h, (size_t)menu->npoints * sizeof *work);
    menu_project(menu, false, work);
    double p = pv_of(menu->npoints, work), q = p;
    if (measure == FW_MEASURE_RMS)
        q = sqrt(menu_dot(menu, work, work));
    else if (measure == FW_MEASURE_IRREGULARITY) {
        menu_project(menu, true, work);
        q = pv_of(menu->npoints, work);
    }
    pv->value_nm += p;
    pv->u_nm += p * p;
    judged->value_nm += q;
    judged->u_nm += q * q;
}

static void to_moments(fw_quantity *q, int n)
{
    q->value_nm /= n;
    q->u_nm = sqrt(fmax(q->u_nm / n - q->value_nm * q->value_nm, 0));
}

fw_status forecast_new(const fw_menu *menu, const fw_habit *habit, const view *v,
                       fw_measure measure, int n, const int *stroke, const double *hours,
                       forecast *out, fw_error *err)
{
    double root[N * N], b[N];
    size_t np = (size_t)menu->npoints;
    forecast made = {0};
    double *parts = fw_alloc(np * MODES * (size_t)n, sizeof *parts);
    double *h = fw_alloc(np, sizeof *h), *work = fw_alloc(np, sizeof *work);
    gsl_rng *rng = draws_new(SEED);
    fw_status status = parts && h && work && rng ? FW_OK : fw_out_of_memory(err);
    if (status)
        goto done;
    factor(habit, root);
    for (int r = 0; r < n; r++)
        forecast_parts(menu, stroke[r], parts + (size_t)r * MODES * np);
    for (int k = 0; k < v->ndraws; k++) {
        memcpy(h, v->draws + (size_t)k * np, np * sizeof *h);
        draw_habit(habit, root, rng, b);
        note(menu, measure, h, work, &made.pv[0], &made.judged[0]);
        for (int r = 0; r < n; r++) {
            int first = (int)menu->strokes[stroke[r]].method * MODES;
            take_off(menu, parts + (size_t)r * MODES * np, b + first, hours[r], rng, work, h);
            note(menu, measure, h, work, &made.pv[r + 1], &made.judged[r + 1]);
        }
    }
    for (int r = 0; r <= n; r++) {
        to_moments(&made.pv[r], v->ndraws);
        to_moments(&made.judged[r], v->ndraws);
    }
    *out = made;
done:
    fw_free(parts);
    fw_free(h);
    fw_free(work);
    draws_free(rng);
    return status;
}
