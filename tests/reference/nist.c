/* nist.c - the eleven linear regressions of the NIST Statistical Reference Datasets. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "../support/close.h"
#include "../support/refdata.h"
#include "flatwright/alloc.h"
#include "flatwright/lstsq.h"

/*
 * Digits asked for: of the worst coefficient and of the worst standard deviation. Nobody reaches
 * more than the rounding of x^k to double leaves (column floor_b_design_double of
 * representation-floor.csv), and a backward stable solver loses the digits of the condition number.
 * Set half a digit to a digit below what several BLAS kernels reached.
 */
static const struct {
    const char *name;
    double estimates, deviations;
} sets[] = {
    {"Norris", 11.5, 12.5},
    {"Pontius", 11, 11.5},
    {"NoInt1", 14, 14},
    {"NoInt2", 14, 14},
    {"Filip", 7, 7},
    {"Longley", 10, 11},
    {"Wampler1", 8, 9},
    {"Wampler2", 12, 14},
    {"Wampler3", 8, 12},
    {"Wampler4", 7, 12},
    {"Wampler5", 5, 12},
};

/* -log10 of the relative error, of the error itself where the certified value is 0; at most 15. */
static double digits(double got, double want)
{
    double error = fabs(got - want);
    assert_true(isfinite(got));
    if (want != 0)
        error /= fabs(want);
    return error < 1e-15 ? 15 : -log10(error);
}

/* The model: x1 .. xk with an intercept; powers of x; or x alone where B0 is not certified. */
static int fill_matrix(const refdata *data, int m, double *a)
{
    char name[32];
    int n = 0;
    for (int k = 0; k <= 10; k++) {
        snprintf(name, sizeof name, "certified,B%d", k);
        if (!ref_note(data, name))
            continue;
        snprintf(name, sizeof name, "x%d", k);
        for (int i = 0; i < m; i++) {
            double value = 1;
            if (ref_columns(data) > 2)
                value = k ? ref_number(data, i, name) : 1;
            else
                for (int p = 0; p < k; p++)
                    value *= ref_number(data, i, "x");
            a[i + n * m] = value;
        }
        n++;
    }
    return n;
}

static void check_set(const char *name, double estimates, double deviations)
{
    char file[32], start[32];
    snprintf(file, sizeof file, "%s.csv", name);
    refdata *data = ref_open(file), *floors = ref_open("representation-floor.csv");
    int m = ref_rows(data), rank = 0;
    double *a = fw_alloc((size_t)m * 11, sizeof *a), *b = fw_alloc((size_t)m, sizeof *b);
    double *residual = fw_alloc((size_t)m, sizeof *b);
    double x[11], cofactor[121], ss = 0, worst = 15, worst_sd = 15, floor_b = NAN;
    assert_true(a && b && residual);
    int n = fill_matrix(data, m, a), first = ref_note(data, "certified,B0") ? 0 : 1;
    for (int i = 0; i < m; i++)
        b[i] = ref_number(data, i, "y");
    assert_int_equal(fw_lstsq(m, n, a, b, 0, x, cofactor, residual, &rank, NULL), FW_OK);
    assert_int_equal(rank, n);
    for (int i = 0; i < m; i++)
        ss += residual[i] * residual[i];
    double s = sqrt(ss / (m - n));
    for (int j = 0; j < n; j++) {
        snprintf(start, sizeof start, "certified,B%d", j + first);
        worst = fmin(worst, digits(x[j], ref_note_number(data, start, 2)));
        worst_sd = fmin(worst_sd, digits(s * sqrt(cofactor[j + j * n]),
                                         ref_note_number(data, start, 3)));
    }
    for (int i = 0; i < ref_rows(floors); i++)
        if (strcmp(ref_text(floors, i, "dataset"), name) == 0)
            floor_b = ref_number(floors, i, "floor_b_design_double");
    print_message("%-8s coefficients %4.1f digits, standard deviations %4.1f, data allow %4.1f\n",
                  name, worst, worst_sd, floor_b);
    assert_true(estimates <= floor_b);
    assert_true(worst >= estimates);
    assert_true(worst_sd >= deviations);
    fw_free(a);
    fw_free(b);
    fw_free(residual);
    ref_close(data);
    ref_close(floors);
}

/* https://www.itl.nist.gov/div898/strd/, certified values to 15 digits. */
static void test_linear_regression(void **state)
{
    (void)state;
    for (size_t k = 0; k < sizeof sets / sizeof *sets; k++)
        check_set(sets[k].name, sets[k].estimates, sets[k].deviations);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_linear_regression)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
