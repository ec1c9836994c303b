/* next.c - the ranking of pairings against one dense system, brute force, and what the trade knows. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "../support/close.h"
#include "../support/design.h"
#include "../support/ranked.h"
#include "adjust/adjustment.h"

static void stated_scores(void **state)
{
    (void)state;
    double largest = 0;
    int compared = 0, kinds[4] = {0};
    for (unsigned long seed = 1; seed <= 60; seed++) {
        design d = design_random(seed);
        ranked w = {0};
        if (d.nflats > 4)
            continue;
        sim_init(&w.s, d.nflats, 200, seed);
        w.s.sigma_nm = 2;
        w.s.stated_nm = seed % 4 ? 2 : NAN;
        if (d.weights && isnan(w.s.stated_nm))
            d.weights = false;
        design_read(&d, &w.s);
        rank_pairings(&w);
        largest = fmax(largest, ranked_compare_now(&w));
        for (int i = 0; i < w.next->ncandidates; i += 1 + w.next->ncandidates / 4, compared++)
            largest = fmax(largest, ranked_compare(&w, &w.next->candidates[i]));
        kinds[0] += d.rounds > 1;
        kinds[1] += d.bored;
        kinds[2] += d.lossy;
        kinds[3] += d.setup;
        ranked_release(&w);
    }
    print_message("%d scores differ from the dense ones by at most %.1e; "
                  "%d with states, %d bored, %d lossy, %d planes\n",
                  compared, largest, kinds[0], kinds[1], kinds[2], kinds[3]);
    assert_true(compared > 100);
    for (int i = 0; i < 4; i++)
        assert_true(kinds[i] > 3);
}

/* Every ordered pair at every turn: nothing is missing from the list, and the first is the best. */
static void brute_force(void **state)
{
    (void)state;
    for (int kind = 0; kind < 4; kind++) {
        ranked w = {0};
        int ordered = 0;
        double x[9], best = INFINITY, u[8];
        sim_init(&w.s, 3, 200, 3);
        w.s.sigma_nm = w.s.stated_nm = 2;
        w.s.job->levelling = kind == 3 ? FW_LEVELLING_SETUP : FW_LEVELLING_SCAN;
        sim_stations(7, 90, x);
        sim_fan(&w.s, 1, 0, 1, 0, 4, 7, x);
        if (kind > 0)
            sim_fan(&w.s, 1, 1, 2, 0, 4, 7, x);
        if (kind > 1)
            sim_fan(&w.s, 1, 2, 0, 0, 4, 7, x);
        if (kind == 2)
            sim_work(&w.s, 1, 1, 1);
        rank_pairings(&w);
        for (int b = 0; b < 3; b++)
            for (int t = 0; t < 3; t++)
                for (int k = 0; k < 8 && b != t; k++, ordered++) {
                    extra e = {b, t, 45.0 * k, 1};
                    best = fmin(best, foresight_score(&w.dense, 1, &e, u));
                }
        assert_int_equal(ordered, 48);
        assert_int_equal(w.next->ncandidates,
                         24); /* a fan of four is closed under theta -> 45 k - theta */
        for (int i = 0; i < w.next->ncandidates; i++) {
            assert_true(w.next->candidates[i].either_way);
            assert_true(i == 0 || w.next->candidates[i].score_after_nm2 >=
                                      w.next->candidates[i - 1].score_after_nm2 * (1 - 1e-8));
        }
        assert_close(w.next->candidates[0].score_after_nm2, best, 1e-6, 0);
        ranked_release(&w);
    }
}

/*
 * The same on plans at random, with turns listed or not: the first is the best of all ordered pairs
 * at all turns, to 0.1 %, and each of them is in the list once, the same readings under one name.
 */
static void best_of_all(void **state)
{
    (void)state;
    int sets = 0, listed = 0;
    for (unsigned long seed = 201; sets < 12; seed++) {
        design d = design_random(seed);
        ranked w = {0};
        double best = INFINITY, u[8], turns[8];
        if (d.nflats > 3 || d.ndiam > 3 || d.nflats * d.rounds * d.repeats > 3)
            continue;
        int nflats = d.nflats, nturns = 2 * d.ndiam;
        sim_init(&w.s, nflats, 200, seed);
        w.s.sigma_nm = w.s.stated_nm = 2;
        for (int k = 0; k < nturns; k++)
            turns[k] = 180.0 * k / d.ndiam;
        if (seed % 2) { /* what the bench can do, in any order */
            nturns = 3;
            turns[0] = 180.0 / d.ndiam;
            turns[1] = 0;
            turns[2] = 180;
            w.s.job->nturns = nturns;
            w.s.job->turns_deg = malloc(3 * sizeof(double));
            memcpy(w.s.job->turns_deg, turns, 3 * sizeof(double));
            listed++;
        }
        design_read(&d, &w.s);
        rank_pairings(&w);
        int named = 0, ordered = 0;
        for (int i = 0; i < w.next->ncandidates; i++)
            named += 1 + w.next->candidates[i].either_way;
        for (int b = 0; b < nflats; b++)
            for (int t = 0; t < nflats; t++)
                for (int k = 0; k < nturns && b != t; k++) {
                    bool same = false; /* two names of one turn */
                    for (int q = 0; q < k; q++)
                        same = same || fabs(remainder(turns[q] - turns[k], 360)) < 1e-6;
                    if (same)
                        continue;
                    extra e = {b, t, turns[k], 1};
                    best = fmin(best, foresight_score(&w.dense, 1, &e, u));
                    ordered++;
                }
        assert_close(w.next->candidates[0].score_after_nm2, best, 1e-3, 0);
        assert_int_equal(named, ordered);
        ranked_release(&w);
        sets++;
    }
    assert_in_range(listed, 3, 9);
}

/*
 * Diameters that are not even, one of them read once: no turn in steps of 1 deg is better than the first,
 * and each in the list lays a diameter on a line that is read.
 */
static void uneven_diameters(void **state)
{
    (void)state;
    static const double deg[] = {0, 20, 50, 51}, lines[] = {0, 20, 50, 51, 129, 130, 160};
    ranked w = {0};
    double x[5], best = INFINITY, u[8];
    sim_init(&w.s, 3, 200, 7);
    w.s.sigma_nm = w.s.stated_nm = 2;
    sim_stations(5, 90, x);
    for (int p = 0; p < 3; p++)
        for (int k = 0; k < 3; k++)
            sim_scan(&w.s, 1, p, (p + 1) % 3, 0, deg[k + (p == 2 && k == 2)], 5, x);
    rank_pairings(&w);
    assert_int_equal(w.next->ndiameters, 4);
    assert_int_equal(w.next->nslips, 1); /* 51 beside two pairings with 50 */
    assert_close(w.next->slips[0].meant_deg, 50, 0, 0);
    for (int i = 0; i < w.next->ncandidates; i++) {
        int lays = 0;
        for (int k = 0; k < 4; k++)
            for (int l = 0; l < 7; l++)
                lays += fabs(remainder(w.next->candidates[i].turn_deg - deg[k] - lines[l], 180)) < 0.01;
        assert_true(lays > 0);
    }
    for (int b = 0; b < 3; b++)
        for (int t = 0; t < 3; t++)
            for (int turn = 0; turn < 180 && b != t; turn++) {
                extra e = {b, t, turn, 1};
                best = fmin(best, foresight_score(&w.dense, 1, &e, u));
            }
    assert_close(w.next->candidates[0].score_after_nm2, best, 1e-5, 0);
    assert_true(best < 0.9 * w.next->score_nm2);
    ranked_release(&w);
}

/*
 * After AB, BC, CA unturned what is common to all three is invisible. A turn of 180 shows odd terms only;
 * 90 misses m = 4 and 8, which four diameters do not sample but eight do.
 */
static void trade_knows(void **state)
{
    (void)state;
    for (int ndiam = 4; ndiam <= 8; ndiam += 4) {
        ranked w = {0};
        double x[9];
        sim_init(&w.s, 3, 200, 5);
        w.s.sigma_nm = w.s.stated_nm = 1;
        sim_stations(9, 90, x);
        for (int k = 0; k < 3; k++)
            sim_fan(&w.s, 1, k, (k + 1) % 3, 0, ndiam, 9, x);
        rank_pairings(&w);
        int n = w.next->ncandidates, opening = 0;
        const fw_candidate *last = &w.next->candidates[n - 1];
        assert_true(last->score_before_nm2 > 1e4);
        assert_close(last->turn_deg, 0, 0, 1e-9); /* the same again shows nothing new */
        assert_close(last->score_after_nm2, last->score_before_nm2, 1e-3, 0);
        for (int i = 0; i < n; i++) {
            const fw_candidate *c = &w.next->candidates[i];
            bool hides = fmod(c->turn_deg, ndiam == 4 ? 180 : 90) < 1;
            assert_true(hides == (c->score_after_nm2 > 100));
            opening += !hides;
        }
        assert_int_equal(opening, ndiam == 4 ? 3 * 6 : 3 * 12);
        ranked_release(&w);
    }
}

/* Where all is determined the prior is of no account: the uncertainty is that of the profiles. */
static void agrees_with_solve(void **state)
{
    (void)state;
    for (int plane = 0; plane < 2; plane++) {
        ranked w = {0};
        design d = {
            .nflats = 3, .ndiam = 4, .nstations = 7, .rounds = 1, .turned = 2, .setup = plane};
        sim_init(&w.s, 3, 200, 5);
        w.s.sigma_nm = w.s.stated_nm = 1;
        design_read(&d, &w.s);
        rank_pairings(&w);
        assert_int_equal(w.result->nunknowns, 0);
        for (int f = 0; f < 3; f++) {
            const fw_profile *p = &w.result->faces[w.result->today[f]].profile;
            double sum = 0;
            int n = 0;
            for (int k = 0; k < p->ndiameters; k++)
                for (size_t i = 0; i < p->diameters[k].npoints; i++) {
                    const fw_point *pt = &p->diameters[k].points[i];
                    if (!pt->clear || (k > 0 && fabs(pt->position_mm) < 0.01))
                        continue; /* the centre once */
                    sum += pt->u_nm * pt->u_nm;
                    n++;
                }
            assert_close(w.next->u_nm[f], sqrt(sum / n), 1e-4, 0);
        }
        ranked_release(&w);
    }
}

/* Round 2 after work on B: AB and BC of round 1 are stale, CA is not; the next pairing reads B. */
static void stale_pairings(void **state)
{
    (void)state;
    ranked w = {0};
    double x[5];
    sim_init(&w.s, 3, 200, 5);
    w.s.sigma_nm = w.s.stated_nm = 1;
    sim_stations(5, 90, x);
    for (int k = 0; k < 3; k++)
        sim_fan(&w.s, 1, k, (k + 1) % 3, 0, 2, 5, x);
    sim_fan(&w.s, 1, 0, 2, 90, 2, 5, x);
    sim_work(&w.s, 1, 1, 1);
    rank_pairings(&w);
    assert_int_equal(w.next->nstale, 2);
    assert_int_equal(w.next->ngood, 2);
    assert_true(w.next->stale[0].top_changed && !w.next->stale[0].bottom_changed);
    assert_int_equal(w.next->stale[0].bottom, 0);
    assert_int_equal(w.next->stale[0].nscans, 2);
    assert_true(w.next->stale[1].bottom_changed && w.next->stale[1].bottom == 1);
    assert_int_equal(w.next->good[0].bottom, 2);
    assert_close(w.next->good[1].turn_deg, 90, 0, 0);
    assert_int_equal(w.next->worst_flat, 1);
    const fw_candidate *first = &w.next->candidates[0];
    assert_true(first->bottom == 1 || first->top == 1);
    assert_true(first->worst_u_after_nm < first->worst_u_before_nm / 2);
    ranked_release(&w);
}

/* Diameters and turns that make no fan, stations to one side, a flat never read: new lines come with a setup. */
static void no_fan(void **state)
{
    (void)state;
    ranked w = {0};
    double x[6] = {-88, -61, -30, 0, 25, 61}, turns[4] = {10, 33.3, 100, 370}, largest = 0;
    const double diameters[3] = {0, 30, 100};
    sim_init(&w.s, 3, 200, 5);
    w.s.sigma_nm = w.s.stated_nm = 2;
    w.s.job->flatness_nm = 540;
    w.s.job->nturns = 4;
    w.s.job->turns_deg = malloc(sizeof turns);
    memcpy(w.s.job->turns_deg, turns, sizeof turns);
    for (int k = 0; k < 3; k++) {
        sim_scan(&w.s, 1, 0, 1, 0, diameters[k], 6 - (k == 2), x);
        sim_scan(&w.s, 1, 1, 0, 10, diameters[k], 6, x);
    }
    rank_pairings(&w);
    assert_int_equal(w.next->ncandidates, 3 * 6); /* 370 is 10, and no turn closes */
    assert_int_equal(w.next->worst_flat, 2);
    assert_close(w.next->u_nm[2], 1000 * sqrt(1 - 4.0 / 16), 0.01,
                 0); /* 16 places, a piston and three slopes */
    largest = fmax(largest, ranked_compare_now(&w));
    for (int i = 0; i < w.next->ncandidates; i++)
        largest = fmax(largest, ranked_compare(&w, &w.next->candidates[i]));
    print_message("largest difference %.1e, repeats of %d pairings\n", largest,
                  w.next->enough.nrepeats);
    assert_true(w.next->enough.possible);
    ranked_check_enough(&w, false);
    ranked_release(&w);
}

/* A candidate has the densest scan's stations and no lost ones, named along diameters in [0, 180). */
static void stations(void **state)
{
    (void)state;
    ranked w = {0};
    double x[4] = {-80, -30, 30, 80}, dense[6] = {-90, -50, NAN, 20, 50, 90},
           side[3] = {10, 40, 70};
    static const double want[6] = {-90, -50, -20, 20, 50, 90};
    sim_init(&w.s, 3, 200, 5);
    sim_scan(&w.s, 1, 0, 1, 0, 0, 4, x);
    sim_scan(&w.s, 1, 1, 2, 0, 90, 6, dense);
    dense[2] = -20;
    dense[5] = NAN;
    sim_scan(&w.s, 1, 2, 0, 0, 0, 6, dense);
    rank_pairings(&w);
    assert_int_equal(w.next->nstations, 6);
    for (int i = 0; i < 6; i++)
        assert_close(w.next->stations_mm[i], want[i], 0, 1e-9);
    assert_int_equal(w.next->ndiameters, 2);
    assert_close(w.next->diameters_deg[1], 90, 1e-12, 0);
    ranked_release(&w);
    w = (ranked){0};
    sim_init(&w.s, 3, 200, 5);
    sim_scan(&w.s, 1, 0, 1, 0, 200, 3, side);
    rank_pairings(&w);
    assert_int_equal(w.next->nstations, 3);
    for (int i = 0; i < 3; i++)
        assert_close(w.next->stations_mm[i], -side[2 - i], 0, 1e-9);
    assert_close(w.next->diameters_deg[0], 20, 1e-12, 0);
    for (int i = 0; i < w.next->ncandidates; i++)
        ranked_compare(&w, &w.next->candidates[i]);
    ranked_release(&w);
}

/* Nothing read; nothing that tells sigma; two flats. */
static void edges(void **state)
{
    (void)state;
    ranked w = {0};
    double x[5];
    sim_init(&w.s, 3, 200, 5);
    rank_pairings(&w);
    assert_int_equal(w.next->ncandidates, 0);
    assert_false(w.next->enough.already || w.next->enough.possible);
    assert_close(w.next->u_nm[0], 1000, 1e-12, 0);
    ranked_release(&w);
    w = (ranked){0};
    sim_init(&w.s, 3, 200, 5);
    w.s.stated_nm = NAN;
    sim_stations(5, 90, x);
    sim_fan(&w.s, 1, 0, 1, 0, 1, 5, x);
    rank_pairings(&w);
    assert_int_equal(w.next->sigma_source, FW_SIGMA_UNKNOWN);
    assert_close(w.next->sigma_nm, 1, 0, 0.011); /* not below prior / 1e5 */
    assert_int_equal(w.next->ncandidates, 6);    /* turns 0 and 180 */
    assert_true(w.next->candidates[0].bottom == 2 || w.next->candidates[0].top == 2);
    assert_false(w.next->enough.possible);
    ranked_release(&w);
}

/* Reads 12 diameters of 30 stations, one of 12 readings lost where `lossy`, and advises. */
static void rank_on_fan(ranked *w, bool lossy)
{
    design d = {.nflats = 3, .ndiam = 12, .nstations = 30, .rounds = 1, .turned = 1, .lossy = lossy};
    sim_init(&w->s, 3, 200, 3);
    w->s.sigma_nm = w->s.stated_nm = 2;
    design_read(&d, &w->s);
    rank_pairings(w);
}

static const fw_candidate *find(const fw_next *n, const fw_candidate *like)
{
    for (int i = 0; i < n->ncandidates; i++)
        if (n->candidates[i].bottom == like->bottom && n->candidates[i].top == like->top &&
            fabs(remainder(n->candidates[i].turn_deg - like->turn_deg, 360)) < 1e-6)
            return &n->candidates[i];
    return NULL;
}

/*
 * So many rings of their own that they stand for each other (outlook_alike): the scores are those of the
 * same set read without a gap, with 12/11 of the variance at the least, and a little more because a loss
 * is not even.
 */
static void stand_for_each_other(void **state)
{
    ranked full = {0}, lossy = {0};
    (void)state;
    rank_on_fan(&full, false);
    rank_on_fan(&lossy, true);
    assert_true(lossy.result->adjustment->net->nclasses > 10);
    assert_close(lossy.next->score_nm2 / full.next->score_nm2, 12 / 11.0, 0, 0.03);
    assert_int_equal(lossy.next->ncandidates, full.next->ncandidates);
    for (int i = 0; i < full.next->ncandidates; i++) {
        const fw_candidate *a = &full.next->candidates[i], *b = find(lossy.next, a);
        assert_non_null(b);
        double ratio = b->score_after_nm2 / a->score_after_nm2;
        assert_true(ratio > 1 && ratio < 12 / 11.0 + 0.03);
    }
    ranked_release(&full);
    ranked_release(&lossy);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(stated_scores),    cmocka_unit_test(brute_force),
        cmocka_unit_test(best_of_all),      cmocka_unit_test(uneven_diameters),
        cmocka_unit_test(trade_knows),      cmocka_unit_test(agrees_with_solve),
        cmocka_unit_test(stale_pairings),   cmocka_unit_test(no_fan),
        cmocka_unit_test(stations),         cmocka_unit_test(edges),
        cmocka_unit_test(stand_for_each_other)};
    return cmocka_run_group_tests_name("next", tests, NULL, NULL);
}
