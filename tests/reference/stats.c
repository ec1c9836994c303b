/* stats.c - quantiles against printed tables: Student, chi-square, tau, Baarda. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "../support/close.h"
#include "../support/refdata.h"
#include "flatwright/stats.h"

/* Half a unit of a printed number's last place. */
static double half_unit(const char *printed)
{
    const char *point = strchr(printed, '.');
    return point ? 0.5 * pow(10, -(double)strlen(point + 1)) : 0.5;
}

/*
 * GUM Table G.2: half-width t with P(|T| <= t) = p. Three columns are at p = erf(k / sqrt 2). One
 * of the 168 printed entries (35 degrees, 90 %: 1.70) is 0.0004 beyond its half unit.
 */
static void test_student(void **state)
{
    (void)state;
    static const struct { const char *column; double p; int k; } columns[] = {
        {"0.6827", 0, 1}, {"0.90", 0.90, 0}, {"0.95", 0.95, 0},
        {"0.9545", 0, 2}, {"0.99", 0.99, 0}, {"0.9973", 0, 3},
    };
    refdata *table = ref_open("gum-G2-t-quantiles.csv");
    int misprints = 0;
    assert_int_equal(ref_rows(table), 28);
    for (int i = 0; i < ref_rows(table); i++)
        for (size_t c = 0; c < sizeof columns / sizeof *columns; c++) {
            char name[32];
            double dof = ref_number(table, i, "nu");
            double tail = columns[c].k ? erfc(columns[c].k / sqrt(2)) / 2 : (1 - columns[c].p) / 2;
            double t = -fw_student_quantile(tail, dof);
            snprintf(name, sizeof name, "computed_%s", columns[c].column);
            assert_close(t, ref_number(table, i, name), 2e-12, 0);
            assert_close(fw_student_tail(t, dof), tail, 1e-12, 0);
            snprintf(name, sizeof name, "published_%s", columns[c].column);
            double off = fabs(t - ref_number(table, i, name));
            misprints += off > half_unit(ref_text(table, i, name)) + 1e-9;
        }
    assert_int_equal(misprints, 1);
    ref_close(table);
}

/* Computed to 12 digits; 89 handbook entries (NIST/SEMATECH and another table) agree with them. */
static void test_chi_square(void **state)
{
    (void)state;
    refdata *table = ref_open("chi-square-quantiles.csv");
    assert_int_equal(ref_rows(table), 37);
    for (int i = 0; i < ref_rows(table); i++)
        for (int j = 1; j < ref_columns(table); j++) {
            const char *column = ref_column_name(table, j);
            double p = strtod(column + 1, NULL), dof = ref_number(table, i, "nu");
            double x = fw_chi_square_quantile(p, dof);
            assert_close(x, ref_number(table, i, column), 5e-12, 0);
            assert_close(fw_chi_square_tail(x, dof), 1 - p, 1e-11, 0);
        }
    ref_close(table);
}

/* Pope 1976 (formula from memory); computed, checked by the Beta form and by simulation. */
static void test_tau(void **state)
{
    (void)state;
    refdata *table = ref_open("tau-quantiles.csv");
    for (int i = 0; i < ref_rows(table); i++)
        for (int j = 1; j < ref_columns(table); j++) {
            const char *column = ref_column_name(table, j);
            double alpha = strtod(column + strlen("alpha"), NULL);
            assert_close(fw_tau_critical(alpha, ref_number(table, i, "f")),
                         ref_number(table, i, column), 1e-11, 0);
        }
    ref_close(table);
}

/* Baarda 1968, alpha 0.001, power 0.80: k 3.2905 published; delta0 4.13 from memory. */
static void test_baarda(void **state)
{
    (void)state;
    refdata *table = ref_open("baarda-parameters.csv");
    for (int i = 0; i < ref_rows(table); i++) {
        double alpha = ref_number(table, i, "alpha"), power = ref_number(table, i, "power");
        double shift = fw_baarda_shift(alpha, power);
        assert_close(fw_baarda_critical(alpha), ref_number(table, i, "k"), 1e-12, 0);
        assert_close(shift, ref_number(table, i, "delta0"), 1e-12, 0);
        assert_close(shift * shift, ref_number(table, i, "lambda0"), 1e-12, 0);
        /* what the neglected far tail is worth */
        assert_close(shift * shift, ref_number(table, i, "lambda0_exact"), 3e-6, 0);
    }
    assert_close(fw_baarda_critical(0.001), 3.2905, 0, 5e-5);
    assert_close(fw_baarda_shift(0.001, 0.80), 4.13, 0, 5e-3);
    /* 5.8 standard deviations can hide at a redundancy number of one half (lecture notes) */
    assert_close(fw_baarda_shift(0.001, 0.80) / sqrt(0.5), 5.8, 0, 0.05);
    ref_close(table);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_student),
        cmocka_unit_test(test_chi_square),
        cmocka_unit_test(test_tau),
        cmocka_unit_test(test_baarda),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
