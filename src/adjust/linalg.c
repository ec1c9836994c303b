/* linalg.c - the ground of the dense kernels, one thread and room to work, and their products. */
#include "linalg.h"

#include <cblas.h>
#include <lapacke.h>
#include <math.h>
#include <stdbool.h>
#include <string.h>

#include "base/product.h"
#include "flatwright/alloc.h"
#include "linalg_parts.h"

fw_status linalg_status(int info, const char *routine, fw_error *err)
{
    if (info == 0)
        return FW_OK;
    return fw_fail(err, FW_SYSTEM, "linear algebra failed: '%s' returned %d", routine, info);
}

bool linalg_finite(size_t count, const double *x)
{
    for (size_t i = 0; i < count; i++)
        if (!isfinite(x[i]))
            return false;
    return true;
}

void linalg_one_thread(void)
{
    static bool done;
    if (!done)
        openblas_set_num_threads(1);
    done = true;
}

void linalg_mirror(int n, double *a)
{
    for (int j = 0; j < n; j++)
        for (int i = j + 1; i < n; i++)
            a[i + (size_t)j * n] = a[j + (size_t)i * n];
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
    linalg_one_thread();
    lapack_int info = LAPACKE_dpotrf_work(LAPACK_COL_MAJOR, 'U', 1, &one, 1);
    fw_status status = linalg_status(info, "dpotrf", err);
    ready = !status;
    return status;
}

void fw_gemm(int ta, int tb, int m, int n, int k, double alpha, const double *a, int lda,
             const double *b, int ldb, double beta, double *c, int ldc)
{
    linalg_one_thread();
    if (!ta && !tb)
        product(m, n, k, alpha, a, lda, b, ldb, beta, c, ldc);
    else if (m > 0 && n > 0)
        cblas_dgemm(CblasColMajor, ta ? CblasTrans : CblasNoTrans, tb ? CblasTrans : CblasNoTrans,
                    m, n, k, alpha, a, lda > 0 ? lda : 1, b, ldb > 0 ? ldb : 1, beta, c, ldc);
}

void fw_gram(int n, int k, const double *a, int lda, double *c, int ldc)
{
    linalg_one_thread();
    if (n > 0 && k > 0)
        cblas_dsyrk(CblasColMajor, CblasUpper, CblasTrans, n, k, 1, a, lda, 1, c, ldc);
}

void fw_gram_rows(int n, int k, const double *a, int lda, double *c, int ldc)
{
    linalg_one_thread();
    if (n > 0 && k > 0)
        cblas_dsyrk(CblasColMajor, CblasUpper, CblasNoTrans, n, k, 1, a, lda, 1, c, ldc);
    for (int j = 0; j < n; j++)
        for (int i = j + 1; i < n; i++)
            c[i + (size_t)j * ldc] = c[j + (size_t)i * ldc];
}

double fw_dot(int n, const double *x, int stride, const double *y)
{
    return cblas_ddot(n, x, stride, y, 1);
}

void fw_dots(int m, int n, const double *a, int lda, const double *x, double *y)
{
    linalg_one_thread();
    memset(y, 0, (size_t)n * sizeof *y);
    cblas_dgemv(CblasColMajor, CblasTrans, m, n, 1, a, lda, x, 1, 0, y, 1);
}

void fw_add(int n, double scale, const double *x, int stride, double *y)
{
    cblas_daxpy(n, scale, x, stride, y, 1);
}

void fw_turn(int n, double c, double s, double *x, double *y)
{
    cblas_drot(n, x, 1, y, 1, c, s);
}

double fw_length(int n, const double *x)
{
    return cblas_dnrm2(n, x, 1);
}
