/* linalg.c - least squares by orthogonal methods; the only file that talks to LAPACKE. */
#include "linalg.h"

#include <cblas.h>
#include <lapacke.h>
#include <math.h>
#include <stdbool.h>
#include <string.h>

#include "flatwright/alloc.h"
#include "flatwright/lstsq.h"

/* The work-array interface is used throughout: the other one prints on stdout when it fails. */
static fw_status map_info(lapack_int info, const char *routine, fw_error *err)
{
    return info == 0 ? FW_OK
                     : fw_fail(err, FW_SYSTEM, "linear algebra failed: '%s' returned %d", routine,
                               (int)info);
}

static bool all_finite(size_t count, const double *x)
{
    for (size_t i = 0; i < count; i++)
        if (!isfinite(x[i]))
            return false;
    return true;
}

/* Threads cost more than they give on blocks of this size; results must not depend on them. */
static void one_thread(void)
{
    static bool done;
    if (!done)
        openblas_set_num_threads(1);
    done = true;
}

/* What OpenBLAS maps for itself at its first call; where it gets none it tries for ever. */
#define BLAS_BUFFER ((size_t)128 << 20)

/* Factoring (1) makes it take its buffer, right after there was seen to be room for it. */
fw_status fw_linalg_ready(fw_error *err)
{
    static bool ready;
    double one = 1;
    if (ready)
        return FW_OK;
    void *room = fw_alloc(BLAS_BUFFER, 1);
    if (!room)
        return fw_out_of_memory(err);
    fw_free(room);
    one_thread();
    fw_status status = map_info(LAPACKE_dpotrf_work(LAPACK_COL_MAJOR, 'U', 1, &one, 1), "dpotrf",
                                err);
    ready = !status;
    return status;
}

void fw_gemm(int ta, int tb, int m, int n, int k, double alpha, const double *a, int lda,
             const double *b, int ldb, double beta, double *c, int ldc)
{
    one_thread();
    if (m > 0 && n > 0)
        cblas_dgemm(CblasColMajor, ta ? CblasTrans : CblasNoTrans, tb ? CblasTrans : CblasNoTrans,
                    m, n, k, alpha, a, lda > 0 ? lda : 1, b, ldb > 0 ? ldb : 1, beta, c, ldc);
}

void fw_gram(int n, int k, const double *a, int lda, double *c, int ldc)
{
    one_thread();
    if (n > 0 && k > 0)
        cblas_dsyrk(CblasColMajor, CblasUpper, CblasTrans, n, k, 1, a, lda, 1, c, ldc);
}

void fw_gram_rows(int n, int k, const double *a, int lda, double *c, int ldc)
{
    one_thread();
    if (n > 0 && k > 0)
        cblas_dsyrk(CblasColMajor, CblasUpper, CblasNoTrans, n, k, 1, a, lda, 1, c, ldc);
    for (int j = 0; j < n; j++)
        for (int i = j + 1; i < n; i++)
            c[i + (size_t)j * ldc] = c[j + (size_t)i * ldc];
}

void fw_upper_solve(int n, int ncols, const double *r, int ldr, double *c, int ldc)
{
    one_thread();
    if (n > 0 && ncols > 0)
        cblas_dtrsm(CblasColMajor, CblasLeft, CblasUpper, CblasNoTrans, CblasNonUnit, n, ncols, 1,
                    r, ldr, c, ldc);
}

void fw_upper_solve_transposed(int n, int ncols, const double *r, int ldr, double *c, int ldc)
{
    one_thread();
    if (n > 0 && ncols > 0)
        cblas_dtrsm(CblasColMajor, CblasLeft, CblasUpper, CblasTrans, CblasNonUnit, n, ncols, 1, r,
                    ldr, c, ldc);
}

void fw_upper_solve_right(int m, int n, const double *r, int ldr, double *c, int ldc)
{
    one_thread();
    if (m > 0 && n > 0)
        cblas_dtrsm(CblasColMajor, CblasRight, CblasUpper, CblasNoTrans, CblasNonUnit, m, n, 1, r,
                    ldr, c, ldc);
}

double fw_dot(int n, const double *x, int stride, const double *y)
{
    return cblas_ddot(n, x, stride, y, 1);
}

void fw_add(int n, double scale, const double *x, int stride, double *y)
{
    cblas_daxpy(n, scale, x, stride, y, 1);
}

double fw_length(int n, const double *x)
{
    return cblas_dnrm2(n, x, 1);
}

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
    fw_status status = map_info(
        LAPACKE_dgeqp3_work(LAPACK_COL_MAJOR, m, n, qr->a, m, qr->perm, qr->tau, &want, -1),
        "dgeqp3", err);
    if (status)
        return status;
    double *work = fw_alloc((size_t)want, sizeof *work);
    if (!work)
        return fw_out_of_memory(err);
    status = map_info(LAPACKE_dgeqp3_work(LAPACK_COL_MAJOR, m, n, qr->a, m, qr->perm, qr->tau, work,
                                          (lapack_int)want),
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
    else if (!all_finite(size, a))
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
                        bool *good, fw_error *err)
{
    size_t size = (size_t)n * n;
    *good = false;
    *qr = (fw_qr){.m = n, .n = n};
    fw_status status = fw_linalg_ready(err);
    if (status)
        return status;
    double *work = fw_alloc(2 * (size_t)n, sizeof *work), *diagonal = fw_alloc(n, sizeof *diagonal);
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
            qr->a[i + (size_t)j * n] = gram[i + (size_t)j * n] * qr->scale[i] * qr->scale[j];
        diagonal[j] = qr->a[j + (size_t)j * n];
    }
    if (!all_finite(size, qr->a)) {
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
    *good = info >= 0 && most_left(qr, diagonal) <= ROUNDING * n;
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
    fw_status status = map_info(LAPACKE_dormqr_work(LAPACK_COL_MAJOR, 'L', trans, m, ncols, k,
                                                    qr->a, m, qr->tau, c, m, &want, -1),
                                "dormqr", err);
    if (status)
        return status;
    double *work = fw_alloc((size_t)want, sizeof *work);
    if (!work)
        return fw_out_of_memory(err);
    status = map_info(LAPACKE_dormqr_work(LAPACK_COL_MAJOR, 'L', trans, m, ncols, k, qr->a, m,
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
    status = fw_qr_thin(n, d, raw, z, small, err);
done:
    fw_free(y);
    fw_free(raw);
    fw_free(small);
    return status;
}

static fw_status plain_qr(int m, int n, double *a, int lda, double *tau, fw_error *err)
{
    double want;
    fw_status status = map_info(LAPACKE_dgeqrf_work(LAPACK_COL_MAJOR, m, n, a, lda, tau, &want, -1),
                                "dgeqrf", err);
    if (status)
        return status;
    double *work = fw_alloc((size_t)want, sizeof *work);
    if (!work)
        return fw_out_of_memory(err);
    status =
        map_info(LAPACKE_dgeqrf_work(LAPACK_COL_MAJOR, m, n, a, lda, tau, work, (lapack_int)want),
                 "dgeqrf", err);
    fw_free(work);
    return status;
}

fw_status fw_qr_reduce(int m, int n, double *a, int lda, fw_error *err)
{
    int k = m < n ? m : n;
    one_thread();
    if (k == 0)
        return FW_OK;
    double *tau = fw_alloc(k, sizeof *tau);
    if (!tau)
        return fw_out_of_memory(err);
    fw_status status = plain_qr(m, n, a, lda, tau, err);
    fw_free(tau);
    for (int j = 0; j < n; j++)
        for (int i = j + 1; i < m; i++)
            a[i + (size_t)j * lda] = 0;
    return status;
}

fw_status fw_qr_append(int n, int m, double *a, int lda, fw_error *err)
{
    enum { PANEL = 24 };
    int panel = n < PANEL ? n : PANEL;
    one_thread();
    if (m == 0 || n == 0)
        return FW_OK;
    double *work = fw_alloc(2 * (size_t)n * panel, sizeof *work);
    if (!work)
        return fw_out_of_memory(err);
    fw_status status = map_info(LAPACKE_dtpqrt_work(LAPACK_COL_MAJOR, m, n, 0, panel, a, lda, a + n,
                                                    lda, work, panel, work + (size_t)n * panel),
                                "dtpqrt", err);
    fw_free(work);
    for (int j = 0; j < n; j++)
        memset(a + n + (size_t)j * lda, 0, (size_t)m * sizeof *a);
    return status;
}

fw_status fw_qr_thin(int m, int n, double *a, double *q, double *r, fw_error *err)
{
    int k = m < n ? m : n;
    double want;
    one_thread();
    if (k == 0)
        return FW_OK;
    double *tau = fw_alloc(k, sizeof *tau), *work = NULL;
    if (!tau)
        return fw_out_of_memory(err);
    fw_status status = plain_qr(m, n, a, m, tau, err);
    if (status)
        goto done;
    for (int j = 0; j < n; j++)
        for (int i = 0; i < k; i++)
            r[i + (size_t)j * k] = i <= j ? a[i + (size_t)j * m] : 0;
    memcpy(q, a, (size_t)m * k * sizeof *q);
    status = map_info(LAPACKE_dorgqr_work(LAPACK_COL_MAJOR, m, k, k, q, m, tau, &want, -1),
                      "dorgqr", err);
    if (status)
        goto done;
    work = fw_alloc((size_t)want, sizeof *work);
    if (!work) {
        status = fw_out_of_memory(err);
        goto done;
    }
    status =
        map_info(LAPACKE_dorgqr_work(LAPACK_COL_MAJOR, m, k, k, q, m, tau, work, (lapack_int)want),
                 "dorgqr", err);
done:
    fw_free(tau);
    fw_free(work);
    return status;
}

/* Reflects rows r .. m of column j onto row r, and all columns after it along. */
static void reflect(int m, int ncols, double *a, int lda, int r, int j)
{
    double *x = a + (size_t)j * lda + r;
    int n = m - r;
    double norm = cblas_dnrm2(n, x, 1), head = x[0], beta = head > 0 ? -norm : norm;
    if (norm <= 0)
        return;
    x[0] = head - beta; /* v, with v'v = 2 (norm^2 + |head| norm) */
    double half = norm * (norm + fabs(head));
    for (int k = j + 1; k < ncols; k++) {
        double *y = a + (size_t)k * lda + r;
        cblas_daxpy(n, -cblas_ddot(n, x, 1, y, 1) / half, x, 1, y, 1);
    }
    memset(x, 0, (size_t)n * sizeof *x);
    x[0] = beta;
}

/* A column shorter than this part of the longest is rounding, as cos 6 theta on 15, 45, 75 deg ... */
static const double NOTHING = 1e-12;

int fw_qr_stairs(int m, int n, int extra, double *a, int lda, const double *length,
                 double tolerance, char *used)
{
    int r = 0;
    double longest = 0;
    one_thread();
    for (int j = 0; j < n; j++)
        longest = fmax(longest, length[j]);
    for (int j = 0; j < n; j++) {
        double least = fmax(tolerance * length[j], NOTHING * longest);
        used[j] = r < m && cblas_dnrm2(m - r, a + (size_t)j * lda + r, 1) > least;
        if (used[j])
            reflect(m, n + extra, a, lda, r++, j);
    }
    return r;
}

fw_status fw_eigen_symmetric(int n, double *a, double *w, fw_error *err)
{
    double want;
    one_thread();
    if (n == 0)
        return FW_OK;
    if (!all_finite((size_t)n * n, a))
        return fw_fail(err, FW_SYSTEM, "a number in the equations is not finite");
    fw_status status = map_info(
        LAPACKE_dsyev_work(LAPACK_COL_MAJOR, 'V', 'U', n, a, n, w, &want, -1), "dsyev", err);
    if (status)
        return status;
    double *work = fw_alloc((size_t)want, sizeof *work);
    if (!work)
        return fw_out_of_memory(err);
    status =
        map_info(LAPACKE_dsyev_work(LAPACK_COL_MAJOR, 'V', 'U', n, a, n, w, work, (lapack_int)want),
                 "dsyev", err);
    fw_free(work);
    return status;
}

fw_status fw_cholesky(int n, double *a, fw_error *err)
{
    one_thread();
    if (n == 0)
        return FW_OK;
    if (!all_finite((size_t)n * n, a))
        return fw_fail(err, FW_SYSTEM, "a number in the equations is not finite");
    fw_status status = map_info(LAPACKE_dpotrf_work(LAPACK_COL_MAJOR, 'U', n, a, n), "dpotrf", err);
    for (int j = 0; j < n; j++)
        for (int i = j + 1; i < n; i++)
            a[i + (size_t)j * n] = 0;
    return status;
}

static void mirror(int n, double *a)
{
    for (int j = 0; j < n; j++)
        for (int i = j + 1; i < n; i++)
            a[i + (size_t)j * n] = a[j + (size_t)i * n];
}

fw_status fw_inverse_definite(int n, double *a, double *rcond, fw_error *err)
{
    one_thread();
    *rcond = 1;
    if (n == 0)
        return FW_OK;
    if (!all_finite((size_t)n * n, a))
        return fw_fail(err, FW_SYSTEM, "a number in the equations is not finite");
    double norm = 0, *work = fw_alloc(3 * (size_t)n, sizeof *work);
    lapack_int *iwork = fw_alloc(n, sizeof *iwork);
    fw_status status = work && iwork ? FW_OK : fw_out_of_memory(err);
    if (status)
        goto done;
    for (int j = 0; j < n; j++)
        norm = fmax(norm, cblas_dasum(n, a + (size_t)j * n, 1));
    *rcond = 0;
    if (LAPACKE_dpotrf_work(LAPACK_COL_MAJOR, 'U', n, a, n) != 0)
        goto done;
    status = map_info(
        LAPACKE_dpocon_work(LAPACK_COL_MAJOR, 'U', n, a, n, norm, rcond, work, iwork), "dpocon",
        err);
    if (!status && *rcond > 0 &&
        !(status = map_info(LAPACKE_dpotri_work(LAPACK_COL_MAJOR, 'U', n, a, n), "dpotri", err)))
        mirror(n, a);
done:
    fw_free(work);
    fw_free(iwork);
    return status;
}

fw_status fw_root_of_projection(int m, int rank, double *p, double *r, fw_error *err)
{
    one_thread();
    if (rank == 0)
        return FW_OK;
    double *work = fw_alloc(2 * (size_t)m, sizeof *work);
    lapack_int *perm = fw_alloc(m, sizeof *perm), found = 0;
    fw_status status = work && perm ? FW_OK : fw_out_of_memory(err);
    if (status)
        goto done;
    lapack_int info =
        LAPACKE_dpstrf_work(LAPACK_COL_MAJOR, 'U', m, p, m, perm, &found, 1e-6, work);
    if (info < 0 || found != rank) {
        status = fw_fail(err, FW_SYSTEM, "linear algebra failed: rank %d of a ring, expected %d",
                         (int)found, rank);
        goto done;
    }
    for (int j = 0; j < m; j++)
        for (int i = 0; i < rank; i++)
            r[i + (size_t)(perm[j] - 1) * rank] = i <= j ? p[i + (size_t)j * m] : 0;
done:
    fw_free(work);
    fw_free(perm);
    return status;
}

fw_status fw_pinv_symmetric(int n, double *a, double tolerance, fw_error *err)
{
    size_t size = (size_t)n * n;
    fw_status status;
    double *v = fw_alloc(size, sizeof *v), *w = fw_alloc(n, sizeof *w);
    if (!v || !w) {
        status = fw_out_of_memory(err);
        goto done;
    }
    memcpy(v, a, size * sizeof *v);
    if ((status = fw_eigen_symmetric(n, v, w, err)))
        goto done;
    memset(a, 0, size * sizeof *a);
    for (int k = 0; k < n; k++)
        if (w[k] > tolerance * w[n - 1])
            cblas_dger(CblasColMajor, n, n, 1 / w[k], v + (size_t)k * n, 1, v + (size_t)k * n, 1, a,
                       n);
done:
    fw_free(v);
    fw_free(w);
    return status;
}

/* cofactor = X X' with X = D P R11^-1: (A'A)^-1 on the independent columns. */
static fw_status cofactor_of(const fw_qr *qr, double *cofactor, fw_error *err)
{
    int n = qr->n, r = qr->rank, m = qr->m;
    fw_status status = FW_OK;
    double *unit = fw_alloc((size_t)m * r, sizeof *unit), *x = fw_alloc((size_t)n * r, sizeof *x);
    if (!unit || !x) {
        status = fw_out_of_memory(err);
        goto done;
    }
    for (int i = 0; i < r; i++)
        unit[i + (size_t)i * m] = 1;
    status = fw_qr_solve(qr, r, unit, x, err);
    if (!status)
        fw_gemm(0, 1, n, n, r, 1, x, n, x, n, 0, cofactor, n);
done:
    fw_free(unit);
    fw_free(x);
    return status;
}

fw_status fw_lstsq(int m, int n, const double *a, const double *b, double tolerance, double *x,
                   double *cofactor, double *residual, int *rank, fw_error *err)
{
    fw_qr qr = {0};
    size_t square = cofactor ? (size_t)n * n : 0;
    double *c = fw_alloc(m, sizeof *c), *made = fw_alloc((size_t)n + square, sizeof *made);
    fw_status status = c && made ? FW_OK : fw_out_of_memory(err);
    if (!status && !all_finite(m, b))
        status = fw_fail(err, FW_SYSTEM, "a number in the equations is not finite");
    if (status ||
        (status = fw_qr_factor(&qr, m, n, a, NULL, tolerance > 0 ? tolerance : 1e-13, err)))
        goto done;
    memcpy(c, b, (size_t)m * sizeof *c);
    if ((status = fw_qr_apply(&qr, 1, 1, c, err)) || (status = fw_qr_solve(&qr, 1, c, made, err)) ||
        (cofactor && (status = cofactor_of(&qr, made + n, err))))
        goto done;
    if (residual) {
        memset(c, 0, (size_t)qr.rank * sizeof *c);
        if ((status = fw_qr_apply(&qr, 0, 1, c, err)))
            goto done;
        memcpy(residual, c, (size_t)m * sizeof *c);
    }
    memcpy(x, made, (size_t)n * sizeof *x);
    if (cofactor)
        memcpy(cofactor, made + n, square * sizeof *cofactor);
    if (rank)
        *rank = qr.rank;
done:
    fw_qr_release(&qr);
    fw_free(c);
    fw_free(made);
    return status;
}
