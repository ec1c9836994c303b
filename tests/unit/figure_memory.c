/* figure_memory.c - every way to run out of memory in the figures leaves outputs as they were. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "../support/close.h"
#include "flatwright/alloc.h"
#include "flatwright/form.h"

/* These stand in for src/base/alloc.c: the first `allowed` requests succeed. */
static int allowed, held;

static void *count_one(void *memory)
{
    held += memory != NULL;
    return memory;
}

void *fw_alloc(size_t count, size_t size)
{
    return allowed-- > 0 ? count_one(calloc(count ? count : 1, size)) : NULL;
}

void *fw_resize(void *old, size_t count, size_t size)
{
    return allowed-- > 0 ? realloc(old, count * size) : NULL;
}

char *fw_copy_text(const char *text)
{
    char *copy = fw_alloc(strlen(text) + 1, 1);
    return copy ? memcpy(copy, text, strlen(text) + 1) : NULL;
}

void fw_free(void *memory)
{
    held -= memory != NULL;
    free(memory);
}

static void test_basis(void **state)
{
    (void)state;
    fw_status status = FW_SYSTEM;
    fw_basis *basis = NULL;
    int requests = 0;
    for (; status; requests++) {
        fw_error err = {0};
        allowed = requests;
        status = fw_basis_new(false, 4, &basis, &err);
        if (status) {
            assert_int_equal(status, FW_SYSTEM);
            assert_int_equal(err.status, FW_SYSTEM);
            assert_null(basis);
            assert_int_equal(held, 0);
        }
    }
    assert_int_equal(requests, 3); /* two are needed */
    fw_basis_free(basis);
    assert_int_equal(held, 0);
}

static void test_form(void **state)
{
    (void)state;
    double rho[3] = {-1, 0, 1}, theta[3] = {0}, c[12] = {1}, pv = 77;
    fw_shape shape = {.pv_nm = 77};
    fw_shapes where = {.pv_nm = &pv};
    fw_basis *basis = NULL;
    fw_form *form = NULL;
    allowed = 1000;
    assert_int_equal(fw_basis_new(false, 4, &basis, NULL), FW_OK);
    int before = held, requests = 0;
    for (fw_status status = FW_SYSTEM; status; requests++) {
        allowed = requests;
        status = fw_form_new(basis, 0, 3, rho, theta, &form, NULL);
        if (status) {
            assert_int_equal(status, FW_SYSTEM);
            assert_null(form);
            assert_int_equal(held, before);
        }
    }
    assert_in_range(requests, 5, 20);

    allowed = 0;
    assert_int_equal(fw_form_batch(form, 12, 1, c, 12, NULL, &where, NULL), FW_SYSTEM);
    assert_int_equal(fw_form_quantities(form, 12, c, &shape, NULL), FW_SYSTEM);
    assert_close(pv, 77, 0, 0);
    assert_close(shape.pv_nm, 77, 0, 0);
    fw_form_free(form);
    fw_basis_free(basis);
    assert_int_equal(held, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_basis), cmocka_unit_test(test_form)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
