/* stats.c - distributions: impossible arguments, ends of the range, and very many degrees. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "../support/close.h"
#include "flatwright/stats.h"

static void test_impossible_arguments(void **state)
{
    (void)state;
    static const double bad[] = {-0.1, 1.1, NAN, INFINITY, -INFINITY};
    static const double bad_dof[] = {0, -1, 0.5, NAN, -INFINITY};
    for (int i = 0; i < 5; i++) {
        assert_true(isnan(fw_normal_quantile(bad[i])));
        assert_true(isnan(fw_student_quantile(bad[i], 5)));
        assert_true(isnan(fw_chi_square_quantile(bad[i], 5)));
        assert_true(isnan(fw_tau_critical(bad[i], 5)));
        assert_true(isnan(fw_baarda_critical(bad[i])));
        assert_true(isnan(fw_baarda_shift(bad[i], 0.8)));
        assert_true(isnan(fw_baarda_shift(0.001, bad[i])));
        assert_true(isnan(fw_student_quantile(0.5, bad_dof[i])));
        assert_true(isnan(fw_student_tail(1, bad_dof[i])));
        assert_true(isnan(fw_chi_square_quantile(0.5, bad_dof[i])));
        assert_true(isnan(fw_chi_square_tail(1, bad_dof[i])));
        assert_true(isnan(fw_tau_critical(0.05, bad_dof[i])));
    }
    assert_true(isnan(fw_normal_tail(NAN)));
    assert_true(isnan(fw_student_tail(NAN, 5)));
    assert_true(isnan(fw_chi_square_tail(NAN, 5)));
    assert_true(isnan(fw_chi_square_tail(1, INFINITY)));
    assert_true(isnan(fw_tau_critical(0.05, 1)));
    assert_true(isnan(fw_tau_critical(0, 5)));
}

static void test_ends(void **state)
{
    (void)state;
    assert_true(fw_normal_quantile(0) == -INFINITY && fw_normal_quantile(1) == INFINITY);
    assert_true(fw_student_quantile(0, 3) == -INFINITY && fw_student_quantile(1, 3) == INFINITY);
    assert_true(fw_chi_square_quantile(1, 3) == INFINITY);
    assert_close(fw_chi_square_quantile(0, 3), 0, 0, 0);
    assert_close(fw_normal_tail(-INFINITY), 1, 0, 0);
    assert_close(fw_normal_tail(INFINITY), 0, 0, 0);
    assert_close(fw_student_tail(INFINITY, 4), 0, 0, 0);
    assert_close(fw_student_tail(-1e300, 4), 1, 0, 0);
    assert_close(fw_chi_square_tail(0, 4), 1, 0, 0);
    assert_close(fw_chi_square_tail(-2, 4), 1, 0, 0);
    assert_close(fw_chi_square_tail(INFINITY, 4), 0, 0, 0);
}

/* Closed forms: one and two degrees of Student, two of chi-square; the limit of many degrees. */
static void test_closed_forms(void **state)
{
    (void)state;
    double pi = acos(-1);
    for (int k = 1; k < 20; k++) {
        double p = k / 20.0, z = 2 * p - 1;
        assert_close(fw_student_quantile(p, 1), tan(pi * (p - 0.5)), 1e-12, 1e-14);
        assert_close(fw_student_quantile(p, 2), z * sqrt(2 / (1 - z * z)), 1e-12, 1e-14);
        assert_close(fw_chi_square_quantile(p, 2), -2 * log1p(-p), 1e-13, 0);
        assert_close(fw_student_quantile(p, INFINITY), fw_normal_quantile(p), 1e-15, 0);
        assert_close(fw_student_quantile(p, 1e14), fw_normal_quantile(p), 1e-11, 1e-14);
        assert_close(fw_student_tail(k / 5.0, INFINITY), fw_normal_tail(k / 5.0), 1e-15, 0);
    }
    assert_close(fw_chi_square_tail(700, 2), exp(-350), 1e-12, 0);
    assert_close(fw_normal_tail(1.959963984540054), 0.025, 1e-13, 0);
}

/* Upper tail of an even number of degrees as a Poisson sum: exp(-y) sum_{k < a} y^k / k!. */
static double poisson_sum(long a, double y)
{
    double log_term = -y;
    double sum = 0, term, k;
    /* the terms rise to k = y: begin where they are largest, and go both ways */
    double peak = fmin((double)(a - 1), floor(y));
    log_term += peak * log(y) - lgamma(peak + 1);
    for (term = 1, k = peak; k >= 0 && term > 1e-20; k--) {
        sum += term;
        term *= k / y;
    }
    for (term = y / (peak + 1), k = peak + 1; k < a && term > 1e-20; k++) {
        sum += term;
        term *= y / (k + 1);
    }
    return exp(log_term) * sum;
}

/* On both sides of where the formula changes, and beyond where GSL's series give up. */
static void test_many_degrees(void **state)
{
    (void)state;
    static const double dofs[] = {9998, 10000, 10002, 20000, 100000, 1e6, 1e7, 2e8};
    for (int i = 0; i < 8; i++) {
        double dof = dofs[i];
        for (int z = -8; z <= 8; z++) {
            double x = dof + z * sqrt(2 * dof);
            double want = poisson_sum((long)(dof / 2), x / 2);
            /* the sum is worth the rounding of the large numbers that lgamma cancels */
            double noise = 2e-16 * dof * log(dof);
            assert_close(fw_chi_square_tail(x, dof), want, 2e-11 + noise, 0);
            if (z > -6 && z < 6) {
                double tail = fw_chi_square_tail(x, dof);
                /* 1 - tail is rounded: what that is worth in x */
                double loss = 4e-16 * exp(z * z / 2.0) * 3 * sqrt(2 * dof) / x;
                assert_close(fw_chi_square_quantile(1 - tail, dof), x, 1e-11 + loss, 0);
            }
        }
    }
}

/* A broad sweep: nothing ends the program, tails fall, quantiles invert them. */
static void test_sweep(void **state)
{
    (void)state;
    for (double dof = 1; dof < 1e12; dof *= 3.7) {
        double last = 1;
        for (double x = 1e-6; x < 1e14; x *= 3.1) {
            double tail = fw_chi_square_tail(x, dof);
            assert_true(tail >= 0 && tail <= last + 1e-12);
            last = tail;
        }
        last = 1;
        for (double t = -1e9; t < 1e9; t = t < -1e-3 ? t / 5 : t < 0 ? 1e-3 : t * 5) {
            double tail = fw_student_tail(t, dof);
            assert_true(tail >= 0 && tail <= last + 1e-12);
            last = tail;
        }
        for (double p = 1e-12; p < 1; p = p < 0.1 ? p * 7 : p + 0.09) {
            double x = fw_chi_square_quantile(p, dof);
            assert_close(1 - fw_chi_square_tail(x, dof), p, 1e-9, 1e-15);
            double t = -fw_student_quantile(p, dof);
            assert_close(fw_student_tail(t, dof), p, dof < 2 ? 2e-5 : 1e-9, 0);
        }
    }
}

/* With many degrees tau is the normal quantile; at two it ends at sqrt 2. */
static void test_tau(void **state)
{
    (void)state;
    assert_close(fw_tau_critical(0.05, 1e9), fw_normal_quantile(0.975), 1e-8, 0);
    assert_close(fw_tau_critical(1e-9, 2), sqrt(2), 1e-12, 0);
    assert_true(fw_tau_critical(0.01, 10) > fw_tau_critical(0.05, 10));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_impossible_arguments), cmocka_unit_test(test_ends),
        cmocka_unit_test(test_closed_forms),         cmocka_unit_test(test_many_degrees),
        cmocka_unit_test(test_sweep),                cmocka_unit_test(test_tau),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
