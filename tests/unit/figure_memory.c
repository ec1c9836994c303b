/* figure_memory.c - every way to run out of memory in the figures leaves outputs as they were. */
#include "../support/close.h"
#include "../support/refuse.h"
#include "flatwright/form.h"

static const double rho[3] = {-1, 0, 1}, theta[3] = {0};
static const double coefficients[12] = {1};

static fw_status make_basis(void *data, fw_error *err)
{
    fw_basis *basis = NULL;
    fw_status status = fw_basis_new(*(bool *)data, 4, &basis, err);
    assert_true((basis != NULL) == (status == FW_OK));
    fw_basis_free(basis);
    return status;
}

static void test_basis(void **state)
{
    (void)state;
    for (int bored = 0; bored <= 1; bored++)
        assert_int_equal(refuse_each(make_basis, &(bool){bored}, FW_OK, REFUSE_SPARE_NONE), 2);
}

static fw_status make_form(void *data, fw_error *err)
{
    fw_form *form = NULL;
    fw_status status = fw_form_new(data, 0, 3, rho, theta, &form, err);
    assert_true((form != NULL) == (status == FW_OK));
    fw_form_free(form);
    return status;
}

static fw_status ask_many(void *data, fw_error *err)
{
    double pv = 77;
    fw_shapes where = {.pv_nm = &pv};
    fw_status status = fw_form_batch(data, 12, 1, coefficients, 12, NULL, &where, err);
    if (status)
        assert_close(pv, 77, 0, 0);
    return status;
}

static fw_status ask_one(void *data, fw_error *err)
{
    fw_shape shape = {.pv_nm = 77};
    fw_status status = fw_form_quantities(data, 12, coefficients, &shape, err);
    if (status)
        assert_close(shape.pv_nm, 77, 0, 0);
    return status;
}

static void test_form(void **state)
{
    (void)state;
    fw_basis *basis = NULL;
    fw_form *form = NULL;
    assert_int_equal(fw_basis_new(false, 4, &basis, NULL), FW_OK);
    assert_in_range(refuse_each(make_form, basis, FW_OK, REFUSE_SPARE_NONE), 4, 20);
    assert_int_equal(fw_form_new(basis, 0, 3, rho, theta, &form, NULL), FW_OK);
    assert_true(refuse_each(ask_many, form, FW_OK, REFUSE_SPARE_NONE) > 0);
    assert_true(refuse_each(ask_one, form, FW_OK, REFUSE_SPARE_NONE) > 0);
    fw_form_free(form);
    fw_basis_free(basis);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_basis), cmocka_unit_test(test_form)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
