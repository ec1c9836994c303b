/* conform.c - conformance probability at its ends, and the verdict's three answers. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "../support/close.h"
#include "flatwright/conform.h"
#include "flatwright/stats.h"

static void test_one_and_two_limits(void **state)
{
    (void)state;
    assert_close(fw_conform_probability(8, 1, -INFINITY, 10), 1 - fw_normal_tail(2), 1e-15, 0);
    assert_close(fw_conform_probability(8, 1, 6, 10), 1 - 2 * fw_normal_tail(2), 1e-15, 0);
    assert_close(fw_conform_probability(8, 1, -INFINITY, INFINITY), 1, 0, 0);
    assert_close(fw_conform_probability(8, 1, 8, 8), 0, 0, 0);
}

/* Far outside, the difference of two nearly equal numbers must keep its digits. */
static void test_far_tails(void **state)
{
    (void)state;
    double want = fw_normal_tail(10) - fw_normal_tail(12);
    assert_close(fw_conform_probability(0, 1, 10, 12), want, 1e-13, 0);
    assert_close(fw_conform_probability(0, 1, -12, -10), want, 1e-13, 0);
    assert_close(want, 7.61985302416e-24, 1e-9, 0);
}

static void test_no_uncertainty(void **state)
{
    (void)state;
    assert_close(fw_conform_probability(10, 0, -INFINITY, 10), 1, 0, 0);
    assert_close(fw_conform_probability(10.1, 0, -INFINITY, 10), 0, 0, 0);
}

static void test_impossible_arguments(void **state)
{
    (void)state;
    assert_true(isnan(fw_conform_probability(NAN, 1, 0, 1)));
    assert_true(isnan(fw_conform_probability(0, NAN, 0, 1)));
    assert_true(isnan(fw_conform_probability(0, -1, 0, 1)));
    assert_true(isnan(fw_conform_probability(0, INFINITY, 0, 1)));
    assert_true(isnan(fw_conform_probability(0, 1, 1, 0)));
    assert_true(isnan(fw_conform_probability(0, 1, NAN, 1)));
    assert_true(isnan(fw_conform_probability(0, 1, 0, NAN)));
}

static void test_verdicts(void **state)
{
    (void)state;
    assert_int_equal(fw_conform_verdict(0.95, 0.95), FW_WITHIN);
    assert_int_equal(fw_conform_verdict(0.9499, 0.95), FW_UNDECIDED);
    assert_int_equal(fw_conform_verdict(0.0501, 0.95), FW_UNDECIDED);
    assert_int_equal(fw_conform_verdict(0.05, 0.95), FW_OUTSIDE);
    assert_int_equal(fw_conform_verdict(0.1, 0.9), FW_OUTSIDE);
    assert_int_equal(fw_conform_verdict(0, 0.99), FW_OUTSIDE);
    assert_int_equal(fw_conform_verdict(1, 0.99), FW_WITHIN);
    assert_int_equal(fw_conform_verdict(NAN, 0.95), FW_UNDETERMINED);
    for (int k = 501; k < 1000; k++) { /* decimal fractions that add up to one */
        double confidence = k / 1000.0, p = (1000 - k) / 1000.0;
        assert_int_equal(fw_conform_verdict(p, confidence), FW_OUTSIDE);
        assert_int_equal(fw_conform_verdict(confidence, confidence), FW_WITHIN);
        assert_int_equal(fw_conform_verdict(p + 1e-9, confidence), FW_UNDECIDED);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_one_and_two_limits),   cmocka_unit_test(test_far_tails),
        cmocka_unit_test(test_no_uncertainty),       cmocka_unit_test(test_impossible_arguments),
        cmocka_unit_test(test_verdicts),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
