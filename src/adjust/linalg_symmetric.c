/* linalg_symmetric.c - symmetric matrices: eigenvectors, tridiagonal, roots, inverses, true and pseudo. */
#include <cblas.h>
#include <lapacke.h>
#include <math.h>
#include <string.h>

#include "flatwright/alloc.h"
#include "linalg.h"
#include "linalg_parts.h"

fw_status fw_eigen_symmetric(int n, double *a, double *w, fw_error *err)
{
    double want;
    linalg_one_thread();
    if (n == 0)
        return FW_OK;
    if (!linalg_finite((size_t)n * n, a))
        return fw_fail(err, FW_SYSTEM, "a number in the equations is not finite");
    fw_status status = linalg_status(
        LAPACKE_dsyev_work(LAPACK_COL_MAJOR, 'V', 'U', n, a, n, w, &want, -1), "dsyev", err);
    if (status)
        return status;
    double *work = fw_alloc((size_t)want, sizeof *work);
    if (!work)
        return fw_out_of_memory(err);
    status = linalg_status(LAPACKE_dsyev_work(LAPACK_COL_MAJOR, 'V', 'U', n, a, n, w, work,
                                              (lapack_int)want),
                           "dsyev", err);
    fw_free(work);
    return status;
}

fw_status fw_tridiagonal(int n, double *a, double *d, double *e, double *x, fw_error *err)
{
    linalg_one_thread();
    if (n == 0)
        return FW_OK;
    if (!linalg_finite((size_t)n * n, a))
        return fw_fail(err, FW_SYSTEM, "a number in the equations is not finite");
    double want, *tau, *work;
    fw_status status = linalg_status(
        LAPACKE_dsytrd_work(LAPACK_COL_MAJOR, 'U', n, a, n, d, e, NULL, &want, -1), "dsytrd", err);
    if (status)
        return status;
    lapack_int room = (lapack_int)fmax(want, n);
    if (!(tau = fw_alloc((size_t)room + n, sizeof *tau)))
        return fw_out_of_memory(err);
    work = tau + n;
    status = linalg_status(
        LAPACKE_dsytrd_work(LAPACK_COL_MAJOR, 'U', n, a, n, d, e, tau, work, room), "dsytrd", err);
    if (!status)
        status = linalg_status(LAPACKE_dormtr_work(LAPACK_COL_MAJOR, 'L', 'U', 'T', n, 1, a, n, tau,
                                                   x, n, work, room),
                               "dormtr", err);
    fw_free(tau);
    return status;
}

fw_status fw_cholesky(int n, double *a, fw_error *err)
{
    linalg_one_thread();
    if (n == 0)
        return FW_OK;
    if (!linalg_finite((size_t)n * n, a))
        return fw_fail(err, FW_SYSTEM, "a number in the equations is not finite");
    lapack_int info = LAPACKE_dpotrf_work(LAPACK_COL_MAJOR, 'U', n, a, n);
    fw_status status = linalg_status(info, "dpotrf", err);
    for (int j = 0; j < n; j++)
        for (int i = j + 1; i < n; i++)
            a[i + (size_t)j * n] = 0;
    return status;
}

/* The 1-norm of a symmetric matrix. */
static double norm_of(int n, const double *a)
{
    double norm = 0;
    for (int j = 0; j < n; j++)
        norm = fmax(norm, cblas_dasum(n, a + (size_t)j * n, 1));
    return norm;
}

fw_status fw_inverse_definite(int n, double *a, double *rcond, fw_error *err)
{
    linalg_one_thread();
    *rcond = 1;
    if (n == 0)
        return FW_OK;
    if (!linalg_finite((size_t)n * n, a))
        return fw_fail(err, FW_SYSTEM, "a number in the equations is not finite");
    double norm = norm_of(n, a);
    *rcond = 0;
    if (LAPACKE_dpotrf_work(LAPACK_COL_MAJOR, 'U', n, a, n) != 0)
        return FW_OK;
    fw_upper_inverse(n, a, n, a);
    fw_upper_square(n, a, a);
    if (linalg_finite((size_t)n * n, a))
        *rcond = 1 / (norm * norm_of(n, a));
    return FW_OK;
}

fw_status fw_root_of_projection(int m, int rank, double *p, double *r, fw_error *err)
{
    linalg_one_thread();
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

/* list <- i and all that a's entries bind to it and that is not `taken`; how many. */
static int bound_to(int n, const double *a, int i, bool *taken, int *list)
{
    int count = 0;
    taken[i] = true;
    list[count++] = i;
    for (int k = 0; k < count; k++)
        for (int j = 0; j < n; j++)
            if (!taken[j] && a[j + (size_t)list[k] * n] != 0) {
                taken[j] = true;
                list[count++] = j;
            }
    return count;
}

/* Rows and columns that nothing binds to each other are inverted by themselves. */
typedef struct blocks {
    int count;
    int *size; /* n: of each block */
    int *list; /* n: their rows, block by block */
    double *v; /* n x n at most: their eigenvectors, block by block */
    double *w; /* n: their eigenvalues, ascending in a block */
} blocks;

static fw_status find_blocks(int n, const double *a, blocks *b, fw_error *err)
{
    bool *taken = fw_alloc(n, sizeof *taken);
    fw_status status = FW_OK;
    double *v = b->v, *w = b->w;
    int *list = b->list;
    if (!taken)
        return fw_out_of_memory(err);
    for (int i = 0; i < n && !status; i++) {
        if (taken[i])
            continue;
        int m = b->size[b->count++] = bound_to(n, a, i, taken, list);
        for (int k = 0; k < m; k++)
            for (int j = 0; j < m; j++)
                v[j + (size_t)k * m] = a[list[j] + (size_t)list[k] * n];
        status = fw_eigen_symmetric(m, v, w, err);
        v += (size_t)m * m;
        w += m;
        list += m;
    }
    fw_free(taken);
    return status;
}

/* a <- sum of v v' / w over the eigenvalues above least. */
static void invert_blocks(int n, const blocks *b, double least, double *work, double *a)
{
    const double *v = b->v, *w = b->w;
    const int *list = b->list;
    memset(a, 0, (size_t)n * n * sizeof *a);
    for (int c = 0; c < b->count; c++) {
        int m = b->size[c];
        memset(work, 0, (size_t)m * m * sizeof *work);
        for (int k = 0; k < m; k++)
            if (w[k] > least)
                cblas_dger(CblasColMajor, m, m, 1 / w[k], v + (size_t)k * m, 1,
                           v + (size_t)k * m, 1, work, m);
        for (int k = 0; k < m; k++)
            for (int j = 0; j < m; j++)
                a[list[j] + (size_t)list[k] * n] = work[j + (size_t)k * m];
        v += (size_t)m * m;
        w += m;
        list += m;
    }
}

fw_status fw_pinv_symmetric(int n, double *a, double tolerance, fw_error *err)
{
    size_t size = (size_t)n * n;
    blocks b = {.size = fw_alloc(n, sizeof *b.size), .list = fw_alloc(n, sizeof *b.list),
                .v = fw_alloc(size, sizeof *b.v), .w = fw_alloc(n, sizeof *b.w)};
    double *work = fw_alloc(size, sizeof *work), most = 0;
    fw_status status = b.size && b.list && b.v && b.w && work ? FW_OK : fw_out_of_memory(err);
    if (!status && !(status = find_blocks(n, a, &b, err))) {
        for (int k = 0; k < n; k++)
            most = fmax(most, b.w[k]);
        invert_blocks(n, &b, tolerance * most, work, a);
    }
    fw_free(b.size);
    fw_free(b.list);
    fw_free(b.v);
    fw_free(b.w);
    fw_free(work);
    return status;
}
