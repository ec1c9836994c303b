/* view.c - an eye at a finite distance, a lamp that fades. */
#include <math.h>

#include "../support/close.h"
#include "flatwright/units.h"
#include "flatwright/view.h"

/* 10 um, r = 150 mm: 111 nm at 1 m (of 1 - cos i, to 2 %), 12.5 nm at 3 m, 3.1 nm at 6 m (derived). */
static void test_rise(void **state)
{
    (void)state;
    assert_close(fw_view_rise_nm(10, 1000, 150), 112.5, 1e-12, 0);
    assert_close(fw_view_rise_nm(10, 1000, 150), 111, 0.02, 0);
    assert_close(fw_view_rise_nm(10, 3000, -150), 12.5, 1e-12, 0);
    assert_close(fw_view_rise_nm(10, 6000, 150), 3.1, 0, 0.05);
    assert_true(isnan(fw_view_rise_nm(NAN, 1000, 150)));
    for (double h = 500; h < 1e4; h *= 2) { /* d (1 - cos i) less the next term of its series */
        double slope = 150 / h, exact = 1e4 * (1 - 1 / sqrt(1 + slope * slope));
        assert_close(fw_view_rise_nm(10, h, 150) * (1 - 0.75 * slope * slope), exact,
                     pow(slope, 4), 0);
    }
}

/* Sodium's D lines, 588.9950 and 589.5924 nm, are out of step by half a wave of light over 145 um. */
static void test_contrast(void **state)
{
    (void)state;
    fw_light sodium = {"sodium", 589.2938, 0}, own = {"", 600, 0};
    double gap = fw_view_contrast_um(&sodium), waves = 2e3 * gap;
    assert_close(waves / 588.9950 - waves / 589.5924, 0.5, 1e-3, 0);
    assert_close(gap, 145, 0, 1);
    assert_true(isnan(fw_view_contrast_um(&own)));
    int count;
    const fw_lamp *lamps = fw_lamps(&count);
    for (int i = 0; i < count; i++) { /* every lamp has a width */
        fw_light light = {.wavelength_nm = lamps[i].wavelength_nm};
        for (size_t k = 0; lamps[i].name[k] && k + 1 < sizeof light.source; k++)
            light.source[k] = lamps[i].name[k];
        assert_true(fw_view_contrast_um(&light) > 100);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_rise), cmocka_unit_test(test_contrast)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
