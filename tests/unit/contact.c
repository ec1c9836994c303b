/* contact.c - linear pressure between two discs: check table, closed forms, balance by summing. */
#include <math.h>
#include <string.h>

#include "../support/close.h"
#include "flatwright/stroke.h"

#define PI 3.14159265358979323846

static fw_contact solved(double a, double bore_a, double b, double bore_b, double e)
{
    fw_disc lower = { a, bore_a }, upper = { b, bore_b };
    fw_contact c;
    fw_error err;
    assert_int_equal(fw_contact_solve(&lower, &upper, e, &c, &err), FW_OK);
    return c;
}

/* Equal discs, overhang f of the diameter; derived, printed to four and five digits. */
static void test_table(void **state)
{
    (void)state;
    static const struct {
        double f, least, greatest, area;
    } rows[] = { { 0.05, 0.8418, 1.2941, 0.93636 },
                 { 0.10, 0.6304, 1.6608, 0.87289 },
                 { 1.0 / 6, 0.2340, 2.3016, 0.78878 } };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        fw_contact c = solved(125, 0, 125, 0, rows[i].f * 250);
        double face = PI * 125 * 125;
        assert_close(c.least * face, rows[i].least, 0, 6e-5);
        assert_close(c.greatest * face, rows[i].greatest, 0, 6e-5);
        assert_close(c.area_mm2 / face, rows[i].area, 0, 6e-6);
        assert_false(c.lifted);
    }
}

/* The overhang at which the upper disc begins to lift; derived. */
static void test_lift_off(void **state)
{
    (void)state;
    double down = 0.1, up = 0.3;
    for (int i = 0; i < 40; i++) {
        double f = 0.5 * (down + up);
        if (solved(1, 0, 1, 0, 2 * f).lifted)
            up = f;
        else
            down = f;
    }
    assert_close(up, 0.19645, 0, 6e-6);
}

/*
 * A large upper disc on a small lower one: p = (1 + 4 e x / a^2) / (pi a^2), off from e = a / 4 on.
 * A small one wholly inside a large: even. Derived.
 */
static void test_closed_forms(void **state)
{
    (void)state;
    double a = 60, face = PI * a * a;
    for (double e = 0; e < 15; e += 3) {
        fw_contact c = solved(a, 0, 200, 0, e);
        assert_close(c.c0 * face, 1, 1e-12, 0);
        assert_close(c.c1 * face * a * a, 4 * e, 1e-12, 1e-9);
        assert_close(c.least * face, 1 - 4 * e / a, 1e-11, 1e-11);
        assert_close(c.greatest * face, 1 + 4 * e / a, 1e-11, 0);
        assert_false(c.lifted);
    }
    assert_true(solved(a, 0, 200, 0, 15.01).lifted);
    for (double e = 0; e <= 88; e += 11) {
        fw_contact c = solved(100, 0, 12, 0, e);
        assert_close(c.area_mm2, PI * 144, 1e-11, 0);
        assert_close(c.least * PI * 144, 1, 1e-9, 0);
        assert_close(c.greatest * PI * 144, 1, 1e-9, 0);
    }
}

/* Force and moment by summing over a fine grid of the overlap, and the region of pressure. */
static void assert_balance(double a, double bore_a, double b, double bore_b, double e)
{
    enum { N = 900 };
    fw_contact c = solved(a, bore_a, b, bore_b, e);
    double force = 0, moment = 0, area = 0, step = 2 * fmin(a, b) / N;
    double middle = a < b ? 0 : e, cell = 2 * step * step;
    for (int i = 0; i < N; i++)
        for (int j = 0; j < N / 2; j++) {
            double x = middle + (i + 0.5 - N / 2.0) * step, y = (j + 0.5) * step;
            double low = hypot(x, y), up = hypot(x - e, y);
            if (low > a || low < bore_a || up > b || up < bore_b)
                continue;
            double p = c.c0 + c.c1 * x;
            area += cell;
            if (x < c.from_mm || x > c.to_mm) {
                assert_true(c.lifted);
                assert_true(p <= 1e-6 * c.greatest);
                continue;
            }
            assert_true(p >= -1e-6 * c.greatest);
            force += p * cell;
            moment += p * (x - e) * cell;
        }
    assert_close(area, c.area_mm2, 2e-3, 0);
    assert_close(force, 1, 4e-3, 0);
    assert_close(moment, 0, 0, 4e-3 * fmin(a, b));
}

static void test_balance(void **state)
{
    (void)state;
    static const double cases[][5] = {
        { 1, 0, 1, 0, 0.3 },      { 1, 0, 1, 0, 0.5 },     { 1, 0, 1, 0, 0.8 },
        { 1, 0, 0.7, 0, 0.6 },    { 1, 0, 1.4, 0, 0.5 },   { 1, 0.2, 1, 0, 0.25 },
        { 1, 0.3, 1, 0.2, 0.4 },  { 1, 0, 1, 0.35, 0.6 },  { 1, 0.2, 0.3, 0, 0.35 },
        { 1, 0.2, 0.15, 0, 0.26 }, { 1, 0, 0.3, 0, 0.9 },  { 1, 0.25, 0.3, 0, 0.28 },
        { 1, 0.5, 0.6, 0.1, 0.7 }, { 1, 0.2, 0.4, 0, 0.1 }, { 1, 0.3, 0.32, 0, 0 },
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++)
        assert_balance(cases[i][0], cases[i][1], cases[i][2], cases[i][3], cases[i][4]);
}

/* A lap at the rim of a bore leans toward the bore, and lifts on the far side when far over. */
static void test_hub(void **state)
{
    (void)state;
    fw_contact c = solved(1, 0.25, 0.3, 0, 0.45);
    assert_true(c.c1 < 0 && !c.lifted);
    c = solved(1, 0.25, 0.3, 0, 0.28);
    assert_true(c.c1 < 0 && c.lifted && c.to_mm < 0.58);
}

/* Balanced to rounding up to where it tips: the moments in closed form, at any scale. */
static void test_far(void **state)
{
    (void)state;
    for (double f = 0.01; f < 0.4999; f += 0.01) {
        fw_contact c = solved(1, 0, 1, 0, 2 * f), d = solved(1e3, 0, 1e3, 0, 2e3 * f);
        assert_close(d.c0 * 1e6, c.c0, 1e-9, 0);
        assert_close(d.c1 * 1e9, c.c1, 1e-9, 0);
        assert_close(d.from_mm, 1e3 * c.from_mm, 1e-9, 1e-9);
        if (c.lifted) /* no step of pressure where it lifts */
            assert_close(c.c0 + c.c1 * c.from_mm, 0, 0, 1e-9 * c.greatest);
        assert_true(c.greatest > c.least && c.from_mm < 2 * f);
    }
    fw_contact c = solved(1, 0, 1, 0, 0.9999);
    assert_true(c.lifted && c.from_mm > 0.999 && c.greatest > 1e4 / PI);
}

static void test_faults(void **state)
{
    (void)state;
    static const double cases[][5] = {
        { 1, 0, 1, 0, 1 },   { 1, 0, 1, 0, 1.5 },     { 1, 0, 1, 0, 2.5 }, { 1, 0.4, 0.2, 0, 0.1 },
        { 0, 0, 1, 0, 0.1 }, { 1, 0, -1, 0, 0.1 },    { 1, 1, 1, 0, 0.1 }, { 1, 0, 1, 0, -0.1 },
        { NAN, 0, 1, 0, 0 }, { 1, 0, 1, 0, INFINITY }, { 1, 0, 1, NAN, 0 },
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        fw_disc lower = { cases[i][0], cases[i][1] }, upper = { cases[i][2], cases[i][3] };
        fw_contact c = { .c0 = 7 };
        fw_error err = { 0 };
        assert_int_equal(fw_contact_solve(&lower, &upper, cases[i][4], &c, &err), FW_INPUT);
        assert_true(strlen(err.text) > 0);
        assert_close(c.c0, 7, 0, 0);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_table),   cmocka_unit_test(test_lift_off),
        cmocka_unit_test(test_closed_forms), cmocka_unit_test(test_balance),
        cmocka_unit_test(test_hub),     cmocka_unit_test(test_far),
        cmocka_unit_test(test_faults),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
