/* basis.c - the terms of a smooth figure, their order and their values. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "../support/close.h"
#include "figure/along.h"
#include "flatwright/basis.h"

static void test_face_terms(void **state)
{
    (void)state;
    static const struct fw_term want[] = {
        {2, 0},  {2, 2}, {2, -2}, {3, 1},  {3, -1}, {3, 3},
        {3, -3}, {4, 0}, {4, 2},  {4, -2}, {4, 4},  {4, -4},
    };
    fw_basis *basis = NULL;
    assert_int_equal(fw_basis_new(false, 4, &basis, NULL), FW_OK);
    assert_int_equal(basis->nterms, 12);
    for (int j = 0; j < 12; j++) {
        assert_int_equal(basis->terms[j].n, want[j].n);
        assert_int_equal(basis->terms[j].m, want[j].m);
        assert_close(fw_basis_value(basis, j, 0.7, 2), fw_zernike(want[j].n, want[j].m, 0.7, 2),
                     0, 0);
    }
    static const int counts[] = {0, 0, 3, 7, 12, 12};
    for (int k = 0; k < 6; k++)
        assert_int_equal(fw_basis_count(basis, k), counts[k]);
    assert_int_equal(fw_basis_count(basis, -3), 0);
    fw_basis_free(basis);
}

/* A lower order's terms lead those of a higher one. */
static void test_lower_orders_lead(void **state)
{
    (void)state;
    for (int line = 0; line < 2; line++) {
        fw_basis *high = NULL;
        assert_int_equal(fw_basis_new(line, FW_BASIS_ORDER_MAX, &high, NULL), FW_OK);
        for (int k = 0; k <= FW_BASIS_ORDER_MAX; k++) {
            fw_basis *low = NULL;
            assert_int_equal(fw_basis_new(line, k, &low, NULL), FW_OK);
            assert_int_equal(low->nterms, fw_basis_count(high, k));
            for (int j = 0; j < low->nterms; j++) {
                assert_int_equal(low->terms[j].n, high->terms[j].n);
                assert_int_equal(low->terms[j].m, high->terms[j].m);
            }
            for (int j = low->nterms; j < high->nterms; j++)
                assert_true(high->terms[j].n > k);
            fw_basis_free(low);
        }
        fw_basis_free(high);
    }
}

static void test_line(void **state)
{
    (void)state;
    fw_basis *basis = NULL;
    double pi = acos(-1);
    assert_int_equal(fw_basis_new(true, 5, &basis, NULL), FW_OK);
    assert_int_equal(basis->nterms, 4);
    for (int j = 0; j < 4; j++) {
        assert_int_equal(basis->terms[j].n, j + 2);
        assert_close(fw_basis_value(basis, j, 0.3, 0), fw_legendre(j + 2, 0.3), 0, 0);
        assert_close(fw_basis_value(basis, j, -0.3, 0), fw_legendre(j + 2, -0.3), 0, 0);
        assert_close(fw_basis_value(basis, j, 0.3, pi), fw_legendre(j + 2, -0.3), 0, 0);
    }
    fw_basis_free(basis);
}

/* A value is its radial factor times the one around, on a line on either side of the middle. */
static void test_factors(void **state)
{
    (void)state;
    const double pi = acos(-1);
    for (int line = 0; line < 2; line++) {
        fw_basis *basis = NULL;
        assert_int_equal(fw_basis_new(line, 12, &basis, NULL), FW_OK);
        for (int j = 0; j < basis->nterms; j++)
            for (int k = 0; k < 12; k++) {
                double rho = k / 11.0, theta = line ? k % 2 * pi : 0.7 * k;
                assert_close(fw_basis_radial(basis, j, rho) * fw_basis_around(basis, j, theta),
                             fw_basis_value(basis, j, rho, theta), 0, 1e-14);
            }
        fw_basis_free(basis);
    }
}

/* On a diameter a figure is one polynomial, on either side of the middle and beyond the rim. */
static void test_along(void **state)
{
    static const int used[] = {0, 3, 4, 9, 10};
    static const double c[] = {5, -3, 2, 0.5, 7};
    (void)state;
    for (int line = 0; line < 2; line++) {
        fw_basis *basis = NULL;
        assert_int_equal(fw_basis_new(line, 12, &basis, NULL), FW_OK);
        for (int k = 0; k < (line ? 1 : 7); k++) {
            double theta = 0.4 * k;
            along a = along_new(basis, 5, used, c, theta);
            for (double x = -1.05; x < 1.1; x += 0.075) {
                double want = 0;
                for (int j = 0; j < 5; j++)
                    want += c[j] * fw_basis_value(basis, used[j], x, theta);
                assert_close(along_at(&a, x), want, 0, 1e-12);
            }
        }
        fw_basis_free(basis);
    }
}

static void test_order_out_of_range(void **state)
{
    (void)state;
    fw_error err = {0};
    fw_basis *basis = NULL;
    assert_int_equal(fw_basis_new(false, -1, &basis, &err), FW_INPUT);
    assert_int_equal(fw_basis_new(true, FW_BASIS_ORDER_MAX + 1, &basis, &err), FW_INPUT);
    assert_null(basis);
    assert_string_equal(err.text, "order 41 is not in 0 .. 40");
    fw_basis_free(NULL);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_face_terms),
        cmocka_unit_test(test_lower_orders_lead),
        cmocka_unit_test(test_line),
        cmocka_unit_test(test_factors),
        cmocka_unit_test(test_along),
        cmocka_unit_test(test_order_out_of_range),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
