/* linalg_triangle.c - upper triangles: solved with, inverted, and the inverse times its transpose. */
#include <cblas.h>
#include <lapacke.h>
#include <math.h>
#include <string.h>

#include "linalg.h"
#include "linalg_parts.h"

/* Up to this size OpenBLAS goes column by column, and is not worth splitting further. */
enum { SMALL = 32 };

void fw_upper_solve(int n, int ncols, const double *r, int ldr, double *c, int ldc)
{
    linalg_one_thread();
    if (n > 0 && ncols > 0)
        cblas_dtrsm(CblasColMajor, CblasLeft, CblasUpper, CblasNoTrans, CblasNonUnit, n, ncols, 1,
                    r, ldr, c, ldc);
}

void fw_upper_solve_transposed(int n, int ncols, const double *r, int ldr, double *c, int ldc)
{
    linalg_one_thread();
    if (n > 0 && ncols > 0)
        cblas_dtrsm(CblasColMajor, CblasLeft, CblasUpper, CblasTrans, CblasNonUnit, n, ncols, 1, r,
                    ldr, c, ldc);
}

void fw_upper_times_transposed(int n, int ncols, const double *r, int ldr, double *c, int ldc)
{
    linalg_one_thread();
    if (n > 0 && ncols > 0)
        cblas_dtrmm(CblasColMajor, CblasLeft, CblasUpper, CblasTrans, CblasNonUnit, n, ncols, 1, r,
                    ldr, c, ldc);
}

void fw_upper_solve_right(int m, int n, const double *r, int ldr, double *c, int ldc)
{
    linalg_one_thread();
    if (m > 0 && n > 0)
        cblas_dtrsm(CblasColMajor, CblasRight, CblasUpper, CblasNoTrans, CblasNonUnit, m, n, 1, r,
                    ldr, c, ldc);
}

/* r (n x n, upper triangle) <- its inverse, half by half: OpenBLAS itself splits far too late. */
static void invert(int n, double *r, int ld)
{
    if (n <= SMALL) {
        LAPACKE_dtrtri_work(LAPACK_COL_MAJOR, 'U', 'N', n, r, ld);
        return;
    }
    int h = n / 2;
    double *across = r + (size_t)h * ld, *below = across + h;
    invert(h, r, ld);
    invert(n - h, below, ld);
    cblas_dtrmm(CblasColMajor, CblasLeft, CblasUpper, CblasNoTrans, CblasNonUnit, h, n - h, -1, r,
                ld, across, ld);
    cblas_dtrmm(CblasColMajor, CblasRight, CblasUpper, CblasNoTrans, CblasNonUnit, h, n - h, 1,
                below, ld, across, ld);
}

/* The upper triangle of u u' takes the place of u. */
static void square(int n, double *u, int ld)
{
    if (n <= SMALL) {
        LAPACKE_dlauum_work(LAPACK_COL_MAJOR, 'U', n, u, ld);
        return;
    }
    int h = n / 2;
    double *across = u + (size_t)h * ld, *below = across + h;
    square(h, u, ld);
    cblas_dsyrk(CblasColMajor, CblasUpper, CblasNoTrans, h, n - h, 1, across, ld, 1, u, ld);
    cblas_dtrmm(CblasColMajor, CblasRight, CblasUpper, CblasTrans, CblasNonUnit, h, n - h, 1, below,
                ld, across, ld);
    square(n - h, below, ld);
}

void fw_upper_inverse(int n, const double *r, int ldr, double *root)
{
    linalg_one_thread();
    for (int j = 0; j < n; j++) {
        double *to = root + (size_t)j * n;
        memmove(to, r + (size_t)j * ldr, ((size_t)j + 1) * sizeof *to);
        memset(to + j + 1, 0, (size_t)(n - j - 1) * sizeof *to);
    }
    if (n > 0)
        invert(n, root, n);
}

void fw_upper_square(int n, const double *root, double *c)
{
    linalg_one_thread();
    if (c != root)
        memcpy(c, root, (size_t)n * (size_t)n * sizeof *c);
    if (n > 0)
        square(n, c, n);
    linalg_mirror(n, c);
}
