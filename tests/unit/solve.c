/* solve.c - readings without noise give the true flats back, whatever the plan; today's and yesterday's. */
#include "flatwright/result.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "../support/close.h"
#include "../support/design.h"
#include "../support/truth.h"

/* The bound of the requirement, in nm. */
#define EXACT_NM 1e-6

static fw_result *solve(const fw_job *job)
{
    fw_result *r = NULL;
    fw_error err = {0};
    if (fw_solve(job, NULL, &r, &err))
        fail_msg("%s", err.text);
    return r;
}

/* A point is clear where the flat's own numbers say so. */
static void check_clear(const fw_flat *flat, const fw_profile *p)
{
    for (int k = 0; k < p->ndiameters; k++)
        for (size_t i = 0; i < p->diameters[k].npoints; i++) {
            double r = fabs(p->diameters[k].points[i].position_mm);
            assert_int_equal(p->diameters[k].points[i].clear,
                             2 * r <= flat->clear_mm && 2 * r >= flat->bore_mm);
        }
}

/* All faces and removals against truth; returns how many of today's flats are determined. */
static int compare(sim *s, const fw_result *r, truth_match *m, int *removals)
{
    int full = 0;
    for (int i = 0; i < r->nfaces; i++)
        check_clear(&s->job->flats[r->faces[i].flat], &r->faces[i].profile);
    for (int i = 0; i < r->nfaces; i++)
        truth_compare(s, r->faces[i].flat, r->faces[i].state, -1, &r->faces[i].profile, m);
    for (int i = 0; i < r->nremovals; i++) {
        const fw_removal *v = &r->removals[i];
        truth_compare(s, v->flat, v->from_state, v->to_state, &v->profile, m);
        *removals += v->profile.determined;
    }
    for (int i = 0; i < r->job->nflats; i++)
        full += r->faces[r->today[i]].profile.determined;
    return full;
}

/* Flats told in full, by what their plans were like. */
typedef struct tally {
    int flats[6], full[6]; /* by the number of flats in the set */
    int setup, bored, reversed, swapped, clear, even, lossy, weights, rounds, removals;
} tally;

static void count(tally *t, const design *d, int full)
{
    t->flats[d->nflats] += d->nflats;
    t->full[d->nflats] += full;
    t->setup += d->setup ? full : 0;
    t->bored += d->bored ? full : 0;
    t->reversed += d->reversed ? full : 0;
    t->swapped += d->swapped ? full : 0;
    t->clear += d->clear ? full : 0;
    t->even += d->nstations % 2 == 0 ? full : 0;
    t->lossy += d->lossy ? full : 0;
    t->weights += d->weights ? full : 0;
    t->rounds += d->rounds > 1 ? full : 0;
}

static void random_designs(void **state)
{
    (void)state;
    truth_match m = {0};
    tally t = {0};
    for (unsigned long seed = 1; seed <= 80; seed++) {
        design d = design_random(seed);
        sim s;
        sim_init(&s, d.nflats, 200, seed);
        design_read(&d, &s);
        fw_result *r = solve(s.job);
        count(&t, &d, compare(&s, r, &m, &t.removals));
        assert_close(r->fit.redundancy ? r->fit.chi_square : 0, 0, 0,
                     1e-15 * (double)r->fit.readings);
        assert_int_equal(r->nsuspects, 0);
        fw_result_free(r);
        sim_release(&s);
    }
    print_message(
        "%zu heights told, %zu not, worst %.2g nm; in full %d of %d flats of three, %d of %d of "
        "four, %d of %d of five; of removals %d\n",
        m.told, m.untold, m.worst_nm, t.full[3], t.flats[3], t.full[4], t.flats[4], t.full[5],
        t.flats[5], t.removals);
    print_message("setup %d, bored %d, reversed %d, swapped %d, clear %d, no centre %d, lossy %d, "
                  "weights %d, "
                  "rounds %d\n",
                  t.setup, t.bored, t.reversed, t.swapped, t.clear, t.even, t.lossy, t.weights,
                  t.rounds);
    assert_close(m.worst_nm, 0, 0, EXACT_NM);
    assert_int_equal(t.full[2], 0); /* two flats alone are never told apart */
    for (int n = 3; n <= 5; n++)
        assert_true(4 * t.full[n] > 3 * t.flats[n]);
    assert_true(t.setup > 20 && t.bored > 20 && t.reversed > 20 && t.swapped > 20 && t.clear > 20 &&
                t.even > 20 && t.lossy > 20 && t.weights > 20 && t.rounds > 20 && t.removals > 20);
}

/* One diameter named by either end, by more than a turn, or by less: the readings say the same. */
static void names_of_a_diameter(void **state)
{
    (void)state;
    static const double name[] = {10, 190, -170, 370, -350, 550};
    double x[7], first[7];
    sim_stations(7, 90, x);
    x[5] = NAN; /* so that the two ends differ */
    for (size_t i = 0; i < sizeof name / sizeof *name; i++) {
        sim s;
        truth_match m = {0};
        double sign = fmod(fabs(name[i] - 10), 360) > 1 ? -1 : 1, y[7];
        for (int k = 0; k < 7; k++)
            y[k] = sign * x[k];
        sim_init(&s, 3, 200, 5);
        sim_scan(&s, 1, 0, 1, 0, 10, 7, x);
        sim_scan(&s, 1, 0, 2, 0, name[i], 7, y);
        sim_scan(&s, 1, 1, 2, 0, -10, 7, x);
        sim_scan(&s, 1, 1, 2, 0, 10, 7, x);
        sim_scan(&s, 1, 0, 1, 0, -name[i], 7, y);
        sim_scan(&s, 1, 2, 0, 0, -name[i], 7, y);
        sim_scan(&s, 1, 0, 1, 20, name[i], 7, y);
        sim_scan(&s, 1, 0, 1, 20, 10, 7, x);
        fw_result *r = solve(s.job);
        const fw_profile *a = &r->faces[0].profile;
        assert_int_equal(a->ndiameters, 2);
        assert_close(a->diameters[0].angle_deg, 10, 0, 1e-9);
        assert_close(a->diameters[1].angle_deg, 170, 0, 1e-9);
        assert_true(a->determined);
        truth_compare(&s, 0, 0, -1, a, &m);
        assert_close(m.worst_nm, 0, 0, EXACT_NM);
        assert_int_equal(a->diameters[0].npoints, 6);
        for (int k = 0; k < 6; k++) {
            first[k] = i ? first[k] : a->diameters[0].points[k].u_nm;
            assert_close(a->diameters[0].points[k].u_nm, first[k], 1e-9, 0);
        }
        fw_result_free(r);
        sim_release(&s);
    }
}

/*
 * B is worked after round 1 and read again in its two pairs; CA of round 1 still speaks. With no turned
 * pair the common sine part is open in every surface, but cancels in what was taken off.
 */
static void carried_over(void **state)
{
    (void)state;
    for (int turned = 0; turned < 2; turned++) {
        sim s;
        truth_match m = {0};
        int removals = 0;
        double x[9];
        sim_init(&s, 3, 200, 8);
        sim_stations(9, 90, x);
        for (int i = 0; i < 3; i++)
            sim_fan(&s, 1, i, (i + 1) % 3, 0, 4, 9, x);
        if (turned)
            sim_fan(&s, 1, 2, 0, 45, 4, 9, x);
        sim_work(&s, 1, 1, 0.5);
        sim_fan(&s, 2, 0, 1, 0, 4, 9, x);
        sim_fan(&s, 2, 1, 2, 0, 4, 9, x);
        fw_result *r = solve(s.job);
        assert_int_equal(r->round, 2);
        assert_int_equal(r->nfaces, 4);
        assert_int_equal(r->nremovals, 1);
        assert_int_equal(r->removals[0].flat, 1);
        assert_close(r->removals[0].hours, 0.5, 0, 1e-12);
        assert_int_equal(compare(&s, r, &m, &removals), turned ? 3 : 0);
        assert_int_equal(removals, 1);
        assert_int_equal(r->nunknowns > 0, !turned);
        assert_true(m.told > (turned ? 130u : 60u));
        assert_close(m.worst_nm, 0, 0, EXACT_NM);
        fw_result_free(r);
        sim_release(&s);
    }
}

/* Three rounds, each flat worked in turn, two of them twice in one gap: all states and removals. */
static void three_rounds(void **state)
{
    (void)state;
    sim s;
    truth_match m = {0};
    int removals = 0;
    double x[8];
    sim_init(&s, 3, 200, 9);
    sim_stations(8, 95, x);
    for (int round = 1; round <= 3; round++) {
        for (int i = 0; i < 3; i++)
            sim_fan(&s, round, i, (i + 1) % 3, 0, 3, 8, x);
        sim_fan(&s, round, 0, 1, 60, 3, 8, x);
        if (round == 1) {
            sim_work(&s, 1, 2, 0.25);
            sim_work(&s, 1, 2, 0.5);
        } else if (round == 2) {
            sim_work(&s, 2, 0, 1);
            sim_work(&s, 2, 2, 0.125);
        }
    }
    fw_result *r = solve(s.job);
    assert_int_equal(r->nfaces, 2 + 1 + 3);
    assert_int_equal(r->nremovals, 3);
    assert_int_equal(compare(&s, r, &m, &removals), 3);
    assert_int_equal(removals, 3);
    assert_int_equal(m.untold, 0);
    assert_close(m.worst_nm, 0, 0, EXACT_NM);
    assert_int_equal(r->removals[1].from_state, 0);
    assert_int_equal(r->removals[1].to_state, 2);
    assert_int_equal(r->removals[1].nwork, 2);
    assert_close(r->removals[1].hours, 0.75, 0, 1e-12);
    assert_int_equal(r->removals[2].to_state, 3);
    assert_close(r->removals[2].hours, 0.125, 0, 1e-12);
    fw_result_free(r);
    sim_release(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(random_designs),
        cmocka_unit_test(names_of_a_diameter),
        cmocka_unit_test(carried_over),
        cmocka_unit_test(three_rounds),
    };
    return cmocka_run_group_tests_name("solve", tests, NULL, NULL);
}
