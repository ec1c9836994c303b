/* sag.c - sag over a ring: exact and small-sag forms, uncertainty by differences. */
#include <math.h>
#include <string.h>

#include "../support/close.h"
#include "flatwright/sag.h"

static fw_sphere sphere_of(double ring, double u_ring, double sag, double sigma, double clear)
{
    fw_sphere s;
    fw_error err;
    assert_int_equal(fw_sag_sphere(ring, u_ring, sag, sigma, clear, &s, &err), FW_OK);
    return s;
}

/* Right triangles: ring 3, sag 1 is radius 5; ring 5, sag 1 is radius 13; derived. */
static void test_triangles(void **state)
{
    (void)state;
    fw_sphere s = sphere_of(3, 0, 1e3, 10, 8);
    assert_close(s.radius_mm, 5, 1e-15, 0);
    assert_close(s.power_nm, 2e6, 1e-14, 0); /* 5 - sqrt(25 - 16) */
    s = sphere_of(5, 0, -1e3, 10, 24);
    assert_close(s.radius_mm, -13, 1e-15, 0);
    assert_close(s.power_nm, -8e6, 1e-14, 0); /* 13 - sqrt(169 - 144) */
}

/* Over the ring itself power and sag are the same thing, and so are their uncertainties. */
static void test_ring_is_aperture(void **state)
{
    (void)state;
    for (double sag = -40; sag <= 40; sag += 8) {
        fw_sphere s = sphere_of(60, 0, sag, 0.5, 120);
        assert_close(s.power_nm, 1e3 * sag, 1e-12, 1e-12);
        assert_close(s.u_power_nm, 500, 1e-12, 0);
    }
}

/* 1 um over a ring of 50 mm radius: 5.76 um over 240 mm, radius 1.25 km; by hand. */
static void test_flat(void **state)
{
    (void)state;
    fw_sphere s = sphere_of(50, 0, 1, 0.25, 240);
    assert_close(s.power_nm, 5760, 1e-8, 0);
    assert_close(s.radius_mm, 1.25e6, 1e-9, 0);
    assert_close(s.u_power_nm, 1440, 1e-8, 0);
    assert_close(s.u_radius_mm, 0.25 * 1.25e6, 1e-9, 0);
    assert_close(fw_sag_power_nm(50, 1, 240), 5760, 1e-14, 0);

    s = sphere_of(50, 0.1, 0, 0.25, 240); /* no sag: the uncertainty stays */
    assert_close(s.power_nm, 0, 0, 0);
    assert_true(isinf(s.radius_mm) && isnan(s.u_radius_mm));
    assert_close(s.u_power_nm, 1440, 1e-8, 0);
    s = sphere_of(50, 0, 1, NAN, 240);
    assert_true(isnan(s.u_power_nm) && isnan(s.u_radius_mm));
    assert_close(s.power_nm, 5760, 1e-8, 0);
}

/* The small-sag form is off by the part (a^2 - r^2) / (4 R^2) of the power; derived. */
static void test_small_sag(void **state)
{
    (void)state;
    for (double sag = 50; sag <= 800; sag *= 2) {
        fw_sphere s = sphere_of(40, 0, sag, 1, 200);
        double part = (100.0 * 100 - 40 * 40) / (4 * s.radius_mm * s.radius_mm);
        assert_close(s.power_nm / fw_sag_power_nm(40, sag, 200) - 1, part, 0.08, 1e-13);
    }
}

/* First-order uncertainty against differences of the exact form, in sag and in ring. */
static void test_uncertainty(void **state)
{
    (void)state;
    static const double cases[][3] = {
        { 40, 5, 200 }, { 40, -300, 200 }, { 3, 1000, 8 }, { 50, 2e4, 90 }
    };
    for (int i = 0; i < 4; i++) {
        double ring = cases[i][0], sag = cases[i][1], clear = cases[i][2], d = 1e-4 * ring;
        fw_sphere s = sphere_of(ring, 0, sag, 1, clear);
        fw_sphere up = sphere_of(ring, 0, sag + 1e-3, 1, clear);
        fw_sphere down = sphere_of(ring, 0, sag - 1e-3, 1, clear);
        assert_close(s.u_power_nm, fabs(up.power_nm - down.power_nm) / 2e-3, 1e-6, 0);
        assert_close(s.u_radius_mm, fabs(up.radius_mm - down.radius_mm) / 2e-3, 1e-5, 0);
        s = sphere_of(ring, 0.01, sag, 0, clear);
        up = sphere_of(ring + d, 0, sag, 1, clear);
        down = sphere_of(ring - d, 0, sag, 1, clear);
        assert_close(s.u_power_nm, 0.01 * fabs(up.power_nm - down.power_nm) / (2 * d), 1e-5, 0);
        double both = hypot(s.u_power_nm, sphere_of(ring, 0, sag, 2, clear).u_power_nm);
        assert_close(sphere_of(ring, 0.01, sag, 2, clear).u_power_nm, both, 1e-12, 0);
    }
}

static void test_faults(void **state)
{
    (void)state;
    static const double cases[][5] = { { 0, 0, 1, 1, 100 },     { 50, 0, 1, 1, 0 },
                                       { 50, -1, 1, 1, 100 },   { 50, 0, 1, -1, 100 },
                                       { 50, 0, 50000, 1, 10 }, { 50, 0, NAN, 1, 100 },
                                       { 3, 0, 1000, 1, 10 },   { NAN, 0, 1, 1, 100 },
                                       { 50, INFINITY, 1, 1, 100 } };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        const double *c = cases[i];
        fw_sphere s = { .power_nm = 7 };
        fw_error err = { 0 };
        assert_int_equal(fw_sag_sphere(c[0], c[1], c[2], c[3], c[4], &s, &err), FW_INPUT);
        assert_true(strlen(err.text) > 0);
        assert_close(s.power_nm, 7, 0, 0);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_triangles), cmocka_unit_test(test_ring_is_aperture),
        cmocka_unit_test(test_flat),      cmocka_unit_test(test_small_sag),
        cmocka_unit_test(test_uncertainty), cmocka_unit_test(test_faults),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
