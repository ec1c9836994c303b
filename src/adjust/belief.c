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
    double *vectors; /* n x n: G U */
    double *l, *b;   /* n */
    double total;    /* rms of a figure at tau = 1 */
} shape;

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
    fw_status status;
    double *g = fw_alloc(n, sizeof *g), *rg = fw_alloc((size_t)n * n, sizeof *rg);
    double *a = fw_alloc((size_t)n * n, sizeof *a), *gb = fw_alloc(n, sizeof *gb);
    out->l = fw_alloc(n, sizeof(double));
    out->b = fw_alloc(n, sizeof(double));
    if (!g || !rg || !a || !gb || !out->l || !out->b) {
        status = fw_fail(err, FW_SYSTEM, "out of memory");
        goto done;
    }
    for (int k = 0; k < n; k++) {
        g[k] = prior_sd(s, k, which);
        double rms = s->basis->line ? g[k] / sqrt(2.0 * s->basis->terms[s->used[k]].n + 1) : g[k];
        out->total += rms * rms;
        for (int i = 0; i <= k; i++)
            rg[i + (size_t)k * n] = s->r[i + (size_t)k * n] * g[k];
    }
    out->total = sqrt(out->total);
    fw_gemm(1, 0, n, n, n, 1 / variance, rg, n, rg, n, 0, a, n);
    fw_gemm(1, 0, n, 1, n, 1 / variance, rg, n, s->z, n, 0, gb, n);
    if ((status = fw_eigen_symmetric(n, a, out->l, err)))
        goto done;
    fw_gemm(1, 0, n, 1, n, 1, a, n, gb, n, 0, out->b, n);
    for (int k = 0; k < n; k++)
        for (int i = 0; i < n; i++)
            a[i + (size_t)k * n] *= g[i];
    out->vectors = a;
    a = NULL;
done:
    fw_free(g);
    fw_free(rg);
    fw_free(a);
    fw_free(gb);
    return status;
}

static double log_evidence(int n, const shape *p, double tau)
{
    double sum = 0, t2 = tau * tau;
    for (int i = 0; i < n; i++) {
        double l = p->l[i] > 0 ? p->l[i] : 0;
        sum += t2 * p->b[i] * p->b[i] / (1 + t2 * l) - log1p(t2 * l);
    }
    return sum / 2;
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

/* Draws of one shape at the sizes that fell to it: c = tau G U w. */
static fw_status draw_shape(const smooth *s, const shape *p, int count, const double *tau, double dof,
                            gsl_rng *rng, double *c, fw_error *err)
{
    int n = s->nused, ld = s->basis->nterms;
    double *w = fw_alloc((size_t)n * count, sizeof *w), *x = fw_alloc((size_t)n * count, sizeof *x);
    if (!w || !x) {
        fw_free(w);
        fw_free(x);
        return fw_fail(err, FW_SYSTEM, "out of memory");
    }
    for (int k = 0; k < count; k++) {
        double stretch = dof > 0 ? sqrt(dof / gsl_ran_chisq(rng, dof)) : 1, t = tau[k];
        for (int i = 0; i < n; i++) {
            double weight = 1 + t * t * (p->l[i] > 0 ? p->l[i] : 0);
            w[i + (size_t)k * n] = t * (t * p->b[i] / weight +
                                        stretch * gsl_ran_gaussian_ziggurat(rng, 1 / sqrt(weight)));
        }
    }
    fw_gemm(0, 0, n, count, n, 1, p->vectors, n, w, n, 0, x, n);
    for (int k = 0; k < count; k++)
        for (int i = 0; i < n; i++)
            c[s->used[i] + (size_t)k * ld] = x[i + (size_t)k * n];
    fw_free(w);
    fw_free(x);
    return FW_OK;
}

/* Shares the draws among the cells of the grid by evidence, in proportion and without chance. */
static void share_draws(const double log_weight[SHAPES * SIZES], int count, int share[SHAPES * SIZES])
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

fw_status belief_draw(const smooth *s, double variance, double dof, double least_nm, int count, gsl_rng *rng,
                      double *c, fw_error *err)
{
    shape shapes[SHAPES] = {{0}};
    double size[SIZES], log_weight[SHAPES * SIZES];
    int share[SHAPES * SIZES], done = 0;
    fw_status status = FW_OK;
    double *tau = fw_alloc(count, sizeof *tau);
    if (!tau)
        return fw_fail(err, FW_SYSTEM, "out of memory");
    memset(c, 0, (size_t)s->basis->nterms * count * sizeof *c);
    sizes(s, least_nm, size);
    for (int i = 0; i < SHAPES && !status; i++) {
        status = shape_new(s, variance, i, &shapes[i], err);
        for (int k = 0; k < SIZES && !status; k++)
            log_weight[i * SIZES + k] = log_evidence(s->nused, &shapes[i], size[k] / shapes[i].total) + log(BELIEF[i % NRATIOS] * size[k] * size[k]);
    }
    if (!status)
        share_draws(log_weight, count, share);
    for (int i = 0; i < SHAPES && !status; i++) {
        int n = 0;
        for (int k = 0; k < SIZES; k++)
            for (int q = 0; q < share[i * SIZES + k]; q++)
                tau[n++] = size[k] / shapes[i].total;
        if (n)
            status = draw_shape(s, &shapes[i], n, tau, dof, rng, c + (size_t)done * s->basis->nterms, err);
        done += n;
    }
    for (int i = 0; i < SHAPES; i++) {
        fw_free(shapes[i].vectors);
        fw_free(shapes[i].l);
        fw_free(shapes[i].b);
    }
    fw_free(tau);
    return status;
}
