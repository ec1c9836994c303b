/* unsteady.c - strokes by hand against a fine sum over where they end, and what has to stay. */
#include <math.h>

#include "../support/close.h"
#include "flatwright/stroke.h"

#define PI 3.14159265358979323846

static const fw_disc solid = {100, 0}, bored = {100, 20};

static double at(fw_status (*removal)(const fw_stroke *, const fw_disc *, size_t, const double *,
                                      const double *, double *, fw_error *),
                 const fw_stroke *s, const fw_disc *flat, double r, double theta)
{
    double got = NAN;
    assert_int_equal(removal(s, flat, 1, &r, &theta, &got, NULL), FW_OK);
    return got;
}

/* A normal spread of 2.5 mm about each radius, summed finely; mirrored at the edge and the bore. */
static double summed(const fw_stroke *s, const fw_disc *flat, double r, double theta)
{
    double sum = 0, weight = 0;
    for (double z = -3; z <= 3; z += 0.01) {
        double x = fabs(r + 2.5 * z), w = exp(-z * z / 2);
        x = x > 100 ? 200 - x : flat->bore_mm > 0 && x < 20 ? 40 - x : x;
        sum += w * at(fw_stroke_at, s, flat, x, r + 2.5 * z < 0 ? theta + PI : theta);
        weight += w;
    }
    return sum / weight;
}

static void against_a_sum(void **state)
{
    (void)state;
    fw_stroke strokes[] = {fw_stroke_usual(FW_LAP_ON_TOP), fw_stroke_usual(FW_FLAT_ON_TOP),
                           fw_stroke_usual(FW_RING), fw_stroke_usual(FW_SIDE)};
    strokes[2].inner_mm = 40;
    strokes[2].outer_mm = 64;
    strokes[3].inner_mm = 60;
    for (int k = 0; k < 4; k++)
        for (int b = 0; b < 2; b++)
            for (double r = b ? 20 : 0; r <= 100; r += 3.1) {
                const fw_disc *flat = b ? &bored : &solid;
                assert_close(at(fw_stroke_by_hand, &strokes[k], flat, r, 0.2),
                             summed(&strokes[k], flat, r, 0.2), 0, 0.012);
            }
}

/* Nothing where there is no glass; what is the same everywhere stays so up to the rim. */
static void rims(void **state)
{
    (void)state;
    fw_stroke s = fw_stroke_usual(FW_RING);
    s.inner_mm = 0;
    s.outer_mm = 90;
    s.lap_mm = 80;
    assert_close(at(fw_stroke_by_hand, &s, &solid, 101, 0), 0, 0, 0);
    fw_stroke full = fw_stroke_usual(FW_LAP_ON_TOP);
    assert_close(at(fw_stroke_by_hand, &full, &bored, 19, 0), 0, 0, 0);
    for (double r = 0; r < 60; r += 7)
        assert_close(at(fw_stroke_by_hand, &s, &solid, r, 0), 1, 0, 1e-6);
    fw_stroke none = fw_stroke_usual(FW_GRIND);
    double r = 10, got = 7;
    assert_int_equal(fw_stroke_by_hand(&none, &solid, 1, &r, NULL, &got, NULL), FW_INPUT);
    assert_close(got, 7, 0, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(against_a_sum), cmocka_unit_test(rims)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
