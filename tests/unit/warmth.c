/* warmth.c - bow and time constants by the check values, waiting against the heat equation. */
#include <math.h>

#include "../support/close.h"
#include "flatwright/warmth.h"

/* Data-sheet values of the check table. */
static const fw_glass borosilicate = { "borosilicate", 64, 0.20, 2230, 3.25, 1.13, 750 };

static void test_check_values(void **state)
{
    (void)state;
    /* derived, printed as far as compared */
    assert_close(fw_warmth_bow_nm(&borosilicate, 300, 50, 0.1), 73.1, 0, 0.05);
    assert_close(fw_warmth_bow_nm(&borosilicate, 250, 40, 0.05), 32, 0, 0.5);
    assert_close(fw_warmth_diffusivity(&borosilicate), 6.8e-7, 0, 0.05e-7);
    assert_close(fw_warmth_conduction_s(&borosilicate, 50, true), 375, 0, 0.5);
    assert_close(fw_warmth_conduction_s(&borosilicate, 50, false), 4 * 375, 0, 2);
    assert_close(fw_warmth_air_s(&borosilicate, 50, true, NAN) / 60, 87, 0, 0.5);
    assert_close(fw_warmth_air_s(&borosilicate, 50, false, NAN) / 60, 174, 0, 0.5);
    assert_close(fw_warmth_air_s(&borosilicate, 50, true, 16) / 60, 43.6, 0, 0.1);
}

/* A steady flux q is a difference q t / k through the thickness: alpha q D^2 / (8 k); derived. */
static void test_flux(void **state)
{
    (void)state;
    double q = 20;
    for (double t = 20; t < 80; t += 20)
        assert_close(fw_warmth_flux_bow_nm(&borosilicate, 300, q),
                     fw_warmth_bow_nm(&borosilicate, 300, t, q * 1e-3 * t / 1.13), 1e-12, 0);
    assert_close(fw_warmth_flux_bow_nm(&borosilicate, 300, 1), 32.35, 0, 0.01); /* by hand */
    assert_close(fw_warmth_across_k(&borosilicate, 300, 50, 73.125), 0.1, 1e-12, 0);
    assert_true(fw_warmth_bow_nm(&borosilicate, 300, 50, -0.1) < 0);
}

/*
 * The heat equation in a slab by differences: face (last cell) and back in air or the back closed,
 * a linear difference `across` on a mean excess `above` at the start. Returns the difference of
 * the plane that fits the profile best, the one that bends a free plate.
 */
static double by_differences(const fw_cooling *c, double film_face, double film_back,
                             double seconds)
{
    enum { CELLS = 40 };
    double t[CELLS], flux[CELLS + 1], dx = 1e-3 * c->thickness_mm / CELLS;
    double heat = borosilicate.density_kg_m3 * borosilicate.heat_j_kgk;
    double k = borosilicate.conductivity_w_mk;
    double dt = 0.4 * dx * dx * heat / k, slope = 0, square = 0;
    for (int i = 0; i < CELLS; i++)
        t[i] = c->above_k + c->across_k * ((i + 0.5) / CELLS - 0.5);
    for (double s = 0; s < seconds; s += dt) {
        flux[0] = -film_back * t[0];
        flux[CELLS] = film_face * t[CELLS - 1];
        for (int i = 1; i < CELLS; i++)
            flux[i] = k * (t[i - 1] - t[i]) / dx;
        for (int i = 0; i < CELLS; i++)
            t[i] += dt * (flux[i] - flux[i + 1]) / (heat * dx);
    }
    for (int i = 0; i < CELLS; i++) {
        double x = (i + 0.5) / CELLS - 0.5;
        slope += x * t[i];
        square += x * x;
    }
    return slope / square;
}

/* The rule never promises too early by more than a little, nor waits far too long. */
static void test_heat_equation(void **state)
{
    (void)state;
    static const double times[] = { 300, 900, 1800, 3600, 7200, 14400, 28800 };
    for (double thickness = 25; thickness <= 50; thickness += 25)
        for (int i = 0; i < 7; i++) {
            /* one face open: the terms add when it was cold, oppose each other when warm */
            fw_cooling c = { thickness, false, -0.5, 1, NAN };
            double left = fw_warmth_left_k(&borosilicate, &c, times[i]);
            double true_left = fabs(by_differences(&c, FW_WARMTH_FILM, 0, times[i]));
            assert_true(left >= true_left);
            if (times[i] > 1000)
                assert_close(left, true_left, 0.15, 0);
            c.across_k = 0.5;
            assert_true(left >= 0.95 * fabs(by_differences(&c, FW_WARMTH_FILM, 0, times[i])));
            /* both open: faces of equal air, then of air that differs by the fifth */
            c = (fw_cooling){ thickness, true, 0.5, 0, NAN };
            left = fw_warmth_left_k(&borosilicate, &c, times[i]);
            true_left = fabs(by_differences(&c, FW_WARMTH_FILM, FW_WARMTH_FILM, times[i]));
            assert_true(left >= true_left - 1e-6);
            c = (fw_cooling){ thickness, true, 0, 1, NAN };
            left = fw_warmth_left_k(&borosilicate, &c, times[i]);
            double film = FW_WARMTH_FILM;
            true_left = fabs(by_differences(&c, 1.1 * film, 0.9 * film, times[i]));
            assert_true(left >= true_left);
            if (times[i] > 1000)
                assert_close(left, true_left, 0.25, 1e-5);
        }
}

/* After the wait the glass is ready, after three quarters of it it was not: heat equation. */
static void test_ready(void **state)
{
    (void)state;
    for (int both = 0; both < 2; both++)
        for (double allowed = 0.1; allowed > 0.004; allowed /= 2)
            for (double thickness = 25; thickness <= 75; thickness += 25) {
                fw_cooling c = { thickness, both, both ? 0.5 : -0.5, both ? 0 : 1, NAN };
                double wait = fw_warmth_wait_s(&borosilicate, &c, allowed), film = FW_WARMTH_FILM;
                double back = both ? film : 0;
                assert_true(wait > 0);
                assert_true(fabs(by_differences(&c, film, back, wait)) <= allowed);
                assert_true(fabs(by_differences(&c, film, back, 0.75 * wait)) > allowed);
            }
}

/* One term alone is a logarithm; more glass, one face and a finer demand need more time. */
static void test_wait(void **state)
{
    (void)state;
    fw_cooling c = { 50, true, 0.5, 0, NAN };
    assert_close(fw_warmth_wait_s(&borosilicate, &c, 0.005), 374.9 * log(100), 1e-3, 0);
    c.across_k = 0;
    c.above_k = 1;
    c.both = false;
    double biot = 8 * 0.05 / 1.13, slow = 2230 * 750 * 0.05 / 8 + 4 * 374.9;
    double want = slow * log(0.5 * biot / 0.005);
    assert_close(fw_warmth_wait_s(&borosilicate, &c, 0.005), want, 1e-3, 0);

    c = (fw_cooling){ 50, false, 0.5, 1, NAN };
    double one = fw_warmth_wait_s(&borosilicate, &c, 0.01);
    assert_close(fw_warmth_left_k(&borosilicate, &c, one), 0.01, 1e-9, 0);
    c.both = true;
    double both = fw_warmth_wait_s(&borosilicate, &c, 0.01);
    assert_true(both < 0.5 * one);
    c.thickness_mm = 25;
    assert_true(fw_warmth_wait_s(&borosilicate, &c, 0.01) < both);
    double thin = fw_warmth_wait_s(&borosilicate, &c, 0.01);
    assert_true(fw_warmth_wait_s(&borosilicate, &c, 0.001) > thin);
    assert_close(fw_warmth_wait_s(&borosilicate, &c, 1), 0, 0, 0);
}

static void test_unknown(void **state)
{
    (void)state;
    fw_glass glass = borosilicate;
    fw_cooling c = { 50, true, 0.5, 1, NAN };
    assert_true(isnan(fw_warmth_wait_s(&glass, &c, 0)));
    assert_true(isnan(fw_warmth_wait_s(&glass, &c, NAN)));
    c.across_k = NAN;
    assert_true(isnan(fw_warmth_wait_s(&glass, &c, 0.01)));
    c.across_k = 0.5;
    glass.conductivity_w_mk = NAN;
    assert_true(isnan(fw_warmth_wait_s(&glass, &c, 0.01)));
    assert_true(isnan(fw_warmth_flux_bow_nm(&glass, 300, 1)));
    glass.expansion_1e6_k = NAN;
    assert_true(isnan(fw_warmth_bow_nm(&glass, 300, 50, 1)));
    assert_true(isnan(fw_warmth_bow_nm(&borosilicate, 300, NAN, 1)));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_check_values), cmocka_unit_test(test_flux),
        cmocka_unit_test(test_heat_equation), cmocka_unit_test(test_ready),
        cmocka_unit_test(test_wait),
        cmocka_unit_test(test_unknown),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
