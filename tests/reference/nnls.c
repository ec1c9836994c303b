/* nnls.c - published and exactly solved problems; the source stands in each file of data/nnls. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "../support/close.h"
#include "../support/refdata.h"
#include "adjust/nnls_normal.h"
#include "flatwright/nnls.h"

/* Normal equations of a small problem, and from them. */
typedef struct normal {
    int n;
    double g[64], c[8];
} normal;

static const double *column(void *context, int j)
{
    const normal *e = context;
    return e->g + (size_t)j * (size_t)e->n;
}

static void check_normal(int m, int n, const double *a, const double *b, const double *want)
{
    normal e = {.n = n};
    double x[8] = {0};
    for (int j = 0; j < n; j++)
        for (int i = 0; i < m; i++) {
            e.c[j] += a[i + j * m] * b[i];
            for (int k = 0; k < n; k++)
                e.g[k + j * n] += a[i + k * m] * a[i + j * m];
        }
    assert_int_equal(nnls_normal(n, e.c, column, &e, x, NULL), FW_OK);
    for (int j = 0; j < n; j++)
        assert_close(x[j], want[j], 1e-11, 1e-12);
}

static void check_file(const char *name)
{
    char path[80];
    snprintf(path, sizeof path, "nnls/%s.csv", name);
    refdata *t = ref_open(path);
    int m = ref_rows(t), n = ref_columns(t) - 1;
    double a[64], b[8], x[8], dual[8], norm;
    assert_true(m <= 8 && n <= 8);
    for (int i = 0; i < m; i++) {
        for (int j = 0; j < n; j++)
            a[i + j * m] = ref_number(t, i, ref_column_name(t, j));
        b[i] = ref_number(t, i, "b");
    }
    assert_int_equal(fw_nnls(m, n, 0, a, b, x, dual, &norm, NULL), FW_OK);
    for (int j = 0; j < n; j++) {
        assert_close(x[j], ref_note_number(t, "x", j + 1), 1e-13, 1e-14);
        assert_close(dual[j], ref_note_number(t, "dual A^T(b - A x)", j + 1), 1e-13, 1e-13);
    }
    assert_close(norm, ref_note_number(t, "residual_norm", 1), 1e-13, 0);
    if (strcmp(name, "hilbert-6") != 0) /* condition 1e7: its square is not for normal equations */
        check_normal(m, n, a, b, x);
    ref_close(t);
}

static void test_small(void **state)
{
    (void)state;
    static const char *const names[] = { "doc-example-4x2", "variant-4x3-a", "variant-4x3-b",
                                         "julia-4x2",       "julia-5x5",     "hilbert-6",
                                         "all-zero-solution", "degenerate-dual" };
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++)
        check_file(names[i]);
}

/* The case that made implementations cycle: construction as its file says. */
static void test_isotonic(void **state)
{
    (void)state;
    refdata *t = ref_open("nnls/isotonic-67.csv");
    int n = ref_rows(t);
    assert_int_equal(n, 67);
    static double a[67 * 67], b[67], x[67], dual[67];
    double norm, scale = 0;
    for (int i = 0; i < n; i++) {
        double count = ref_number(t, i, "n"), w = count > 0 ? sqrt(count) : 1;
        for (int j = 0; j <= i; j++)
            a[i + j * n] = w * count;
        if (count == 0) {
            a[i + i * n] = 1;
            if (i + 1 < n)
                a[i + (i + 1) * n] = -1;
        }
        b[i] = count > 0 ? w * ref_number(t, i, "k") : 0;
        scale += b[i] * b[i];
    }
    assert_int_equal(fw_nnls(n, n, 0, a, b, x, dual, &norm, NULL), FW_OK);
    assert_close(norm, ref_note_number(t, "residual_norm", 1), 1e-13, 0);
    for (int j = 0; j < n; j++) {
        double length = 0;
        for (int i = 0; i < n; i++)
            length += a[i + j * n] * a[i + j * n];
        assert_close(x[j], ref_number(t, j, "d"), 1e-10, 1e-13);
        assert_true(dual[j] <= 1e-10 * sqrt(scale * length));
        assert_true(x[j] == 0 || fabs(dual[j]) <= 1e-10 * sqrt(scale * length));
    }
    ref_close(t);
}

/*
 * Line fit with inequalities, Lawson & Hanson ch. 23: min |E x - f|, G x >= h. With E = Q R and
 * y = R x - Q'f it is least distance, min |y|, G R^-1 y >= h - G R^-1 Q'f, and that is the
 * non-negative problem |(G R^-1, rhs)' u - (0, 0, 1)'|: y = -r / r_last, r its residual.
 */
static void test_line_fit(void **state)
{
    (void)state;
    refdata *t = ref_open("nnls/lsi-line-fit.csv");
    static const double g[3][2] = { { 1, 0 }, { 0, 1 }, { -1, -1 } }, h[3] = { 0, 0, -1 };
    double at[4], w[4], q1[4], q2[4], r11 = 0, r12 = 0, r22 = 0, y1 = 0, y2 = 0;
    assert_int_equal(ref_rows(t), 4);
    for (int i = 0; i < 4; i++) {
        at[i] = ref_number(t, i, "t");
        w[i] = ref_number(t, i, "w");
        r11 += at[i] * at[i];
    }
    r11 = sqrt(r11);
    for (int i = 0; i < 4; i++) {
        q1[i] = at[i] / r11;
        r12 += q1[i];
    }
    for (int i = 0; i < 4; i++) {
        q2[i] = 1 - r12 * q1[i];
        r22 += q2[i] * q2[i];
    }
    r22 = sqrt(r22);
    for (int i = 0; i < 4; i++) {
        q2[i] /= r22;
        y1 += q1[i] * w[i];
        y2 += q2[i] * w[i];
    }
    double a[3 * 3], b[3] = { 0, 0, 1 }, u[3], r[3], norm;
    for (int k = 0; k < 3; k++) {
        double s1 = g[k][0] / r11, s2 = (g[k][1] - s1 * r12) / r22;
        a[0 + 3 * k] = s1;
        a[1 + 3 * k] = s2;
        a[2 + 3 * k] = h[k] - s1 * y1 - s2 * y2;
    }
    assert_int_equal(fw_nnls(3, 3, 0, a, b, u, NULL, &norm, NULL), FW_OK);
    for (int i = 0; i < 3; i++)
        r[i] = a[i] * u[0] + a[i + 3] * u[1] + a[i + 6] * u[2] - b[i];
    double z1 = y1 - r[0] / r[2], z2 = y2 - r[1] / r[2];
    double x2 = z2 / r22, x1 = (z1 - r12 * x2) / r11;
    assert_close(x1, ref_note_number(t, "x1", 1), 1e-13, 0); /* 274/441; 0.621, 0.379 from memory */
    assert_close(x2, ref_note_number(t, "x2", 1), 1e-13, 0);
    assert_close(u[0], 0, 0, 0); /* only f(1) <= 1 holds the line */
    assert_close(u[1], 0, 0, 0);
    assert_close(u[2] / -r[2], 0.21156462585034014, 1e-12, 0); /* its multiplier, from the file */
    ref_close(t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_small),
        cmocka_unit_test(test_isotonic),
        cmocka_unit_test(test_line_fit),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
