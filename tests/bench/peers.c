/* peers.c - the same equations by ours and by dense and sparse least squares of others, timed. */
#include <cholmod.h>
#include <gsl/gsl_errno.h>
#include <gsl/gsl_multifit.h>
#include <lapacke.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <SuiteSparseQR_C.h>
#include <time.h>

#include "adjust/net.h"
#include "adjust/profile.h"
#include "flatwright.h"

/* Weighted readings over all unknowns: heights ring by ring, then the terms; four entries a row. */
typedef struct equations {
    size_t m, n;
    int *first;  /* m + 1: rows begin here */
    int *column; /* entries */
    double *value, *y;
} equations;

static void add(equations *e, size_t *at, size_t column, double value)
{
    e->column[*at] = (int)column;
    e->value[(*at)++] = value;
}

static void fill(equations *e, const fw_net *net)
{
    size_t row = 0, at = 0, terms = net->ring_height[net->nrings];
    for (int r = 0; r < net->nrings; r++) {
        const net_class *class = &net->classes[net->ring_class[r]];
        double rho = net->ring_mm[r] / net->rmax_mm;
        for (int i = 0; i < class->nrows; i++, row++) {
            const net_row *k = &class->rows[i];
            const net_scan *scan = &net->scans[k->scan];
            e->first[row] = (int)at;
            for (int side = 0; side < 2; side++)
                add(e, &at, net->ring_height[r] + (size_t)k->column[side], k->weight);
            add(e, &at, terms + (size_t)scan->piston, k->weight);
            for (int q = 0; q < scan->ntilt; q++)
                add(e, &at, terms + (size_t)scan->tilt[q],
                    k->weight * rho * k->sign * scan->tilt_coef[q]);
            e->y[row] = k->weight *
                        net->job->readings[net->ring_reading[net->ring_first[r] + (size_t)i]]
                            .deviation_nm;
        }
    }
    e->first[row] = (int)at;
}

/* NULL: it cannot be read. */
static fw_job *job_of(const char *folder)
{
    fw_error err;
    fw_faults faults = {0};
    fw_job *job = NULL;
    if (fw_job_read(folder, &job, &faults, &err))
        fprintf(stderr, "peers: %s\n", err.text);
    fw_faults_release(&faults);
    return job;
}

static int assemble(const char *folder, equations *e)
{
    fw_error err;
    fw_job *job = job_of(folder);
    fw_net *net = NULL;
    if (!job || net_new(job, 0, NULL, &net, &err))
        return 1;
    e->m = net->nreadings;
    e->n = net->ring_height[net->nrings] + (size_t)net->nterms;
    e->first = calloc(e->m + 1, sizeof *e->first);
    e->column = calloc(5 * e->m, sizeof *e->column);
    e->value = calloc(5 * e->m, sizeof *e->value);
    e->y = calloc(e->m, sizeof *e->y);
    if (!e->first || !e->column || !e->value || !e->y)
        return 1;
    fill(e, net);
    net_free(net);
    fw_job_free(job);
    return 0;
}

static double now(void)
{
    struct timespec t;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

/* Point solution, least-squares basic, by multifrontal sparse QR. */
static double by_spqr(const equations *e)
{
    cholmod_common c;
    cholmod_l_start(&c);
    cholmod_triplet *t = cholmod_l_allocate_triplet(e->m, e->n, 5 * e->m, 0, CHOLMOD_REAL, &c);
    cholmod_dense *y = cholmod_l_allocate_dense(e->m, 1, e->m, CHOLMOD_REAL, &c);
    if (!t || !y)
        return NAN;
    for (size_t i = 0; i < e->m; i++)
        for (int k = e->first[i]; k < e->first[i + 1]; k++) {
            ((SuiteSparse_long *)t->i)[t->nnz] = (SuiteSparse_long)i;
            ((SuiteSparse_long *)t->j)[t->nnz] = e->column[k];
            ((double *)t->x)[t->nnz++] = e->value[k];
        }
    memcpy(y->x, e->y, e->m * sizeof *e->y);
    cholmod_sparse *a = cholmod_l_triplet_to_sparse(t, 0, &c);
    double start = now();
    cholmod_dense *x = SuiteSparseQR_C_backslash_default(a, y, &c);
    double seconds = x ? now() - start : NAN;
    cholmod_l_free_triplet(&t, &c);
    cholmod_l_free_sparse(&a, &c);
    cholmod_l_free_dense(&y, &c);
    cholmod_l_free_dense(&x, &c);
    cholmod_l_finish(&c);
    return seconds;
}

/* Least-norm solution by complete orthogonal factorisation, as a dense matrix. */
static double by_lapack(const equations *e)
{
    int rank, m = (int)e->m, n = (int)e->n;
    double *a = calloc(e->m * e->n, sizeof *a), *b = calloc(e->m > e->n ? e->m : e->n, sizeof *b);
    lapack_int *pivot = calloc(e->n, sizeof *pivot);
    if (!a || !b || !pivot)
        return NAN;
    for (size_t i = 0; i < e->m; i++)
        for (int k = e->first[i]; k < e->first[i + 1]; k++)
            a[i + (size_t)e->column[k] * e->m] += e->value[k];
    memcpy(b, e->y, e->m * sizeof *b);
    double start = now();
    int info = LAPACKE_dgelsy(LAPACK_COL_MAJOR, m, n, 1, a, m, b, m > n ? m : n, pivot, 1e-11,
                              &rank);
    double seconds = info ? NAN : now() - start;
    free(a);
    free(b);
    free(pivot);
    return seconds;
}

/* With the covariance, by singular values, as a dense matrix. */
static double by_gsl(const equations *e)
{
    size_t rank;
    double chi;
    gsl_set_error_handler_off();
    gsl_matrix *a = gsl_matrix_calloc(e->m, e->n), *cov = gsl_matrix_alloc(e->n, e->n);
    gsl_vector *b = gsl_vector_alloc(e->m), *x = gsl_vector_alloc(e->n);
    gsl_multifit_linear_workspace *work = gsl_multifit_linear_alloc(e->m, e->n);
    if (!a || !cov || !b || !x || !work)
        return NAN;
    for (size_t i = 0; i < e->m; i++) {
        gsl_vector_set(b, i, e->y[i]);
        for (int k = e->first[i]; k < e->first[i + 1]; k++)
            *gsl_matrix_ptr(a, i, (size_t)e->column[k]) += e->value[k];
    }
    double start = now();
    int info = gsl_multifit_linear_tsvd(a, b, 1e-11, x, cov, &chi, &rank, work);
    double seconds = info ? NAN : now() - start;
    gsl_matrix_free(a);
    gsl_matrix_free(cov);
    gsl_vector_free(b);
    gsl_vector_free(x);
    gsl_multifit_linear_free(work);
    return seconds;
}

/* Ours, from the readings on: the equations too, and every height with its uncertainty. */
static double by_rings(const char *folder)
{
    fw_error err;
    fw_job *job = job_of(folder);
    adjustment *a = NULL;
    if (!job)
        return NAN;
    double start = now();
    int status = adjustment_new(job, 0, NULL, &a, &err);
    for (int face = 0; !status && face < a->net->nfaces; face++) {
        fw_profile profile = {0};
        status = profile_new(a, (contrast){face, -1}, &profile, &err);
        profile_release(&profile);
    }
    double seconds = status ? NAN : now() - start;
    adjustment_free(a);
    fw_job_free(job);
    return seconds;
}

/* The ranking of all pairings that could be read next, of a solved job. */
static double by_ranking(const char *folder)
{
    fw_error err;
    fw_job *job = job_of(folder);
    fw_result *result = NULL;
    fw_next *next = NULL;
    if (!job || fw_solve(job, NULL, &result, &err))
        return NAN;
    double start = now();
    double seconds = fw_next_pairing(result, &next, &err) ? NAN : now() - start;
    fw_next_free(next);
    fw_result_free(result);
    fw_job_free(job);
    return seconds;
}

/* The matrix for a program that reads it: m, n, entries; then first, column, value, y. */
static int write_out(const equations *e)
{
    size_t head[3] = {e->m, e->n, (size_t)e->first[e->m]};
    return fwrite(head, sizeof head, 1, stdout) != 1 ||
           fwrite(e->first, sizeof *e->first, e->m + 1, stdout) != e->m + 1 ||
           fwrite(e->column, sizeof *e->column, head[2], stdout) != head[2] ||
           fwrite(e->value, sizeof *e->value, head[2], stdout) != head[2] ||
           fwrite(e->y, sizeof *e->y, e->m, stdout) != e->m;
}

static double by_method(const char *method, const char *folder, const equations *e)
{
    return strcmp(method, "rings") == 0    ? by_rings(folder)
           : strcmp(method, "rank") == 0   ? by_ranking(folder)
           : strcmp(method, "spqr") == 0   ? by_spqr(e)
           : strcmp(method, "lapack") == 0 ? by_lapack(e)
                                           : by_gsl(e);
}

/* What is quick is timed when its code and memory are there: as often as this, the last time counts. */
static const double QUICK_S = 0.25;
enum { TIMES = 3 };

int main(int argc, char **argv)
{
    equations e = {0};
    double seconds = 0;
    if (argc != 3) {
        fprintf(stderr, "usage: peers rings|rank|spqr|lapack|gsl|write FOLDER\n");
        return 1;
    }
    bool ours = strcmp(argv[1], "rings") == 0 || strcmp(argv[1], "rank") == 0;
    if (!ours && assemble(argv[2], &e)) {
        fprintf(stderr, "peers: '%s' is no job\n", argv[2]);
        return 1;
    }
    if (strcmp(argv[1], "write") == 0)
        return write_out(&e);
    for (int i = 0; i < TIMES && seconds < QUICK_S; i++)
        seconds = by_method(argv[1], argv[2], &e);
    printf("%.6f\n", seconds);
    return 0;
}
