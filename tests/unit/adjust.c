/* adjust.c - the ring-by-ring adjustment against a dense solve of the whole job, and truth. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "../support/close.h"
#include "../support/dense.h"
#include "../support/simulate.h"
#include "adjust/profile.h"

/* Which heights of a face the profile tells. */
static int mark_told(const dense *d, const net_face *face, const fw_profile *p, bool *told)
{
    int count = 0;
    for (int k = 0; k < p->ndiameters; k++)
        for (size_t i = 0; i < p->diameters[k].npoints; i++) {
            const fw_point *pt = &p->diameters[k].points[i];
            int at =
                dense_find(d, face->flat, face->state, p->diameters[k].angle_deg, pt->position_mm);
            assert_true(at >= 0);
            count += pt->determined && !told[at];
            told[at] = told[at] || pt->determined;
        }
    return count;
}

typedef struct tally {
    int full, partial, untied, restricted; /* faces */
    int heights;
} tally;

/* How many heights of a face a dense solution tells on a datum; they come back marked. */
static int tells(const dense *d, const adjustment *a, const net_face *face, const bool *use,
                 bool untied, double *value, double *u, bool *known)
{
    int count = 0;
    dense_on_untied(d, a->net->job, face->flat, face->state, use, untied, value, u, known);
    for (int i = 0; i < d->heights; i++)
        count += d->height[i].flat == face->flat && d->height[i].state == face->state && known[i];
    return count;
}

static void compare_face(adjustment *a, const dense *d, int f, tally *t)
{
    const net_face *face = &a->net->faces[f];
    size_t n = (size_t)d->heights + 1;
    double *value = calloc(n, sizeof *value), *u = calloc(n, sizeof *u);
    bool *known = calloc(n, sizeof *known), *told = calloc(n, sizeof *told);
    fw_profile p = {0};
    assert_int_equal(profile_new(a, (contrast){f, -1}, &p, NULL), FW_OK);
    int count = mark_told(d, face, &p, told), all = 0;
    for (int i = 0; i < d->heights; i++)
        all += d->height[i].flat == face->flat && d->height[i].state == face->state;
    /* The datums in their order: the first that tells as much is the profile's. */
    int literal = tells(d, a, face, NULL, false, value, u, known);
    if (count <= literal)
        (count == all ? &t->full : &t->partial)[0]++;
    else if (tells(d, a, face, NULL, true, value, u, known) == count)
        t->untied++;
    else {
        t->restricted++;
        if (tells(d, a, face, told, false, value, u, known) != count)
            assert_int_equal(tells(d, a, face, told, true, value, u, known), count);
    }
    /* Told less only where the datum takes everything, as with two stations on a diameter. */
    for (int i = 0; i < d->heights && count < literal; i++)
        if (d->height[i].flat == face->flat && d->height[i].state == face->state && known[i] &&
            !told[i]) {
            assert_close(value[i], 0, 0, 1e-7);
            assert_close(u[i], 0, 0, 1e-7);
            known[i] = false;
        }
    for (int k = 0; k < p.ndiameters; k++)
        for (size_t i = 0; i < p.diameters[k].npoints; i++) {
            const fw_point *pt = &p.diameters[k].points[i];
            int at =
                dense_find(d, face->flat, face->state, p.diameters[k].angle_deg, pt->position_mm);
            assert_int_equal(pt->determined, known[at]);
            if (!known[at]) {
                assert_true(isnan(pt->height_nm) && isnan(pt->u_nm));
                continue;
            }
            assert_close(pt->height_nm, value[at], 1e-9, 1e-7);
            if (a->variance > 0)
                assert_close(pt->u_nm / sqrt(a->variance), u[at], 1e-6, 1e-7);
            t->heights++;
        }
    profile_release(&p);
    free(value);
    free(u);
    free(known);
    free(told);
}

static void compare_job(const fw_job *job, tally *t)
{
    adjustment *a = NULL;
    dense d;
    fw_error err = {0};
    if (adjustment_new(job, 0, NULL, &a, &err))
        fail_msg("%s", err.text);
    dense_solve(job, &d);
    assert_int_equal(a->unknowns, d.unknowns);
    assert_int_equal(a->rank, d.rank);
    assert_int_equal(a->redundancy, d.readings - d.rank);
    assert_close(a->chi_square, d.chi_square, 1e-8, 1e-9 * d.readings);
    for (int f = 0; f < a->net->nfaces; f++)
        compare_face(a, &d, f, t);
    dense_release(&d);
    adjustment_free(a);
}

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
        tally t = {0};
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
        compare_job(s.job, &t);
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
    tally t = {0};
    for (unsigned long seed = 1; seed <= 150; seed++) {
        sim s;
        random_set(&s, seed);
        compare_job(s.job, &t);
        sim_release(&s);
    }
    print_message("%d heights of %d faces told in full, %d in part, %d with untied diameters, "
                  "%d on a datum of the better stations\n",
                  t.heights, t.full, t.partial, t.untied, t.restricted);
    assert_true(t.full > 50 && t.partial > 10 && t.restricted > 10);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(null_counts),
        cmocka_unit_test(random_designs),
    };
    return cmocka_run_group_tests_name("adjust", tests, NULL, NULL);
}
