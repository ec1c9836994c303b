/* snoop.c - readings that do not fit the others, and how large an error could hide in each. */
#include "snoop.h"

#include <math.h>
#include <string.h>

#include "flatwright/alloc.h"
#include "flatwright/stats.h"
#include "linalg.h"
#include "terms_root.h"

static const double LEVEL_ONE = 0.001, LEVEL_ALL = 0.05, POWER = 0.8;
/* A redundancy number below this is rounding: no other reading checks this one. */
static const double UNCHECKED = 1e-9;
/* Standardised residuals closer than this part are equal. */
static const double TIE = 1e-6;

/* Redundancy numbers of a class: r = r0 + rho (r1 + rho r2), one a row. */
typedef struct redundancy {
    double *r0, *r1, *r2;
} redundancy;

/* What the spread of the terms takes from the redundancy of the rows of a class. */
typedef struct reach {
    int m, columns;
    double *b, *bx; /* n x nterms, n x columns */
    double *e[2];   /* columns x m: X' T_power' M of every row */
} reach;

static void reach_release(reach *w)
{
    fw_free(w->b);
    fw_free(w->bx);
    fw_free(w->e[0]);
    fw_free(w->e[1]);
}

static fw_status reach_init(const adjustment *a, const factor *f, int powers, reach *w,
                            fw_error *err)
{
    size_t m = (size_t)f->blocks[0].m, n = (size_t)f->blocks[0].n;
    size_t columns = (size_t)a->terms.rank;
    *w = (reach){.m = f->blocks[0].m, .columns = a->terms.rank};
    w->b = fw_alloc(n * (size_t)a->net->nterms, sizeof(double));
    w->bx = fw_alloc(n * columns, sizeof(double));
    w->e[0] = fw_alloc(m * columns, sizeof(double));
    w->e[1] = powers > 1 ? fw_alloc(m * columns, sizeof(double)) : NULL;
    return w->b && w->bx && w->e[0] && (w->e[1] || powers == 1) ? FW_OK : fw_out_of_memory(err);
}

/*
 * e (columns x m) += X' (M (factor0 T0 + factor1 T1))' of one block; M = I - H G, so M T = T + H B with
 * B = -G T: two rows of B, or of B X, for every row of M T.
 */
static void add_reach(const adjustment *a, const net_class *class, const factor *f, int b,
                      const double factor_of[2], reach *w, double *e)
{
    const fw_net *net = a->net;
    const block *k = &f->blocks[b];
    int n = k->n, nt = net->nterms, nc = w->columns, index[2];
    double value[2];
    memset(w->b, 0, (size_t)n * nt * sizeof *w->b);
    memset(w->bx, 0, (size_t)n * nc * sizeof *w->bx);
    for (int power = 0; power < 2; power++)
        if (factor_of[power] != 0)
            block_add_terms(net, class, f, b, power, n, k->g, n, -factor_of[power], 0, w->b, n);
    bool together = a->terms.nranges == 1;
    for (int r = 0; r < (together ? 1 : 2); r++) /* T0 has pistons only, T1 tilts */
        if (together || factor_of[r] != 0)
            terms_root_times(&a->terms, r, n, w->b + a->terms.range[r].first * (size_t)n, n,
                             w->bx + a->terms.roots[r].first, nc);
    for (int i = 0; i < k->m; i++) {
        double *to = e + (size_t)i * nc;
        for (int side = 2 * i; side < 2 * i + 2; side++)
            fw_add(nc, k->entry[side], w->bx + (size_t)k->column[side] * nc, 1, to);
        for (int power = 0; power < 2; power++) {
            int entries = block_term_entries(net, class, f, b, power, i, index, value);
            for (int q = 0; q < entries && factor_of[power] != 0; q++)
                terms_root_add(&a->terms, index[q], factor_of[power] * value[q], to);
        }
    }
}

/* M's diagonal: 1 - (H G)_ii. */
static double kept(const block *k, int i)
{
    const double *g = k->g + (size_t)i * k->n;
    return 1 - k->entry[2 * i] * g[k->column[2 * i]] -
           k->entry[2 * i + 1] * g[k->column[2 * i + 1]];
}

/*
 * r = diag(M) - diag(M T C T' M), C = X X'. Of a paired class the rows are (even + odd) / sqrt 2 and
 * (even - odd) / sqrt 2; the even block has only T0, the odd one only T1. Of a single ring that is not
 * paired rho is put in, for half the work.
 */
static fw_status redundancy_of(adjustment *a, const net_class *class, const factor *f,
                               redundancy *r, fw_error *err)
{
    bool pair = f->nblocks == 2, single = !pair && class->nrings == 1;
    double rho = a->net->ring_mm[class->rings[0]] / a->net->rmax_mm;
    const double all[2] = {1, rho}, only[2][2] = {{1, 0}, {0, 1}};
    reach w;
    fw_status status = reach_init(a, f, single ? 1 : 2, &w, err);
    for (int b = 0; b < f->nblocks && !status; b++)
        for (int power = 0; power < (single ? 1 : 2); power++)
            if (single || (power ? f->blocks[b].tilts : f->blocks[b].pistons))
                add_reach(a, class, f, b, single ? all : only[power], &w, w.e[power]);
    for (int i = 0; i < w.m && !status; i++) {
        const double *e0 = w.e[0] + (size_t)i * w.columns;
        const double *e1 = single ? NULL : w.e[1] + (size_t)i * w.columns;
        double share = pair ? 0.5 : 1, own = kept(&f->blocks[0], i);
        own += pair ? kept(&f->blocks[1], i) : 0;
        for (int half = 0; half < f->nblocks; half++) {
            int row = block_row(f, i) + half;
            r->r0[row] = share * (own - fw_dot(w.columns, e0, 1, e0));
            r->r1[row] = e1 ? -share * (half ? -2 : 2) * fw_dot(w.columns, e0, 1, e1) : 0;
            r->r2[row] = e1 ? -share * fw_dot(w.columns, e1, 1, e1) : 0;
        }
    }
    reach_release(&w);
    return status;
}

/* Keeps the largest residual and those equal to it. */
static void offer(snoop *s, snoop_hit hit)
{
    double most = s->nhits ? s->hits[0].standardised : 0;
    if (hit.standardised < most * (1 - TIE))
        return;
    if (hit.standardised > most * (1 + TIE)) {
        s->nhits = 0;
        s->ntied = 0;
    }
    s->ntied++;
    if (s->nhits < SNOOP_TIES)
        s->hits[s->nhits++] = hit;
}

void snoop_take(snoop *s, size_t reading, double red, double residual, double weight, double sd)
{
    if (red < UNCHECKED) {
        s->unchecked++;
        return;
    }
    double mdb = s->shift * sd / weight / sqrt(red);
    s->checked++;
    if (!(mdb <= s->worst_mdb_nm))
        s->worst_mdb_nm = mdb;
    offer(s, (snoop_hit){.reading = reading,
                         .standardised = sd > 0 ? fabs(residual) / (sd * sqrt(red)) : 0,
                         .error_nm = residual / red / weight,
                         .mdb_nm = mdb});
}

static void test_rings(const adjustment *a, const net_class *class, const redundancy *r, double sd,
                       snoop *s)
{
    const fw_net *net = a->net;
    for (int k = 0; k < class->nrings; k++) {
        int ring = class->rings[k];
        size_t first = net->ring_first[ring];
        double rho = net->ring_mm[ring] / net->rmax_mm;
        for (int i = 0; i < class->nrows; i++) {
            double red = r->r0[i] + rho * (r->r1[i] + rho * r->r2[i]);
            snoop_take(s, net->ring_reading[first + (size_t)i], red,
                       a->residual[first + (size_t)i], class->rows[i].weight, sd);
        }
    }
}

static fw_status snoop_class(adjustment *a, int c, double sd, snoop *s, fw_error *err)
{
    const net_class *class = &a->net->classes[c];
    size_t n = (size_t) class->nrows;
    factor *f = NULL;
    redundancy r = {fw_alloc(n, sizeof(double)), fw_alloc(n, sizeof(double)),
                    fw_alloc(n, sizeof(double))};
    fw_status status = factors_get(&a->store, c, &f, err);
    if (!status && (!r.r0 || !r.r1 || !r.r2))
        status = fw_out_of_memory(err);
    if (!status && !(status = redundancy_of(a, class, f, &r, err)))
        test_rings(a, class, &r, sd, s);
    factors_put(&a->store, c, f);
    fw_free(r.r0);
    fw_free(r.r1);
    fw_free(r.r2);
    return status;
}

/* The shift of w, or of what it is where sigma is estimated, that is found with the power asked for. */
static double shift_of(const adjustment *a, double level)
{
    double dof = (double)a->redundancy - 1;
    if (a->net->sigma_known)
        return fw_baarda_shift(level, POWER);
    if (dof < 1)
        return NAN;
    double c = fw_student_quantile(1 - level / 2, dof);
    return c * (1 - 1 / (4 * dof)) + fw_normal_quantile(POWER) * sqrt(1 + c * c / (2 * dof));
}

double snoop_start(const adjustment *a, snoop *s)
{
    double n = (double)a->net->nreadings, level = fmin(LEVEL_ONE, LEVEL_ALL / fmax(n, 1));
    /* The stated sigma is tested against as stated; Birge's ratio would hide what it came from. */
    double sd = a->net->sigma_known ? 1 : a->sigma0;
    *s = (snoop){.worst_mdb_nm = NAN};
    s->critical = a->net->sigma_known ? fw_baarda_critical(level)
                                      : fw_tau_critical(level, (double)a->redundancy);
    s->shift = shift_of(a, level);
    if (isnan(sd))
        s->critical = NAN;
    return sd;
}

void snoop_end(snoop *s)
{
    if (isnan(s->critical) || (s->nhits && s->hits[0].standardised <= s->critical))
        s->nhits = 0;
}

fw_status snoop_all(adjustment *a, snoop *out, fw_error *err)
{
    snoop s;
    double sd = snoop_start(a, &s);
    for (int c = 0; c < a->net->nclasses; c++) {
        fw_status status = snoop_class(a, c, sd, &s, err);
        if (status)
            return status;
    }
    snoop_end(&s);
    *out = s;
    return FW_OK;
}
