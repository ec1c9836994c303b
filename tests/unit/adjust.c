/* adjust.c - the ring-by-ring adjustment against a dense solve of the whole job, and truth. */
#include <math.h>
#include <stdio.h>

#include "../support/close.h"
#include "../support/dense.h"
#include "../support/design.h"
#include "../support/simulate.h"
#include "../support/versus.h"

static void null_counts(void **state)
{
    (void)state;
    /* Dimensions derived by pencil: N diameters, nine stations, levelling per scan. */
    static const struct {
        int n;
        double turn[2];
        int want;
    } table[] = {{1, {NAN, NAN}, 6}, {1, {180, NAN}, 6},  {2, {NAN, NAN}, 12}, {2, {180, NAN}, 9},
                 {2, {90, NAN}, 9},  {4, {NAN, NAN}, 25}, {4, {180, NAN}, 19}, {4, {90, NAN}, 15},
                 {4, {45, NAN}, 15}, {8, {NAN, NAN}, 51}, {8, {180, NAN}, 39}, {8, {90, NAN}, 31},
                 {8, {45, NAN}, 27}, {8, {22.5, 180}, 27}};
    double stations[9];
    sim_stations(9, 90, stations);
    for (size_t i = 0; i < sizeof table / sizeof *table; i++) {
        sim s;
        dense d;
        versus_tally t = {0};
        sim_init(&s, 3, 200, 7 + i);
        sim_fan(&s, 1, 0, 1, 0, table[i].n, 9, stations);
        sim_fan(&s, 1, 1, 2, 0, table[i].n, 9, stations);
        sim_fan(&s, 1, 2, 0, 0, table[i].n, 9, stations);
        for (int k = 0; k < 2 && !isnan(table[i].turn[k]); k++)
            sim_fan(&s, 1, 0, 1, table[i].turn[k], table[i].n, 9, stations);
        dense_solve(s.job, &d);
        assert_int_equal(d.surface_null, table[i].want);
        assert_int_equal(d.unknowns - d.rank, table[i].want);
        dense_release(&d);
        versus_dense(s.job, &t);
        assert_int_equal(t.restricted, 0);
        sim_release(&s);
    }
}

/* A random design: odd angles and stations, repeats, unequal weights, lost readings, reworked flats. */
static void random_set(sim *s, unsigned long seed)
{
    sim_init(s, 3, 200, seed);
    gsl_rng *g = s->rng;
    int ndiam = 1 + (int)gsl_rng_uniform_int(g, 5), n = 3 + (int)gsl_rng_uniform_int(g, 8);
    double stations[16], angle[8], turn = 180.0 / ndiam;
    bool lose = gsl_rng_uniform(g) < 0.4, centre = gsl_rng_uniform(g) < 0.8,
         odd = gsl_rng_uniform(g) < 0.3;
    s->sigma_nm = gsl_rng_uniform(g) < 0.7 ? 2 : 0;
    s->stated_nm = gsl_rng_uniform(g) < 0.8 ? 2 : NAN;
    s->job->levelling = FW_LEVELLING_SCAN;
    sim_stations(n, 95, stations);
    for (int i = 0; i < n; i++)
        if (odd)
            stations[i] += 7 * gsl_rng_uniform(g);
        else if (!centre && fabs(stations[i]) < 1)
            stations[i] = NAN;
    for (int k = 0; k < ndiam; k++)
        angle[k] = 180.0 * k / ndiam + (gsl_rng_uniform(g) < 0.3 ? 180 : 0) -
                   (gsl_rng_uniform(g) < 0.2 ? 360 : 0);
    int rounds = 1 + (int)gsl_rng_uniform_int(g, 2), setups = 4 + (int)gsl_rng_uniform_int(g, 4);
    for (int r = 1; r <= rounds; r++) {
        for (int p = 0; p < setups; p++) {
            int bottom = p % 3, top = (p + 1) % 3;
            if (gsl_rng_uniform(g) < 0.3) {
                int swap = bottom;
                bottom = top;
                top = swap;
            }
            double phi = p < 3 ? 0 : turn * (double)gsl_rng_uniform_int(g, 2 * ndiam);
            for (int k = 0; k < ndiam; k++) {
                double positions[16];
                for (int i = 0; i < n; i++)
                    positions[i] = (lose && gsl_rng_uniform(g) < 0.08 ? NAN : stations[i]) *
                                   (fabs(angle[k]) > 170 ? -1 : 1);
                sim_scan(s, r, bottom, top, phi, angle[k], n, positions);
            }
        }
        sim_work(s, r, (int)gsl_rng_uniform_int(g, 3), 0.5);
    }
    if (!isnan(s->stated_nm) && gsl_rng_uniform(g) < 0.4)
        for (size_t i = 0; i < s->job->nreadings; i++)
            s->job->readings[i].sigma_nm = 1 + 3 * gsl_rng_uniform(g);
}

static void random_designs(void **state)
{
    (void)state;
    versus_tally t = {0};
    for (unsigned long seed = 1; seed <= 150; seed++) {
        sim s;
        random_set(&s, seed);
        versus_dense(s.job, &t);
        sim_release(&s);
    }
    print_message("%d heights of %d faces told in full, %d in part, %d with untied diameters, "
                  "%d on a datum of the better stations\n",
                  t.heights, t.full, t.partial, t.untied, t.restricted);
    assert_int_equal(t.less, 0);
    assert_true(t.full > 50 && t.partial > 10 && t.restricted > 10);
}

/* Plans of every kind, one plane for a whole setup among them. */
static void random_plans(void **state)
{
    (void)state;
    versus_tally t = {0};
    for (unsigned long seed = 1; seed <= 60; seed++) {
        sim s;
        design d = design_random(seed);
        d.setup = d.setup || seed % 2;
        sim_init(&s, d.nflats, 200, seed);
        s.sigma_nm = s.stated_nm = 2;
        design_read(&d, &s);
        versus_dense(s.job, &t);
        sim_release(&s);
    }
    assert_int_equal(t.less, 0);
    assert_true(t.full > 50 && t.partial > 10 && t.restricted > 10);
}

/* A scan of eight stations; lost has a bit for each that was not read. */
static void gappy(sim *s, int bottom, int top, double turn, double diameter, unsigned lost)
{
    double x[8];
    sim_stations(8, 95, x);
    for (int i = 0; i < 8; i++)
        if (lost >> i & 1)
            x[i] = NAN;
    sim_scan(s, 1, bottom, top, turn, diameter, 8, x);
}

/*
 * The datum of what single rings tell may rest on stations that the whole does not tell: here
 * evenly spaced stations make what is open vanish at the two in the middle, and only there.
 */
static void told_beside_untold(void **state)
{
    (void)state;
    sim s;
    versus_tally t = {0};
    sim_init(&s, 3, 200, 11);
    s.sigma_nm = s.stated_nm = 2;
    gappy(&s, 0, 1, 0, 0, 0);
    gappy(&s, 0, 2, 0, 0, 1 << 0 | 1 << 2 | 1 << 3 | 1 << 5);
    gappy(&s, 1, 2, 0, 0, 1 << 5 | 1 << 6);
    gappy(&s, 0, 1, 180, 0, 1 << 3);
    versus_dense(s.job, &t);
    assert_int_equal(t.heights, 4);
    assert_int_equal(t.restricted, 2);
    sim_release(&s);
}

/* On one plane for both diameters, what is open across a diameter does not move its heights. */
static void open_across(void **state)
{
    (void)state;
    sim s;
    versus_tally t = {0};
    sim_init(&s, 3, 200, 12);
    s.sigma_nm = s.stated_nm = 2;
    s.level_nm = 0;
    s.job->levelling = FW_LEVELLING_SETUP;
    for (int i = 0; i < 3; i++)
        for (int k = 0; k < 2; k++)
            gappy(&s, i, (i + 1) % 3, 0, 90 * k, k == 1 && i == 1 ? 1 << 1 : 0);
    versus_dense(s.job, &t);
    assert_int_equal(t.partial, 3); /* on the plane of all their stations */
    assert_int_equal(t.heights, 3 * 8);
    sim_release(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(null_counts),
        cmocka_unit_test(random_designs),
        cmocka_unit_test(random_plans),
        cmocka_unit_test(told_beside_untold),
        cmocka_unit_test(open_across),
    };
    return cmocka_run_group_tests_name("adjust", tests, NULL, NULL);
}
