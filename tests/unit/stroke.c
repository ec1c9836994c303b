/* stroke.c - wear of both discs: the check table, even removal, a stroke lived through in time. */
#include <math.h>
#include <string.h>

#include "../support/close.h"
#include "flatwright/stroke.h"

#define PI 3.14159265358979323846

enum { LAST = FW_STROKE_NODES - 1 };

static const fw_disc disc = { 125, 0 };

static fw_stroke stroke_of(fw_method method, double length, double lateral)
{
    fw_stroke s = fw_stroke_usual(method);
    s.length = length;
    s.lateral = lateral;
    return s;
}

static fw_wear wear_of(const fw_stroke *stroke, const fw_disc *flat)
{
    fw_wear wear;
    fw_error err;
    assert_int_equal(fw_stroke_wear(stroke, flat, &wear, &err), FW_OK);
    return wear;
}

/* Node of a fraction of the radius of a solid disc. */
static int at(double fraction)
{
    return (int)lround(fraction * LAST);
}

/* Centre over centre, equal discs; derived, to a few per cent. */
static void test_table(void **state)
{
    (void)state;
    static const double at_radius[] = { 0, 0.7, 0.9, 1 };
    static const struct {
        double length, lower[4], upper[4];
    } rows[] = { { 1.0 / 3, { 1.07, 1.07, 0.93, 0.67 }, { 1.20, 1.17, 0.76, 0.41 } },
                 { 2.0 / 3, { 0.83, 1.05, 1.05, 0.94 }, { 1.76, 0.97, 0.52, 0.27 } } };
    for (int i = 0; i < 2; i++) {
        fw_stroke s = stroke_of(FW_LAP_ON_TOP, rows[i].length, 0);
        fw_wear w = wear_of(&s, &disc);
        for (int k = 0; k < 4; k++) {
            assert_close(w.lower[at(at_radius[k])], rows[i].lower[k], 0.01, 0.005);
            assert_close(w.upper[at(at_radius[k])], rows[i].upper[k], 0.02, 0.006);
            assert_close(w.change[at(at_radius[k])], rows[i].lower[k] - rows[i].upper[k], 0.02,
                         0.02);
        }
        /* travel of a harmonic stroke: there and back, less nothing: the load is always carried */
        assert_close(w.travel_mm, 4 * 125 * rows[i].length, 2e-3, 0);
        /* off beyond an overhang of 0.19645 D: that phase of the sine, and all after it */
        double lifted = i == 0 ? 0 : 1 - asin(0.19645 * 2 / rows[i].length) / (PI / 2);
        assert_close(w.lifted, lifted, 0, 1.0 / 64);
    }
}

static double mean_of(const fw_disc *d, const double *r, const double *f)
{
    double sum = 0; /* f linear between nodes, times r, integrated exactly */
    for (int i = 0; i < LAST; i++) {
        double a = r[i], b = r[i + 1];
        sum += (b - a) * (f[i] * (2 * a + b) + f[i + 1] * (a + 2 * b)) / 3;
    }
    return sum / (d->radius_mm * d->radius_mm - d->bore_mm * d->bore_mm);
}

static void test_mean_one(void **state)
{
    (void)state;
    fw_disc bored = { 125, 30 };
    fw_stroke s = stroke_of(FW_FLAT_ON_TOP, 0.4, 0.2);
    s.lap_mm = 140;
    fw_wear w = wear_of(&s, &bored);
    fw_disc lap = { 140, 0 };
    assert_close(mean_of(&lap, w.lower_mm, w.lower), 1, 2e-3, 0);
    assert_close(mean_of(&bored, w.upper_mm, w.upper), 1, 2e-3, 0);
    assert_close(w.upper_mm[0], 30, 1e-12, 0);
    assert_close(w.upper_mm[LAST], 125, 1e-12, 0);
    assert_close(w.lower_mm[LAST], 140, 1e-12, 0);
}

/* Equal turning: one speed all over, whatever the offset, so removal is even; derived. */
static void test_equal_turning(void **state)
{
    (void)state;
    fw_stroke s = stroke_of(FW_LAP_ON_TOP, 0.2, 0.1);
    s.lap_mm = 300; /* covers the flat always, and nothing lifts */
    s.turn_lower = s.turn_upper = 3;
    fw_wear w = wear_of(&s, &disc);
    for (int i = 0; i <= LAST; i++)
        assert_close(w.lower[i], 1, 1e-12, 0);
    s.turn_upper = 2.5; /* and uneven when they differ: the edge goes faster */
    w = wear_of(&s, &disc);
    assert_true(w.lower[LAST] > 1.05 * w.lower[0]);
}

/* The upper disc goes hollow, the lower to a hump, in longer strokes more (common practice). */
static void test_rule(void **state)
{
    (void)state;
    double before = 0;
    for (double length = 0.15; length < 0.7; length += 0.1) {
        fw_stroke s = stroke_of(FW_LAP_ON_TOP, length, 0);
        fw_wear w = wear_of(&s, &disc);
        double bend = w.change[at(1)] - w.change[0];
        assert_true(bend > before);
        before = bend;
    }
}

/* Points that are followed, as fractions of either radius. */
static const double where[] = { 0.1, 0.5, 0.8, 0.95 };

/*
 * A real stroke in time steps, both discs turning: p |v| at points that turn with them. The rates
 * are roots that have no common measure, or the points would meet the stroke in the same phase.
 */
static void live(const fw_stroke *s, double a, double sum[2][4])
{
    enum { STEPS = 150, STROKES = 1500 };
    fw_disc lower = { a, 0 }, upper = { s->lap_mm, 0 };
    double w1 = 2 * PI * s->turn_lower, w2 = 2 * PI * s->turn_upper, w = 2 * PI * s->sweeps;
    memset(sum, 0, 8 * sizeof sum[0][0]);
    for (int k = 0; k < STEPS * STROKES; k++) {
        double t = (k + 0.5) / STEPS, u = 2 * PI;
        double ex = s->length * a * sin(u * t), ey = s->lateral * a * sin(w * t + 0.3);
        double vx = u * s->length * a * cos(u * t), vy = w * s->lateral * a * cos(w * t + 0.3);
        double e = hypot(ex, ey);
        fw_contact c;
        assert_int_equal(fw_contact_solve(&lower, &upper, e, &c, NULL), FW_OK);
        for (int i = 0; i < 8; i++) {
            bool up = i >= 4;
            double r = where[i % 4] * (up ? s->lap_mm : a), turn = up ? w2 * t + 2 : w1 * t + 1;
            double x = r * cos(turn) + up * ex, y = r * sin(turn) + up * ey;
            double along = (x * ex + y * ey) / e;
            if (hypot(x, y) <= a && hypot(x - ex, y - ey) <= s->lap_mm && along >= c.from_mm &&
                along <= c.to_mm)
                sum[up][i % 4] += (c.c0 + c.c1 * along) / (STEPS * STROKES) *
                                  hypot(vx - w2 * (y - ey) + w1 * y, vy + w2 * (x - ex) - w1 * x);
        }
    }
}

static void test_lived(void **state)
{
    (void)state;
    static const struct {
        double length, lateral, sweeps, turn_lower, turn_upper, lap;
    } rows[] = { { 0.3, 0, 0, 0.0323607, -0.0241421, 1 },
                 { 0.5, 0.25, 0.2236068, 0.2828427, -0.3464102, 1 },
                 { 0.4, 0.2, 1.1180340, -0.4242641, -0.1732051, 0.8 } };
    for (int i = 0; i < 3; i++) {
        fw_stroke s = stroke_of(FW_LAP_ON_TOP, rows[i].length, rows[i].lateral);
        s.sweeps = rows[i].sweeps;
        s.turn_lower = rows[i].turn_lower;
        s.turn_upper = rows[i].turn_upper;
        s.lap_mm = rows[i].lap * 125;
        fw_wear w = wear_of(&s, &disc);
        double sum[2][4], face = PI * 125 * 125, lap = face * rows[i].lap * rows[i].lap;
        live(&s, 125, sum);
        for (int k = 0; k < 4; k++) { /* unit load: the mean of a face is travel / area */
            assert_close(w.lower[at(where[k])], sum[0][k] * face / w.travel_mm, 0.01, 0);
            assert_close(w.upper[at(where[k])], sum[1][k] * lap / w.travel_mm, 0.01, 0);
        }
    }
}

/* The usual nodes against eight times as many, three times with a sweep, in every direction. */
static void test_accuracy(void **state)
{
    (void)state;
    static const struct {
        double length, lateral, turn_lower, turn_upper, lap;
    } rows[] = { { 0.25, 0, 0, 0, 1 },        { 1.0 / 3, 0, 0, 0, 1 },    { 2.0 / 3, 0, 0, 0, 1 },
                 { 1.0 / 3, 0.25, 0, 0, 1 },  { 0.5, 0.25, 0, 0, 1 },     { 0.5, 0, 0.05, -0.1, 1 },
                 { 0.4, 0.1, 0.3, 0.2, 0.8 }, { 0.4, 0, 0, 0, 1.3 } };
    double worst = 0;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        fw_stroke s = stroke_of(FW_LAP_ON_TOP, rows[i].length, rows[i].lateral);
        s.turn_lower = rows[i].turn_lower;
        s.turn_upper = rows[i].turn_upper;
        s.lap_mm = rows[i].lap * 125;
        fw_wear usual = wear_of(&s, &disc);
        s.fine = s.lateral > 0 ? 3 : 8;
        fw_wear fine = wear_of(&s, &disc);
        for (int k = 0; k <= LAST; k++) {
            worst = fmax(worst, fabs(usual.lower[k] - fine.lower[k]));
            worst = fmax(worst, fabs(usual.upper[k] - fine.upper[k]));
        }
        assert_close(usual.travel_mm, fine.travel_mm, 2e-3, 0);
    }
    print_message("quadrature: within %.4f of the refined one\n", worst);
    assert_close(worst, 0, 0, 5e-3);
}

/*
 * A lap that keeps its face takes more off the middle even on top, in short strokes; one that has
 * flowed follows the rule of practice. Both discs at once: what flows adds up to an even whole.
 */
static void test_flow(void **state)
{
    (void)state;
    double r[FW_STROKE_NODES], stiff[FW_STROKE_NODES], half[FW_STROKE_NODES], full[FW_STROKE_NODES];
    fw_stroke s = stroke_of(FW_LAP_ON_TOP, 1.0 / 3, 0);
    fw_wear w = wear_of(&s, &disc);
    s.flow = 0;
    assert_int_equal(fw_stroke_profile(&s, &disc, r, stiff, NULL), FW_OK);
    s.flow = 0.5;
    assert_int_equal(fw_stroke_profile(&s, &disc, r, half, NULL), FW_OK);
    s.flow = NAN;
    assert_int_equal(fw_stroke_profile(&s, &disc, r, full, NULL), FW_OK);
    assert_true(stiff[at(1)] < 0.7 && stiff[0] > 1.05);
    assert_true(full[at(1)] > 1.2 && full[0] < 0.9);
    for (int k = 0; k <= LAST; k++) {
        assert_close(stiff[k], w.lower[k], 1e-3, 0);
        assert_close(full[k], 1 + w.change[k], 2e-3, 0);
        assert_close(half[k], 0.5 * (stiff[k] + full[k]), 2e-3, 0);
    }
    s.method = FW_FLAT_ON_TOP;
    assert_int_equal(fw_stroke_profile(&s, &disc, r, half, NULL), FW_OK);
    for (int k = 0; k <= LAST; k++)
        assert_close(half[k] + full[k], 2, 2e-3, 0);
}

static void test_faults(void **state)
{
    (void)state;
    fw_wear w = { .travel_mm = 7 };
    fw_error err = { 0 };
    fw_stroke s = stroke_of(FW_LAP_ON_TOP, 1.2, 0); /* tips */
    assert_int_equal(fw_stroke_wear(&s, &disc, &w, &err), FW_INPUT);
    assert_non_null(strstr(err.text, "tips"));
    s = stroke_of(FW_LAP_ON_TOP, 0, 0);
    s.fine = 1;
    assert_int_equal(fw_stroke_wear(&s, &disc, &w, &err), FW_INPUT);
    s = stroke_of(FW_LAP_ON_TOP, -0.2, 0);
    assert_int_equal(fw_stroke_wear(&s, &disc, &w, &err), FW_INPUT);
    s = stroke_of(FW_LAP_ON_TOP, 0.2, INFINITY);
    assert_int_equal(fw_stroke_wear(&s, &disc, &w, &err), FW_INPUT);
    s = stroke_of(FW_LAP_ON_TOP, 0.2, 0);
    s.turn_lower = INFINITY;
    assert_int_equal(fw_stroke_wear(&s, &disc, &w, &err), FW_INPUT);
    s = stroke_of(FW_LAP_ON_TOP, 0.2, 0);
    s.flow = 1.5;
    assert_int_equal(fw_stroke_wear(&s, &disc, &w, &err), FW_INPUT);
    s = fw_stroke_usual(FW_GRIND);
    assert_int_equal(fw_stroke_wear(&s, &disc, &w, &err), FW_INPUT);
    s = fw_stroke_usual(FW_SIDE);
    assert_int_equal(fw_stroke_wear(&s, &disc, &w, &err), FW_INPUT);
    assert_close(w.travel_mm, 7, 0, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_table), cmocka_unit_test(test_mean_one),
        cmocka_unit_test(test_equal_turning), cmocka_unit_test(test_rule),
        cmocka_unit_test(test_lived), cmocka_unit_test(test_accuracy),
        cmocka_unit_test(test_flow), cmocka_unit_test(test_faults),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
