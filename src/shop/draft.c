/* draft.c - times t >= 0 over the menu that leave the least expected square of the figure. */
#include "shop/draft.h"

#include <assert.h>
#include <float.h>
#include <math.h>
#include <string.h>

#include "adjust/linalg.h"
#include "flatwright/alloc.h"
#include "flatwright/nnls.h"

#define HOUR_WORTH 0.02 /* of the figure's mean square: an hour that brings less is too long */
#define GLASS_WORTH 0.025 /* of the figure's rms: a nanometre of glass all over is not for nothing */
#define DEARER 1.5      /* the price of an hour goes up so, until the time is enough */
#define TINY 1e-9       /* of the mean of the diagonal: like strokes stay apart */
#define THINNED 0.7     /* of the strokes are kept while there are too many */
#define ENDS 3.0        /* PV counts the middle and the rim of the aperture, however small */
#define FLOOR 0.5       /* weight that every place keeps */

enum { PASSES = 2, MODES = FW_HABIT_MODES, N = FW_HABIT_SIZE };

/* The problem at one set of weights, n strokes: least t'Gt - 2 b't + 2 price sum t, t >= 0. */
typedef struct problem {
    int n;
    double *g, *b; /* n x n, n; b less the price of the glass */
    double square; /* of the figure, weighted */
    double *t;     /* n: the solution */
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
    double t[MODES];
    for (int ring = 0; ring < menu->nradii; ring++) {
        double factor = 0;
        fw_habit_modes(&menu->strokes[j], &menu->flat, menu->r_mm[ring * menu->nangles], t);
        for (int q = 0; q < MODES; q++)
            factor += c[q] * t[q];
        for (int i = ring * menu->nangles; i < (ring + 1) * menu->nangles; i++)
            v[i] = fmax(factor, 0) * unit[i];
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

/* Sums over a ring: square of weight unit^2, on[f] of weight unit free[f]. */
static void sum_ring(const fw_menu *menu, const double *unit, int ring, int nfree, double *square,
                     double on[FW_MENU_FREE])
{
    int first = ring * menu->nangles;
    *square = 0;
    memset(on, 0, FW_MENU_FREE * sizeof *on);
    for (int i = first; i < first + menu->nangles; i++) {
        double share = menu->weight[i] * unit[i];
        *square += share * unit[i];
        for (int f = 0; f < nfree; f++)
            on[f] += share * menu->free[i + f * menu->npoints];
    }
}

/*
 * Mean square on the datum of an hour's error, each stroke's by itself: of the parts that the
 * columns of the root make of it. A part is a factor a ring times the unit removal.
 */
static double error_of(const draft *d, const fw_menu *menu, int j, const double root[])
{
    const double *unit = menu->unit + (size_t)d->seen[j] * (size_t)menu->npoints;
    double sum = 0, on[MODES][FW_MENU_FREE] = {{0}}, t[MODES];
    int nfree = d->power ? menu->nfree : menu->nfree - 1;
    for (int ring = 0; ring < menu->nradii; ring++) {
        double square, free[FW_MENU_FREE];
        fw_habit_modes(&menu->strokes[d->seen[j]], &menu->flat, menu->r_mm[ring * menu->nangles], t);
        sum_ring(menu, unit, ring, nfree, &square, free);
        for (int k = 0; k < MODES; k++) {
            double factor = 0;
            for (int q = k; q < MODES; q++)
                factor += root[q + k * MODES] * t[q];
            sum += factor * factor * square;
            for (int f = 0; f < nfree; f++)
                on[k][f] += factor * free[f];
        }
    }
    for (int k = 0; k < MODES; k++)
        for (int f = 0; f < nfree; f++)
            sum -= on[k][f] * on[k][f];
    return fmax(sum, 0);
}

static void project_weighted(const fw_menu *menu, bool power, double *v)
{
    menu_project(menu, power, v);
    for (int i = 0; i < menu->npoints; i++)
        v[i] *= sqrt(menu->weight[i]);
}

/* The problem under the weights of `menu`; a: npoints x (nseen + 1), work. */
static fw_status pose(const draft *d, const fw_menu *menu, double *a, problem *p, fw_error *err)
{
    int n = menu->npoints, s = d->nseen;
    double *h = a + (size_t)s * (size_t)n, root[MODES * MODES] = {0};
    fw_method method = FW_OTHER;
    memcpy(a, d->p, (size_t)n * (size_t)s * sizeof *a);
    memcpy(h, d->v->mean, (size_t)n * sizeof *h);
    for (int j = 0; j <= s; j++)
        project_weighted(menu, d->power, a + (size_t)j * (size_t)n);
    p->n = s;
    p->square = fw_dot(n, h, 1, h);
    double glass = GLASS_WORTH * sqrt(p->square);
    memset(p->g, 0, (size_t)s * (size_t)s * sizeof *p->g);
    fw_gram(s, n, a, n, p->g, s);
    for (int j = 0; j < s; j++)
        for (int i = j + 1; i < s; i++)
            p->g[i + j * s] = p->g[j + i * s];
    fw_gemm(1, 0, s, 1, n, 1, a, n, h, n, 0, p->b, s);
    fw_gemm(1, 0, s, 1, n, -glass, d->p, n, menu->weight, n, 1, p->b, s);
    for (int j = 0; j < s; j++) {
        const fw_stroke *stroke = &menu->strokes[d->seen[j]];
        if (stroke->method != method) {
            fw_status status = unknown_part(d->habit, method = stroke->method, root, err);
            if (status)
                return status;
        }
        p->g[j * (s + 1)] += error_of(d, menu, j, root);
    }
    return FW_OK;
}

/* The strokes in[0 .. n) at a price: with G = R'R it is least |R t - R^-T (b - price)|. */
static fw_status solve_at(const problem *p, int n, const int *in, double price, fw_error *err)
{
    memset(p->t, 0, (size_t)p->n * sizeof *p->t);
    assert(n > 0); /* full strokes are always seen */
    double *r = fw_alloc((size_t)n * (size_t)n, sizeof *r), *c = fw_alloc((size_t)n, sizeof *c);
    double *t = fw_alloc((size_t)n, sizeof *t), mean = 0;
    fw_status status = r && c && t ? FW_OK : fw_out_of_memory(err);
    if (!status) {
        for (int i = 0; i < n; i++) {
            c[i] = p->b[in[i]] - price;
            mean += p->g[in[i] * (p->n + 1)] / n;
            for (int k = 0; k <= i; k++)
                r[k + i * n] = p->g[in[k] + in[i] * p->n];
        }
        for (int i = 0; i < n; i++)
            r[i * (n + 1)] += TINY * mean;
        status = fw_cholesky(n, r, err);
    }
    if (!status) {
        fw_upper_solve_transposed(n, 1, r, n, c, n);
        status = fw_nnls(n, n, 0, r, c, t, NULL, NULL, err);
    }
    for (int i = 0; i < n && !status; i++)
        p->t[in[i]] = t[i];
    fw_free(r);
    fw_free(c);
    fw_free(t);
    return status;
}

/* in[] <- the strokes with time, those with the most effect first. Returns how many. */
static int sort_used(const problem *p, int *in)
{
    int used = 0;
    for (int j = 0; j < p->n; j++) {
        int k = used;
        if (!(p->t[j] > 0))
            continue;
        double size = p->t[j] * p->t[j] * p->g[j * (p->n + 1)];
        for (; k > 0 && p->t[in[k - 1]] * p->t[in[k - 1]] * p->g[in[k - 1] * (p->n + 1)] < size; k--)
            in[k] = in[k - 1];
        in[k] = j;
        used++;
    }
    return used;
}

/* Dearer hours until the time is enough; fewer strokes until there are no more than `most`. */
static fw_status solve(const problem *p, int most, double hours, int *in, int *used, fw_error *err)
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

fw_status draft_choose(draft *d, int most, double hours, fw_error *err)
{
    const fw_menu *menu = d->menu;
    size_t n = (size_t)menu->npoints, s = (size_t)d->nseen;
    int inner = menu->flat.bore_mm > 0 || !menu->line ? menu->nangles : 0, used = 0;
    problem p = {.g = fw_alloc(s * s, sizeof(double)),
                 .b = fw_alloc(s, sizeof(double)),
                 .t = fw_alloc(s, sizeof(double))};
    double *a = fw_alloc(n * (s + 1), sizeof *a), *factor = fw_alloc(n, sizeof *factor);
    int *in = fw_alloc(s, sizeof *in);
    fw_status status = p.g && p.b && p.t && a && factor && in ? FW_OK : fw_out_of_memory(err);
    for (int i = 0; i < (int)n && !status; i++)
        factor[i] = i < inner || i >= (int)n - menu->nangles ? ENDS : 1;
    for (int pass = 0; pass <= PASSES && !status; pass++) {
        menu_release(&d->weighed);
        d->weighed = (fw_menu){0};
        if ((status = menu_reweigh(menu, factor, &d->weighed, err)))
            break;
        status = pose(d, &d->weighed, a, &p, err);
        if (!status)
            status = solve(&p, most, hours, in, &used, err);
        if (!status)
            sharpen(d, &p, a, factor);
    }
    if (!status)
        take_over(d, &p, used, in, a);
    fw_free(p.g);
    fw_free(p.b);
    fw_free(p.t);
    fw_free(a);
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

fw_status draft_new(const fw_menu *menu, const fw_habit *habit, const view *v, bool power,
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
    for (int j = 0; j < menu->nstrokes; j++)
        if (is_seen(v, menu, &menu->strokes[j])) {
            const double *mean = habit->mean + (size_t)menu->strokes[j].method * MODES;
            believed(menu, j, mean, d.p + (size_t)d.nseen * n);
            d.seen[d.nseen++] = j;
        }
    *out = d;
    return FW_OK;
}
