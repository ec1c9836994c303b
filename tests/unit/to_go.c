/* to_go.c - how fast figures fall, and the hours to go with their limits. */
#include <gsl/gsl_randist.h>
#include <math.h>

#include "../support/close.h"
#include "../support/past.h"
#include "flatwright/stats.h"

/*
 * Exact halves with u = 0: b = ln 2 about x = 1, y = 50; s^2 = 4 / 5 by the four observations that
 * the assumed scatter 0.25 stands for, 5 degrees of freedom. At a limit Fieller's condition holds
 * with equality (derived).
 */
static void tells_hours_to_go(void **state)
{
    (void)state;
    past s;
    past_falling(&s, 0);
    fw_track *t = past_look(&s);
    const fw_track_flat *a = &t->flats[0];
    double b = log(2), w = 1 / 0.0625, s2 = 0.8, q = fw_student_quantile(0.95, 5);
    assert_true(a->own);
    assert_close(a->fall_per_h, b, 1e-12, 0);
    assert_close(a->u_fall, sqrt(s2 / (2 * w)), 1e-12, 0);
    assert_close(a->to_go.hours, log(2.5) / b, 1e-12, 0);
    for (int side = 0; side < 2; side++) {
        double g = 1 + (side ? a->to_go.high : a->to_go.low); /* from the middle */
        double off = fabs(log(50.0 / 10) - b * g);
        double u = sqrt(s2 / (3 * w) + s2 / w + g * g * s2 / (2 * w));
        assert_close(off, q * u, 1e-9, 0);
    }
    assert_true(a->to_go.low < a->to_go.hours && a->to_go.hours < a->to_go.high);
    /* B takes A's fall, a quarter less sure; C is within */
    assert_false(t->flats[1].own);
    assert_close(t->flats[1].fall_per_h, b, 1e-12, 0);
    assert_close(t->flats[1].u_fall, hypot(a->u_fall, b / 4), 1e-12, 0);
    assert_close(t->flats[1].to_go.hours, 2, 1e-12, 0);
    assert_close(t->flats[2].to_go.hours + t->flats[2].to_go.high, 0, 0, 0);
    fw_track_free(t);
}

/* The goal leaves room for the verdict: 10 - 1.645 * 2; and never less than half the target. */
static void goal_leaves_room(void **state)
{
    (void)state;
    static const double u[] = {2, 9}, goal[] = {10 - 2 * 1.6448536269514722, 5};
    for (int i = 0; i < 2; i++) {
        past s;
        past_falling(&s, 0);
        s.faces[3].figure.pv.u_nm = u[i]; /* B's, whose level is 40 and fall is A's */
        fw_track *t = past_look(&s);
        assert_close(t->flats[1].to_go.hours, log(40 / goal[i]) / log(2), 1e-9, 0);
        fw_track_free(t);
    }
}

/* A rise has no end; a fall that is not significant has no longest time. */
static void honest_where_unsure(void **state)
{
    (void)state;
    past s;
    past_falling(&s, 1);
    s.faces[2].figure.pv.value_nm = 130;
    fw_track *t = past_look(&s);
    assert_true(t->flats[0].fall_per_h < 0);
    assert_true(isnan(t->flats[0].to_go.hours) && isnan(t->flats[0].to_go.low));
    fw_track_free(t);
    s.faces[2].figure.pv.value_nm = 80;
    t = past_look(&s);
    assert_true(t->flats[0].to_go.hours > 0);
    assert_true(t->flats[0].to_go.low > 0 && t->flats[0].to_go.low < t->flats[0].to_go.hours);
    assert_true(isnan(t->flats[0].to_go.high));
    fw_track_free(t);
}

/*
 * Two states of B, 40 and 30 after an hour, and A's fall: weighted by their variances. With the
 * scatter taken as known, each own variance is that of a line of equal weights (derived).
 */
static void weighs_others_in(void **state)
{
    (void)state;
    past s;
    past_falling(&s, 0);
    past_work(&s, 2, 1, 1, FW_LAP_ON_TOP);
    s.faces[5] = s.faces[4]; /* C */
    s.faces[4] = s.faces[3];
    s.faces[4].state = 1;
    s.faces[4].figure.pv.value_nm = 30;
    s.result.nfaces = 6;
    s.today[1] = 4;
    s.today[2] = 5;
    fw_track *t = past_look(&s);
    double other = log(2), v_other = 0.8 * 0.0625 / 2 + other * other / 16;
    double own = log(4.0 / 3), v_own = 2 * 0.0625;
    double fall = (own / v_own + other / v_other) / (1 / v_own + 1 / v_other);
    assert_close(t->flats[1].fall_per_h, fall, 1e-12, 0);
    assert_close(t->flats[1].u_fall, sqrt(1 / (1 / v_own + 1 / v_other)), 1e-12, 0);
    assert_close(t->flats[1].to_go.hours, log(sqrt(1200) / 10) / fall - 0.5, 1e-12, 0);
    assert_close(t->flats[0].fall_per_h, other, 1e-12, 0); /* three states: on its own */
    assert_true(t->flats[1].own);
    fw_track_free(t);
}

/*
 * Nine in ten: invented sets whose ln figure scatters by 0.25 about a true fall. The hours at which
 * one more such figure would meet the goal lie between the limits at least so often, and the
 * limits are not idle: less than 99 %.
 */
static void covers(void **state)
{
    (void)state;
    enum { DRAWS = 4000 };
    gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
    int inside = 0;
    for (int i = 0; i < DRAWS; i++) {
        past s;
        past_falling(&s, 0.5);
        for (int j = 0; j < 3; j++) {
            double ln = log(300) - 0.8 * j + gsl_ran_gaussian(rng, 0.25);
            s.faces[j].figure.pv.value_nm = exp(ln);
        }
        double goal = 10 - 1.6448536269514722 * 0.5;
        double truth = (log(300 / goal) + gsl_ran_gaussian(rng, 0.25)) / 0.8 - 2;
        fw_track *t = past_look(&s);
        fw_track_hours h = t->flats[0].to_go;
        inside += (isnan(h.high) || truth <= h.high) && (isnan(h.low) || truth >= h.low);
        fw_track_free(t);
    }
    gsl_rng_free(rng);
    print_message("nine in ten: %.3f\n", (double)inside / DRAWS);
    assert_true(inside >= 0.9 * DRAWS && inside < 0.99 * DRAWS);
}

/*
 * The same for falls and numbers of states at random, two to five read so far, and readings whose
 * own uncertainty is below 1 nm: at least nine in ten.
 */
static void covers_at_random(void **state)
{
    (void)state;
    enum { DRAWS = 4000 };
    gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
    int inside = 0, told = 0, bounded = 0;
    for (int i = 0; i < DRAWS; i++) {
        past s;
        int n = 2 + (int)gsl_rng_uniform_int(rng, 4);
        double fall = 0.3 + 0.9 * gsl_rng_uniform(rng), u = 0.2 + 0.8 * gsl_rng_uniform(rng);
        double start = 100 + 200 * gsl_rng_uniform(rng);
        past_begin(&s);
        for (int j = 0; j < n; j++) {
            past_scan(&s, j + 1);
            if (j + 1 < n)
                past_work(&s, j + 1, 0, 1, FW_LAP_ON_TOP);
            double y = start * exp(-fall * j + gsl_ran_gaussian(rng, 0.25));
            past_face(&s, 0, j, j + 1, fmax(y + gsl_ran_gaussian(rng, u), u), u, FW_OUTSIDE);
        }
        past_face(&s, 1, 0, 1, 5, 0.5, FW_WITHIN);
        past_face(&s, 2, 0, 1, 5, 0.5, FW_WITHIN);
        s.result.round = n;
        double goal = fmax(10 - 1.6448536269514722 * u, 5);
        double truth = (log(start / goal) + gsl_ran_gaussian(rng, 0.25)) / fall - (n - 1);
        fw_track *t = past_look(&s);
        fw_track_hours h = t->flats[0].to_go;
        if (isfinite(h.hours) && truth > 0) {
            inside += !(truth > h.high) && !(truth < h.low);
            bounded += isfinite(h.high);
            told++;
        }
        fw_track_free(t);
    }
    gsl_rng_free(rng);
    print_message("nine in ten: %.3f of %d, %d with an upper limit\n", (double)inside / told, told,
                  bounded);
    assert_true(told > DRAWS / 2 && bounded > told / 4);
    assert_true(inside >= 0.9 * told);
}

/* States that say nothing of a fall: no hour between them, no uncertainty, nothing at all. */
static void states_that_do_not_count(void **state)
{
    (void)state;
    past s;
    past_falling(&s, 0.01);
    s.work[0].hours = s.work[1].hours = 0;
    fw_track *t = past_look(&s);
    assert_int_equal(t->flats[0].nread, 3);
    assert_true(isnan(t->flats[0].fall_per_h) && isnan(t->flats[0].to_go.hours));
    fw_track_free(t);
    for (int kind = 0; kind < 2; kind++) {
        past_falling(&s, 0.01);
        s.faces[1].figure.pv = kind ? (fw_quantity){0, 0} : (fw_quantity){50, NAN};
        t = past_look(&s);
        assert_int_equal(t->flats[0].nread, 2);
        assert_close(t->flats[0].fall_per_h, log(2), 1e-3, 0);
        fw_track_free(t);
    }
    /* today's uncertainty is not known: the goal is the target, 25 falls to 10 in log2 2.5 h */
    past_falling(&s, 0.01);
    past_work(&s, 3, 0, 0, FW_RING);
    past_face(&s, 0, 3, 4, 25, NAN, FW_OUTSIDE);
    s.result.round = 4;
    t = past_look(&s);
    assert_int_equal(t->flats[0].nread, 3);
    assert_close(t->flats[0].to_go.hours, log2(2.5), 1e-3, 0);
    fw_track_free(t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(tells_hours_to_go),        cmocka_unit_test(goal_leaves_room),
        cmocka_unit_test(honest_where_unsure),      cmocka_unit_test(weighs_others_in),
        cmocka_unit_test(covers),                   cmocka_unit_test(covers_at_random),
        cmocka_unit_test(states_that_do_not_count)
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
