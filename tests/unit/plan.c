/* plan.c - the decision and the work plan on sets whose truth is known. All data are invented. */
#include <math.h>
#include <string.h>

#include "../support/close.h"
#include "../support/known_habit.h"
#include "../support/simulate.h"
#include "flatwright/advice.h"

#define RAD 0.017453292519943295769

enum { STATIONS = 21, DIAMETERS = 8, BORE = 38 };

/* What flat B looks like, in nm; the others are good to 1 nm. */
typedef enum shape { GOOD, CONVEX, HOLLOW, RING, SIDE, RIDGE, HUB } shape;

static double height(void *context, int flat, int state, double x, double y)
{
    const shape *what = context;
    double r = hypot(x, y), bump = hypot(x - 65 * cos(135 * RAD), y - 65 * sin(135 * RAD));
    (void)state;
    if (flat != 1)
        return 0.3 * cos(0.02 * x + flat);
    switch (*what) {
    case CONVEX:
        return -150 * r * r / 1e4;
    case HOLLOW:
        return 150 * r * r / 1e4;
    case RING:
        return 80 * exp(-(r - 55) * (r - 55) / 400);
    case RIDGE:
        return 120 * exp(-(r - 57) * (r - 57) / 40);
    case HUB:
        return 80 * exp(-(r - 0.5 * BORE) * (r - 0.5 * BORE) / 900);
    case SIDE:
        return 90 * exp(-bump * bump / 900);
    default:
        return 0.2 * sin(0.02 * y);
    }
}

typedef struct made {
    sim set;
    shape what;
    fw_result *result;
    fw_advice *advice;
} made;

static void make(made *m, shape what, double sigma, int pairs, bool learned)
{
    double at[STATIONS];
    fw_habit habit = known_habit(0.01);
    fw_advise_options how = {.unranked = true, .habit = learned ? &habit : NULL};
    m->what = what;
    sim_init(&m->set, 3, 200, 11);
    for (int f = 0; f < 3; f++)
        m->set.job->flats[f].clear_mm = 190;
    m->set.truth = height;
    m->set.context = &m->what;
    m->set.sigma_nm = m->set.stated_nm = sigma;
    sim_stations(STATIONS, 95, at);
    m->set.job->flats[1].bore_mm = what == HUB ? BORE : 0;
    for (int i = 0; i < STATIONS; i++)
        at[i] = 2 * fabs(at[i]) < m->set.job->flats[1].bore_mm ? NAN : at[i];
    sim_fan(&m->set, 1, 0, 1, 0, DIAMETERS, STATIONS, at);
    if (pairs > 1) {
        sim_fan(&m->set, 1, 1, 2, 0, DIAMETERS, STATIONS, at);
        sim_fan(&m->set, 1, 2, 0, 0, DIAMETERS, STATIONS, at);
        sim_fan(&m->set, 1, 0, 1, 67.5, DIAMETERS, STATIONS, at);
    }
    assert_int_equal(fw_solve(m->set.job, NULL, &m->result, NULL), FW_OK);
    assert_int_equal(fw_advise(m->result, &how, &m->advice, NULL), FW_OK);
}

static void release(made *m)
{
    fw_advice_free(m->advice);
    fw_result_free(m->result);
    sim_release(&m->set);
}

/* What the whole plan takes off at a place, unit rates of the habit's mean. */
static double taken(const fw_advice *advice, double r, double theta_deg)
{
    const fw_plan *plan = &advice->plans[0];
    fw_disc flat = {100, 0};
    double sum = 0, theta = theta_deg * RAD;
    for (int i = 0; i < plan->nrows; i++) {
        double unit = NAN;
        assert_int_equal(fw_stroke_at(&plan->rows[i].stroke, &flat, 1, &r, &theta, &unit, NULL),
                         FW_OK);
        assert_true(unit >= 0 && plan->rows[i].hours > 0); /* no glass is put back */
        sum += unit * plan->rows[i].hours *
               fw_habit_rate(&advice->habit, plan->rows[i].stroke.method).value_nm;
    }
    return sum;
}

static double mean_round(const fw_advice *advice, double r)
{
    double sum = 0;
    for (int k = 0; k < 16; k++)
        sum += taken(advice, r, 22.5 * k) / 16;
    return sum;
}

static void assert_works_b(const made *m)
{
    const fw_plan *plan = &m->advice->plans[0];
    assert_int_equal(m->advice->decision, FW_DECIDE_WORK);
    assert_int_equal(m->advice->nplans, 1);
    assert_int_equal(plan->flat, 1);
    assert_true(plan->significant && plan->z > 2 && plan->nrows > 0);
    assert_true(plan->pv_after_nm < 0.75 * plan->pv_before_nm);
    assert_true(plan->pv_after_u_nm > 0);
    assert_close(plan->rows[plan->nrows - 1].pv_after_nm, plan->pv_after_nm, 0, 0);
    assert_true(plan->removed_nm > 0);
}

static void a_convex_flat(void **state)
{
    (void)state;
    made m;
    make(&m, CONVEX, 1, 4, true);
    assert_works_b(&m);
    const fw_stroke *first = &m.advice->plans[0].rows[0].stroke;
    assert_true(first->method == FW_FLAT_ON_TOP ||
                (first->method == FW_RING && first->inner_mm < 30));
    assert_true(mean_round(m.advice, 10) > mean_round(m.advice, 50));
    assert_true(mean_round(m.advice, 50) > mean_round(m.advice, 90));
    assert_true(m.advice->plans[0].high_mm < 20);
    release(&m);
}

static void a_hollow_flat(void **state)
{
    (void)state;
    made m;
    make(&m, HOLLOW, 1, 4, true);
    assert_works_b(&m);
    const fw_stroke *first = &m.advice->plans[0].rows[0].stroke;
    assert_true(first->method == FW_LAP_ON_TOP || first->outer_mm > 90);
    assert_true(mean_round(m.advice, 10) < mean_round(m.advice, 60));
    assert_true(mean_round(m.advice, 60) < mean_round(m.advice, 88));
    assert_true(m.advice->plans[0].warnings & FW_WARN_EDGE);
    release(&m);
}

static void a_raised_ring(void **state)
{
    (void)state;
    made m;
    make(&m, RING, 1, 4, true);
    assert_works_b(&m);
    const fw_stroke *first = &m.advice->plans[0].rows[0].stroke;
    assert_int_equal(first->method, FW_RING);
    assert_true(first->inner_mm < 55 && first->outer_mm > 55);
    assert_true(mean_round(m.advice, 55) > 1.5 * mean_round(m.advice, 10));
    assert_true(mean_round(m.advice, 55) > 1.5 * mean_round(m.advice, 90));
    release(&m);
}

/* Highest at the rim of its bore, of which is warned. */
static void a_high_hub(void **state)
{
    (void)state;
    made m;
    make(&m, HUB, 1, 4, true);
    assert_works_b(&m);
    const fw_plan *plan = &m.advice->plans[0];
    assert_close(plan->high_mm, 0.5 * BORE, 0, 1e-9);
    assert_true(plan->warnings & FW_WARN_BORE);
    assert_false(plan->warnings & FW_WARN_EDGE);
    release(&m);
}

/* Finer than the terms: it is seen as a zone, and worked where it stands. */
static void a_ridge(void **state)
{
    (void)state;
    made m;
    make(&m, RIDGE, 1, 4, true);
    assert_works_b(&m);
    const fw_plan *plan = &m.advice->plans[0];
    assert_close(plan->high_mm, 57, 0, 2);
    assert_close(plan->pv_before_nm, 120, 0, 25); /* 105 without the zones */
    assert_true(plan->pv_before_nm > 115);
    assert_int_equal(plan->rows[0].stroke.method, FW_RING);
    assert_true(mean_round(m.advice, 57) > 5 * mean_round(m.advice, 30));
    assert_true(mean_round(m.advice, 57) > 5 * mean_round(m.advice, 80));
    release(&m);
}

static void a_high_side(void **state)
{
    (void)state;
    made m;
    make(&m, SIDE, 1, 4, true);
    assert_works_b(&m);
    const fw_stroke *first = &m.advice->plans[0].rows[0].stroke;
    assert_int_equal(first->method, FW_SIDE);
    assert_close(first->side_deg, 135, 0, 25);
    assert_true(first->inner_mm < 65 && first->outer_mm > 65);
    assert_close(fmod(m.advice->plans[0].high_rad / RAD + 360, 360), 135, 0, 25);
    release(&m);
}

static void all_within(void **state)
{
    (void)state;
    made m;
    make(&m, GOOD, 0.5, 4, true);
    assert_int_equal(m.advice->decision, FW_DECIDE_STOP);
    assert_int_equal(m.advice->nplans, 0);
    release(&m);
}

static void one_pair_only(void **state)
{
    (void)state;
    made m;
    make(&m, CONVEX, 1, 1, true);
    assert_int_equal(m.advice->decision, FW_DECIDE_MEASURE);
    assert_int_equal(m.advice->nplans, 0);
    release(&m);
}

/* Good flats read badly: nobody knows, so nobody polishes. */
static void below_the_noise(void **state)
{
    (void)state;
    made m;
    make(&m, GOOD, 12, 4, true);
    assert_int_equal(m.advice->decision, FW_DECIDE_MEASURE);
    assert_int_equal(m.advice->reason, FW_REASON_NOISE);
    assert_int_equal(m.advice->nplans, 0);
    release(&m);
}

/* Without evidence of any rate: one stroke, short, and said. */
static void a_trial_first(void **state)
{
    (void)state;
    made m;
    make(&m, CONVEX, 1, 4, false);
    const fw_plan *plan = &m.advice->plans[0];
    assert_int_equal(m.advice->decision, FW_DECIDE_WORK);
    assert_int_equal(plan->nrows, 1);
    assert_true(plan->warnings & FW_WARN_TRIAL);
    assert_true(plan->hours < 0.25);
    assert_true(plan->pv_after_nm < plan->pv_before_nm);
    release(&m);
}

static void over_a_wave(void **state)
{
    (void)state;
    made m;
    make(&m, CONVEX, 1, 4, true);
    assert_false(m.advice->plans[0].warnings & FW_WARN_WAVE);
    m.set.job->light.wavelength_nm = 100; /* an invented lamp: the flat's 140 nm are over a wave */
    fw_advice *again = NULL;
    fw_advise_options how = {.unranked = true};
    assert_int_equal(fw_advise(m.result, &how, &again, NULL), FW_OK);
    assert_true(again->plans[0].warnings & FW_WARN_WAVE);
    fw_advice_free(again);
    release(&m);
}

/* Less of the time takes off less, and the times keep their proportions. */
static void the_fraction(void **state)
{
    (void)state;
    made m;
    fw_advice *half = NULL;
    fw_habit habit = known_habit(0.01);
    fw_advise_options how = {.fraction = 0.3, .unranked = true, .habit = &habit};
    make(&m, HOLLOW, 1, 4, true);
    assert_int_equal(fw_advise(m.result, &how, &half, NULL), FW_OK);
    assert_close(m.advice->plans[0].fraction, 0.6, 0, 1e-12);
    assert_close(half->plans[0].rows[0].hours, m.advice->plans[0].rows[0].hours / 2, 0.01,
                 2.0 / 3600);
    assert_true(half->plans[0].pv_after_nm > m.advice->plans[0].pv_after_nm);
    fw_advice_free(half);
    release(&m);
}

static void the_clock(void **state)
{
    (void)state;
    static const double angle[] = {0, 90, 180, 270, 135, 350, -90, 359.9};
    static const int hour[] = {12, 9, 6, 3, 8, 12, 3, 12}; /* 135 deg is half past seven: 8 */
    for (size_t i = 0; i < sizeof angle / sizeof angle[0]; i++)
        assert_int_equal(fw_clock_of(angle[i]), hour[i]);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_convex_flat),   cmocka_unit_test(a_hollow_flat),
        cmocka_unit_test(a_raised_ring),   cmocka_unit_test(a_high_side),
        cmocka_unit_test(a_high_hub), cmocka_unit_test(a_ridge),
        cmocka_unit_test(all_within),      cmocka_unit_test(one_pair_only),
        cmocka_unit_test(below_the_noise), cmocka_unit_test(a_trial_first),
        cmocka_unit_test(over_a_wave),     cmocka_unit_test(the_fraction),
        cmocka_unit_test(the_clock)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
