/* zernike.c - circle polynomials of high order, beyond the rim, and where there is none. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "../support/close.h"
#include "flatwright/basis.h"

/* Chebyshev's U_n(x). */
static double chebyshev_u(int n, double x)
{
    double old = 0, now = 1;
    for (int k = 0; k < n; k++) {
        double next = 2 * x * now - old;
        old = now;
        now = next;
    }
    return now;
}

/*
 * R_n^m(rho) as a Fourier sum: mean over k of U_n(rho cos(2 pi k / N)) cos(2 pi m k / N), N > n + m
 * (Janssen & Dirksen, J. Eur. Opt. Soc. Rapid Publ. 2, 07012, 2007, from memory).
 */
static double radial_by_fourier(int n, int m, double rho)
{
    enum { N = 128 };
    double sum = 0, step = 2 * acos(-1) / N;
    for (int k = 0; k < N; k++)
        sum += chebyshev_u(n, rho * cos(step * k)) * cos(step * m * k);
    return sum / N;
}

static void test_high_orders(void **state)
{
    (void)state;
    double worst = 0;
    for (int n = 0; n <= 40; n++)
        for (int m = n % 2; m <= n; m += 2) {
            assert_close(fw_zernike_radial(n, m, 1), 1, 0, 1e-12);
            for (int k = 0; k <= 50; k++) {
                double got = fw_zernike_radial(n, m, k / 50.0);
                double want = radial_by_fourier(n, m, k / 50.0);
                assert_close(got, want, 0, 1e-12);
                worst = fmax(worst, fabs(got - want));
            }
        }
    print_message("radial polynomials to n = 40: within %.1e of the Fourier sum\n", worst);
}

/* Beyond the rim: R_4^0 = 6 u^2 - 6 u + 1 and R_5^3 = 5 r^5 - 4 r^3 at r = 1.5, pencil values. */
static void test_beyond_the_rim(void **state)
{
    (void)state;
    assert_close(fw_zernike_radial(4, 0, 1.5), 17.875, 1e-15, 0);
    assert_close(fw_zernike_radial(5, 3, 1.5), 24.46875, 1e-15, 0);
}

/* A signed radius names the opposite point. */
static void test_opposite_points(void **state)
{
    (void)state;
    double pi = acos(-1);
    for (int n = 0; n <= 6; n++)
        for (int m = -n; m <= n; m += 2)
            assert_close(fw_zernike(n, m, -0.6, 0.4), fw_zernike(n, m, 0.6, 0.4 + pi), 0, 1e-14);
}

/* Orthonormal on the disc: Gauss in u = rho^2 and equal steps in theta integrate exactly. */
static void test_orthonormal(void **state)
{
    (void)state;
    enum { NODES = 12, STEPS = 24, TERMS = 55 }; /* orders 0 .. 9 */
    double x[NODES], w[NODES];
    fw_gauss(NODES, x, w);
    for (int a = 0; a < TERMS; a++)
        for (int b = 0; b <= a; b++) {
            struct fw_term s = fw_zernike_from_osa(a), t = fw_zernike_from_osa(b);
            double sum = 0;
            for (int i = 0; i < NODES; i++)
                for (int k = 0; k < STEPS; k++) {
                    double rho = sqrt((1 + x[i]) / 2), theta = 2 * acos(-1) * k / STEPS;
                    sum += w[i] / 2 / STEPS * fw_zernike(s.n, s.m, rho, theta)
                           * fw_zernike(t.n, t.m, rho, theta);
                }
            assert_close(sum, a == b, 0, 1e-13);
        }
}

static void test_numbers_there_and_back(void **state)
{
    (void)state;
    for (int j = 0; j < 5000; j++) {
        struct fw_term osa = fw_zernike_from_osa(j), noll = fw_zernike_from_noll(j + 1);
        assert_int_equal(fw_zernike_osa(osa.n, osa.m), j);
        assert_int_equal(fw_zernike_noll(noll.n, noll.m), j + 1);
    }
}

static void test_no_such_term(void **state)
{
    (void)state;
    static const int none[][2] = {{-1, 0}, {2, 1}, {2, 3}, {2, -4}, {3, 0}, {-2, -2}};
    for (size_t i = 0; i < sizeof none / sizeof *none; i++) {
        assert_true(isnan(fw_zernike(none[i][0], none[i][1], 0.5, 0)));
        assert_true(isnan(fw_zernike_radial(none[i][0], none[i][1], 0.5)));
        assert_int_equal(fw_zernike_noll(none[i][0], none[i][1]), -1);
        assert_int_equal(fw_zernike_osa(none[i][0], none[i][1]), -1);
    }
    assert_true(isnan(fw_zernike_radial(3, -1, 0.5)));
    assert_int_equal(fw_zernike_from_noll(0).n, -1);
    assert_int_equal(fw_zernike_from_osa(-1).n, -1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_high_orders),     cmocka_unit_test(test_beyond_the_rim),
        cmocka_unit_test(test_opposite_points), cmocka_unit_test(test_orthonormal),
        cmocka_unit_test(test_numbers_there_and_back), cmocka_unit_test(test_no_such_term),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
