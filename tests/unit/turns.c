/* turns.c - which turns are offered for the next pairing: those of the job, else of its diameters. */
#include <math.h>
#include <stdlib.h>

#include "../support/close.h"
#include "../support/simulate.h"
#include "adjust/candidates.h"
#include "flatwright/result.h"

/* The turns of a set read on these diameters; none: no reading. */
static candidates turns_of(int n, const double *diameters, int nturns, const double *turns)
{
    static const double at[] = {-90, 0, 90};
    candidates c = {0};
    fw_result *r = NULL;
    sim s;
    sim_init(&s, 3, 200, 3);
    s.stated_nm = 1;
    for (int pair = 0; pair < 3; pair++)
        for (int k = 0; k < n; k++)
            sim_scan(&s, 1, pair, (pair + 1) % 3, 0, diameters[k], 3, at);
    if (nturns) {
        s.job->turns_deg = calloc((size_t)nturns, sizeof(double));
        for (int t = 0; t < nturns; t++)
            s.job->turns_deg[t] = turns[t];
        s.job->nturns = nturns;
    }
    assert_int_equal(fw_solve(s.job, NULL, &r, NULL), FW_OK);
    assert_int_equal(candidates_turns(r->adjustment, &c, NULL), FW_OK);
    fw_result_free(r);
    sim_release(&s);
    return c;
}

/* Multiples of the gap, once round; gaps of less than a degree are doubled until one. */
static void multiples_of_the_gap(void **state)
{
    double fan[320];
    (void)state;
    for (int k = 0; k < 320; k++)
        fan[k] = k * 0.5625;
    static const struct {
        int n;
        double diameters[4], step;
        int turns;
    } set[] = {{1, {20}, 180, 2},
               {2, {0, 90}, 90, 4},
               {4, {0, 45, 90, 135}, 45, 8},
               {3, {10, 70, 130}, 60, 6},
               {320, {0}, 1.125, 320},
               {3, {0, 59.99, 120.01}, 60, 6}}; /* typing rounds */
    for (size_t k = 0; k < sizeof set / sizeof *set; k++) {
        candidates c = turns_of(set[k].n, set[k].n > 4 ? fan : set[k].diameters, 0, NULL);
        assert_int_equal(c.nturns, set[k].turns);
        for (int t = 0; t < c.nturns; t++)
            assert_close(c.turns_deg[t], t * set[k].step, 0, 1e-9);
        candidates_release(&c);
    }
}

/*
 * Diameters that are not even: a line read, of a flat below or its mirror image of one on top, and a diameter
 * add up to each turn; half a circle on it lays them the other way round.
 */
static void lines_laid_on_lines(void **state)
{
    static const struct {
        int n;
        double diameters[3];
        int half;
        double turns[10];
    } set[] = {{2, {0, 35}, 4, {0, 35, 70, 145}},
               {3, {170, 5, 90}, 10, {0, 10, 15, 80, 85, 95, 100, 160, 165, 175}},
               {3, {0, 0.4, 90}, 2, {0, 90}}}; /* 0.4, 0.8, 90.4 .. beside better ones */
    (void)state;
    for (size_t k = 0; k < sizeof set / sizeof *set; k++) {
        candidates c = turns_of(set[k].n, set[k].diameters, 0, NULL);
        int half = set[k].half;
        assert_int_equal(c.nturns, 2 * half);
        for (int t = 0; t < c.nturns; t++)
            assert_close(c.turns_deg[t], set[k].turns[t % half] + (t < half ? 0 : 180), 0, 1e-9);
        candidates_release(&c);
    }
}

/* Very many are too many: those that lay most diameters on lines, every diameter on one at 0. */
static void not_too_many(void **state)
{
    double deg[24];
    (void)state;
    for (int k = 0; k < 24; k++)
        deg[k] = 7.5 * k + 0.11 * (k * k % 31);
    candidates c = turns_of(24, deg, 0, NULL);
    assert_int_equal(c.nturns, 90);
    for (int t = 1; t < c.nturns; t++)
        assert_true(c.turns_deg[t] - c.turns_deg[t - 1] > 0.9);
    assert_close(c.turns_deg[0], 0, 0, 1e-9);
    candidates_release(&c);
}

/* Those of the job, each once, within a turn; without readings none are asked about. */
static void turns_of_the_job(void **state)
{
    static const double turns[] = {10, 370, -350, 200, -90}, want[] = {10, 200, 270};
    const double diameter = 0;
    (void)state;
    candidates c = turns_of(1, &diameter, 5, turns);
    assert_int_equal(c.nturns, 3);
    for (int t = 0; t < 3; t++)
        assert_close(c.turns_deg[t], want[t], 0, 1e-9);
    candidates_release(&c);
    c = turns_of(0, NULL, 5, turns);
    assert_int_equal(c.nturns, 0);
    candidates_release(&c);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(multiples_of_the_gap),
                                       cmocka_unit_test(lines_laid_on_lines),
                                       cmocka_unit_test(not_too_many),
                                       cmocka_unit_test(turns_of_the_job)};
    return cmocka_run_group_tests_name("turns", tests, NULL, NULL);
}
