/* linalg_qr.c - QR in the order of the columns: in place, under a triangle, thin, in stairs. */
#include <cblas.h>
#include <lapacke.h>
#include <math.h>
#include <string.h>

#include "flatwright/alloc.h"
#include "linalg.h"
#include "linalg_parts.h"

static fw_status plain_qr(int m, int n, double *a, int lda, double *tau, fw_error *err)
{
    double want;
    fw_status status = linalg_status(
        LAPACKE_dgeqrf_work(LAPACK_COL_MAJOR, m, n, a, lda, tau, &want, -1), "dgeqrf", err);
    if (status)
        return status;
    double *work = fw_alloc((size_t)want, sizeof *work);
    if (!work)
        return fw_out_of_memory(err);
    status = linalg_status(LAPACKE_dgeqrf_work(LAPACK_COL_MAJOR, m, n, a, lda, tau, work,
                                               (lapack_int)want),
                           "dgeqrf", err);
    fw_free(work);
    return status;
}

fw_status fw_qr_reduce(int m, int n, double *a, int lda, fw_error *err)
{
    int k = m < n ? m : n;
    linalg_one_thread();
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
    /* no product in it is then of the kind that base/product.c keeps off */
    enum { PANEL = 24, NARROW = 15 };
    int most = m % 8 >= 1 && m % 8 <= 4 ? NARROW : PANEL, panel = n < most ? n : most;
    linalg_one_thread();
    if (m == 0 || n == 0)
        return FW_OK;
    double *work = fw_alloc(2 * (size_t)n * panel, sizeof *work);
    if (!work)
        return fw_out_of_memory(err);
    fw_status status = linalg_status(LAPACKE_dtpqrt_work(LAPACK_COL_MAJOR, m, n, 0, panel, a, lda,
                                                         a + n, lda, work, panel,
                                                         work + (size_t)n * panel),
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
    linalg_one_thread();
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
    status = linalg_status(LAPACKE_dorgqr_work(LAPACK_COL_MAJOR, m, k, k, q, m, tau, &want, -1),
                           "dorgqr", err);
    if (status)
        goto done;
    work = fw_alloc((size_t)want, sizeof *work);
    if (!work) {
        status = fw_out_of_memory(err);
        goto done;
    }
    status = linalg_status(LAPACKE_dorgqr_work(LAPACK_COL_MAJOR, m, k, k, q, m, tau, work,
                                               (lapack_int)want),
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

/* A column shorter than this part of the longest is rounding: cos 6 theta on 15, 45, 75 deg ... */
static const double NOTHING = 1e-12;

int fw_qr_stairs(int m, int n, int extra, double *a, int lda, const double *length,
                 double tolerance, char *used)
{
    int r = 0;
    double longest = 0;
    linalg_one_thread();
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
