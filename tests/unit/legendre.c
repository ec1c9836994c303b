/* legendre.c - Legendre polynomials and Gauss's rule. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include <gsl/gsl_sf_legendre.h>

#include "../support/close.h"
#include "flatwright/basis.h"

/* Pencil values, and GSL as a second implementation. */
static void test_values(void **state)
{
    (void)state;
    assert_close(fw_legendre(0, 0.3), 1, 0, 0);
    assert_close(fw_legendre(1, 0.3), 0.3, 0, 0);
    assert_close(fw_legendre(2, 0.5), -0.125, 1e-15, 0);
    assert_close(fw_legendre(3, 0.5), -0.4375, 1e-15, 0);
    assert_close(fw_legendre(2, 1.5), 2.875, 1e-15, 0); /* beyond the rim */
    assert_true(isnan(fw_legendre(-1, 0.5)));
    for (int n = 0; n <= 40; n++)
        for (int k = -20; k <= 20; k++)
            assert_close(fw_legendre(n, k / 20.0), gsl_sf_legendre_Pl(n, k / 20.0), 0, 1e-13);
}

/* n nodes integrate x^p exactly up to p = 2 n - 1, and not x^(2 n). */
static void test_gauss(void **state)
{
    (void)state;
    double x[60], w[60];
    for (int n = 1; n <= 60; n++) {
        fw_gauss(n, x, w);
        for (int p = 0; p <= 2 * n; p++) {
            double sum = 0, exact = p % 2 ? 0 : 2.0 / (p + 1);
            for (int i = 0; i < n; i++)
                sum += w[i] * pow(x[i], p);
            if (p < 2 * n)
                assert_close(sum, exact, 0, 1e-13);
            else if (n <= 8)
                assert_true(fabs(sum - exact) > 1e-8);
        }
        for (int i = 1; i < n; i++)
            assert_true(x[i] > x[i - 1]);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_values), cmocka_unit_test(test_gauss)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
