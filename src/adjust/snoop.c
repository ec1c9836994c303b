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

/*
 * What the spread of the terms, C = X X', takes from the redundancy of the rows of a block: X' T' M of
 * every row, T = factor0 T0 + factor1 T1. With M = I - H G and B = -G T, M T = T + H B: for every row
 * two of B.
 */
typedef struct reach {
    int block, range, columns; /* range: of the terms, that which T sees */
    double factor_of[2];
    double *bx; /* columns x heights: X'B' */
    double *e;  /* columns: of the row it was asked for last */
} reach;

static void reach_release(reach *w)
{
    fw_free(w->bx);
    fw_free(w->e);
}

static fw_status reach_init(const adjustment *a, const net_class *class, const factor *f, reach *w,
                            fw_error *err)
{
    const block *k = &f->blocks[w->block];
    term_range range = a->terms.range[w->range];
    size_t n = (size_t)k->n;
    double *b = fw_alloc(n * (size_t)range.count, sizeof *b), *work = fw_alloc(n, sizeof *work);
    w->columns = a->terms.roots[w->range].count;
    w->bx = fw_alloc(n * (size_t)w->columns, sizeof *w->bx);
    w->e = fw_alloc(w->columns, sizeof *w->e);
    fw_status status = b && work && w->bx && w->e ? FW_OK : fw_out_of_memory(err);
    for (int i = 0; i < k->m && !status; i++) {
        const double *g = block_column(k, i, work);
        for (int power = 0; power < 2; power++) {
            int index[2];
            double value[2];
            int entries = block_term_entries(a->net, class, f, w->block, power, i, index, value);
            for (int q = 0; q < entries && w->factor_of[power] != 0; q++)
                fw_add(k->n, -w->factor_of[power] * value[q], g, 1,
                       b + (size_t)(index[q] - range.first) * n);
        }
    }
    if (!status && !(status = terms_turn(&a->terms, w->range, k->n, b, err)))
        terms_root_times(&a->terms, w->range, k->n, b, k->n, w->bx, w->columns);
    fw_free(b);
    fw_free(work);
    return status;
}

/* e <- of row i. */
static void reach_row(const adjustment *a, const net_class *class, const factor *f, int i, reach *w)
{
    const block *k = &f->blocks[w->block];
    int index[2];
    double value[2];
    memset(w->e, 0, (size_t)w->columns * sizeof *w->e);
    for (int side = 2 * i; side < 2 * i + 2; side++)
        fw_add(w->columns, k->entry[side], w->bx + (size_t)k->column[side] * w->columns, 1, w->e);
    for (int power = 0; power < 2; power++) {
        int entries = block_term_entries(a->net, class, f, w->block, power, i, index, value);
        for (int q = 0; q < entries && w->factor_of[power] != 0; q++)
            terms_root_add(&a->terms, w->range, index[q], w->factor_of[power] * value[q], w->e);
    }
}

/* M's diagonal. */
static double kept(const block *k, int i)
{
    return 1 - block_leverage(k, i);
}

/*
 * r = diag(M) - diag(M T C T' M). Of a paired class the rows are (even + odd) / sqrt 2 and
 * (even - odd) / sqrt 2; the even block has only T0, the odd one only T1. Of a single ring that is not
 * paired rho is put in, for half the work.
 */
static fw_status redundancy_of(adjustment *a, const net_class *class, const factor *f,
                               redundancy *r, fw_error *err)
{
    bool pair = f->nblocks == 2, single = !pair && class->nrings == 1;
    double rho = a->net->ring_mm[class->rings[0]] / a->net->rmax_mm;
    bool apart = a->terms.nranges == 2; /* T0 has pistons only, T1 tilts */
    reach w0 = {.block = 0, .range = 0, .factor_of = {1, single && !apart ? rho : 0}};
    reach w1 = {.block = pair, .range = apart, .factor_of = {0, 1}};
    fw_status status = reach_init(a, class, f, &w0, err);
    if (!status && !single)
        status = reach_init(a, class, f, &w1, err);
    for (int i = 0; i < f->blocks[0].m && !status; i++) {
        double share = pair ? 0.5 : 1, own = kept(&f->blocks[0], i);
        own += pair ? kept(&f->blocks[1], i) : 0;
        reach_row(a, class, f, i, &w0);
        if (!single)
            reach_row(a, class, f, i, &w1);
        for (int half = 0; half < f->nblocks; half++) {
            int row = block_row(f, i) + half;
            r->r0[row] = share * (own - fw_dot(w0.columns, w0.e, 1, w0.e));
            r->r1[row] = single || apart ? 0
                                         : -share * (half ? -2 : 2) *
                                               fw_dot(w0.columns, w0.e, 1, w1.e);
            r->r2[row] = single ? 0 : -share * fw_dot(w1.columns, w1.e, 1, w1.e);
        }
    }
    reach_release(&w0);
    reach_release(&w1);
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
