/* nnls.c - optimality, free coefficients, dependent columns, hostile shapes and numbers. */
#include <float.h>
#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "../support/close.h"
#include "flatwright/nnls.h"

/* Invented data: a fixed stream of numbers in (-1, 1). */
static uint64_t seed;

static double number(void)
{
    seed = seed * 6364136223846793005u + 1442695040888963407u;
    return (double)(seed >> 11) / 4503599627370496.0 - 1;
}

/* Karush, Kuhn and Tucker: x >= 0, dual <= 0, their products 0; the dual is computed again here. */
static void assert_optimal(int m, int n, int nfree, const double *a, const double *b,
                           const double *x, const double *dual, double norm, double tolerance)
{
    double sum = 0, rounded = 0; /* of A x, for x is rounded */
    double *r = malloc((size_t)m * sizeof *r);
    for (int i = 0; i < m; i++) {
        double size = 0;
        r[i] = b[i];
        for (int j = 0; j < n; j++) {
            r[i] -= a[i + (size_t)j * m] * x[j];
            size += fabs(a[i + (size_t)j * m] * x[j]);
        }
        sum += r[i] * r[i];
        rounded = fmax(rounded, DBL_EPSILON * size);
    }
    assert_close(norm, sqrt(sum), 1e-12, 1e-12);
    for (int j = 0; j < n; j++) {
        double w = 0, scale = 0;
        for (int i = 0; i < m; i++) {
            w += a[i + (size_t)j * m] * r[i];
            scale += a[i + (size_t)j * m] * a[i + (size_t)j * m];
        }
        scale = sqrt(scale);
        double most = tolerance * (1 + scale) + rounded * scale;
        assert_close(dual[j], w, 0, most);
        if (j < nfree || x[j] > 0)
            assert_close(w, 0, 0, most);
        if (j >= nfree) {
            assert_true(x[j] >= 0);
            assert_true(w <= most);
        }
    }
    free(r);
}

/* 400 problems, tall, square and wide; those with less rank than columns included. */
static void test_optimal(void **state)
{
    (void)state;
    double a[40 * 40], b[40], x[40], dual[40], norm;
    seed = 1;
    for (int run = 0; run < 400; run++) {
        int m = 1 + run % 37, n = 1 + (run * 7) % 40, nfree = run % 5 == 0 && n > 3 ? 3 : 0;
        for (int i = 0; i < m * n; i++)
            a[i] = number();
        for (int j = 4; j + 1 < n && run % 3 == 0; j += 4) /* a column that depends on two others */
            for (int i = 0; i < m; i++)
                a[i + j * m] = a[i + (j - 1) * m] + 0.5 * a[i + (j + 1) * m];
        for (int i = 0; i < m; i++)
            b[i] = number();
        assert_int_equal(fw_nnls(m, n, nfree, a, b, x, dual, &norm, NULL), FW_OK);
        assert_optimal(m, n, nfree, a, b, x, dual, norm, 1e-10);
    }
}

/* A second way: all 2^8 sets of columns, normal equations by elimination; the best feasible one. */
static double by_enumeration(int m, int n, const double *a, const double *b, double *best_x)
{
    double best = INFINITY;
    for (int mask = 0; mask < 1 << n; mask++) {
        double g[8][9], x[8] = { 0 };
        int in[8], k = 0;
        for (int j = 0; j < n; j++)
            if (mask >> j & 1)
                in[k++] = j;
        for (int p = 0; p < k; p++)
            for (int q = 0; q <= k; q++) {
                g[p][q] = 0;
                for (int i = 0; i < m; i++)
                    g[p][q] += a[i + in[p] * m] * (q < k ? a[i + in[q] * m] : b[i]);
            }
        for (int p = 0; p < k; p++)
            for (int q = 0; q < k; q++)
                if (q != p) {
                    double f = g[q][p] / g[p][p];
                    for (int c = p; c <= k; c++)
                        g[q][c] -= f * g[p][c];
                }
        int feasible = 1;
        for (int p = 0; p < k; p++) {
            x[in[p]] = g[p][k] / g[p][p];
            feasible &= x[in[p]] >= 0;
        }
        double sum = 0;
        for (int i = 0; i < m; i++) {
            double r = b[i];
            for (int j = 0; j < n; j++)
                r -= a[i + j * m] * x[j];
            sum += r * r;
        }
        if (feasible && sum < best) {
            best = sum;
            memcpy(best_x, x, n * sizeof *x);
        }
    }
    return sqrt(best);
}

static void test_enumeration(void **state)
{
    (void)state;
    double a[12 * 8], b[12], x[8], want[8], norm;
    seed = 20;
    for (int run = 0; run < 60; run++) {
        for (int i = 0; i < 12 * 8; i++)
            a[i] = number();
        for (int i = 0; i < 12; i++)
            b[i] = number();
        double best = by_enumeration(12, 8, a, b, want);
        assert_int_equal(fw_nnls(12, 8, 0, a, b, x, NULL, &norm, NULL), FW_OK);
        assert_close(norm, best, 1e-12, 0);
        for (int j = 0; j < 8; j++)
            assert_close(x[j], want[j], 1e-9, 1e-9);
    }
}

/* Free coefficients: the same as the column with both signs. */
static void test_free_columns(void **state)
{
    (void)state;
    double a[15 * 8], b[15], x[6], both[8], norm, norm2;
    int negative = 0;
    seed = 5;
    for (int run = 0; run < 30; run++) {
        for (int i = 0; i < 15 * 6; i++)
            a[i] = number();
        for (int i = 0; i < 15 * 2; i++)
            a[15 * 6 + i] = -a[i];
        for (int i = 0; i < 15; i++)
            b[i] = number();
        assert_int_equal(fw_nnls(15, 6, 2, a, b, x, NULL, &norm, NULL), FW_OK);
        assert_int_equal(fw_nnls(15, 8, 0, a, b, both, NULL, &norm2, NULL), FW_OK);
        assert_close(norm, norm2, 1e-11, 0);
        assert_close(x[0], both[0] - both[6], 1e-9, 1e-9);
        assert_close(x[1], both[1] - both[7], 1e-9, 1e-9);
        negative += x[0] < 0;
    }
    assert_true(negative > 0);
}

/* Overlapping bumps of many widths, a plan's kind of matrix: condition beyond 1e10. */
static void test_bumps(void **state)
{
    (void)state;
    enum { M = 160, N = 120 };
    static double a[M * N], b[M], x[N], dual[N];
    double norm;
    for (int j = 0; j < N; j++)
        for (int i = 0; i < M; i++) {
            double t = (i + 0.5) / M - (j % 30 + 0.5) / 30, w = 0.05 * floor(1 + j / 30.0);
            a[i + j * M] = exp(-t * t / (2 * w * w));
        }
    for (int i = 0; i < M; i++)
        b[i] = 100 * sin(9.0 * i / M) + 20 * cos(31.0 * i / M);
    assert_int_equal(fw_nnls(M, N, 0, a, b, x, dual, &norm, NULL), FW_OK);
    assert_optimal(M, N, 0, a, b, x, dual, norm, 1e-8); /* 1e-11 of |b| */
}

/* Free powers of t and bumps, nearly dependent: the residual stays square to what is inside. */
static void test_powers(void **state)
{
    (void)state;
    enum { M = 60, FREE = 5, N = 20 };
    static double a[M * N], b[M], x[N], dual[N];
    double norm;
    seed = 9;
    for (int i = 0; i < M; i++) {
        double t = (i + 0.5) / M, power = 1;
        for (int j = 0; j < N; j++, power *= t) {
            double u = 10 * (t - (j - FREE + 0.5) / (N - FREE));
            a[i + j * M] = j < FREE ? power : exp(-u * u);
        }
        b[i] = number();
    }
    assert_int_equal(fw_nnls(M, N, FREE, a, b, x, dual, &norm, NULL), FW_OK);
    assert_optimal(M, N, FREE, a, b, x, dual, norm, 1e-11);
}

static void test_scale(void **state)
{
    (void)state;
    double a[10 * 5], b[10], x[5], y[5], norm, norm2;
    seed = 9;
    for (int i = 0; i < 50; i++)
        a[i] = number();
    for (int i = 0; i < 10; i++)
        b[i] = number();
    assert_int_equal(fw_nnls(10, 5, 0, a, b, x, NULL, &norm, NULL), FW_OK);
    for (int i = 0; i < 50; i++)
        a[i] *= i / 10 % 2 ? 1e150 : 1e-140;
    for (int i = 0; i < 10; i++)
        b[i] *= 1e-30;
    assert_int_equal(fw_nnls(10, 5, 0, a, b, y, NULL, &norm2, NULL), FW_OK);
    assert_close(norm2, 1e-30 * norm, 1e-12, 0);
    for (int j = 0; j < 5; j++)
        assert_close(y[j] * (j % 2 ? 1e180 : 1e-110), x[j], 1e-10, 1e-10);
}

static void test_faults(void **state)
{
    (void)state;
    double a[4] = { 1, 0, 0, NAN }, b[2] = { 1, 1 }, x[2] = { 7, 7 }, norm = 7;
    fw_error err = { 0 };
    assert_int_equal(fw_nnls(2, 2, 0, a, b, x, NULL, &norm, &err), FW_SYSTEM);
    assert_int_equal(err.status, FW_SYSTEM);
    assert_int_equal(fw_nnls(2, 2, 3, a, b, x, NULL, &norm, NULL), FW_SYSTEM);
    assert_int_equal(fw_nnls(0, 2, 0, a, b, x, NULL, &norm, NULL), FW_SYSTEM);
    assert_close(x[0], 7, 0, 0);
    assert_close(norm, 7, 0, 0);
    a[3] = 0; /* a column of zeros */
    assert_int_equal(fw_nnls(2, 2, 0, a, b, x, NULL, &norm, NULL), FW_OK);
    assert_close(x[0], 1, 0, 1e-15);
    assert_close(x[1], 0, 0, 0);
    assert_close(norm, 1, 0, 1e-15);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_optimal), cmocka_unit_test(test_enumeration),
        cmocka_unit_test(test_free_columns), cmocka_unit_test(test_bumps),
        cmocka_unit_test(test_powers),  cmocka_unit_test(test_scale),
        cmocka_unit_test(test_faults),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
