/* plates.c - glass on its support: Timoshenko, Roark, ring and point supports, in q a^4 / D. */
#include <math.h>
#include <string.h>

#include "../support/close.h"
#include "../support/refdata.h"
#include "flatwright/plate.h"

#define PI 3.14159265358979323846

/* data/plates/solid-plate-uniform.csv: Timoshenko & Woinowsky-Krieger, simply supported rim. */
static void test_rim(void **state)
{
    (void)state;
    refdata *t = ref_open("plates/solid-plate-uniform.csv");
    int seen = 0;
    for (int i = 0; i < ref_rows(t); i++) {
        if (strcmp(ref_text(t, i, "support"), "simple") != 0)
            continue;
        fw_plate p = fw_plate_of(ref_number(t, i, "nu"), 0, 1, false);
        assert_close(fw_plate_sag(&p, ref_number(t, i, "x"), 0), ref_number(t, i, "w"), 1e-12,
                     1e-15);
        seen++;
    }
    assert_true(seen > 10);
    ref_close(t);
    for (double nu = 0.1; nu < 0.45; nu += 0.05) /* the closed form itself */
        for (double x = 0; x <= 1; x += 0.125) {
            fw_plate p = fw_plate_of(nu, 0, 1, false);
            double w = (1 - x * x) * ((5 + nu) / (1 + nu) - x * x) / 64;
            assert_close(fw_plate_sag(&p, x, 0.3), w, 1e-12, 1e-16);
        }
}

/* data/plates/ring-support.csv: derived there, checked against a boundary-value solver. */
static void test_ring(void **state)
{
    (void)state;
    refdata *t = ref_open("plates/ring-support.csv");
    double pv, rms;
    assert_true(ref_rows(t) > 20);
    for (int i = 0; i < ref_rows(t); i++) {
        fw_plate p = fw_plate_of(ref_number(t, i, "nu"), 0, ref_number(t, i, "beta"), false);
        assert_close(fw_plate_sag(&p, 0, 0), ref_number(t, i, "w_center"), 1e-11, 1e-14);
        assert_close(fw_plate_sag(&p, 1, 0), ref_number(t, i, "w_edge"), 1e-11, 1e-14);
        fw_plate_size(&p, 1, &pv, &rms);
        assert_close(pv, ref_number(t, i, "pv"), 1e-3, 0); /* on a grid of radii */
        assert_close(rms, ref_number(t, i, "rms"), 1e-5, 0);
    }
    ref_close(t);
}

/* data/plates/ring-support-optimum.csv, computed; and 0.678 at nu 0.2, derived. */
static void test_best_ring(void **state)
{
    (void)state;
    refdata *t = ref_open("plates/ring-support-optimum.csv");
    double pv, rms;
    for (int i = 0; i < ref_rows(t); i++) {
        double nu = ref_number(t, i, "nu"), best = fw_plate_best_ring(nu, 0, 1);
        assert_close(best, ref_number(t, i, "beta_min_pv"), 0, 2e-4);
        fw_plate p = fw_plate_of(nu, 0, best, false);
        fw_plate_size(&p, 1, &pv, &rms);
        assert_close(pv, ref_number(t, i, "pv_min"), 3e-3, 0);
    }
    ref_close(t);
    assert_close(fw_plate_best_ring(0.2, 0, 1), 0.678, 0, 5e-4);
    /* PV at nu 0.20 by radius of the ring (derived, thin plate) */
    const double want[][2] = {{0.5, 0.03563},   {0.6, 0.01597}, {0.645, 0.00710}, {0.678, 0.002405},
                              {0.7071, 0.00603}, {0.8, 0.02556}, {1, 0.06771}};
    for (int i = 0; i < 7; i++) {
        fw_plate p = fw_plate_of(0.2, 0, want[i][0], false);
        fw_plate_size(&p, 1, &pv, &rms);
        assert_close(pv, want[i][1], 5e-3, 0); /* steep beside the best */
    }
}

/* data/plates/n-point-support.csv: Fourier solution checked against Ritz's method. */
static void test_three_points(void **state)
{
    (void)state;
    refdata *t = ref_open("plates/n-point-support.csv");
    int seen = 0;
    for (int i = 0; i < ref_rows(t); i++) {
        double pv, rms;
        if (ref_number(t, i, "N") != 3)
            continue;
        fw_plate p = fw_plate_of(ref_number(t, i, "nu"), 0, ref_number(t, i, "beta"), true);
        fw_plate_size(&p, 1, &pv, &rms);
        assert_close(pv, ref_number(t, i, "pv"), 1e-3, 0);
        assert_close(rms, ref_number(t, i, "rms"), 1e-4, 0);
        assert_close(fw_plate_sag(&p, 0, 0), ref_number(t, i, "w_center"), 1e-3, 1e-6);
        assert_close(fw_plate_sag(&p, 1, 0), ref_number(t, i, "w_edge_over_support"), 1e-3, 2e-6);
        assert_close(fw_plate_sag(&p, 1, PI / 3), ref_number(t, i, "w_edge_between"), 1e-4, 1e-6);
        assert_close(fw_plate_sag(&p, 1, 5 * PI / 3), fw_plate_sag(&p, 1, PI / 3), 1e-12, 0);
        seen++;
    }
    assert_true(seen >= 27);
    ref_close(t);
}

static double three_rms(double nu, double beta)
{
    double pv, rms;
    fw_plate p = fw_plate_of(nu, 0, beta, true);
    fw_plate_size(&p, 1, &pv, &rms);
    return rms;
}

/*
 * Nelson, Lubliner & Mast, SPIE 332 (1982), as summarised in 1995: best at 0.645, edge support about
 * four times worse. PV 0.0257 and rms 0.0061 there for nu 0.25: derived, 'Ritz', both within 3 %.
 */
static void test_published_three_points(void **state)
{
    (void)state;
    double at = three_rms(0.25, FW_PLATE_THREE), pv, rms;
    assert_true(at < three_rms(0.25, FW_PLATE_THREE - 0.02));
    assert_true(at < three_rms(0.25, FW_PLATE_THREE + 0.02));
    assert_close(three_rms(0.25, 1) / at, 4, 0.03, 0);
    fw_plate p = fw_plate_of(0.25, 0, FW_PLATE_THREE, true);
    fw_plate_size(&p, 1, &pv, &rms);
    assert_close(pv, 0.0257, 0.03, 0);
    assert_close(rms, 0.0061, 0.03, 0);
}

/* data/plates/annular-profiles.csv: rim carried, or the bore's edge; 30 digits. */
static void test_annular(void **state)
{
    (void)state;
    refdata *t = ref_open("plates/annular-profiles.csv");
    int seen = 0;
    for (int i = 0; i < ref_rows(t); i++) {
        bool rim = strcmp(ref_text(t, i, "outer_edge"), "ss") == 0;
        bool bore = strcmp(ref_text(t, i, "inner_edge"), "ss") == 0;
        double b = ref_number(t, i, "b_over_a"), nu = ref_number(t, i, "nu");
        if (!rim && !bore)
            continue;
        fw_plate p = fw_plate_of(nu, b, rim ? 1 : b, false);
        assert_close(fw_plate_sag(&p, ref_number(t, i, "x"), 0), ref_number(t, i, "w"), 1e-11,
                     1e-13);
        seen++;
    }
    assert_int_equal(seen, 60);
    ref_close(t);
}

/* Roark's Formulas, Table 11.2 case 2a (recalled): rim carried, inner edge free; y is upward. */
static void test_roark(void **state)
{
    (void)state;
    refdata *t = ref_open("plates/annular-roark-check.csv");
    int seen = 0;
    for (int i = 0; i < ref_rows(t); i++) {
        if (strncmp(ref_text(t, i, "case"), "2a", 2) != 0 ||
            strcmp(ref_text(t, i, "quantity"), "yb") != 0)
            continue;
        double b = ref_number(t, i, "b_over_a");
        fw_plate p = fw_plate_of(0.3, b, 1, false);
        assert_close(-fw_plate_sag(&p, b, 0), ref_number(t, i, "computed"), 1e-10, 0);
        assert_close(-fw_plate_sag(&p, b, 0), ref_number(t, i, "published"), 0, 3e-4);
        seen++;
    }
    assert_true(seen >= 3);
    ref_close(t);
}

/* 300 x 50 mm borosilicate on its rim: 53.97 nm (derived: (5 + nu) q a^4 / (64 (1 + nu) D)). */
static void test_worked(void **state)
{
    (void)state;
    fw_flat flat = {.diameter_mm = 300, .clear_mm = 300, .thickness_mm = 50,
                    .glass = {"borosilicate", 64, 0.20, 2230, 3.25, 1.13, 750}};
    fw_support rim = {.kind = FW_SUPPORT_RIM};
    fw_plate p;
    assert_true(fw_plate_on(&flat, &rim, &p));
    assert_close(fw_plate_sag(&p, 0, 0), 0.067708, 0, 5e-7);
    assert_close(fw_plate_sag(&p, 0, 0) * fw_plate_unit_nm(&flat), 53.97, 0, 0.005);
    flat.diameter_mm = 250; /* "about 41 nm" for 250 x 40 mm (derived) */
    flat.thickness_mm = 40;
    assert_close(fw_plate_sag(&p, 0, 0) * fw_plate_unit_nm(&flat), 41, 0, 0.5);
    /* shear: about 10 % at t / D = 1/6 (derived) */
    double share = (fw_plate_shear(&p, 1 / 3.0, 0) - fw_plate_shear(&p, 1 / 3.0, 1)) /
                   fw_plate_sag(&p, 0, 0);
    assert_close(share, 0.10, 0, 0.01);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_rim),          cmocka_unit_test(test_ring),
        cmocka_unit_test(test_best_ring),    cmocka_unit_test(test_three_points),
        cmocka_unit_test(test_published_three_points), cmocka_unit_test(test_annular),
        cmocka_unit_test(test_roark),        cmocka_unit_test(test_worked)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
