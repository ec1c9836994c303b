/* snoop.c - readings that do not fit the others, and how large an error could hide in each. */
#include "snoop.h"

#include <math.h>
#include <string.h>

#include "flatwright/alloc.h"
#include "flatwright/stats.h"
#include "linalg.h"

static const double LEVEL_ONE = 0.001, LEVEL_ALL = 0.05, POWER = 0.8;
/* A redundancy number below this is rounding: no other reading checks this one. */
static const double UNCHECKED = 1e-9;
/* Standardised residuals closer than this part are equal. */
static const double TIE = 1e-6;

/* Redundancy numbers of a class: r = r0 + rho (r1 + rho r2), one a row. */
typedef struct redundancy {
    double *r0, *r1, *r2;
} redundancy;

/* e_power (m x nterms) += M T_power of one block, M = I - H G; its diagonal to `diagonal`. */
static fw_status reach_of_block(const fw_net *net, const net_class *class, const factor *f, int b,
                                double *e0, double *e1, double *diagonal, fw_error *err)
{
    const block *k = &f->blocks[b];
    int m = k->m;
    double *maker = fw_alloc((size_t)m * m, sizeof *maker);
    if (!maker)
        return fw_out_of_memory(err);
    for (int i = 0; i < m; i++)
        maker[i + (size_t)i * m] = 1;
    fw_gemm(0, 0, m, m, k->n, -1, k->h, m, k->g, k->n, 1, maker, m);
    for (int i = 0; i < m; i++)
        diagonal[i] = maker[i + (size_t)i * m];
    block_add_terms(net, class, f, b, 0, m, maker, m, 1, 0, e0, m);
    block_add_terms(net, class, f, b, 1, m, maker, m, 1, 0, e1, m);
    fw_free(maker);
    return FW_OK;
}

/*
 * r = diag(M) - diag(M T C T' M). Of a paired class the rows are (even + odd) / sqrt 2 and
 * (even - odd) / sqrt 2; the even block has only T0, the odd one only T1.
 */
static fw_status redundancy_of(adjustment *a, const net_class *class, const factor *f,
                               redundancy *r, fw_error *err)
{
    const fw_net *net = a->net;
    int m = f->blocks[0].m, nt = net->nterms;
    size_t size = (size_t)m * nt;
    fw_status status = FW_OK;
    double *e = fw_alloc(2 * size, sizeof *e), *c = fw_alloc(2 * size, sizeof *c);
    double *diagonal = fw_alloc(2 * (size_t)m, sizeof *diagonal);
    if (!e || !c || !diagonal)
        status = fw_out_of_memory(err);
    for (int b = 0; b < f->nblocks && !status; b++)
        status = reach_of_block(net, class, f, b, e, e + size, diagonal + (size_t)b * m, err);
    if (status)
        goto done;
    fw_gemm(0, 1, nt, m, nt, 1, a->terms.cov, nt, e, m, 0, c, nt);
    fw_gemm(0, 1, nt, m, nt, 1, a->terms.cov, nt, e + size, m, 0, c + size, nt);
    for (int i = 0; i < m; i++) {
        double q00 = fw_dot(nt, e + i, m, c + (size_t)i * nt),
               q01 = fw_dot(nt, e + size + i, m, c + (size_t)i * nt);
        double q11 = fw_dot(nt, e + size + i, m, c + size + (size_t)i * nt);
        for (int half = 0; half < f->nblocks; half++) {
            int row = block_row(f, i) + half;
            double share = f->nblocks == 2 ? 0.5 : 1, sign = half ? -1 : 1;
            r->r0[row] = share * (diagonal[i] + (f->nblocks == 2 ? diagonal[m + i] : 0) - q00);
            r->r1[row] = -share * sign * 2 * q01;
            r->r2[row] = -share * q11;
        }
    }
done:
    fw_free(e);
    fw_free(c);
    fw_free(diagonal);
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
            if (red < UNCHECKED) {
                s->unchecked++;
                continue;
            }
            double root = sqrt(red), residual = a->residual[first + (size_t)i];
            double sigma = sd / class->rows[i].weight, mdb = s->shift * sigma / root;
            s->checked++;
            if (!(mdb <= s->worst_mdb_nm))
                s->worst_mdb_nm = mdb;
            offer(s, (snoop_hit){.reading = net->ring_reading[first + (size_t)i],
                                 .standardised = sd > 0 ? fabs(residual) / (sd * root) : 0,
                                 .error_nm = residual / red / class->rows[i].weight,
                                 .mdb_nm = mdb});
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

fw_status snoop_all(adjustment *a, snoop *out, fw_error *err)
{
    snoop s = {.worst_mdb_nm = NAN};
    double n = (double)a->net->nreadings, level = fmin(LEVEL_ONE, LEVEL_ALL / fmax(n, 1));
    /* The stated sigma is tested against as stated; Birge's ratio would hide what it came from. */
    double sd = a->net->sigma_known ? 1 : a->sigma0;
    s.critical = a->net->sigma_known ? fw_baarda_critical(level)
                                     : fw_tau_critical(level, (double)a->redundancy);
    s.shift = shift_of(a, level);
    if (isnan(sd))
        s.critical = NAN;
    for (int c = 0; c < a->net->nclasses; c++) {
        fw_status status = snoop_class(a, c, sd, &s, err);
        if (status)
            return status;
    }
    if (isnan(s.critical) || (s.nhits && s.hits[0].standardised <= s.critical))
        s.nhits = 0;
    *out = s;
    return FW_OK;
}
