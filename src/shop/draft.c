/* draft.c - times t >= 0 over the menu that leave the least expected square of the figure. */
#include "shop/draft.h"

#include <assert.h>
#include <float.h>
#include <math.h>
#include <string.h>

#include "adjust/linalg.h"
#include "adjust/nnls_normal.h"
#include "flatwright/alloc.h"

#define HOUR_WORTH 0.02 /* of the figure's mean square: an hour that brings less is too long */
#define GLASS_WORTH 0.025 /* of the figure's rms: a nanometre of glass all over is not for nothing */
#define DEARER 1.5      /* the price of an hour goes up so, until the time is enough */
#define TINY 1e-9       /* of the diagonal: like strokes stay apart */
#define THINNED 0.7     /* of the strokes are kept while there are too many */
#define ENDS 3.0        /* PV counts the middle and the rim of the aperture, however small */
#define FLOOR 0.5       /* weight that every place keeps */

enum { PASSES = 2, MODES = FW_HABIT_MODES, N = FW_HABIT_SIZE };

/*
 * The problem at one set of weights, n strokes: least t'Gt - 2 b't + 2 price sum t, t >= 0. Few
 * strokes ever come into question, so a column of G is made when its stroke does.
 */
typedef struct problem {
    const draft *d; /* its weights: d->weighed */
    int n;
    double *g;     /* n x n */
    bool *made;    /* n: columns of g */
    double *b, *c; /* n; b less the price of the glass, c less that of the hours */
    double square; /* of the figure, weighted */
    double *t;     /* n: the solution */
    double *work;  /* npoints */
    double root[FW_HABIT_METHODS][MODES * MODES]; /* of what is not known of an hour, by method */
} problem;

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

/*
 * Root of what is not known of an hour's removal, rate and shape, lower triangle: the learned part
 * and, mode by mode, what no learning takes away.
 */
static fw_status unknown_part(const fw_habit *habit, fw_method method, double root[MODES * MODES],
                              fw_error *err)
{
    int first = (int)method * MODES;
    double rate = habit->mean[first], sum = 0;
    for (int q = 1; q < MODES; q++)
        sum += 1.0 / q / q;
    for (int q = 0; q < MODES; q++)
        for (int k = 0; k < MODES; k++)
            root[q + k * MODES] = habit->cov[first + q + (first + k) * N];
    for (int q = 1; q < MODES; q++)
        root[q * (MODES + 1)] += pow(PLAN_UNLEARNED * rate / q, 2) / sum;
    root[0] += TINY * rate * rate;
    fw_status status = fw_cholesky(MODES, root, err);
    for (int q = 0; q < MODES && !status; q++) /* upper R, R'R: its transpose is the root */
        for (int k = 0; k < q; k++) {
            root[q + k * MODES] = root[k + q * MODES];
            root[k + q * MODES] = 0;
        }
    return status;
}

/* |root' v|^2, root a lower triangle. */
static double square_of(const double root[MODES * MODES], const double v[MODES])
{
    double sum = 0;
    for (int k = 0; k < MODES; k++) {
        double part = 0;
        for (int q = k; q < MODES; q++)
            part += root[q + k * MODES] * v[q];
        sum += part * part;
    }
    return sum;
}

/*
 * Mean square on the datum of an hour's error, each stroke's by itself: of the parts that the
 * columns of the root make of it. A part is a factor a ring, root' T, times the unit removal.
 */
static double error_of(const draft *d, const fw_menu *menu, int j, const double root[MODES * MODES])
{
    const double *unit = menu->unit + (size_t)d->seen[j] * (size_t)menu->npoints;
    const double *modes = menu->modes + (size_t)d->seen[j] * MODES * (size_t)menu->nradii;
    double sum = 0, share[FW_MENU_ANGLES], on[FW_MENU_RADII * FW_MENU_FREE];
    double free[MODES * FW_MENU_FREE];
    int nfree = d->power ? menu->nfree : menu->nfree - 1, n = menu->nangles;
    for (int ring = 0; ring < menu->nradii; ring++) {
        int first = ring * n;
        for (int i = 0; i < n; i++)
            share[i] = menu->weight[first + i] * unit[first + i];
        for (int f = 0; f < nfree; f++)
            on[ring + f * FW_MENU_RADII] = fw_dot(n, share, 1, menu->free + first + f * menu->npoints);
        sum += fw_dot(n, share, 1, unit + first) * square_of(root, modes + ring * MODES);
    }
    fw_gemm(0, 0, MODES, nfree, menu->nradii, 1, modes, MODES, on, FW_MENU_RADII, 0, free, MODES);
    for (int f = 0; f < nfree; f++)
        sum -= square_of(root, free + f * MODES);
    return fmax(sum, 0);
}

/* v <- its part on the datum, times the weights: inner products with it are on the datum. */
static void project_weighted(const fw_menu *menu, bool power, double *v)
{
    menu_project(menu, power, v);
    for (int i = 0; i < menu->npoints; i++)
        v[i] *= menu->weight[i];
}

/* The problem under the weights, without a column of G. */
static void pose(problem *p)
{
    const fw_menu *menu = &p->d->weighed;
    int n = menu->npoints;
    memcpy(p->work, p->d->v->mean, (size_t)n * sizeof *p->work);
    project_weighted(menu, p->d->power, p->work);
    p->square = fw_dot(n, p->work, 1, p->d->v->mean);
    for (int i = 0; i < n; i++)
        p->work[i] -= GLASS_WORTH * sqrt(p->square) * menu->weight[i];
    fw_dots(n, p->n, p->d->p, p->work, p->b);
    memset(p->made, 0, (size_t)p->n * sizeof *p->made);
}

/* Column j of G: inner products with stroke j, and its own error. A normal_column. */
static const double *column(void *context, int j)
{
    problem *p = context;
    const fw_menu *menu = &p->d->weighed;
    double *g = p->g + (size_t)j * (size_t)p->n;
    int n = menu->npoints;
    if (p->made[j])
        return g;
    memcpy(p->work, p->d->p + (size_t)j * (size_t)n, (size_t)n * sizeof *p->work);
    project_weighted(menu, p->d->power, p->work);
    fw_dots(n, p->n, p->d->p, p->work, g);
    g[j] += error_of(p->d, menu, j, p->root[menu->strokes[p->d->seen[j]].method]);
    g[j] *= 1 + TINY;
    p->made[j] = true;
    return g;
}

/* The strokes in[0 .. n) at a price, from the times of before; the others get none. */
static fw_status solve_at(problem *p, int n, const int *in, double price, fw_error *err)
{
    for (int j = 0; j < p->n; j++)
        p->c[j] = -INFINITY;
    for (int i = 0; i < n; i++)
        p->c[in[i]] = p->b[in[i]] - price;
    for (int j = 0; j < p->n; j++)
        p->t[j] = isfinite(p->c[j]) ? p->t[j] : 0;
    return nnls_normal(p->n, p->c, column, p, p->t, err);
}

/* Mean square of what a stroke takes off in its time. */
static double effect(const problem *p, int j)
{
    return p->t[j] * p->t[j] * p->g[j * (p->n + 1)];
}

/* in[] <- the strokes with time, those with the most effect first. Returns how many. */
static int sort_used(const problem *p, int *in)
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
static fw_status solve(problem *p, int most, double hours, int *in, int *used, fw_error *err)
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
static void sharpen(const draft *d, const problem *p, double *left, double *factor)
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
static void take_over(draft *d, const problem *p, int used, const int *in, double *work)
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

static fw_status problem_init(problem *p, const draft *d, fw_error *err)
{
    size_t n = (size_t)d->nseen;
    *p = (problem){.d = d,
                   .n = d->nseen,
                   .g = fw_alloc(n * n, sizeof *p->g),
                   .made = fw_alloc(n, sizeof *p->made),
                   .b = fw_alloc(n, sizeof *p->b),
                   .c = fw_alloc(n, sizeof *p->c),
                   .t = fw_alloc(n, sizeof *p->t),
                   .work = fw_alloc((size_t)d->menu->npoints, sizeof *p->work)};
    assert(n > 0); /* full strokes are always seen */
    if (!p->g || !p->made || !p->b || !p->c || !p->t || !p->work)
        return fw_out_of_memory(err);
    fw_status status = FW_OK;
    int before = -1;
    for (int j = 0; j < d->nseen && !status; j++) {
        fw_method method = d->menu->strokes[d->seen[j]].method;
        if ((int)method != before)
            status = unknown_part(d->habit, method, p->root[method], err);
        before = (int)method;
    }
    return status;
}

static void problem_release(problem *p)
{
    fw_free(p->g);
    fw_free(p->made);
    fw_free(p->b);
    fw_free(p->c);
    fw_free(p->t);
    fw_free(p->work);
}

fw_status draft_choose(draft *d, int most, double hours, fw_error *err)
{
    const fw_menu *menu = d->menu;
    int n = menu->npoints, used = 0;
    int inner = menu->flat.bore_mm > 0 || !menu->line ? menu->nangles : 0;
    double *factor = fw_alloc((size_t)n, sizeof *factor);
    int *in = fw_alloc((size_t)d->nseen, sizeof *in);
    problem p;
    fw_status status = problem_init(&p, d, err);
    if (!status && !(factor && in))
        status = fw_out_of_memory(err);
    for (int i = 0; i < n && !status; i++)
        factor[i] = i < inner || i >= n - menu->nangles ? ENDS : 1;
    for (int pass = 0; pass <= PASSES && !status; pass++) {
        menu_release(&d->weighed);
        d->weighed = (fw_menu){0};
        if ((status = menu_reweigh(menu, factor, &d->weighed, err)))
            break;
        pose(&p);
        status = solve(&p, most, hours, in, &used, err);
        if (!status)
            sharpen(d, &p, p.work, factor);
    }
    if (!status)
        take_over(d, &p, used, in, p.work);
    problem_release(&p);
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
