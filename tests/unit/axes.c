/* axes.c - round ticks that fit, and places in between. */
#include <math.h>

#include "../support/close.h"
#include "report/axes.h"

/* 1, 2 or 5 times a power of ten. */
static bool is_round(double x)
{
    double mantissa = x / pow(10, floor(log10(x) + 1e-9));
    return fabs(mantissa - 1) < 1e-6 || fabs(mantissa - 2) < 1e-6 || fabs(mantissa - 5) < 1e-6;
}

static void test_linear(void **state)
{
    static const double ranges[][2] = {{-100, 100}, {-33.7, 41.2}, {0, 1}, {-1e-3, 2e-3},
                                       {0, 12345}, {99.5, 100.5}, {-0.7, -0.2}};
    (void)state;
    for (size_t r = 0; r < sizeof ranges / sizeof ranges[0]; r++)
        for (int most = 2; most < 12; most++) {
            axis a = axis_linear(ranges[r][0], ranges[r][1], 40, 320, most);
            assert_in_range(a.nticks, 1, most + 1);
            for (int i = 0; i < a.nticks; i++) {
                double at = axis_at(&a, a.ticks[i]);
                assert_true(at > 40 - 1e-6 && at < 320 + 1e-6);
                if (i > 0)
                    assert_true(is_round(a.ticks[i] - a.ticks[i - 1]));
            }
        }
    axis a = axis_linear(-100, 100, 300, 100, 5);
    assert_close(axis_at(&a, 50), 150, 1e-12, 0);
    assert_close(axis_at(&a, 1e9), 100, 1e-12, 0); /* held at the end */
}

static void test_log(void **state)
{
    (void)state;
    axis a = axis_log(3, 120, 0, 100);
    static const double want[] = {5, 10, 20, 50, 100};
    assert_int_equal(a.nticks, 5);
    for (int i = 0; i < 5; i++)
        assert_close(a.ticks[i], want[i], 1e-12, 0);
    assert_close(axis_at(&a, sqrt(3 * 120.0)), 50, 1e-9, 0);
    assert_close(axis_at(&a, -1), 0, 0, 1e-12);
    a = axis_log(1, 1e5, 0, 1);
    assert_int_equal(a.nticks, 6);
}

static void test_counts(void **state)
{
    (void)state;
    axis a = axis_counts(1, 4, 0, 30, 8);
    assert_int_equal(a.nticks, 4);
    assert_close(axis_at(&a, 2), 10, 1e-12, 0);
    a = axis_counts(1, 1, 0, 30, 8);
    assert_int_equal(a.nticks, 1);
    a = axis_counts(1, 97, 0, 30, 8);
    for (int i = 0; i < a.nticks; i++)
        assert_close(remainder(a.ticks[i], 20), 0, 0, 1e-12);
}

static void test_numbers(void **state)
{
    char text[SVG_NUMBER];
    (void)state;
    assert_string_equal(svg_number(-20, true, text), "\xE2\x88\x92" "20");
    assert_string_equal(svg_number(20, true, text), "+20");
    assert_string_equal(svg_number(0, true, text), "0");
    assert_string_equal(svg_number(22.5, false, text), "22.5");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_linear),
        cmocka_unit_test(test_log),
        cmocka_unit_test(test_counts),
        cmocka_unit_test(test_numbers),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
