/* equations.c - the normal equations of a plan's strokes, made column by column as they are needed. */
#include "shop/equations.h"

#include <assert.h>
#include <math.h>
#include <string.h>

#include "adjust/linalg.h"
#include "flatwright/alloc.h"

#define GLASS_WORTH 0.025 /* of the figure's rms: a nanometre of glass all over is not for nothing */
#define TINY 1e-9         /* of the diagonal: like strokes stay apart */

enum { MODES = FW_HABIT_MODES, N = FW_HABIT_SIZE };

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

/* Terms that are no figure: piston and tilts, and power where it does no harm. */
static int free_terms(const draft *d)
{
    return d->power ? d->menu->nfree : d->menu->nfree - 1;
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
    double mixed[MODES * FW_MENU_FREE];
    int nfree = free_terms(d), n = menu->nangles;
    int from = menu->first[d->seen[j]], end = menu->end[d->seen[j]];
    for (int ring = from; ring < end; ring++) {
        int first = ring * n;
        for (int i = 0; i < n; i++)
            share[i] = menu->weight[first + i] * unit[first + i];
        for (int f = 0; f < nfree; f++)
            on[ring + f * FW_MENU_RADII] = fw_dot(n, share, 1, menu->free + first + f * menu->npoints);
        sum += fw_dot(n, share, 1, unit + first) * square_of(root, modes + ring * MODES);
    }
    fw_gemm(0, 0, MODES, nfree, end - from, 1, modes + from * MODES, MODES, on + from,
            FW_MENU_RADII, 0, mixed, MODES);
    for (int f = 0; f < nfree; f++)
        sum -= square_of(root, mixed + f * MODES);
    return fmax(sum, 0);
}

void equations_pose(equations *p)
{
    const draft *d = p->d;
    const fw_menu *menu = &d->weighed;
    int n = menu->npoints, s = p->n;
    memcpy(p->work, d->v->mean, (size_t)n * sizeof *p->work);
    menu_project(menu, d->power, p->work);
    p->square = menu_dot(menu, p->work, p->work);
    for (int i = 0; i < n; i++)
        p->work[i] = menu->weight[i] * (p->work[i] - GLASS_WORTH * sqrt(p->square));
    fw_dots(n, s, d->p, n, p->work, p->b);
    for (int f = 0; f < free_terms(d); f++) {
        for (int i = 0; i < n; i++)
            p->work[i] = menu->weight[i] * menu->free[i + f * n];
        fw_dots(n, s, d->p, n, p->work, p->on + (size_t)f * (size_t)s);
    }
    memset(p->made, 0, (size_t)s * sizeof *p->made);
}

const double *equations_column(void *context, int j)
{
    equations *p = context;
    const draft *d = p->d;
    const fw_menu *menu = &d->weighed;
    double *g = p->g + (size_t)j * (size_t)p->n;
    int place = d->seen[j], from = menu->first[place] * menu->nangles;
    int points = menu->end[place] * menu->nangles - from;
    const double *one = d->p + (size_t)j * (size_t)menu->npoints + from;
    if (p->made[j])
        return g;
    for (int i = 0; i < points; i++)
        p->work[i] = menu->weight[from + i] * one[i];
    fw_dots(points, p->n, d->p + from, menu->npoints, p->work, g);
    for (int f = 0; f < free_terms(d); f++) {
        const double *on = p->on + (size_t)f * (size_t)p->n;
        fw_add(p->n, -on[j], on, 1, g);
    }
    g[j] += error_of(d, menu, j, p->root[menu->strokes[place].method]);
    g[j] *= 1 + TINY;
    p->made[j] = true;
    return g;
}

fw_status equations_init(equations *p, const draft *d, fw_error *err)
{
    size_t n = (size_t)d->nseen;
    *p = (equations){.d = d,
                     .n = d->nseen,
                     .g = fw_alloc(n * n, sizeof *p->g),
                     .made = fw_alloc(n, sizeof *p->made),
                     .b = fw_alloc(n, sizeof *p->b),
                     .c = fw_alloc(n, sizeof *p->c),
                     .on = fw_alloc(n * FW_MENU_FREE, sizeof *p->on),
                     .t = fw_alloc(n, sizeof *p->t),
                     .work = fw_alloc((size_t)d->menu->npoints, sizeof *p->work)};
    assert(n > 0); /* full strokes are always seen */
    if (!p->g || !p->made || !p->b || !p->c || !p->on || !p->t || !p->work)
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

void equations_release(equations *p)
{
    fw_free(p->g);
    fw_free(p->made);
    fw_free(p->b);
    fw_free(p->c);
    fw_free(p->on);
    fw_free(p->t);
    fw_free(p->work);
}
