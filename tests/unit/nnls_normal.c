/* nnls_normal.c - normal equations: the same least as by QR, and no more columns than are needed. */
#include <math.h>
#include <stdint.h>
#include <string.h>

#include "../support/close.h"
#include "adjust/nnls_normal.h"
#include "flatwright/nnls.h"

enum { M = 30, N = 20 };

/* Invented data: a fixed stream of numbers in (-1, 1). */
static uint64_t seed;

static double number(void)
{
    seed = seed * 6364136223846793005u + 1442695040888963407u;
    return (double)(seed >> 11) / 4503599627370496.0 - 1;
}

typedef struct equations {
    double a[M * N], b[M], g[N * N], c[N];
    int asked[N];
} equations;

/* Least squares of M rows in N columns, the last `twins` of which are those before them again. */
static void pose(equations *e, unsigned kind, int twins)
{
    seed = kind;
    memset(e, 0, sizeof *e);
    for (int i = 0; i < M * (N - twins); i++)
        e->a[i] = number() + 0.1 * (kind % 10);
    for (int i = M * (N - twins); i < M * N; i++)
        e->a[i] = e->a[i - M * twins];
    for (int i = 0; i < M; i++)
        e->b[i] = number();
    for (int j = 0; j < N; j++) {
        for (int k = 0; k < N; k++)
            for (int i = 0; i < M; i++)
                e->g[k + j * N] += e->a[i + k * M] * e->a[i + j * M];
        for (int i = 0; i < M; i++)
            e->c[j] += e->a[i + j * M] * e->b[i];
    }
}

static const double *column(void *context, int j)
{
    equations *e = context;
    e->asked[j]++;
    return e->g + j * N;
}

/* From nothing and from anywhere it ends where fw_nnls does; each column is asked for once at most. */
static void the_same_least(void **state)
{
    static equations e;
    (void)state;
    for (unsigned kind = 0; kind < 300; kind++) {
        double want[N], x[N] = {0};
        pose(&e, kind, 0);
        assert_int_equal(fw_nnls(M, N, 0, e.a, e.b, want, NULL, NULL, NULL), FW_OK);
        for (int j = 0; j < N && kind % 3; j++)
            x[j] = fmax(0, number());
        assert_int_equal(nnls_normal(N, e.c, column, &e, x, NULL), FW_OK);
        for (int j = 0; j < N; j++) {
            assert_close(x[j], want[j], 0, 1e-11);
            assert_true(e.asked[j] <= 1);
            assert_true(x[j] == 0 || e.asked[j] == 1);
        }
    }
}

/* What may not come in does not, and what has no gain is never asked for. */
static void left_out(void **state)
{
    static equations e;
    double want[N], x[N] = {0}, some[M * N];
    (void)state;
    pose(&e, 5, 0);
    memcpy(some, e.a, sizeof some);
    for (int j = 0; j < N; j += 2) {
        e.c[j] = -INFINITY;
        memset(some + j * M, 0, M * sizeof *some);
    }
    assert_int_equal(fw_nnls(M, N, 0, some, e.b, want, NULL, NULL, NULL), FW_OK);
    assert_int_equal(nnls_normal(N, e.c, column, &e, x, NULL), FW_OK);
    for (int j = 0; j < N; j++) {
        assert_close(x[j], want[j], 0, 1e-12);
        assert_true(j % 2 || e.asked[j] == 0);
    }
    for (int j = 0; j < N; j++) {
        e.c[j] = -1;
        x[j] = e.asked[j] = 0;
    }
    assert_int_equal(nnls_normal(N, e.c, column, &e, x, NULL), FW_OK);
    for (int j = 0; j < N; j++)
        assert_true(x[j] == 0 && e.asked[j] == 0);
}

/* Columns that are there twice: either will do, and what is left is as small. */
static void twins(void **state)
{
    static equations e;
    (void)state;
    for (unsigned kind = 0; kind < 30; kind++) {
        double want[N], x[N] = {0}, least = 0, sum = 0;
        pose(&e, kind, 8);
        for (int j = 0; j < N && kind % 2; j++)
            x[j] = 1;
        assert_int_equal(fw_nnls(M, N, 0, e.a, e.b, want, NULL, NULL, NULL), FW_OK);
        assert_int_equal(nnls_normal(N, e.c, column, &e, x, NULL), FW_OK);
        for (int i = 0; i < M; i++) {
            double one = e.b[i], other = e.b[i];
            for (int j = 0; j < N; j++) {
                one -= e.a[i + j * M] * want[j];
                other -= e.a[i + j * M] * x[j];
            }
            least += one * one;
            sum += other * other;
        }
        assert_close(sum, least, 1e-10, 0);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(the_same_least), cmocka_unit_test(left_out),
                                       cmocka_unit_test(twins)};
    return cmocka_run_group_tests_name("nnls_normal", tests, NULL, NULL);
}
