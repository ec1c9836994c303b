/* draft.c - times t >= 0 over the menu that leave the least expected square of the figure. */
#include "shop/draft.h"

#include <assert.h>
#include <float.h>
#include <math.h>
#include <string.h>

#include "adjust/linalg.h"
#include "adjust/nnls_normal.h"
#include "flatwright/alloc.h"
#include "shop/equations.h"

#define HOUR_WORTH 0.02 /* of the figure's mean square: an hour that brings less is too long */
#define DEARER 1.5      /* the price of an hour goes up so, until the time is enough */
#define THINNED 0.7     /* of the strokes are kept while there are too many */
#define ENDS 3.0        /* PV counts the middle and the rim of the aperture, however small */
#define FLOOR 0.5       /* weight that every place keeps */

enum { PASSES = 2, MODES = FW_HABIT_MODES };

const fw_stroke *draft_stroke(const draft *d, int i)
{
    return &d->menu->strokes[d->seen[d->stroke[i]]];
}

/*
 * Would the readings show what the stroke leaves? A zone narrower than two gaps between stations,
 * or one at the rim or in the middle narrower than a gap, a side narrower than the diameters are
 * apart: they leave ridges that nobody sees.
 */
static bool is_seen(const view *v, const fw_menu *menu, const fw_stroke *s)
{
    if (s->method != FW_RING && s->method != FW_SIDE)
        return true;
    bool ends = s->outer_mm >= menu->flat.radius_mm || s->inner_mm <= menu->flat.bore_mm;
    if (s->outer_mm - s->inner_mm < (ends ? 1 : 2) * v->spacing_mm)
        return false;
    fw_travel t = {0};
    fw_status status = fw_stroke_travel(s, &menu->flat, &t, NULL);
    double middle = 0.5 * (t.from_mm + t.to_mm);
    assert(!status); /* the menu has no others */
    (void)status;
    return s->method == FW_RING || 2 * (t.aside_mm + t.lap_mm) >= v->apart_rad * middle;
}

/* v (npoints) <- what an hour of the stroke is believed to take off: no glass is put back. */
static void believed(const fw_menu *menu, int j, const double c[MODES], double *v)
{
    const double *unit = menu->unit + (size_t)j * (size_t)menu->npoints;
    const double *modes = menu->modes + (size_t)j * MODES * (size_t)menu->nradii;
    for (int ring = 0; ring < menu->nradii; ring++) {
        double factor = fmax(fw_dot(MODES, c, 1, modes + ring * MODES), 0);
        for (int i = ring * menu->nangles; i < (ring + 1) * menu->nangles; i++)
            v[i] = factor * unit[i];
    }
}

/* The strokes in[0 .. n) at a price, from the times of before; the others get none. */
static fw_status solve_at(equations *p, int n, const int *in, double price, fw_error *err)
{
    for (int j = 0; j < p->n; j++)
        p->c[j] = -INFINITY;
    for (int i = 0; i < n; i++)
        p->c[in[i]] = p->b[in[i]] - price;
    for (int j = 0; j < p->n; j++)
        p->t[j] = isfinite(p->c[j]) ? p->t[j] : 0;
    return nnls_normal(p->n, p->c, equations_column, p, p->t, err);
}

/* Mean square of what a stroke takes off in its time. */
static double effect(const equations *p, int j)
{
    return p->t[j] * p->t[j] * p->g[j * (p->n + 1)];
}

/* in[] <- the strokes with time, those with the most effect first. Returns how many. */
static int sort_used(const equations *p, int *in)
{
    int used = 0;
    for (int j = 0; j < p->n; j++) {
        int k = used;
        if (!(p->t[j] > 0))
            continue;
        for (; k > 0 && effect(p, in[k - 1]) < effect(p, j); k--)
            in[k] = in[k - 1];
        in[k] = j;
        used++;
    }
    return used;
}

/* Dearer hours until the time is enough; fewer strokes until there are no more than `most`. */
static fw_status solve(equations *p, int most, double hours, int *in, int *used, fw_error *err)
{
    double price = 0.5 * HOUR_WORTH * p->square;
    int n = p->n;
    for (int j = 0; j < n; j++)
        in[j] = j;
    for (;;) {
        double sum = 0;
        fw_status status = solve_at(p, n, in, price, err);
        if (status)
            return status;
        for (int j = 0; j < p->n; j++)
            sum += p->t[j];
        int left = sort_used(p, in);
        *used = left;
        if (sum > hours)
            price *= DEARER;
        else if (left <= most)
            return FW_OK;
        else
            left = (int)fmax(most, THINNED * left);
        n = left;
    }
}

/* PV is decided by the few places that stick out: weights grow with the square of what is left. */
static void sharpen(const draft *d, const equations *p, double *left, double *factor)
{
    const fw_menu *menu = d->menu;
    int n = menu->npoints;
    memcpy(left, d->v->mean, (size_t)n * sizeof *left);
    fw_gemm(0, 0, n, 1, p->n, -1, d->p, n, p->t, p->n, 1, left, n);
    menu_project(menu, d->power, left);
    double square = fmax(menu_dot(menu, left, left), DBL_MIN);
    for (int i = 0; i < n; i++)
        factor[i] = sqrt(factor[i] * (FLOOR + left[i] * left[i] / square));
}

/* Takes over what was chosen; first comes what takes most of the figure away. work: npoints. */
static void take_over(draft *d, const equations *p, int used, const int *in, double *work)
{
    const fw_menu *menu = d->menu;
    double key[FW_PLAN_ROWS];
    d->n = 0;
    for (int i = 0; i < used; i++) {
        memcpy(work, d->p + (size_t)in[i] * (size_t)menu->npoints,
               (size_t)menu->npoints * sizeof *work);
        menu_project(menu, d->power, work);
        double size = p->t[in[i]] * menu_dot(menu, work, d->v->mean);
        int k = d->n++;
        for (; k > 0 && key[k - 1] < size; k--) {
            key[k] = key[k - 1];
            d->stroke[k] = d->stroke[k - 1];
            d->hours[k] = d->hours[k - 1];
        }
        key[k] = size;
        d->stroke[k] = in[i];
        d->hours[k] = p->t[in[i]];
    }
}

fw_status draft_choose(draft *d, int most, double hours, fw_error *err)
{
    const fw_menu *menu = d->menu;
    int n = menu->npoints, used = 0;
    int inner = menu->flat.bore_mm > 0 || !menu->line ? menu->nangles : 0;
    double *factor = fw_alloc((size_t)n, sizeof *factor);
    int *in = fw_alloc((size_t)d->nseen, sizeof *in);
    equations p;
    fw_status status = equations_init(&p, d, err);
    if (!status && !(factor && in))
        status = fw_out_of_memory(err);
    for (int i = 0; i < n && !status; i++)
        factor[i] = i < inner || i >= n - menu->nangles ? ENDS : 1;
    for (int pass = 0; pass <= PASSES && !status; pass++) {
        menu_release(&d->weighed);
        d->weighed = (fw_menu){0};
        if ((status = menu_reweigh(menu, factor, &d->weighed, err)))
            break;
        equations_pose(&p);
        status = solve(&p, most, hours, in, &used, err);
        if (!status)
            sharpen(d, &p, p.work, factor);
    }
    if (!status)
        take_over(d, &p, used, in, p.work);
    equations_release(&p);
    fw_free(factor);
    fw_free(in);
    return status;
}

void draft_release(draft *d)
{
    menu_release(&d->weighed);
    fw_free(d->seen);
    fw_free(d->p);
    *d = (draft){0};
}

fw_status draft_new(fw_menu *menu, const fw_habit *habit, const view *v, bool power,
                    draft *out, fw_error *err)
{
    size_t n = (size_t)menu->npoints, s = (size_t)menu->nstrokes;
    draft d = {.menu = menu,
               .habit = habit,
               .v = v,
               .power = power,
               .seen = fw_alloc(s, sizeof(int)),
               .p = fw_alloc(n * s, sizeof(double))};
    if (!d.seen || !d.p) {
        draft_release(&d);
        return fw_out_of_memory(err);
    }
    fw_status status = FW_OK;
    for (int j = 0; j < menu->nstrokes && !status; j++) {
        const double *mean = habit->mean + (size_t)menu->strokes[j].method * MODES;
        if (!is_seen(v, menu, &menu->strokes[j]) || (status = menu_tabulate(menu, j, err)))
            continue;
        believed(menu, j, mean, d.p + (size_t)d.nseen * n);
        d.seen[d.nseen++] = j;
    }
    if (status)
        draft_release(&d);
    else
        *out = d;
    return status;
}
