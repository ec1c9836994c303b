/* linalg.c - the dense kernels: by definition, nothing to do, what they refuse, no memory. */
#include "adjust/linalg.h"

#include <math.h>
#include <string.h>

#include "../support/close.h"
#include "../support/refuse.h"
#include "flatwright/lstsq.h"
#include "flatwright/nnls.h"

enum { M = 5, N = 3 };

/* Columns 1, i, i^2 at i = 0 .. 4. */
static const double powers[M * N] = {1, 1, 1, 1, 1, 0, 1, 2, 3, 4, 0, 1, 4, 9, 16};

/* 6 on the diagonal, 1 beside it. */
static void lay_definite(double a[N * N])
{
    for (int i = 0; i < N * N; i++)
        a[i] = i % (N + 1) == 0 ? 6 : i == 2 || i == 6 ? 0 : 1;
}

static void says_not_finite(fw_status status, const fw_error *err)
{
    assert_int_equal(status, FW_SYSTEM);
    assert_string_equal(err->text, "a number in the equations is not finite");
}

static void not_finite(void **state)
{
    (void)state;
    for (int which = 0; which < 2; which++) {
        double bad = which ? NAN : INFINITY;
        double a[M * N], b[M] = {1, 2, 3, 4, 5}, x[N] = {7}, rcond = 1;
        fw_error err;
        fw_qr qr = {0};
        memcpy(a, powers, sizeof a);
        a[4] = bad; /* among the first N * N as well */
        says_not_finite(fw_lstsq(M, N, a, b, 0, x, NULL, NULL, NULL, &err), &err);
        says_not_finite(fw_qr_factor(&qr, M, N, a, NULL, 0, &err), &err);
        says_not_finite(fw_eigen_symmetric(N, a, x, &err), &err);
        says_not_finite(fw_cholesky(N, a, &err), &err);
        says_not_finite(fw_tridiagonal(N, a, x, x, x, &err), &err);
        says_not_finite(fw_inverse_definite(N, a, &rcond, &err), &err);
        says_not_finite(fw_pinv_symmetric(N, a, 1e-12, &err), &err);
        b[2] = bad;
        says_not_finite(fw_lstsq(M, N, powers, b, 0, x, NULL, NULL, NULL, &err), &err);
        assert_close(x[0], 7, 0, 0);
    }
}

static void not_definite(void **state)
{
    (void)state;
    double a[N * N], r[N * N], rcond = 1;
    fw_error err;
    lay_definite(a);
    a[4] = 0;
    assert_int_equal(fw_cholesky(N, a, &err), FW_SYSTEM);
    assert_non_null(strstr(err.text, "dpotrf"));
    lay_definite(a);
    a[4] = 0;
    assert_int_equal(fw_inverse_definite(N, a, &rcond, &err), FW_OK);
    assert_close(rcond, 0, 0, 0);
    lay_definite(a);
    a[0] = 1e-310; /* its inverse is beyond all numbers */
    a[1] = a[N] = 0;
    assert_int_equal(fw_inverse_definite(N, a, &rcond, &err), FW_OK);
    assert_close(rcond, 0, 0, 0);
    lay_definite(a); /* three dimensions, not two */
    assert_int_equal(fw_root_of_projection(N, 2, a, r, &err), FW_SYSTEM);
    assert_string_equal(err.text, "linear algebra failed: rank 3 of a ring, expected 2");
}

static void nothing_to_do(void **state)
{
    (void)state;
    double a[1] = {7}, rcond = 0;
    fw_qr qr = {0};
    assert_int_equal(fw_cholesky(0, a, NULL), FW_OK);
    assert_int_equal(fw_inverse_definite(0, a, &rcond, NULL), FW_OK);
    assert_close(rcond, 1, 0, 0);
    assert_int_equal(fw_eigen_symmetric(0, a, a, NULL), FW_OK);
    assert_int_equal(fw_tridiagonal(0, a, a, a, a, NULL), FW_OK);
    assert_int_equal(fw_root_of_projection(3, 0, a, a, NULL), FW_OK);
    assert_int_equal(fw_qr_thin(0, 3, a, a, a, NULL), FW_OK);
    fw_upper_solve(0, 1, a, 1, a, 1);
    fw_upper_solve_transposed(0, 1, a, 1, a, 1);
    fw_upper_solve_right(0, 1, a, 1, a, 1);
    fw_gemm(0, 0, 0, 1, 1, 1, a, 1, a, 1, 0, a, 1);
    assert_int_equal(fw_qr_factor(&qr, 0, 2, a, NULL, 0, NULL), FW_OK);
    assert_int_equal(qr.rank, 0);
    assert_int_equal(qr.perm[0] + qr.perm[1], 1);
    fw_qr_release(&qr);
    assert_close(a[0], 7, 0, 0);
}

/* A A^-1 = 1, R'R = A, V w V' = A, and A A+ A = A of rank one. */
static void by_definition(void **state)
{
    (void)state;
    double a[N * N], b[N * N], c[N * N], w[N], rcond;
    lay_definite(a);
    lay_definite(b);
    assert_int_equal(fw_inverse_definite(N, b, &rcond, NULL), FW_OK);
    /* In the 1-norm |A| = 8; the inverse by cofactors over det = 204: its middle column is longest,
       (6 + 36 + 6) / 204. */
    assert_close(rcond, 204 / (8.0 * 48), 1e-12, 0);
    fw_gemm(0, 0, N, N, N, 1, a, N, b, N, 0, c, N);
    for (int i = 0; i < N * N; i++)
        assert_close(c[i], i % (N + 1) == 0, 0, 1e-14);
    lay_definite(b);
    assert_int_equal(fw_cholesky(N, b, NULL), FW_OK);
    fw_gemm(1, 0, N, N, N, 1, b, N, b, N, 0, c, N);
    for (int i = 0; i < N * N; i++)
        assert_close(c[i], a[i], 0, 1e-13);
    lay_definite(b);
    assert_int_equal(fw_eigen_symmetric(N, b, w, NULL), FW_OK);
    assert_close(w[0], 6 - sqrt(2), 1e-14, 0); /* of a chain: 6 + 2 cos k pi / 4 */
    assert_close(w[1], 6, 1e-14, 0);
    assert_close(w[2], 6 + sqrt(2), 1e-14, 0);
    for (int i = 0; i < N * N; i++) { /* v v', v = 1 2 3: its inverse over 14^2 */
        int row = i % N, column = i / N;
        c[i] = b[i] = (1 + row) * (1 + column);
    }
    assert_int_equal(fw_pinv_symmetric(N, c, 1e-12, NULL), FW_OK);
    for (int i = 0; i < N * N; i++)
        assert_close(c[i], b[i] / 196, 1e-12, 0);
}

/* det(A + s) and x'(A + s)^-1 x by the tridiagonal, and by A itself. */
static void as_tridiagonal(void **state)
{
    enum { SIZE = 40 };
    static double a[SIZE * SIZE], b[SIZE * SIZE], d[SIZE], e[SIZE], x[SIZE], y[SIZE];
    (void)state;
    for (double shift = 0.25; shift < 100; shift *= 8) {
        double log_det = 0, square = 0, pivot = 1, below = 0, want_det = 0, want_square = 0;
        for (int j = 0; j < SIZE; j++) {
            x[j] = y[j] = cos(j * j);
            for (int i = 0; i < SIZE; i++) { /* 1 / (i + j + 1), Hilbert's, definite */
                a[i + j * SIZE] = i <= j ? 1.0 / (i + j + 1) : 0;
                b[i + j * SIZE] = 1.0 / (i + j + 1) + (i == j ? shift : 0);
            }
        }
        assert_int_equal(fw_tridiagonal(SIZE, a, d, e, x, NULL), FW_OK);
        for (int i = 0; i < SIZE; i++) {
            double off = i ? e[i - 1] : 0;
            x[i] -= off / pivot * below;
            pivot = d[i] + shift - off * off / pivot;
            below = x[i];
            log_det += log(pivot);
            square += x[i] * x[i] / pivot;
        }
        assert_int_equal(fw_cholesky(SIZE, b, NULL), FW_OK);
        fw_upper_solve_transposed(SIZE, 1, b, SIZE, y, SIZE);
        for (int i = 0; i < SIZE; i++) {
            want_det += 2 * log(b[i + i * SIZE]);
            want_square += y[i] * y[i];
        }
        assert_close(log_det, want_det, 1e-13, 1e-13);
        assert_close(square, want_square, 1e-12, 0);
    }
}

/* Rows 0, 2 and 1, 3 know nothing of each other; the second pair is rounding beside the first. */
static void falls_apart(void **state)
{
    (void)state;
    for (int k = 0; k < 2; k++) {
        double small = k ? 1e-14 : 1e-10, a[16] = {0};
        a[0] = a[10] = 2;
        a[2] = a[8] = 1;
        a[5] = a[7] = a[13] = a[15] = small; /* of rank 1 */
        assert_int_equal(fw_pinv_symmetric(4, a, 1e-12, NULL), FW_OK);
        for (int i = 0; i < 16; i++) {
            bool first = i == 0 || i == 10, second = i == 5 || i == 7 || i == 13 || i == 15;
            double want = first ? 2 / 3.0 : i == 2 || i == 8 ? -1 / 3.0 : 0;
            want = second && k == 0 ? 1 / (4 * small) : want;
            assert_close(a[i], want, 1e-12, 0); /* zeros are zeros */
        }
    }
}

/* The line 1 + 2 i - i^2 is met; without freedom to spare its cofactor is (A'A)^-1 all the same. */
static void fits(void **state)
{
    (void)state;
    double b[M], x[N], q[N * N], ata[N * N], c[N * N], residual[M];
    for (int i = 0; i < M; i++)
        b[i] = 1 + 2 * i - i * i + (i == 0 || i == 4 ? 1 : i == 2 ? 6 : -4); /* 1 -4 6 -4 1 */
    assert_int_equal(fw_lstsq(M, N, powers, b, 0, x, q, residual, NULL, NULL), FW_OK);
    assert_close(x[0], 1, 0, 1e-13);
    assert_close(x[1], 2, 0, 1e-13);
    assert_close(x[2], -1, 0, 1e-13);
    for (int i = 0; i < M; i++) /* fourth differences are at right angles to all of them */
        assert_close(residual[i], i == 0 || i == 4 ? 1 : i == 2 ? 6 : -4, 0, 1e-12);
    fw_gemm(1, 0, N, N, M, 1, powers, M, powers, M, 0, ata, N);
    fw_gemm(0, 0, N, N, N, 1, ata, N, q, N, 0, c, N);
    for (int i = 0; i < N * N; i++)
        assert_close(c[i], i % (N + 1) == 0, 0, 1e-12);
}

/* A column counts as dependent when less than 1e-13 of its length is its own. */
static void nearly_dependent(void **state)
{
    (void)state;
    const double b[2] = {1, 1};
    for (int k = 0; k < 2; k++) {
        double a[4] = {1, 0, 1, k ? 2e-13 : 5e-14}, x[2];
        int rank;
        assert_int_equal(fw_lstsq(2, 2, a, b, 0, x, NULL, NULL, &rank, NULL), FW_OK);
        assert_int_equal(rank, 1 + k);
        assert_int_equal(fw_lstsq(2, 2, a, b, 1e-12, x, NULL, NULL, &rank, NULL), FW_OK);
        assert_int_equal(rank, 1);
    }
    double far[4] = {1e8, 1e8, 1e-8, 0}, x[2]; /* lengths do not count: x = 1e-8, 0 */
    int rank;
    assert_int_equal(fw_lstsq(2, 2, far, b, 0, x, NULL, NULL, &rank, NULL), FW_OK);
    assert_int_equal(rank, 2);
    assert_close(x[0], 1e-8, 1e-12, 0);
    assert_close(x[1], 0, 0, 1e-9);
}

/*
 * gram (4 x 4, and packed) <- A'A for the powers and, last, `part` of their sum and the rest a column of
 * its own.
 */
static void lay_gram(double part, double a[M * 4], double gram[16], double packed[10],
                     double length[4])
{
    const double own[M] = {1, -1, 0, 0, 2};
    memcpy(a, powers, sizeof powers);
    for (int i = 0; i < M; i++)
        a[i + 3 * M] = part * (powers[i] + powers[i + M] + powers[i + 2 * M]) + (1 - part) * own[i];
    fw_gemm(1, 0, 4, 4, M, 1, a, M, a, M, 0, gram, 4);
    for (int j = 0; j < 4; j++) {
        length[j] = sqrt(gram[5 * j]);
        for (int i = 0; i <= j; i++)
            *packed++ = gram[i + 4 * j];
    }
}

/* R, rank and null space from A'A are those of QR; what squares would spoil is refused. */
static void gram(void **state)
{
    (void)state;
    const double own[M] = {1, -1, 0, 0, 2};
    double a[M * 4], g[16], packed[10], length[4], rows[16] = {0}, z[4], c[M], x[4], b[4];
    bool good;
    fw_qr qr;
    for (int whole = 0; whole < 2; whole++) {
        lay_gram(whole ? 0 : 1, a, g, packed, length);
        assert_int_equal(fw_qr_of_gram(&qr, 4, packed, length, 1e-3, 4, &good, NULL), FW_OK);
        assert_true(good);
        assert_int_equal(qr.rank, whole ? 4 : 3);
        fw_gemm(1, 0, 4, 1, M, 1, a, M, own, M, 0, b, 4);
        for (int i = 0; i < qr.rank; i++)
            c[i] = b[qr.perm[i]] * qr.scale[qr.perm[i]];
        fw_upper_solve_transposed(qr.rank, 1, qr.a, qr.m, c, qr.m);
        assert_int_equal(fw_qr_solve(&qr, 1, c, x, NULL), FW_OK);
        fw_gemm(0, 0, 4, 1, 4, 1, g, 4, x, 4, 0, c, 4); /* A'A x = A'b */
        for (int i = 0; i < 4; i++)
            assert_close(c[i], b[i], 1e-9, 1e-9);
        if (!whole) {
            assert_int_equal(fw_qr_null(&qr, z, NULL), FW_OK);
            for (int j = 0; j < 4; j++) /* 1 1 1 -1 over 2, of either sign */
                assert_close(z[j] * z[3], j == 3 ? 0.25 : -0.25, 1e-9, 0);
        }
        fw_qr_release(&qr);
    }
    /* 1e-5 of its own: too much for rounding, too little for its square to carry three digits */
    lay_gram(1 - 1e-5, a, g, packed, length);
    assert_int_equal(fw_qr_of_gram(&qr, 4, packed, length, 1e-3, 4, &good, NULL), FW_OK);
    assert_false(good);
    assert_null(qr.a);
    lay_gram(1 - 5e-6, a, g, packed, length); /* rounding of a thousand columns, but not of four */
    for (int whole = 4; whole <= 1000; whole += 996) {
        assert_int_equal(fw_qr_of_gram(&qr, 4, packed, length, 1e-3, whole, &good, NULL), FW_OK);
        assert_int_equal(good, whole == 1000);
        fw_qr_release(&qr);
    }
    lay_gram(1, a, g, packed, length); /* of columns that the rest takes wholly, none is left to begin with */
    for (int j = 0; j < 4; j++)
        length[j] *= 1e9;
    assert_int_equal(fw_qr_of_gram(&qr, 4, packed, length, 1e-3, 4, &good, NULL), FW_OK);
    assert_true(good);
    assert_int_equal(qr.rank, 0);
    fw_qr_release(&qr);
    fw_gram_rows(4, M, (const double[4 * M]){1, 0, 0, 0, 0, 2, 0, 0, 3, 0, 1}, 4, rows, 4);
    for (int i = 0; i < 16; i++) /* 1 0 3 . / 0 2 0 . / 0 0 1 .: rows' products */
        assert_close(rows[i], i == 0 ? 10 : i == 5 ? 4 : i == 2 || i == 8 ? 3 : i == 10 ? 1 : 0, 0,
                     0);
}

/* Triangles of sizes that are split never, once and twice: R^-1 R = 1, and root root' by its rows. */
static void triangles(void **state)
{
    (void)state;
    enum { MOST = 77, LD = MOST + 2 };
    static double r[MOST * LD], root[MOST * MOST], c[MOST * MOST];
    for (int j = 0; j < MOST; j++)
        for (int i = 0; i < LD; i++) /* what stands below is not to be read */
            r[i + j * LD] = i == j ? 2 + j % 3 : i < j ? sin(i + 7.0 * j) / (1 + j - i) : NAN;
    static const int sizes[] = {0, 1, 32, 33, MOST};
    for (int k = 0; k < 5; k++) {
        int n = sizes[k];
        fw_upper_inverse(n, r, LD, root);
        for (int j = 0; j < n; j++)
            for (int i = 0; i < n; i++) {
                double sum = 0, product = 0;
                for (int q = i; q <= j; q++)
                    sum += root[i + q * n] * r[q + j * LD];
                assert_close(sum, i == j, 0, 1e-13);
                for (int q = 0; q < n; q++)
                    product += root[i + q * n] * root[j + q * n];
                c[i + j * n] = product;
            }
        fw_upper_square(n, root, root);
        for (int i = 0; i < n * n; i++)
            assert_close(root[i], c[i], 1e-12, 1e-13);
    }
}

/* Of three columns alike but for their lengths: one root, two null vectors, at right angles. */
static void root_and_null(void **state)
{
    (void)state;
    for (int k = 0; k < 2; k++) {
        const double length[N] = {1, 2, k ? 1e5 : 3};
        double a[M * N], root, z[N * 2];
        fw_qr qr;
        for (int j = 0; j < N; j++)
            for (int i = 0; i < M; i++)
                a[i + j * M] = length[j] * (i + 1) / sqrt(55);
        assert_int_equal(fw_qr_factor(&qr, M, N, a, NULL, 0, NULL), FW_OK);
        assert_int_equal(qr.rank, 1);
        fw_qr_root(&qr, &root);
        assert_close(fabs(root), 1 / length[qr.perm[0]], 1e-13, 0);
        assert_int_equal(fw_qr_null(&qr, z, NULL), FW_OK);
        fw_qr_release(&qr);
        for (int p = 0; p < 2; p++) {
            double along = 0;
            for (int j = 0; j < N; j++)
                along += length[j] * z[j + p * N];
            assert_close(along / length[2], 0, 0, 1e-13);
            for (int q = 0; q < 2; q++)
                assert_close(z[p * N] * z[q * N] + z[1 + p * N] * z[1 + q * N] +
                                 z[2 + p * N] * z[2 + q * N], p == q, 0, 1e-13);
        }
    }
}

static fw_status ask(void *data, fw_error *err)
{
    const double b[M] = {1, 2, 3, 4, 5};
    double a[M * N], x[N] = {7}, q[N * N], residual[M], r[N * N], qq[M * N];
    fw_status status = FW_OK;
    memcpy(a, powers, sizeof a);
    if (*(int *)data < 3)
        lay_definite(a);
    switch (*(int *)data) {
    case 0: return fw_eigen_symmetric(N, a, x, err);
    case 1: return fw_pinv_symmetric(N, a, 1e-12, err);
    case 2: return fw_root_of_projection(N, N, a, r, err);
    case 3: return fw_qr_thin(M, N, a, qq, r, err);
    case 4: return fw_qr_reduce(M, N, a, M, err);
    case 5: return fw_qr_append(N, 2, a, M, err);
    case 6: {
        bool good = false;
        fw_qr qr = {0};
        const double g[3] = {2, 1, 2};
        status = fw_qr_of_gram(&qr, 2, g, b, 1e-3, 2, &good, err);
        fw_qr_release(&qr);
        return status;
    }
    case 7: {
        double d[N], e[N];
        lay_definite(a);
        return fw_tridiagonal(N, a, d, e, x, err);
    }
    case 8: status = fw_lstsq(M, N, a, b, 0, x, q, residual, NULL, err); break;
    default: status = fw_nnls(M, N, 1, a, b, x, NULL, residual, err);
    }
    if (status)
        assert_close(x[0], 7, 0, 0);
    return status;
}

static void no_memory(void **state)
{
    (void)state;
    for (int which = 0; which <= 9; which++)
        assert_true(refuse_each(ask, &which, FW_OK, REFUSE_SPARE_NONE) > 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(not_finite),    cmocka_unit_test(not_definite),
        cmocka_unit_test(nothing_to_do), cmocka_unit_test(by_definition),
        cmocka_unit_test(fits),          cmocka_unit_test(nearly_dependent),
        cmocka_unit_test(gram),          cmocka_unit_test(falls_apart),
        cmocka_unit_test(triangles),     cmocka_unit_test(root_and_null),
        cmocka_unit_test(no_memory),     cmocka_unit_test(as_tridiagonal),
    };
    return cmocka_run_group_tests_name("linalg", tests, NULL, NULL);
}
