/* belief.c - what can be believed of a smooth figure: its joint distribution, noise discounted. */
#include "belief.h"

#include <gsl/gsl_randist.h>
#include <math.h>
#include <string.h>

#include "flatwright/alloc.h"
#include "linalg.h"

static const double DECAYS[] = {0.5, 1.5};
static const double RATIOS[] = {1, 0.3, 0.1};
/* Rough figures are believed more readily than smooth ones: to call a flat good takes more. */
static const double BELIEF[] = {3, 2, 1};
enum { NDECAYS = 2, NRATIOS = 3, SHAPES = NDECAYS * NRATIOS, SIZES = 14 };

/* One shape of the prior, with everything that does not depend on its size. */
typedef struct shape {
    double *g;    /* n: G, the standard deviations at tau = 1 */
    double *a;    /* n x n: G R'R G / s^2 */
    double *b;    /* n: G R'z / s^2 */
    double total; /* rms of a figure at tau = 1 */
} shape;

struct belief {
    const smooth *s;
    double variance;
    shape shapes[SHAPES];
    double size[SIZES], log_weight[SHAPES * SIZES];
};

static double prior_sd(const smooth *s, int k, int which)
{
    struct fw_term term = s->basis->terms[s->used[k]];
    double ratio = s->basis->line || term.m == 0 ? 1 : RATIOS[which % NRATIOS];
    double rms = s->basis->line ? sqrt(2.0 * term.n + 1) : 1; /* P_n to rms 1 on the line */
    return rms * ratio * pow(term.n / 2.0, -DECAYS[which / NRATIOS]);
}

static fw_status shape_new(const smooth *s, double variance, int which, shape *out, fw_error *err)
{
    int n = s->nused;
    double *g = out->g = fw_alloc(n, sizeof *g), *rg = fw_alloc((size_t)n * n, sizeof *rg);
    out->a = fw_alloc((size_t)n * n, sizeof *out->a);
    out->b = fw_alloc(n, sizeof *out->b);
    if (!g || !rg || !out->a || !out->b) {
        fw_free(rg);
        return fw_out_of_memory(err);
    }
    for (int k = 0; k < n; k++) {
        g[k] = prior_sd(s, k, which);
        double rms = s->basis->line ? g[k] / sqrt(2.0 * s->basis->terms[s->used[k]].n + 1) : g[k];
        out->total += rms * rms;
        for (int i = 0; i <= k; i++)
            rg[i + (size_t)k * n] = s->r[i + (size_t)k * n] * g[k];
    }
    out->total = sqrt(out->total);
    fw_gemm(1, 0, n, n, n, 1 / variance, rg, n, rg, n, 0, out->a, n);
    fw_gemm(1, 0, n, 1, n, 1 / variance, rg, n, s->z, n, 0, out->b, n);
    fw_free(rg);
    return FW_OK;
}

/* log evidence = -log det R + |tau b R^-1|^2 / 2 with R'R = I + tau^2 A; work is n x (n + 1). */
static fw_status log_evidence(int n, const shape *p, double tau, double *work, double *out,
                              fw_error *err)
{
    double *m = work, *y = work + (size_t)n * n;
    for (int k = 0; k < n; k++) {
        for (int i = 0; i <= k; i++)
            m[i + (size_t)k * n] = tau * tau * p->a[i + (size_t)k * n] + (i == k);
        y[k] = tau * p->b[k];
    }
    fw_status status = fw_cholesky(n, m, err);
    if (status)
        return status;
    fw_upper_solve_right(1, n, m, n, y, 1);
    *out = 0;
    for (int k = 0; k < n; k++)
        *out += y[k] * y[k] / 2 - log(m[k + (size_t)k * n]);
    return FW_OK;
}

/* Sizes of the prior, as rms of a figure in nm: from the least believed to well above the fit's. */
static void sizes(const smooth *s, double least, double size[SIZES])
{
    double c2 = 0, top;
    double c[1024];
    int n = s->nused < 1024 ? s->nused : 1024;
    smooth_solve(s, n, c);
    for (int k = 0; k < n; k++)
        c2 += c[k] * c[k];
    top = fmax(4 * sqrt(c2), 100 * least);
    for (int k = 0; k < SIZES; k++)
        size[k] = least * pow(top / least, (double)k / (SIZES - 1));
}

/*
 * The believed distribution of one cell of the grid: U and y of the triangle that
 *     R / s         z / s
 *     1 / (tau G)   0
 * leaves; coefficients are U^-1 (y + e), e of unit variance. The diagonal is made positive, so that
 * the draws do not hang on the order of the readings. u is n x n, y is n.
 */
static fw_status cell_triangle(const smooth *s, const shape *p, double tau, double variance,
                               double *u, double *y, fw_error *err)
{
    int n = s->nused, m = 2 * n;
    double sd = sqrt(variance), *a = fw_alloc((size_t)m * (n + 1), sizeof *a);
    if (!a)
        return fw_out_of_memory(err);
    for (int k = 0; k < n; k++) {
        for (int i = 0; i <= k; i++)
            a[i + (size_t)k * m] = s->r[i + (size_t)k * n] / sd;
        a[n + k + (size_t)k * m] = 1 / (tau * p->g[k]);
        a[k + (size_t)n * m] = s->z[k] / sd;
    }
    fw_status status = fw_qr_reduce(m, n + 1, a, m, err);
    for (int i = 0; i < n && !status; i++) {
        double sign = a[i + (size_t)i * m] < 0 ? -1 : 1;
        for (int k = 0; k < n; k++)
            u[i + (size_t)k * n] = sign * a[i + (size_t)k * m];
        y[i] = sign * a[i + (size_t)n * m];
    }
    fw_free(a);
    return status;
}

/* Draws of one cell; every draw takes its numbers in turn, whichever cell it falls to. */
static fw_status draw_cell(const smooth *s, const shape *p, double tau, double variance, double dof,
                           int count, gsl_rng *rng, double *c, fw_error *err)
{
    int n = s->nused, ld = s->basis->nterms;
    double *u = fw_alloc((size_t)n * n, sizeof *u), *y = fw_alloc(n, sizeof *y);
    double *x = fw_alloc((size_t)n * count, sizeof *x);
    fw_status status = u && y && x ? FW_OK : fw_out_of_memory(err);
    if (status || (status = cell_triangle(s, p, tau, variance, u, y, err)))
        goto done;
    for (int k = 0; k < count; k++) {
        double *e = x + (size_t)k * n;
        if (k % 2) { /* every draw is followed by its mirror image: the mean settles sooner */
            for (int i = 0; i < n; i++)
                e[i] = 2 * y[i] - e[i - n];
            continue;
        }
        double stretch = dof > 0 ? sqrt(dof / gsl_ran_chisq(rng, dof)) : 1;
        for (int i = 0; i < n; i++)
            e[i] = y[i] + stretch * gsl_ran_gaussian_ziggurat(rng, 1);
    }
    fw_upper_solve(n, count, u, n, x, n);
    for (int k = 0; k < count; k++)
        for (int i = 0; i < n; i++)
            c[s->used[i] + (size_t)k * ld] = x[i + (size_t)k * n];
done:
    fw_free(u);
    fw_free(y);
    fw_free(x);
    return status;
}

/* Shares the draws among the cells of the grid by evidence, in proportion and without chance. */
static void share_draws(const double log_weight[SHAPES * SIZES], int count,
                        int share[SHAPES * SIZES])
{
    double most = -INFINITY, sum = 0, passed = 0;
    int done = 0;
    for (int i = 0; i < SHAPES * SIZES; i++)
        most = fmax(most, log_weight[i]);
    for (int i = 0; i < SHAPES * SIZES; i++)
        sum += exp(log_weight[i] - most);
    for (int i = 0; i < SHAPES * SIZES; i++) {
        passed += exp(log_weight[i] - most) / sum;
        int until = i == SHAPES * SIZES - 1 ? count : (int)(passed * count + 0.5);
        share[i] = until - done;
        done = until;
    }
}

fw_status belief_new(const smooth *s, double variance, double least_nm, belief **out, fw_error *err)
{
    fw_status status = FW_OK;
    belief *b = fw_alloc(1, sizeof *b);
    double *work = fw_alloc((size_t)s->nused * (s->nused + 1), sizeof *work);
    if (!b || !work) {
        fw_free(b);
        fw_free(work);
        return fw_out_of_memory(err);
    }
    *b = (belief){.s = s, .variance = variance};
    if (s->nused)
        sizes(s, least_nm, b->size);
    for (int i = 0; i < SHAPES && s->nused && !status; i++) {
        const shape *p = &b->shapes[i];
        status = shape_new(s, variance, i, &b->shapes[i], err);
        for (int k = 0; k < SIZES && !status; k++) {
            double *w = &b->log_weight[i * SIZES + k];
            if (!(status = log_evidence(s->nused, p, b->size[k] / p->total, work, w, err)))
                *w += log(BELIEF[i % NRATIOS] * b->size[k] * b->size[k]);
        }
    }
    fw_free(work);
    if (status)
        belief_free(b);
    else
        *out = b;
    return status;
}

void belief_free(belief *b)
{
    for (int i = 0; b && i < SHAPES; i++) {
        fw_free(b->shapes[i].g);
        fw_free(b->shapes[i].a);
        fw_free(b->shapes[i].b);
    }
    fw_free(b);
}

fw_status belief_take(const belief *b, double dof, int count, gsl_rng *rng, double *c,
                      fw_error *err)
{
    const smooth *s = b->s;
    int share[SHAPES * SIZES], done = 0;
    fw_status status = FW_OK;
    memset(c, 0, (size_t)s->basis->nterms * count * sizeof *c);
    if (s->nused == 0) /* no term to believe anything of */
        return FW_OK;
    share_draws(b->log_weight, count, share);
    for (int i = 0; i < SHAPES * SIZES && !status; i++) {
        const shape *p = &b->shapes[i / SIZES];
        if (share[i] > 0)
            status = draw_cell(s, p, b->size[i % SIZES] / p->total, b->variance, dof, share[i], rng,
                               c + (size_t)done * s->basis->nterms, err);
        done += share[i];
    }
    return status;
}

fw_status belief_draw(const smooth *s, double variance, double dof, double least_nm, int count,
                      gsl_rng *rng, double *c, fw_error *err)
{
    belief *b = NULL;
    fw_status status = belief_new(s, variance, least_nm, &b, err);
    if (!status)
        status = belief_take(b, dof, count, rng, c, err);
    belief_free(b);
    return status;
}
