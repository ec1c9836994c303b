/* plate.c - a bored plate on three points: the plate's equation, free edges, and what carries it. */
#include <math.h>

#include "../support/close.h"
#include "flatwright/plate.h"

#define PI 3.14159265358979323846
#define STEP 0.004

static fw_plate plate; /* of the running test */

static double w(double x, double theta)
{
    return fw_plate_sag(&plate, x, theta);
}

static double d1(double (*f)(double, double), double x, double theta)
{
    return (f(x + STEP, theta) - f(x - STEP, theta)) / (2 * STEP);
}

static double d2(double (*f)(double, double), double x, double theta)
{
    return (f(x + STEP, theta) - 2 * f(x, theta) + f(x - STEP, theta)) / (STEP * STEP);
}

static double around2(double (*f)(double, double), double x, double theta)
{
    return (f(x, theta + STEP) - 2 * f(x, theta) + f(x, theta - STEP)) / (STEP * STEP);
}

static double laplacian(double x, double theta)
{
    return d2(w, x, theta) + d1(w, x, theta) / x + around2(w, x, theta) / (x * x);
}

/* w = x^4/64 + ...: del^4 w = 1 away from the supports. */
static void test_equation(void **state)
{
    (void)state;
    for (int points = 0; points < 2; points++)
        for (int bored = 0; bored < 2; bored++) {
            plate = fw_plate_of(0.2, bored ? 0.25 : 0, 0.6, points);
            for (int i = 0; i < 4; i++) {
                const double at[] = {0.35, 0.42, 0.78, 0.95}; /* the sum ends too early at the support */
                double x = at[i], theta = 0.5;
                double load = d2(laplacian, x, theta) + d1(laplacian, x, theta) / x +
                              around2(laplacian, x, theta) / (x * x);
                assert_close(load, 1, 0, 0.01);
            }
        }
}

static double twist(double x, double theta)
{
    return w(x, theta) / x;
}

/* Slope of w/x: its second derivative around, over x, is Kirchhoff's part of the edge shear. */
static double twist_slope(double x, double theta)
{
    return d1(twist, x, theta);
}

/* No moment and no Kirchhoff shear at either edge, three points or a ring, solid or bored. */
static void test_free_edges(void **state)
{
    (void)state;
    const double nu = 0.2;
    for (int points = 0; points < 2; points++)
        for (int edge = 0; edge < 2; edge++) {
            double x = edge ? 1 : 0.25;
            plate = fw_plate_of(nu, 0.25, 0.6, points);
            for (double theta = 0; theta < 2; theta += 0.4) {
                double moment = d2(w, x, theta) +
                                nu * (d1(w, x, theta) / x + around2(w, x, theta) / (x * x));
                double shear = d1(laplacian, x, theta) +
                               (1 - nu) / x * around2(twist_slope, x, theta);
                assert_close(moment, 0, 0, 2e-4);
                assert_close(shear, 0, 0, 4e-3);
            }
        }
}

/* The shear that passes a circle outside the support carries what lies beyond it. */
static void test_balance(void **state)
{
    (void)state;
    plate = fw_plate_of(0.2, 0.25, 0.6, true);
    const double at[] = {0.4, 0.8};
    for (int i = 0; i < 2; i++) {
        double x = at[i], sum = 0;
        for (int k = 0; k < 72; k++)
            sum += d1(laplacian, x, 2 * PI * k / 72) * x * 2 * PI / 72;
        double weight = i ? -PI * (1 - x * x) : PI * (x * x - 0.0625);
        assert_close(sum, weight, 2e-3, 0);
    }
}

/* A small bore changes little, supports at the very edges are the limits of those beside them. */
static void test_limits(void **state)
{
    (void)state;
    for (int points = 0; points < 2; points++) {
        fw_plate solid = fw_plate_of(0.2, 0, 0.645, points);
        fw_plate pierced = fw_plate_of(0.2, 1e-4, 0.645, points);
        fw_plate rim = fw_plate_of(0.2, 0.2, 1, points);
        fw_plate near_rim = fw_plate_of(0.2, 0.2, 1 - 1e-9, points);
        fw_plate bore = fw_plate_of(0.2, 0.2, 0.2, points);
        fw_plate near_bore = fw_plate_of(0.2, 0.2, 0.2 + 1e-9, points);
        for (double x = 0.2; x <= 1; x += 0.1) {
            assert_close(fw_plate_sag(&pierced, x, 0.4), fw_plate_sag(&solid, x, 0.4), 0, 1e-7);
            assert_close(fw_plate_sag(&near_rim, x, 0.4), fw_plate_sag(&rim, x, 0.4), 0, 1e-8);
            assert_close(fw_plate_sag(&near_bore, x, 0.4), fw_plate_sag(&bore, x, 0.4), 0, 1e-8);
        }
        assert_close(fw_plate_sag(&solid, 0.645, 0), 0, 0, 1e-15);
        assert_close(fw_plate_sag(&rim, 1, 2 * PI / 3), 0, 0, 1e-13);
    }
}

/* Without a thickness or a glass there is nothing to reckon with. */
static void test_unknown(void **state)
{
    (void)state;
    fw_flat flat = {.diameter_mm = 200, .clear_mm = 190, .thickness_mm = NAN,
                    .glass = {"borosilicate", 64, 0.20, 2230, 3.25, 1.13, 750}};
    fw_support none = {.kind = FW_SUPPORT_NONE}, ring = {FW_SUPPORT_RING, 68, NAN};
    fw_plate p;
    assert_false(fw_plate_on(&flat, &ring, &p));
    flat.thickness_mm = 30;
    assert_true(fw_plate_on(&flat, &ring, &p));
    assert_close(p.beta, 0.68, 1e-15, 0);
    assert_false(fw_plate_on(&flat, &none, &p));
    flat.glass.young_gpa = NAN;
    assert_false(fw_plate_on(&flat, &ring, &p));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_equation), cmocka_unit_test(test_free_edges),
        cmocka_unit_test(test_balance), cmocka_unit_test(test_limits),
        cmocka_unit_test(test_unknown)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
