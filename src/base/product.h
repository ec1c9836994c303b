/* product.h - the product of two matrices, by calls of OpenBLAS that ask for no memory. */
#ifndef BASE_PRODUCT_H
#define BASE_PRODUCT_H

/*
 * c (m x n) <- alpha a b + beta c, a m x k, b k x n, columns ld. apart; any dimension may be 0.
 * With beta = 0 what is in c does not count. Test: tests/unit/product.c
 */
void product(int m, int n, int k, double alpha, const double *a, int lda, const double *b, int ldb,
             double beta, double *c, int ldc);

#endif
