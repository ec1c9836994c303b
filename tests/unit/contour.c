/* contour.c - contours of surfaces whose lines are known: circles, straight lines, saddles. */
#include <math.h>
#include <stdlib.h>

#include "../support/close.h"
#include "report/contour.h"

#define PI 3.14159265358979323846

/* Signed area of all loops (counter-clockwise +), their number, and the radii of vertices inside. */
typedef struct trace {
    int loops, vertices;
    double area, x0, y0, x, y;
    double least, greatest; /* radius of vertices that are not on a rim */
} trace;

static void close_loop(trace *t)
{
    if (t->vertices > 0)
        t->area += (t->x * t->y0 - t->x0 * t->y) / 2;
}

static void take(void *to, bool first, bool rim, double x, double y)
{
    trace *t = to;
    if (first) {
        close_loop(t);
        t->loops++;
        t->x0 = x;
        t->y0 = y;
    } else
        t->area += (t->x * y - x * t->y) / 2;
    t->x = x;
    t->y = y;
    t->vertices++;
    if (!rim) {
        t->least = fmin(t->least, hypot(x, y));
        t->greatest = fmax(t->greatest, hypot(x, y));
    }
}

static trace trace_of(const contour_grid *g, double level)
{
    trace t = {.least = INFINITY, .greatest = 0};
    contour_above(g, level, take, &t);
    close_loop(&t);
    return t;
}

typedef double surface(double x, double y);

static contour_grid grid_of(double inner, double outer, surface *h)
{
    contour_grid g;
    fw_error err;
    assert_int_equal(contour_new(inner, outer, 41, 180, &g, &err), FW_OK);
    for (int j = 0; j < g.na; j++)
        for (int i = 0; i < g.nr; i++) {
            double r = contour_radius(&g, i), a = contour_angle(&g, j);
            g.height[i + j * g.nr] = h(r * cos(a), r * sin(a));
        }
    return g;
}

static double bowl(double x, double y) { return -(x * x + y * y); }
static double slope(double x, double y) { (void)x; return y; }
static double saddle(double x, double y) { return x * x - y * y; }
static double plane_and_more(double x, double y) { return 3 + 2 * x - 5 * y + x * x - y * y; }

/* Power: the line of height -r0^2 is the circle of radius r0; what is above is its disc. */
static void test_power_gives_circles(void **state)
{
    (void)state;
    contour_grid g = grid_of(0, 100, bowl);
    for (double r0 = 12.3; r0 < 100; r0 += 9.7) {
        trace t = trace_of(&g, -r0 * r0);
        assert_close(t.least, r0, 0, 0.1);
        assert_close(t.greatest, r0, 0, 0.1);
        assert_close(t.area, PI * r0 * r0, 5e-3, 2);
    }
    contour_release(&g);
}

static void test_bore_and_rim(void **state)
{
    (void)state;
    contour_grid g = grid_of(20, 100, bowl);
    trace t = trace_of(&g, -70.0 * 70.0);
    assert_int_equal(t.loops, 2); /* the circle, and the bore the other way round */
    assert_close(t.area, PI * (70 * 70 - 20 * 20), 2e-3, 0);
    t = trace_of(&g, -1e6); /* all of it */
    assert_int_equal(t.loops, 2);
    assert_close(t.area, PI * (100 * 100 - 20 * 20), 2e-3, 0);
    assert_close(t.greatest, 0, 0, 0); /* nothing but rims */
    t = trace_of(&g, 1);
    assert_int_equal(t.loops, 0);
    contour_release(&g);
}

/* A straight line at y = c cuts off a segment of the disc. */
static void test_straight_line(void **state)
{
    (void)state;
    contour_grid g = grid_of(0, 1, slope);
    for (double c = -0.83; c < 0.9; c += 0.31) {
        trace t = trace_of(&g, c);
        assert_close(t.area, acos(c) - c * sqrt(1 - c * c), 3e-3, 2e-3);
    }
    contour_release(&g);
}

/* Above zero x^2 - y^2 are two quarters of the disc, by symmetry half of its area. */
static void test_saddle(void **state)
{
    (void)state;
    contour_grid g = grid_of(0.1, 1, saddle);
    trace t = trace_of(&g, 0.001);
    assert_int_equal(t.loops, 2);
    assert_close(t.area, PI * (1 - 0.01) / 2, 1e-2, 0);
    contour_release(&g);
}

static void test_levelled(void **state)
{
    (void)state;
    contour_grid g = grid_of(30, 100, plane_and_more), want = grid_of(30, 100, saddle);
    int low, high;
    contour_level(&g);
    for (int k = 0; k < g.nr * g.na; k++)
        assert_close(g.height[k], want.height[k], 1e-9, 1e-6 * 1e4);
    contour_extremes(&g, &low, &high);
    assert_close(g.height[high], 1e4, 1e-6, 0);
    assert_close(g.height[low], -1e4, 1e-6, 0);
    contour_release(&g);
    contour_release(&want);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_power_gives_circles),
        cmocka_unit_test(test_bore_and_rim),
        cmocka_unit_test(test_straight_line),
        cmocka_unit_test(test_saddle),
        cmocka_unit_test(test_levelled),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
