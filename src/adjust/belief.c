/* belief.c - what can be believed of a smooth figure: its joint distribution, noise discounted. */
#include "belief.h"

#include <gsl/gsl_randist.h>
#include <math.h>
#include <string.h>

#include "flatwright/alloc.h"
#include "linalg.h"

/* One thing that a shape of the prior may be, and how readily that is believed. */
typedef struct option {
    double value, belief;
} option;

/* Rough figures are believed more readily than smooth ones: to call a flat good takes more. */
static const option DECAYS[] = {{0.5, 1}, {1.5, 1}};
static const option RATIOS[] = {{1, 6}, {0.3, 2}, {0.1, 1}, {0.01, 1}};
static const option FINE[] = {{1, 1}, {0.1, 0.4}};
enum { NDECAYS = 2, NRATIOS = 4, NFINE = 2, SHAPES = NDECAYS * NRATIOS * NFINE, SIZES = 14 };
enum { COARSE = 3 }; /* power, saddle, coma, trefoil; what is above is fine */

/* One shape of the prior, with everything that does not depend on its size. */
typedef struct shape {
    double belief;
    double total;  /* rms of a figure at tau = 1 */
    double *g;     /* n: G, the standard deviations at tau = 1 */
    double *d, *e; /* n each: R G G R' / s^2 as a tridiagonal in other coordinates */
    double *x;     /* n: z / s in these */
} shape;

struct belief {
    const smooth *s;
    double variance;
    shape shapes[SHAPES];
    double size[SIZES], log_weight[SHAPES * SIZES];
};

/* out->g and what hangs on it. */
static void lay_prior(const smooth *s, int which, shape *out)
{
    bool line = s->basis->line;
    option ratio = RATIOS[which % NRATIOS], fine = FINE[which / NRATIOS % NFINE],
           decay = DECAYS[which / NRATIOS / NFINE];
    out->belief = ratio.belief * fine.belief * decay.belief;
    for (int k = 0; k < s->nused; k++) {
        struct fw_term term = s->basis->terms[s->used[k]];
        double rms = (line || term.m == 0 ? 1 : ratio.value) * (term.n > COARSE ? fine.value : 1) *
                     pow(term.n / 2.0, -decay.value);
        out->g[k] = line ? rms * sqrt(2.0 * term.n + 1) : rms; /* P_n to rms 1 on the line */
        out->total = hypot(out->total, rms);
    }
}

/* work: 2 n x n. */
static fw_status shape_new(const smooth *s, double variance, int which, double *work, shape *out,
                           fw_error *err)
{
    int n = s->nused;
    double *rg = work, *k = work + (size_t)n * n, sd = sqrt(variance);
    out->g = fw_alloc(4 * (size_t)n, sizeof *out->g);
    if (!out->g)
        return fw_out_of_memory(err);
    out->d = out->g + n;
    out->e = out->d + n;
    out->x = out->e + n;
    lay_prior(s, which, out);
    for (int j = 0; j < n; j++) {
        out->x[j] = s->z[j] / sd;
        for (int i = 0; i < n; i++)
            rg[i + (size_t)j * n] = s->r[i + (size_t)j * n] * out->g[j] / sd;
    }
    memset(k, 0, (size_t)n * n * sizeof *k);
    fw_gram_rows(n, n, rg, n, k, n);
    return fw_tridiagonal(n, k, out->d, out->e, out->x, err);
}

/* Of z, of covariance s^2 (I + tau^2 R G G R' / s^2). Pivots of I + P are 1 or more. */
static double log_evidence(int n, const shape *p, double tau)
{
    double sum = 0, pivot = 1, y = 0;
    for (int i = 0; i < n; i++) {
        double off = i ? tau * tau * p->e[i - 1] : 0, below = off / pivot;
        y = p->x[i] - below * y;
        pivot = fmax(1 + tau * tau * p->d[i] - below * off, 1);
        sum -= (log(pivot) + y * y / pivot) / 2;
    }
    return sum;
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
 * leaves; coefficients are U^-1 (y + e), e of unit variance. The diagonal is positive, so that the
 * draws do not hang on the order of the readings. u is n x n, y is n.
 */
static fw_status cell_triangle(const smooth *s, const shape *p, double tau, double variance,
                               double *u, double *y, fw_error *err)
{
    int n = s->nused, ncols = n + 1; /* y is the last column; rows are one after another */
    double sd = sqrt(variance), *a = fw_alloc((size_t)ncols * ncols, sizeof *a);
    if (!a)
        return fw_out_of_memory(err);
    double *w = a + (size_t)ncols * n;
    for (int i = 0; i < n; i++) {
        for (int k = i; k < n; k++)
            a[k + (size_t)i * ncols] = s->r[i + (size_t)k * n] / sd;
        a[n + (size_t)i * ncols] = s->z[i] / sd;
    }
    for (int k = 0; k < n; k++) {
        memset(w, 0, (size_t)ncols * sizeof *w);
        w[k] = 1 / (tau * p->g[k]);
        for (int i = k; i < n; i++) { /* what is below the diagonal goes, column by column */
            double *at = a + i + (size_t)i * ncols, length = hypot(*at, w[i]);
            fw_turn(ncols - i, *at / length, w[i] / length, at, w + i);
        }
    }
    for (int i = 0; i < n; i++) {
        for (int k = i; k < n; k++)
            u[i + (size_t)k * n] = a[k + (size_t)i * ncols];
        y[i] = a[n + (size_t)i * ncols];
    }
    fw_free(a);
    return FW_OK;
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
    int n = s->nused;
    belief *b = fw_alloc(1, sizeof *b);
    double *work = fw_alloc(2 * (size_t)n * n, sizeof *work);
    if (!b || !work) {
        fw_free(b);
        fw_free(work);
        return fw_out_of_memory(err);
    }
    *b = (belief){.s = s, .variance = variance};
    if (n)
        sizes(s, least_nm, b->size);
    for (int i = 0; i < SHAPES && n && !status; i++) {
        shape *p = &b->shapes[i];
        status = shape_new(s, variance, i, work, p, err);
        for (int k = 0; k < SIZES && !status; k++)
            b->log_weight[i * SIZES + k] = log_evidence(n, p, b->size[k] / p->total) +
                                           log(p->belief * b->size[k] * b->size[k]);
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
    for (int i = 0; b && i < SHAPES; i++)
        fw_free(b->shapes[i].g);
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
