/* zernike.c - circle polynomials: published index orders, and values from exact coefficients. */
#include <stdio.h>
#include <stdlib.h>

#include "../support/close.h"
#include "../support/refdata.h"
#include "flatwright/basis.h"

/* Noll 1976 (OEIS A176988) and OSA / ANSI Z80.28; see the header of the table. */
static void test_index_orders(void **state)
{
    (void)state;
    refdata *table = ref_open("zernike-index.csv");
    assert_int_equal(ref_rows(table), 78);
    for (int i = 0; i < ref_rows(table); i++) {
        int n = (int)ref_number(table, i, "n"), m = (int)ref_number(table, i, "m");
        int noll = (int)ref_number(table, i, "j_noll"), osa = (int)ref_number(table, i, "j_osa");
        assert_int_equal(fw_zernike_noll(n, m), noll);
        assert_int_equal(fw_zernike_osa(n, m), osa);
        struct fw_term by_noll = fw_zernike_from_noll(noll), by_osa = fw_zernike_from_osa(osa);
        assert_int_equal(by_noll.n, n);
        assert_int_equal(by_noll.m, m);
        assert_int_equal(by_osa.n, n);
        assert_int_equal(by_osa.m, m);
    }
    ref_close(table);
}

/* Radial polynomials against their integer coefficients, "power:coefficient" pairs. */
static void test_radial_coefficients(void **state)
{
    (void)state;
    refdata *table = ref_open("zernike-index.csv");
    for (int i = 0; i < ref_rows(table); i++) {
        int n = (int)ref_number(table, i, "n"), m = abs((int)ref_number(table, i, "m"));
        double norm = fw_zernike_norm(n, m);
        assert_close(norm * norm, ref_number(table, i, "norm_squared"), 1e-15, 0);
        for (int k = 0; k <= 12; k++) {
            double rho = k / 10.0, want = 0, size = 0; /* up to 1.2: the polynomial goes on */
            const char *at = ref_text(table, i, "radial_coefficients");
            while (*at) {
                char *end;
                long power = strtol(at, &end, 10);
                double term = strtod(end + 1, &end);
                for (long p = 0; p < power; p++)
                    term *= rho;
                want += term;
                size += term < 0 ? -term : term;
                at = *end ? end + 1 : end;
            }
            assert_close(fw_zernike_radial(n, m, rho), want, 0, 4e-15 * (size + 1));
        }
    }
    ref_close(table);
}

/* Values computed with 30 digits from the exact coefficients. */
static void test_values(void **state)
{
    (void)state;
    static const struct { const char *column; double rho, theta; } points[] = {
        {"rho0_theta0", 0, 0},           {"rho0.5_theta0", 0.5, 0},
        {"rho0.3_theta0.7", 0.3, 0.7},   {"rho0.75_theta2.1", 0.75, 2.1},
        {"rho0.9_theta4.0", 0.9, 4.0},   {"rho1_theta1.0", 1, 1.0},
    };
    refdata *table = ref_open("zernike-values.csv");
    assert_int_equal(ref_rows(table), 66);
    for (int i = 0; i < ref_rows(table); i++) {
        int n = (int)ref_number(table, i, "n"), m = (int)ref_number(table, i, "m");
        for (size_t k = 0; k < sizeof points / sizeof *points; k++)
            assert_close(fw_zernike(n, m, points[k].rho, points[k].theta),
                         ref_number(table, i, points[k].column), 0, 1e-14);
    }
    ref_close(table);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_index_orders),
        cmocka_unit_test(test_radial_coefficients),
        cmocka_unit_test(test_values),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
