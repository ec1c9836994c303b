/* preston.c - relative speed as elliptic integrals; a lap at a fixed distance on turning work. */
#include <math.h>

#include "../support/close.h"
#include "../support/refdata.h"
#include "flatwright/stroke.h"

#define PI 3.14159265358979323846

/* Mean speed of a lap, turning at w2 about a centre at e, over the work's circle r, 0 to phi. */
static double speed(double w1, double w2, double e, double r, double phi, int nodes)
{
    return fw_stroke_arc(1, 0, r, 0, phi, 0, -w2 * e, w2 - w1, nodes);
}

/*
 * data/preston/mean-relative-speed.csv: complete elliptic integrals, derived there and computed
 * with 30 digits. The ten nodes of the strokes are within 4e-5.
 */
static void test_full_lap(void **state)
{
    (void)state;
    refdata *t = ref_open("preston/mean-relative-speed.csv");
    assert_true(ref_rows(t) > 50);
    for (int i = 0; i < ref_rows(t); i++) {
        double w1 = ref_number(t, i, "w1"), w2 = ref_number(t, i, "w2"), e = ref_number(t, i, "e");
        double r = ref_number(t, i, "r"), want = ref_number(t, i, "mean_speed");
        assert_close(speed(w1, w2, e, r, PI, FW_ARC_NODES), want, 1e-10, 1e-15);
        assert_close(speed(w1, w2, e, r, PI, 10), want, 4e-5, 1e-15);
        if (w1 == w2) /* equal speeds: w e everywhere */
            assert_close(speed(w1, w2, e, r, PI, 1), fabs(w2) * e, 1e-15, 0);
    }
    ref_close(t);
}

/* data/preston/elliptic-E-check.csv: the same by the ratio of turning to carrying speed. */
static void test_ratio(void **state)
{
    (void)state;
    refdata *t = ref_open("preston/elliptic-E-check.csv");
    for (int i = 0; i < ref_rows(t); i++) {
        double q = ref_number(t, i, "q");
        double got = fw_stroke_arc(1, 0, 1, 0, PI, 0, 1, q, FW_ARC_NODES);
        assert_close(got, ref_number(t, i, "mean_over_B"), 1e-9, 0);
    }
    ref_close(t);
}

/*
 * data/preston/partial-lap-removal.csv: even pressure, covered arc; incomplete elliptic integrals.
 * Where the lap lies wholly on the work the pressure is even, so the whole wear can be checked too.
 */
static void test_partial_lap(void **state)
{
    (void)state;
    refdata *t = ref_open("preston/partial-lap-removal.csv");
    int wears = 0;
    for (int i = 0; i < ref_rows(t); i++) {
        double w1 = ref_number(t, i, "w1"), w2 = ref_number(t, i, "w2"), e = ref_number(t, i, "e");
        double lap = ref_number(t, i, "R"), r = ref_number(t, i, "r");
        double want = ref_number(t, i, "removal"), phi = PI * ref_number(t, i, "coverage");
        assert_close(speed(w1, w2, e, r, phi, FW_ARC_NODES), want, 1e-9, 1e-15);
        if (e + lap > 1)
            continue;
        fw_disc flat = { 1, 0 };
        fw_stroke s = fw_stroke_usual(FW_RING);
        s.inner_mm = e - lap;
        s.outer_mm = e + lap;
        s.lap_mm = lap;
        s.turn_lower = w1 / (2 * PI);
        s.turn_upper = w2 / (2 * PI);
        fw_wear wear;
        double got;
        assert_int_equal(fw_stroke_wear(&s, &flat, &wear, NULL), FW_OK);
        assert_int_equal(fw_stroke_at(&s, &flat, 1, &r, NULL, &got, NULL), FW_OK);
        assert_close(got * wear.travel_mm, want, 4e-3, 1e-4);
        wears++;
    }
    assert_true(wears >= 20);
    ref_close(t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_full_lap),
        cmocka_unit_test(test_ratio),
        cmocka_unit_test(test_partial_lap),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
