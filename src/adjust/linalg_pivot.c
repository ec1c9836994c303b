/* linalg_pivot.c - QR with column pivoting: rank, solution and null space where rank may lack. */
#include <cblas.h>
#include <lapacke.h>
#include <math.h>
#include <stdbool.h>
#include <string.h>

#include "flatwright/alloc.h"
#include "linalg.h"
#include "linalg_parts.h"

static void scale_columns(int m, int n, double *a, const double *length, double *scale)
{
    for (int j = 0; j < n; j++) {
        double norm = length ? length[j] : cblas_dnrm2(m, a + (size_t)j * m, 1);
        scale[j] = norm > 0 ? 1 / norm : 1;
        for (int i = 0; i < m; i++)
            a[i + (size_t)j * m] *= scale[j];
    }
}

static int numerical_rank(const fw_qr *qr, double tolerance)
{
    int rank = 0, k = qr->m < qr->n ? qr->m : qr->n;
    while (rank < k && fabs(qr->a[rank + (size_t)rank * qr->m]) > tolerance)
        rank++;
    return rank;
}

static fw_status factor_in_place(fw_qr *qr, fw_error *err)
{
    int m = qr->m, n = qr->n;
    double want;
    fw_status status = linalg_status(
        LAPACKE_dgeqp3_work(LAPACK_COL_MAJOR, m, n, qr->a, m, qr->perm, qr->tau, &want, -1),
        "dgeqp3", err);
    if (status)
        return status;
    double *work = fw_alloc((size_t)want, sizeof *work);
    if (!work)
        return fw_out_of_memory(err);
    status = linalg_status(LAPACKE_dgeqp3_work(LAPACK_COL_MAJOR, m, n, qr->a, m, qr->perm, qr->tau,
                                               work, (lapack_int)want),
                           "dgeqp3", err);
    fw_free(work);
    for (int j = 0; j < n; j++)
        qr->perm[j]--;
    return status;
}

fw_status fw_qr_factor(fw_qr *qr, int m, int n, const double *a, const double *length,
                       double tolerance, fw_error *err)
{
    size_t size = (size_t)m * n;
    int k = m < n ? m : n;
    *qr = (fw_qr){.m = m, .n = n};
    fw_status status = fw_linalg_ready(err);
    if (status)
        return status;
    qr->a = fw_alloc(size, sizeof *qr->a);
    qr->tau = fw_alloc(k, sizeof *qr->tau);
    qr->perm = fw_alloc(n, sizeof *qr->perm);
    qr->scale = fw_alloc(n, sizeof *qr->scale);
    if (!qr->a || !qr->tau || !qr->perm || !qr->scale)
        status = fw_out_of_memory(err);
    else if (!linalg_finite(size, a))
        status = fw_fail(err, FW_SYSTEM, "a number in the equations is not finite");
    else {
        memcpy(qr->a, a, size * sizeof *a);
        scale_columns(m, n, qr->a, length, qr->scale);
        for (int j = 0; j < n && k == 0; j++)
            qr->perm[j] = j;
        if (k > 0)
            status = factor_in_place(qr, err);
        qr->rank = numerical_rank(qr, tolerance > 0 ? tolerance : FW_RANK_TOLERANCE);
    }
    if (status)
        fw_qr_release(qr);
    return status;
}

/* In columns of unit length: the square of a pivot that is nothing but rounding, a column. */
static const double ROUNDING = 2e-15;

/* The largest diagonal of what the leading `rank` rows of R leave of a matrix with ones there. */
static double most_left(const fw_qr *qr, const double *diagonal)
{
    double most = 0;
    for (int j = qr->rank; j < qr->n; j++) {
        const double *r = qr->a + (size_t)j * qr->n;
        most = fmax(most, diagonal[qr->perm[j]] - cblas_ddot(qr->rank, r, 1, r, 1));
    }
    return most;
}

fw_status fw_qr_of_gram(fw_qr *qr, int n, const double *gram, const double *length, double least,
                        int whole, bool *good, fw_error *err)
{
    size_t size = (size_t)n * n;
    *good = false;
    *qr = (fw_qr){.m = n, .n = n};
    fw_status status = fw_linalg_ready(err);
    if (status)
        return status;
    double *work = fw_alloc(2 * (size_t)n, sizeof *work);
    double *diagonal = fw_alloc(n, sizeof *diagonal);
    qr->a = fw_alloc(size, sizeof *qr->a);
    qr->tau = fw_alloc(n, sizeof *qr->tau);
    qr->perm = fw_alloc(n, sizeof *qr->perm);
    qr->scale = fw_alloc(n, sizeof *qr->scale);
    if (!work || !diagonal || !qr->a || !qr->tau || !qr->perm || !qr->scale) {
        status = fw_out_of_memory(err);
        goto done;
    }
    for (int j = 0; j < n; j++)
        qr->scale[j] = length[j] > 0 ? 1 / length[j] : 1;
    for (int j = 0; j < n; j++) {
        for (int i = 0; i <= j; i++)
            qr->a[i + (size_t)j * n] = gram[fw_packed(i, j)] * qr->scale[i] * qr->scale[j];
        diagonal[j] = qr->a[j + (size_t)j * n];
    }
    if (!linalg_finite(size, qr->a)) {
        status = fw_fail(err, FW_SYSTEM, "a number in the equations is not finite");
        goto done;
    }
    lapack_int info = n ? LAPACKE_dpstrf_work(LAPACK_COL_MAJOR, 'U', n, qr->a, n, qr->perm,
                                              &qr->rank, least * least, work)
                        : 0;
    for (int j = 0; j < n; j++)
        qr->perm[j]--;
    if (qr->rank == 1 && qr->a[0] < least) /* the first pivot is not compared */
        qr->rank = 0;
    *good = info >= 0 && most_left(qr, diagonal) <= ROUNDING * whole;
done:
    fw_free(work);
    fw_free(diagonal);
    if (!*good)
        fw_qr_release(qr);
    return status;
}

void fw_qr_release(fw_qr *qr)
{
    fw_free(qr->a);
    fw_free(qr->tau);
    fw_free(qr->perm);
    fw_free(qr->scale);
    *qr = (fw_qr){0};
}

fw_status fw_qr_apply(const fw_qr *qr, int transposed, int ncols, double *c, fw_error *err)
{
    int m = qr->m, k = qr->m < qr->n ? qr->m : qr->n;
    char trans = transposed ? 'T' : 'N';
    double want;
    if (k == 0 || ncols == 0)
        return FW_OK;
    fw_status status = linalg_status(LAPACKE_dormqr_work(LAPACK_COL_MAJOR, 'L', trans, m, ncols, k,
                                                         qr->a, m, qr->tau, c, m, &want, -1),
                                     "dormqr", err);
    if (status)
        return status;
    double *work = fw_alloc((size_t)want, sizeof *work);
    if (!work)
        return fw_out_of_memory(err);
    status = linalg_status(LAPACKE_dormqr_work(LAPACK_COL_MAJOR, 'L', trans, m, ncols, k, qr->a, m,
                                               qr->tau, c, m, work, (lapack_int)want),
                           "dormqr", err);
    fw_free(work);
    return status;
}

fw_status fw_qr_form(const fw_qr *qr, double *q, fw_error *err)
{
    memset(q, 0, (size_t)qr->m * qr->m * sizeof *q);
    for (int i = 0; i < qr->m; i++)
        q[i + (size_t)i * qr->m] = 1;
    return fw_qr_apply(qr, 0, qr->m, q, err);
}

fw_status fw_qr_solve(const fw_qr *qr, int ncols, const double *c, double *x, fw_error *err)
{
    int m = qr->m, n = qr->n, r = qr->rank;
    memset(x, 0, (size_t)n * ncols * sizeof *x);
    if (r == 0 || ncols == 0)
        return FW_OK;
    double *y = fw_alloc((size_t)r * ncols, sizeof *y);
    if (!y)
        return fw_out_of_memory(err);
    for (int j = 0; j < ncols; j++)
        memcpy(y + (size_t)j * r, c + (size_t)j * m, (size_t)r * sizeof *y);
    cblas_dtrsm(CblasColMajor, CblasLeft, CblasUpper, CblasNoTrans, CblasNonUnit, r, ncols, 1.0,
                qr->a, m, y, r);
    for (int j = 0; j < ncols; j++)
        for (int i = 0; i < r; i++)
            x[qr->perm[i] + (size_t)j * n] = y[i + (size_t)j * r] * qr->scale[qr->perm[i]];
    fw_free(y);
    return FW_OK;
}

void fw_qr_root(const fw_qr *qr, double *root)
{
    fw_upper_inverse(qr->rank, qr->a, qr->m, root);
    for (int j = 0; j < qr->rank; j++)
        for (int i = 0; i <= j; i++)
            root[i + (size_t)j * qr->rank] *= qr->scale[qr->perm[i]];
}

/* Below this share of the largest pivot a gram matrix is not trusted: it costs 1e-12 of the rest. */
static const double TRUSTED = 1e-2;

/* z (m x n) <- a R^-1, orthonormal, R'R = a'a; false where that would cost too much. gram: n x n. */
static bool orthonormal(int m, int n, const double *a, double *gram, double *z)
{
    double least = INFINITY, most = 0;
    fw_gram(n, m, a, m, gram, n);
    if (LAPACKE_dpotrf_work(LAPACK_COL_MAJOR, 'U', n, gram, n) != 0)
        return false;
    for (int j = 0; j < n; j++) {
        least = fmin(least, gram[j + (size_t)j * n]);
        most = fmax(most, gram[j + (size_t)j * n]);
    }
    memcpy(z, a, (size_t)m * n * sizeof *z);
    fw_upper_solve_right(m, n, gram, n, z, m);
    return least >= TRUSTED * most;
}

fw_status fw_qr_null(const fw_qr *qr, double *z, fw_error *err)
{
    int m = qr->m, n = qr->n, r = qr->rank, d = n - r;
    fw_status status = FW_OK;
    if (d == 0)
        return FW_OK;
    double *y = fw_alloc((size_t)(r ? r : 1) * d, sizeof *y);
    double *raw = fw_alloc((size_t)n * d, sizeof *raw);
    double *small = fw_alloc((size_t)d * d, sizeof *small);
    if (!y || !raw || !small) {
        status = fw_out_of_memory(err);
        goto done;
    }
    if (r > 0) {
        for (int j = 0; j < d; j++)
            memcpy(y + (size_t)j * r, qr->a + (size_t)(r + j) * m, (size_t)r * sizeof *y);
        cblas_dtrsm(CblasColMajor, CblasLeft, CblasUpper, CblasNoTrans, CblasNonUnit, r, d, 1.0,
                    qr->a, m, y, r);
    }
    for (int j = 0; j < d; j++) {
        for (int i = 0; i < r; i++)
            raw[qr->perm[i] + (size_t)j * n] = -y[i + (size_t)j * r] * qr->scale[qr->perm[i]];
        raw[qr->perm[r + j] + (size_t)j * n] = qr->scale[qr->perm[r + j]];
    }
    if (!orthonormal(n, d, raw, small, z))
        status = fw_qr_thin(n, d, raw, z, small, err);
done:
    fw_free(y);
    fw_free(raw);
    fw_free(small);
    return status;
}
