/* product.c - the product of two matrices, by calls of OpenBLAS that ask for no memory. */
#include "base/product.h"

#include <cblas.h>
#include <stddef.h>

/*
 * For processors with AVX-512 OpenBLAS has a product of small matrices that copies the last rows
 * of a, where 1 to 4 are left of groups of 8 and k is 16 or more, into memory that it asks for and
 * does not look whether it gets. These rows are taken one by one here. Products with a transpose
 * copy nothing. Seen in OpenBLAS 0.3.21; test: tests/fault/memory.sh
 */
enum { GROUP = 8, COPIED = 4, COPIED_FROM = 16 };

static int rows_left_over(int m, int k)
{
    int left = m % GROUP;
    return k >= COPIED_FROM && left <= COPIED ? left : 0;
}

/* A row of c. */
static void one_row(int n, int k, double alpha, const double *a, int lda, const double *b, int ldb,
                    double beta, double *c, int ldc)
{
    for (int j = 0; j < n && beta == 0; j++)
        c[(size_t)j * (size_t)ldc] = 0;
    cblas_dgemv(CblasColMajor, CblasTrans, k, n, alpha, b, ldb, a, lda, beta, c, ldc);
}

void product(int m, int n, int k, double alpha, const double *a, int lda, const double *b, int ldb,
             double beta, double *c, int ldc)
{
    int whole = m - rows_left_over(m, k);
    if (m <= 0 || n <= 0)
        return;
    if (whole > 0)
        cblas_dgemm(CblasColMajor, CblasNoTrans, CblasNoTrans, whole, n, k, alpha, a,
                    lda > 0 ? lda : 1, b, ldb > 0 ? ldb : 1, beta, c, ldc);
    for (int i = whole; i < m; i++)
        one_row(n, k, alpha, a + i, lda, b, ldb, beta, c + i, ldc);
}
