/* slips.c - one angle typed wrong in a plan that is whole is found and put right; plans as they are, are left alone. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "../support/close.h"
#include "../support/design.h"
#include "flatwright/alloc.h"
#include "flatwright/report.h"

/* Finds at most one slip; returns how many there are. */
static size_t find(const sim *s, fw_slip *slip)
{
    fw_error err = {0};
    fw_slip *list = NULL;
    size_t n = 0;
    assert_int_equal(fw_slips_find(s->job, &list, &n, &err), FW_OK);
    assert_true((n == 0) == !list);
    if (n)
        *slip = list[0];
    fw_free(list);
    return n;
}

static int below(sim *s, int n)
{
    return (int)gsl_rng_uniform_int(s->rng, (unsigned long)n);
}

/* Three pairs and a turned one on n diameters of seven stations; every other plan is not even. */
static void plan(sim *s, int n, unsigned long seed, double *deg)
{
    double x[7];
    sim_init(s, 3, 200, seed);
    sim_stations(7, 90, x);
    for (int k = 0; k < n; k++)
        deg[k] = 180.0 * k / n + (seed % 2 ? 0.3 * 180 / n * gsl_rng_uniform(s->rng) : 0);
    for (int p = 0; p < 4; p++)
        for (int k = 0; k < n; k++)
            sim_scan(s, 1, p % 3, (p + 1) % 3, p == 3 ? 50 : 0, deg[k], 7, x);
}

/* An angle that none of the diameters is near to. */
static double other(sim *s, int n, const double *deg)
{
    for (;;) {
        double at = 1 + below(s, 178), nearest = 180;
        for (int k = 0; k < n; k++)
            nearest = fmin(nearest, fabs(remainder(deg[k] - at, 180)));
        if (nearest > 0.2)
            return at;
    }
}

static void plans_as_they_are(void **state)
{
    (void)state;
    fw_slip slip;
    for (unsigned long seed = 1; seed <= 200; seed++) {
        sim s;
        design d = design_random(seed);
        double deg[9];
        sim_init(&s, d.nflats, 200, seed);
        design_read(&d, &s);
        assert_int_equal(find(&s, &slip), 0);
        sim_release(&s);
        plan(&s, 2 + (int)(seed % 7), seed, deg);
        assert_int_equal(find(&s, &slip), 0);
        sim_release(&s);
    }
}

static void one_diameter(void **state)
{
    (void)state;
    for (unsigned long seed = 1; seed <= 200; seed++) {
        sim s;
        fw_slip slip;
        double deg[9], end = seed % 3 ? 0 : 180;
        int n = 3 + (int)(seed % 7);
        plan(&s, n, seed, deg);
        int k = below(&s, n), at = below(&s, 4) * n + k;
        double typed = other(&s, n, deg) + end;
        s.job->scans[at].diameter_deg = typed;
        assert_int_equal(find(&s, &slip), 1);
        assert_int_equal(slip.scan, at);
        assert_false(slip.turn);
        assert_close(slip.typed_deg, typed, 0, 0);
        assert_close(remainder(slip.meant_deg - deg[k], 180), 0, 0, 1e-9);
        assert_true(fabs(slip.meant_deg - typed) <= (end > 0 ? 90 : 180)); /* from the same end */
        sim_release(&s);
    }
}

/* One pairing tells of a slip only where the fan is even but for it. */
static void one_pairing(void **state)
{
    (void)state;
    double x[7];
    fw_slip slip;
    sim_stations(7, 90, x);
    for (int n = 3; n <= 9; n++)
        for (int k = 0; k < n; k++) {
            sim s;
            sim_init(&s, 2, 200, 5);
            sim_fan(&s, 1, 0, 1, 0, n, 7, x);
            double is = s.job->scans[k].diameter_deg;
            s.job->scans[k].diameter_deg = is + 0.4 * 180 / n;
            assert_int_equal(find(&s, &slip), n > 3);
            if (n > 3)
                assert_close(remainder(slip.meant_deg - is, 180), 0, 0, 1e-9);
            s.job->scans[k].diameter_deg = is + 1.4 * 180 / n; /* a place of another: who knows */
            assert_int_equal(find(&s, &slip), 0);
            sim_release(&s);
        }
}

static void one_turn(void **state)
{
    (void)state;
    for (unsigned long seed = 1; seed <= 100; seed++) {
        sim s;
        fw_slip slip;
        double deg[9];
        int n = 4 + (int)(seed % 6);
        plan(&s, n, seed, deg);
        int at = below(&s, 4 * n);
        double was = s.job->scans[at].turn_deg;
        s.job->scans[at].turn_deg = 5;
        assert_int_equal(find(&s, &slip), 1);
        assert_int_equal(slip.scan, at);
        assert_true(slip.turn);
        assert_close(slip.typed_deg, 5, 0, 0);
        assert_close(slip.meant_deg, was, 0, 0);
        sim_release(&s);
    }
}

/* Some readings of a scan stand under another diameter close by, or under another turn. */
static void some_readings(void **state)
{
    (void)state;
    double x[7], kept[7], moved[7];
    fw_slip slip;
    sim_stations(7, 90, x);
    for (int turn = 0; turn < 2; turn++)
        for (int n = 1; n <= 3; n++) {
            sim s;
            sim_init(&s, 3, 200, 5);
            for (int i = 0; i < 7; i++) {
                kept[i] = i < n ? NAN : x[i];
                moved[i] = i < n ? x[i] : NAN;
            }
            sim_scan(&s, 1, 0, 1, 0, 0, 7, x);
            sim_scan(&s, 1, 0, 1, 0, 45, 7, kept);
            sim_scan(&s, 1, 0, 1, 0, 90, 7, x);
            size_t at = sim_scan(&s, 1, 0, 1, turn ? 8 : 0, turn ? 45 : 44, 7, moved);
            assert_int_equal(find(&s, &slip), 1);
            assert_int_equal(slip.scan, at);
            assert_int_equal(slip.turn, turn);
            assert_close(slip.meant_deg, turn ? 0 : 45, 0, 0);
            sim_release(&s);
        }
}

/* All but one reading of a scan stand under another diameter: the one that others read along is right. */
static void most_readings(void **state)
{
    (void)state;
    for (int n = 1; n <= 6; n++) {
        sim s;
        fw_slip slip;
        double deg[9], x[7], moved[7];
        plan(&s, 4, 2, deg);
        fw_scan *from = &s.job->scans[9]; /* A on C, along 45 deg: its last n readings */
        sim_stations(7, 90, x);
        from->count -= (size_t)n;
        for (int i = 0; i < 7; i++)
            moved[i] = i < 7 - n ? NAN : x[i];
        size_t at = sim_scan(&s, 1, 2, 0, 0, 54, 7, moved);
        assert_int_equal(find(&s, &slip), 1);
        assert_int_equal(slip.scan, at);
        assert_false(slip.turn);
        assert_close(slip.meant_deg, 45, 0, 0);
        sim_release(&s);
    }
}

static void as_questions(void **state)
{
    (void)state;
    sim s;
    fw_slip slip;
    double deg[9];
    char text[1000] = "";
    FILE *out = fmemopen(text, sizeof text, "w");
    fw_screen screen = {.out = out, .columns = 80};
    plan(&s, 4, 2, deg);
    fw_slips_text(&screen, s.job, 0, NULL);
    s.job->scans[5].diameter_deg = 54;
    s.job->readings[s.job->scans[5].first].line = 37;
    assert_int_equal(find(&s, &slip), 1);
    fw_slips_text(&screen, s.job, 1, &slip);
    fclose(out);
    assert_string_equal(text, "Worth a look: slips of the pen?\n"
                              "  invented/readings.csv:37: C on B, 7 readings along 54 deg at turn 0: is\n"
                              "    diameter 45 meant?\n");
    sim_release(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(plans_as_they_are), cmocka_unit_test(one_diameter),
        cmocka_unit_test(one_pairing),       cmocka_unit_test(one_turn),
        cmocka_unit_test(some_readings),     cmocka_unit_test(most_readings),
        cmocka_unit_test(as_questions)};
    return cmocka_run_group_tests_name("slips", tests, NULL, NULL);
}
