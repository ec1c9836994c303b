/* enough.c - the repeats that would be enough, by the dense system, and what no settings get below. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "../support/close.h"
#include "../support/design.h"
#include "../support/ranked.h"
#include "adjust/enough.h"

static void enough_of(ranked *w, double target, int turned, double sigma, int ndiam)
{
    double x[7];
    *w = (ranked){0};
    sim_init(&w->s, 3, 200, 5);
    w->s.sigma_nm = w->s.stated_nm = sigma;
    w->s.job->flatness_nm = target;
    sim_stations(7, 90, x);
    for (int k = 0; k < 3; k++)
        sim_fan(&w->s, 1, k, (k + 1) % 3, 0, ndiam, 7, x);
    if (turned)
        sim_fan(&w->s, 1, 0, 1, 180.0 / ndiam, ndiam, 7, x);
    rank_pairings(w);
}

static void enough(void **state)
{
    (void)state;
    ranked w;
    enough_of(&w, 30, 1, 1, 2);
    assert_true(w.next->enough.already && w.next->enough.possible);
    assert_close(w.next->enough.limit_nm, 10, 1e-12, 0);
    assert_int_equal(w.next->enough.nrepeats, 0);
    ranked_release(&w);
    enough_of(&w, 30, 0, 1, 2);
    assert_false(w.next->enough.already);
    assert_true(w.next->enough.possible);
    ranked_check_enough(&w, true);
    ranked_release(&w);
    enough_of(&w, 3, 1, 2, 2); /* takes more than the few settings that are told one by one */
    assert_true(w.next->enough.possible && !w.next->enough.already);
    ranked_check_enough(&w, true);
    ranked_release(&w);
    enough_of(&w, 1.5, 1, 2, 2); /* settings one by one do not: the fewest repeats of all */
    assert_in_range(w.next->enough.repeats[0].times, 9, FW_REPEATS_MAX / 10);
    ranked_check_enough(&w, false);
    ranked_release(&w);
    /* Turns of 180 only: even parts common to all three stay hidden, however often it is read. */
    w = (ranked){0};
    double x[5], turns[2] = {0, 180};
    sim_init(&w.s, 3, 200, 5);
    w.s.sigma_nm = w.s.stated_nm = 1;
    w.s.job->nturns = 2;
    w.s.job->turns_deg = malloc(sizeof turns);
    memcpy(w.s.job->turns_deg, turns, sizeof turns);
    sim_stations(5, 90, x);
    for (int k = 0; k < 3; k++)
        sim_fan(&w.s, 1, k, (k + 1) % 3, 0, 4, 5, x);
    rank_pairings(&w);
    assert_int_equal(w.next->ncandidates, 6);
    assert_false(w.next->enough.possible || w.next->enough.already);
    for (int f = 0; f < 3; f++)
        assert_true(w.next->enough.floor_nm[f] > 50);
    ranked_release(&w);
}

/* u2 <- enough_least of a ranked job. */
static void least_of(const ranked *w, int settings, double *u2)
{
    fw_error err = {0};
    outlook o = {0};
    outlook_flat today[8];
    for (int f = 0; f < w->s.job->nflats; f++)
        today[f] =
            (outlook_flat){w->result->faces[w->result->today[f]].state, w->untied[f]};
    assert_int_equal(outlook_init(&o, w->result->adjustment, today, 0, NULL, &err), FW_OK);
    assert_int_equal(enough_least(&o, settings, u2, &err), FW_OK);
    outlook_release(&o);
}

/*
 * However the settings are chosen, no flat comes below the least that is stated, by the dense system; and
 * a flat read on one that is known to begin with comes near it.
 */
static void least_uncertainty(void **state)
{
    (void)state;
    double u2[8], u[8], nearest = 0;
    int compared = 0;
    for (unsigned long seed = 301; compared < 60; seed++) {
        design d = design_random(seed);
        ranked w = {0};
        if (d.nflats > 4 || d.ndiam > 4)
            continue;
        sim_init(&w.s, d.nflats, 200, seed);
        w.s.sigma_nm = w.s.stated_nm = 2;
        design_read(&d, &w.s);
        rank_pairings(&w);
        int settings = 1 + (int)(seed % 8), n = w.next->ncandidates;
        extra extras[8];
        for (int i = 0; i < settings; i++) { /* the best ones, or from all over the list */
            const fw_candidate *c = &w.next->candidates[seed % 3 ? i % n : (7 * i) % n];
            extras[i] = (extra){c->bottom, c->top, c->turn_deg, 1};
        }
        least_of(&w, settings, u2);
        foresight_score(&w.dense, settings, extras, u);
        for (int f = 0; f < d.nflats; f++, compared++) {
            assert_true(u[f] * u[f] >= u2[f] * (1 - 1e-6));
            nearest = fmax(nearest, u2[f] / (u[f] * u[f]));
        }
        ranked_release(&w);
    }
    print_message("%d uncertainties, the least stated is up to %.2f of them\n", compared,
                  sqrt(nearest));
    assert_true(nearest > 0.25);
}

/* How often is the third flat to be read on this one? */
static int times_on(const fw_next *next, int bottom, double turn_deg)
{
    for (int i = 0; i < next->enough.nrepeats; i++) {
        const fw_repeat *r = &next->enough.repeats[i];
        const fw_candidate *c = &next->candidates[r->candidate];
        if (c->bottom == bottom && c->top == 2 && fabs(c->turn_deg - turn_deg) < 1)
            return r->times;
    }
    return 0;
}

/*
 * Two flats that were read together, a third that was not: it tells as much on either of the two.
 * Which is read once more is for the order of the list to say, not for rounding.
 */
static void enough_ties(void **state)
{
    (void)state;
    double x[5];
    sim_stations(5, 90, x);
    for (int sigma = 3; sigma <= 9; sigma++) {
        ranked w = {0};
        sim_init(&w.s, 3, 200, 5);
        w.s.sigma_nm = w.s.stated_nm = sigma;
        w.s.job->flatness_nm = 10;
        sim_scan(&w.s, 1, 0, 1, 0, 0, 5, x);
        rank_pairings(&w);
        assert_true(times_on(w.next, 0, 0) > 0);
        for (int turn = 0; turn <= 180; turn += 180) {
            int more = times_on(w.next, 0, turn) - times_on(w.next, 1, turn);
            assert_true(more == 0 || more == 1);
        }
        ranked_check_enough(&w, false);
        ranked_release(&w);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(enough), cmocka_unit_test(enough_ties),
                                       cmocka_unit_test(least_uncertainty)};
    return cmocka_run_group_tests_name("enough", tests, NULL, NULL);
}
