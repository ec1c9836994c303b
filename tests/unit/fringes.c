/* fringes.c - the picture of a known surface: one band for each half wave, ISO 14999-4. */
#include <math.h>

#include "../support/close.h"
#include "flatwright/units.h"
#include "report/views.h"

#define RADIUS 100
#define TURN 6.2831853071795864769

static contour_grid made(const fw_figure *a, const fw_figure *b, double turn_deg, double fringe_nm,
                         double bands, double *pv)
{
    contour_grid g;
    fw_error err;
    assert_int_equal(contour_new(0, RADIUS, 29, 120, &g, &err), FW_OK);
    views_fringes(a, b, turn_deg, fringe_nm, bands, &g, pv);
    return g;
}

static double at(const contour_grid *g, double r, double angle_deg)
{
    int i = (int)lround(r / RADIUS * (g->nr - 1)), j = (int)lround(angle_deg / 360 * g->na);
    return g->height[i + (j % g->na) * g->nr];
}

/* The figure c Z_n^m of rms 1. */
static fw_figure one_term(fw_figure_term *term, int n, int m, double value_nm)
{
    *term = (fw_figure_term){n, m, value_nm, 0};
    return (fw_figure){.radius_mm = RADIUS, .nterms = 1, .terms = term};
}

static void count(void *to, bool first, bool rim, double x, double y)
{
    (void)rim;
    *(int *)to += first && hypot(x, y) > 0.01;
}

/*
 * A sphere of sagitta P shows P / (lambda / 2) dark rings between centre and rim. Here P = 5.2 half
 * waves: five lines of whole order more than at the rim.
 */
static void test_rings_of_a_sphere(void **state)
{
    (void)state;
    fw_light green = {"", 546.07, 0};
    double half_wave = 546.07 / 2, sag = 5.2 * half_wave, pv;
    assert_close(fw_unit_nm(FW_UNIT_FRINGE, &green), half_wave, 1e-12, 0);
    fw_figure_term term, none;
    /* sqrt(3) (2 rho^2 - 1) falls by 2 sqrt(3) from rim to centre */
    fw_figure ball = one_term(&term, 2, 0, -sag / 2 / sqrt(3)), flat = one_term(&none, 2, 0, 0);
    contour_grid g = made(&ball, &flat, 0, half_wave, 0, &pv);
    assert_close(pv, sag, 1e-3, 0);
    double centre = at(&g, 0, 0), rim = at(&g, RADIUS, 0);
    assert_close(rim - centre, 5.2, 1e-3, 0);
    int loops = 0;
    for (int k = 1; k <= 5; k++)
        contour_above(&g, centre + k, count, &loops);
    assert_int_equal(loops, 5 * 2); /* each a ring, with the rim around it */
    contour_release(&g);
}

/* Both flats' spheres add up, whatever the turn. */
static void test_sum(void **state)
{
    (void)state;
    double pv;
    fw_figure_term a, b;
    fw_figure one = one_term(&a, 2, 0, 10), other = one_term(&b, 2, 0, 20);
    contour_grid g = made(&one, &other, 77, 273, 0, &pv);
    assert_close(pv, 30 * 2 * sqrt(3), 1e-3, 0);
    contour_release(&g);
}

/* A band is displaced by h / (lambda / 2) of the spacing, toward the open side of the wedge where
 * the pair is high. */
static void test_displacement(void **state)
{
    (void)state;
    double pv, half_wave = 300;
    fw_figure_term a, b;
    fw_figure ball = one_term(&a, 2, 0, -75.0 / 2 / sqrt(3)), flat = one_term(&b, 2, 0, 0);
    contour_grid g = made(&ball, &flat, 0, half_wave, 6, &pv);
    /* along the diameter 0 the wedge alone has order 0; centre and rim differ by 75 nm: 1/4 band */
    assert_close(at(&g, RADIUS, 0) - at(&g, 0, 0), 0.25, 2e-3, 0);
    assert_true(at(&g, 0, 0) < 0); /* lower order: that of the ideal lies farther to the open side */
    assert_close(at(&g, RADIUS, 90) - at(&g, RADIUS, 270), 6, 1e-9, 0);
    contour_release(&g);
}

/* The bottom's point (r, t) meets the top's (r, turn - t): design of the mutual test. */
static void test_mating(void **state)
{
    (void)state;
    double pv;
    fw_figure_term a, b;
    fw_figure flat = one_term(&a, 2, 0, 0), top = one_term(&b, 2, -2, 100); /* r^2 sin 2t */
    for (int turn = 0; turn < 360; turn += 45) {
        contour_grid g = made(&flat, &top, turn, 100, 0, &pv);
        for (int t = 0; t < 360; t += 30) {
            double want = -sqrt(6) * sin(2 * (turn - t) * TURN / 360);
            assert_close(at(&g, RADIUS, t), want, 1e-9, 1e-9);
        }
        contour_release(&g);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_rings_of_a_sphere),
        cmocka_unit_test(test_sum),
        cmocka_unit_test(test_displacement),
        cmocka_unit_test(test_mating),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
