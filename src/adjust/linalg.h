/* linalg.h - the dense kernels of the adjustment; the only door to LAPACKE. Column-major. */
#ifndef ADJUST_LINALG_H
#define ADJUST_LINALG_H

#include <stdbool.h>
#include <stddef.h>

#include "flatwright/status.h"

/* A pivot below this part of the first one marks a dependent column (columns of unit length). */
#define FW_RANK_TOLERANCE 1e-11

/*
 * Comes before everything else here. FW_SYSTEM when there is no room for what OpenBLAS needs for
 * itself, which would wait for it without end. Test: tests/fault/memory.sh
 */
fw_status fw_linalg_ready(fw_error *err);

/*
 * A symmetric matrix, packed, is its upper triangle column after column. Where row i of column j is,
 * i <= j; fw_packed(0, n) is how many numbers n columns have.
 */
static inline size_t fw_packed(int i, int j)
{
    return (size_t)i + (size_t)j * ((size_t)j + 1) / 2;
}

/* QR of A D with column pivoting, D scaling every column to unit length: A D P = Q R. */
typedef struct fw_qr {
    int m, n, rank;
    double *a;     /* m x n: R above the diagonal, reflectors below */
    double *tau;   /* min(m, n) */
    int *perm;     /* n: column k of the factor was column perm[k] of A */
    double *scale; /* n: D */
} fw_qr;

/*
 * Factors a copy of the m x n matrix `a`. Release with fw_qr_release.
 * length     in  n: the lengths the columns are scaled by; NULL: their own. Columns that an earlier
 *                elimination may have left with nothing but rounding want their lengths before it.
 * tolerance  in  0: FW_RANK_TOLERANCE
 */
fw_status fw_qr_factor(fw_qr *qr, int m, int n, const double *a, const double *length,
                       double tolerance, fw_error *err);
void fw_qr_release(fw_qr *qr);

/*
 * The same R, order and scale from gram = A'A alone (n x n, packed: see fw_packed), by Cholesky with
 * pivoting: with m = n, and without Q. *good: every pivot kept is at least `least`, and the squares
 * of those left out are the rounding of `whole` columns (n, or more of which these were a part); else
 * nothing is made. What comes of it is off by 1e-16 / least^2.
 */
fw_status fw_qr_of_gram(fw_qr *qr, int n, const double *gram, const double *length, double least,
                        int whole, bool *good, fw_error *err);

/* c (m x ncols) <- Q' c, or Q c. */
fw_status fw_qr_apply(const fw_qr *qr, int transposed, int ncols, double *c, fw_error *err);

/* q (m x m) <- the whole Q. */
fw_status fw_qr_form(const fw_qr *qr, double *q, fw_error *err);

/*
 * x (n x ncols) <- D P R11^-1 (the first rank rows of c, which is m x ncols); rows of dependent
 * columns get 0.
 */
fw_status fw_qr_solve(const fw_qr *qr, int ncols, const double *c, double *x, fw_error *err);

/*
 * D P R11^-1, so that the covariance is its product with its transpose, as an upper triangle with its
 * rows in another order: row k of root (rank x rank) is that of unknown perm[k]; the others have none.
 */
void fw_qr_root(const fw_qr *qr, double *root);

/* z (n x (n - rank)) <- an orthonormal basis of the null space of A. */
fw_status fw_qr_null(const fw_qr *qr, double *z, fw_error *err);

/*
 * Plain QR in place without pivoting: on return the upper triangle of the leading
 * min(m, n) rows of a (leading dimension lda) holds R, everything below is 0.
 */
fw_status fw_qr_reduce(int m, int n, double *a, int lda, fw_error *err);

/*
 * a has an upper triangle of n rows, and m rows below: on return the triangle R of all of them,
 * zeros below. The triangle's zeros cost nothing.
 */
fw_status fw_qr_append(int n, int m, double *a, int lda, fw_error *err);

/* Orthonormal basis q (m x k, k = min(m, n)) and r (k x n) of a (m x n), which is destroyed. */
fw_status fw_qr_thin(int m, int n, double *a, double *q, double *r, fw_error *err);

/*
 * QR in place, column by column in the order given, leaving dependent columns out: column j counts
 * only when what the columns before it leave of it is longer than tolerance * length[j], and is not
 * rounding beside the longest length.
 * used (n) tells which; the r-th used column has its diagonal in row r. Further columns n .. n + extra
 * are carried along. Returns the number of used columns. Cost 2 m n^2, unblocked: for small triangles.
 */
int fw_qr_stairs(int m, int n, int extra, double *a, int lda, const double *length,
                 double tolerance, char *used);

/*
 * a (n x n symmetric) <- its pseudo-inverse; eigenvalues below tolerance times the largest count as 0.
 * Where rows and columns fall apart into blocks, so does the inverse: exact zeros, and cost by block.
 */
fw_status fw_pinv_symmetric(int n, double *a, double tolerance, fw_error *err);

/* a (n x n symmetric) <- its eigenvectors by column; w (n) <- the eigenvalues, ascending. */
fw_status fw_eigen_symmetric(int n, double *a, double *w, fw_error *err);

/*
 * T = Q'A Q, tridiagonal, for a (n x n symmetric, lower triangle not read; overwritten): diagonal d (n)
 * and what stands beside it e (n - 1); x (n) <- Q'x. A seventh of the eigenvalues' work, and enough
 * for the determinant of A + sI and the solution with it at any s.
 */
fw_status fw_tridiagonal(int n, double *a, double *d, double *e, double *x, fw_error *err);

/* c (n x ncols) <- R^-1 c, R the leading upper triangle of r. */
void fw_upper_solve(int n, int ncols, const double *r, int ldr, double *c, int ldc);

/* c (n x ncols) <- R^-T c. */
void fw_upper_solve_transposed(int n, int ncols, const double *r, int ldr, double *c, int ldc);

/* c (n x ncols) <- R'c. */
void fw_upper_times_transposed(int n, int ncols, const double *r, int ldr, double *c, int ldc);

/* c (m x n) <- c R^-1. */
void fw_upper_solve_right(int m, int n, const double *r, int ldr, double *c, int ldc);

/* root (n x n) <- R^-1, zeros below; R the leading upper triangle of r. root may be r, with ldr = n. */
void fw_upper_inverse(int n, const double *r, int ldr, double *root);

/* c (n x n) <- root root', root an upper triangle with zeros below. c may be root. */
void fw_upper_square(int n, const double *root, double *c);

/*
 * a (n x n symmetric positive definite, lower triangle not read) <- R in its upper triangle, zero
 * below, A = R'R. FW_SYSTEM when it is not positive definite.
 */
fw_status fw_cholesky(int n, double *a, fw_error *err);

/*
 * a (n x n symmetric positive definite) <- its inverse; *rcond <- the reciprocal condition of a in the
 * 1-norm, 0 when it is not positive definite: a is lost then.
 */
fw_status fw_inverse_definite(int n, double *a, double *rcond, fw_error *err);

/* p (m x m), an orthogonal projection on `rank` dimensions, lost; r (rank x m) <- orthonormal rows, p = r'r. */
fw_status fw_root_of_projection(int m, int rank, double *p, double *r, fw_error *err);

/* Sum of x[i * stride] y[i]. */
double fw_dot(int n, const double *x, int stride, const double *y);

/* y (n) <- a' x, a m x n: the inner products of x with every column. */
void fw_dots(int m, int n, const double *a, int lda, const double *x, double *y);

/* y[i] += scale x[i * stride]. */
void fw_add(int n, double scale, const double *x, int stride, double *y);

/* x[i] <- c x[i] + s y[i], y[i] <- c y[i] - s x[i]: a turn of two rows in their plane. */
void fw_turn(int n, double c, double s, double *x, double *y);

/* Length of a vector, without overflow. */
double fw_length(int n, const double *x);

/* c (m x n) <- alpha op(a) op(b) + beta c, with k the inner dimension; ta, tb: transpose. Dense, no blanks. */
void fw_gemm(int ta, int tb, int m, int n, int k, double alpha, const double *a, int lda,
             const double *b, int ldb, double beta, double *c, int ldc);

/* c (n x n, symmetric) += a a', a n x k. */
void fw_gram_rows(int n, int k, const double *a, int lda, double *c, int ldc);

/* The upper triangle of c (n x n) += a' a, a k x n. */
void fw_gram(int n, int k, const double *a, int lda, double *c, int ldc);

#endif
