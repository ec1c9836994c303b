/* figure_edges.c - figures of no terms or no points, angles a hair below a turn, certain numbers. */
#include <math.h>

#include "../support/close.h"
#include "flatwright/conform.h"
#include "flatwright/form.h"
#include "flatwright/mating.h"

/* A number without uncertainty is within, or it is not. */
static void test_certain(void **state)
{
    (void)state;
    assert_close(fw_conform_probability(5, 0, 6, 7), 0, 0, 0);
    assert_close(fw_conform_probability(6, 0, 6, 7), 1, 0, 0);
    assert_close(fw_conform_probability(8, 0, 6, 7), 0, 0, 0);
    assert_true(isnan(fw_conform_probability(5, 1, 7, 6)));
}

static void test_whole_turns(void **state)
{
    (void)state;
    const double hair = FW_ANGLE_TOLERANCE_DEG / 10;
    const double angles[] = {-hair, 360 - hair, 720 - hair, 360, -360};
    for (int i = 0; i < 5; i++) {
        assert_close(fw_line_of(angles[i]).angle_deg, 0, 0, FW_ANGLE_TOLERANCE_DEG);
        assert_int_equal(fw_line_of(angles[i]).flip, 1);
        assert_close(fw_line_of(angles[i] + 180).angle_deg, 0, 0, FW_ANGLE_TOLERANCE_DEG);
        assert_int_equal(fw_line_of(angles[i] + 180).flip, -1);
    }
}

/* Each quantity by itself is what it is among all. */
static void test_one_by_one(void **state)
{
    (void)state;
    const double rho[5] = {-1, -0.5, 0, 0.5, 1}, theta[5] = {0, 0.3, 0.6, 0.9, 1.2};
    double c[40], extra[10] = {3, -1, 2, 0, 1, 0, 5, 0, -5, 1}, got[2], none = 77;
    fw_basis *basis = NULL;
    fw_form *form = NULL;
    fw_shape all;
    for (int i = 0; i < 40; i++)
        c[i] = sin(i + 1.0);
    assert_int_equal(fw_basis_new(false, 4, &basis, NULL), FW_OK);
    assert_int_equal(fw_form_new(basis, 0, 5, rho, theta, &form, NULL), FW_OK);
    assert_int_equal(fw_form_quantities(form, 12, c, &all, NULL), FW_OK);
    const fw_shapes alone[] = {{.pv_nm = got}, {.rms_nm = got}, {.power_nm = got},
                               {.irregularity_nm = got}, {.symmetric_nm = got}};
    const double want[] = {all.pv_nm, all.rms_nm, all.power_nm, all.irregularity_nm,
                           all.symmetric_nm};
    for (int k = 0; k < 5; k++) {
        assert_int_equal(fw_form_batch(form, 12, 1, c, 12, NULL, &alone[k], NULL), FW_OK);
        assert_close(got[0], want[k], 1e-12, 0);
    }
    /* No terms: flat, or what is added to the heights at the points. */
    assert_int_equal(fw_form_quantities(form, 0, c, &all, NULL), FW_OK);
    assert_close(fabs(all.pv_nm) + fabs(all.rms_nm) + fabs(all.power_nm) + fabs(all.irregularity_nm) +
                 fabs(all.symmetric_nm), 0, 0, 0);
    assert_int_equal(fw_form_batch(form, 0, 2, c, 0, extra, &alone[0], NULL), FW_OK);
    assert_close(got[0], 4, 1e-12, 0);
    assert_close(got[1], 10, 1e-12, 0);
    double heights[5] = {9, 9, 9, 9, 9};
    fw_form_heights(form, 0, c, heights);
    for (int i = 0; i < 5; i++)
        assert_close(heights[i], 0, 0, 0);
    assert_int_equal(fw_form_batch(form, 12, 0, c, 12, NULL, &(fw_shapes){.pv_nm = &none}, NULL),
                     FW_OK);
    assert_close(none, 77, 0, 0);
    fw_form_free(form);
    form = NULL;
    /* No points: the terms alone tell rms and power. */
    double slopes[3][12];
    assert_int_equal(fw_form_new(basis, 0, 0, rho, theta, &form, NULL), FW_OK);
    assert_int_equal(fw_form_batch(form, 12, 1, c, 12, extra, &alone[0], NULL), FW_OK);
    assert_true(isnan(got[0]));
    assert_int_equal(fw_form_slopes(form, 12, c, slopes[0], slopes[1], slopes[2], NULL), FW_OK);
    for (int j = 0; j < 12; j++)
        assert_close(slopes[0][j], 0, 0, 0);
    fw_form_free(form);
    fw_basis_free(basis);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_certain),
                                       cmocka_unit_test(test_whole_turns),
                                       cmocka_unit_test(test_one_by_one)};
    return cmocka_run_group_tests_name("figure_edges", tests, NULL, NULL);
}
