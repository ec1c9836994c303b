/* plan_sets.c - plans of several flats and measures, beside plans made one by one. Data invented. */
#include <gsl/gsl_multifit.h>
#include <math.h>
#include <string.h>

#include "../support/close.h"
#include "../support/known_habit.h"
#include "../support/simulate.h"
#include "flatwright/advice.h"

#define RAD 0.017453292519943295769

enum { STATIONS = 21, DIAMETERS = 8, MOST = 4 };

/* Heights in nm over 100 mm: sphere, convex positive, and a raised ring at 55 mm. */
typedef struct shape {
    double convex, ring;
} shape;

typedef struct made {
    sim set;
    shape flats[MOST];
    fw_result *result;
} made;

static double height(void *context, int flat, int state, double x, double y)
{
    const shape *s = (const shape *)context + flat;
    double r = hypot(x, y);
    (void)state;
    return -s->convex * r * r / 1e4 + s->ring * exp(-(r - 55) * (r - 55) / 400) +
           0.3 * cos(0.02 * x + flat);
}

static void begin(made *m, int nflats, const shape *flats)
{
    memset(m, 0, sizeof *m);
    memcpy(m->flats, flats, (size_t)nflats * sizeof *flats);
    sim_init(&m->set, nflats, 200, 11);
    for (int f = 0; f < nflats; f++)
        m->set.job->flats[f].clear_mm = 190;
    m->set.truth = height;
    m->set.context = m->flats;
    m->set.sigma_nm = m->set.stated_nm = 1;
}

static void read_three(made *m, int a, int b, int c)
{
    double at[STATIONS];
    sim_stations(STATIONS, 95, at);
    for (int i = 0; i < STATIONS; i++)
        for (int f = 0; f < m->set.job->nflats; f++)
            if (fabs(at[i]) < m->set.job->flats[f].bore_mm / 2)
                at[i] = NAN;
    sim_fan(&m->set, 1, a, b, 0, DIAMETERS, STATIONS, at);
    sim_fan(&m->set, 1, b, c, 0, DIAMETERS, STATIONS, at);
    sim_fan(&m->set, 1, c, a, 0, DIAMETERS, STATIONS, at);
    sim_fan(&m->set, 1, a, b, 67.5, DIAMETERS, STATIONS, at);
}

static void solve(made *m)
{
    fw_result_free(m->result);
    m->result = NULL;
    assert_int_equal(fw_solve(m->set.job, NULL, &m->result, NULL), FW_OK);
}

static void release(made *m)
{
    fw_result_free(m->result);
    sim_release(&m->set);
}

static fw_advice *advise(const made *m, const fw_habit *habit)
{
    fw_advice *advice = NULL;
    fw_advise_options how = {.unranked = true, .habit = habit};
    assert_int_equal(fw_advise(m->result, &how, &advice, NULL), FW_OK);
    return advice;
}

static void assert_same(const fw_plan *a, const fw_plan *b)
{
    assert_int_equal(a->flat, b->flat);
    assert_int_equal(a->nrows, b->nrows);
    for (int i = 0; i < a->nrows; i++) {
        const fw_stroke *s = &a->rows[i].stroke, *t = &b->rows[i].stroke;
        assert_int_equal(s->method, t->method);
        assert_true(s->inner_mm == t->inner_mm || (isnan(s->inner_mm) && isnan(t->inner_mm)));
        assert_true(s->outer_mm == t->outer_mm || (isnan(s->outer_mm) && isnan(t->outer_mm)));
        assert_true(s->side_deg == t->side_deg || (isnan(s->side_deg) && isnan(t->side_deg)));
        assert_close(a->rows[i].hours, b->rows[i].hours, 0, 0);
    }
    assert_close(a->pv_after_nm, b->pv_after_nm, 0, 0);
    assert_close(a->gain_nm_per_h, b->gain_nm_per_h, 0, 0);
}

/* Every plan is the one that its flat gets by itself, with a menu of its own; the best come first. */
static void assert_each_its_own(const made *m, int nplans)
{
    fw_habit habit = known_habit(0.01);
    fw_advice *advice = advise(m, &habit);
    assert_int_equal(advice->decision, FW_DECIDE_WORK);
    assert_int_equal(advice->nplans, nplans);
    assert_int_equal(advice->flat, advice->plans[0].flat);
    for (int i = 0; i < advice->nplans; i++) {
        int f = advice->plans[i].flat;
        const fw_flat *flat = &m->set.job->flats[f];
        const fw_face *face = &m->result->faces[m->result->today[f]];
        fw_disc disc = {flat->diameter_mm / 2, flat->bore_mm / 2};
        fw_menu *menu = NULL;
        fw_plan plan;
        assert_int_equal(fw_menu_new(&disc, flat->clear_mm / 2, face->profile.ndiameters == 1,
                                     &menu, NULL), FW_OK);
        assert_int_equal(fw_plan_flat(m->result, f, &habit, menu, 0.6, &plan, NULL), FW_OK);
        assert_same(&advice->plans[i], &plan);
        assert_true(i == 0 || plan.gain_nm_per_h <= advice->plans[i - 1].gain_nm_per_h);
        fw_menu_free(menu);
    }
    fw_advice_free(advice);
}

/* Three flats to be worked: alike, and each time B other than A and C in one thing. */
static void several_at_once(void **state)
{
    (void)state;
    static const shape flats[3] = {{.ring = 60}, {.convex = 150}, {.ring = -90}};
    static const struct {
        double diameter, clear, bore;
    } other[] = {{200, 190, 0}, {210, 190, 0}, {200, 186, 0}, {200, 190, 30}};
    for (size_t k = 0; k < sizeof other / sizeof *other; k++) {
        made m;
        begin(&m, 3, flats);
        fw_flat *b = &m.set.job->flats[1];
        b->diameter_mm = other[k].diameter;
        b->clear_mm = other[k].clear;
        b->bore_mm = other[k].bore;
        read_three(&m, 0, 1, 2);
        solve(&m);
        assert_each_its_own(&m, 3);
        release(&m);
    }
}

/* A was read on one diameter, the others on eight: no sides for A, and it is said. */
static void one_on_a_line(void **state)
{
    (void)state;
    static const shape flats[4] = {{.convex = 120}, {.convex = -150}, {.ring = 70}, {.ring = 0}};
    double at[STATIONS];
    made m;
    begin(&m, 4, flats);
    read_three(&m, 1, 2, 3);
    sim_stations(STATIONS, 95, at);
    sim_fan(&m.set, 1, 0, 1, 0, 1, STATIONS, at);
    sim_fan(&m.set, 1, 2, 0, 0, 1, STATIONS, at);
    solve(&m);
    assert_each_its_own(&m, 3);
    fw_habit habit = known_habit(0.01);
    fw_advice *advice = advise(&m, &habit);
    for (int i = 0; i < advice->nplans; i++) {
        const fw_plan *plan = &advice->plans[i];
        assert_int_equal((plan->warnings & FW_WARN_LINE) != 0, plan->flat == 0);
        for (int k = 0; k < plan->nrows && plan->flat == 0; k++)
            assert_int_not_equal(plan->rows[k].stroke.method, FW_SIDE);
    }
    fw_advice_free(advice);
    release(&m);
}

/* Nothing said is the same as saying what is usual; the pairings are ranked as well. */
static void what_is_usual(void **state)
{
    (void)state;
    static const shape flats[3] = {{.ring = 60}, {.convex = 150}, {.ring = 0}};
    made m;
    fw_advice *plain = NULL, *said = NULL;
    fw_menu *menu = NULL;
    fw_disc disc = {100, 0};
    fw_habit habit;
    begin(&m, 3, flats);
    read_three(&m, 0, 1, 2);
    solve(&m);
    assert_int_equal(fw_menu_new(&disc, 95, false, &menu, NULL), FW_OK);
    assert_int_equal(fw_habit_learn(m.result, &habit, NULL), FW_OK);
    fw_advise_options how = {.fraction = 0.6, .unranked = true, .habit = &habit, .menu = menu};
    assert_int_equal(fw_advise(m.result, NULL, &plain, NULL), FW_OK);
    assert_int_equal(fw_advise(m.result, &how, &said, NULL), FW_OK);
    assert_true(plain->next && plain->next->ncandidates > 0 && !said->next);
    assert_int_equal(plain->nplans, 2);
    assert_int_equal(said->nplans, 2);
    for (int i = 0; i < 2; i++)
        assert_same(&plain->plans[i], &said->plans[i]);
    fw_advice_free(plain);
    fw_advice_free(said);
    fw_menu_free(menu);
    release(&m);
}

/* Where it is not known how well anything is known, the first flat that is not within is named. */
static void nothing_is_known_of_the_noise(void **state)
{
    (void)state;
    static const shape flats[3] = {{.convex = 60}, {.convex = 150}, {.ring = 40}};
    double at[STATIONS];
    made m;
    begin(&m, 3, flats);
    m.set.stated_nm = NAN;
    sim_stations(STATIONS, 95, at);
    for (int f = 0; f < 3; f++)
        sim_fan(&m.set, 1, f, (f + 1) % 3, 0, 1, STATIONS, at);
    solve(&m);
    for (int f = 0; f < 3; f++) { /* as if flats before f had been found good */
        fw_habit habit = known_habit(0.01);
        fw_advice *advice = advise(&m, &habit);
        assert_int_equal(advice->decision, FW_DECIDE_MEASURE);
        assert_int_equal(advice->reason, FW_REASON_NO_SIGMA);
        assert_int_equal(advice->flat, f);
        assert_int_equal(advice->nplans + advice->nidle, 0);
        fw_advice_free(advice);
        m.result->faces[m.result->today[f]].figure.verdict = FW_WITHIN;
    }
    fw_advice *advice = advise(&m, NULL);
    assert_int_equal(advice->decision, FW_DECIDE_STOP);
    fw_advice_free(advice);
    release(&m);
}

/* Power and PV of what is left once 1, x, y and r^2 are taken off, on a grid of its own. */
static void look(const double *h, const double *x, const double *y, size_t n, double *power,
                 double *pv)
{
    gsl_matrix *a = gsl_matrix_alloc(n, 4), *cov = gsl_matrix_alloc(4, 4);
    gsl_vector *b = gsl_vector_alloc(n), *c = gsl_vector_alloc(4), *left = gsl_vector_alloc(n);
    gsl_multifit_linear_workspace *work = gsl_multifit_linear_alloc(n, 4);
    double chi;
    for (size_t i = 0; i < n; i++) {
        gsl_matrix_set(a, i, 0, 1);
        gsl_matrix_set(a, i, 1, x[i] / 95);
        gsl_matrix_set(a, i, 2, y[i] / 95);
        gsl_matrix_set(a, i, 3, (x[i] * x[i] + y[i] * y[i]) / (95 * 95));
        gsl_vector_set(b, i, h[i]);
    }
    assert_int_equal(gsl_multifit_linear(a, b, c, cov, &chi, work), 0);
    assert_int_equal(gsl_multifit_linear_residuals(a, b, c, left), 0);
    *power = -gsl_vector_get(c, 3);
    *pv = gsl_vector_max(left) - gsl_vector_min(left);
    gsl_multifit_linear_free(work);
    gsl_matrix_free(a);
    gsl_matrix_free(cov);
    gsl_vector_free(b);
    gsl_vector_free(c);
    gsl_vector_free(left);
}

/* What the plan leaves of a true figure, with true rates as believed: power and irregularity. */
static void leave(const made *m, const fw_advice *advice, const fw_plan *plan, double fraction,
                  double *power, double *pv)
{
    enum { RINGS = 20, AROUND = 24, N = RINGS * AROUND };
    double x[N], y[N], r[N], theta[N], h[N], unit[N];
    fw_disc disc = {100, 0};
    for (int i = 0; i < N; i++) {
        int ring = i / AROUND;
        r[i] = 95 * sqrt((ring + 0.5) / RINGS); /* rings of equal area */
        theta[i] = 2 * acos(-1) * (i % AROUND) / AROUND;
        x[i] = r[i] * cos(theta[i]);
        y[i] = r[i] * sin(theta[i]);
        h[i] = height((void *)m->flats, plan->flat, 0, x[i], y[i]);
    }
    for (int k = 0; k < plan->nrows; k++) {
        const fw_plan_row *row = &plan->rows[k];
        assert_int_equal(fw_stroke_by_hand(&row->stroke, &disc, N, r, theta, unit, NULL), FW_OK);
        for (int i = 0; i < N; i++)
            h[i] -= fraction * row->hours * unit[i] *
                    fw_habit_rate(&advice->habit, row->stroke.method).value_nm;
    }
    look(h, x, y, N, power, pv);
}

/* Where irregularity counts power is left alone, and the ring is worked down; else both go. */
static void power_does_no_harm(void **state)
{
    (void)state;
    static const shape flats[3] = {{.convex = 0}, {.convex = 150, .ring = 80}, {.convex = 0}};
    made m;
    double removed[2], power[2], pv[2], power0, pv0;
    fw_habit habit = known_habit(0.01);
    begin(&m, 3, flats);
    read_three(&m, 0, 1, 2);
    for (int i = 0; i < 2; i++) {
        m.set.job->measure = i ? FW_MEASURE_IRREGULARITY : FW_MEASURE_PV;
        solve(&m);
        fw_advice *advice = advise(&m, &habit);
        assert_int_equal(advice->nplans, 1);
        const fw_plan *plan = &advice->plans[0];
        assert_int_equal(plan->flat, 1);
        removed[i] = plan->removed_nm;
        leave(&m, advice, plan, 0, &power0, &pv0);
        leave(&m, advice, plan, 1, &power[i], &pv[i]);
        /* half an hour of setting up counts; PV of the draws is a little above that of the truth */
        if (i)
            assert_close(plan->gain_nm_per_h * (plan->hours + 0.5), pv0 - pv[i], 0.25, 0);
        fw_advice_free(advice);
    }
    assert_true(pv[1] < 0.6 * pv0);
    assert_true(fabs(power[1]) > 0.8 * power0);
    assert_true(fabs(power[0]) < 0.6 * power0);
    assert_true(removed[1] < 0.7 * removed[0]);
    release(&m);
}

/* Only flat B departs: its plan with a habit. */
static fw_plan plan_with(const made *m, const fw_habit *habit)
{
    fw_advice *advice = advise(m, habit);
    assert_int_equal(advice->nplans, 1);
    fw_plan plan = advice->plans[0];
    fw_advice_free(advice);
    return plan;
}

/*
 * A covariance without full rank: nothing unknown at all, or one factor common to all rates. What is
 * forecast is that of the limit, and what is known better is forecast better.
 */
static void habits_without_full_rank(void **state)
{
    (void)state;
    enum { N = FW_HABIT_SIZE, MODES = FW_HABIT_MODES };
    static const shape flats[3] = {{.convex = 0}, {.convex = 150, .ring = 80}, {.convex = 0}};
    fw_habit exact = known_habit(0.01), common, nearly;
    made m;
    begin(&m, 3, flats);
    read_three(&m, 0, 1, 2);
    solve(&m);
    memset(exact.cov, 0, sizeof exact.cov);
    common = exact;
    for (int i = 0; i < N; i += MODES)
        for (int k = 0; k < N; k += MODES)
            common.cov[i + k * N] = 0.04 * exact.mean[i] * exact.mean[k];
    nearly = common;
    for (int i = 0; i < N; i++)
        nearly.cov[i * (N + 1)] += 1e-8 * pow(exact.mean[i / MODES * MODES], 2);
    fw_plan sure = plan_with(&m, &exact), loose = plan_with(&m, &common);
    fw_plan limit = plan_with(&m, &nearly);
    assert_int_equal(loose.nrows, limit.nrows);
    assert_close(loose.hours, limit.hours, 1e-3, 0);
    assert_close(loose.pv_after_nm, limit.pv_after_nm, 1e-3, 0);
    assert_close(loose.pv_after_u_nm, limit.pv_after_u_nm, 1e-2, 0);
    assert_true(sure.pv_after_u_nm < 0.8 * loose.pv_after_u_nm);
    assert_true(sure.pv_after_nm < loose.pv_after_nm);
    release(&m);
}

/* A covariance that none can be is refused, and nothing is made. */
static void a_habit_that_cannot_be(void **state)
{
    (void)state;
    static const shape flats[3] = {{.convex = 0}, {.convex = 150}, {.convex = 0}};
    fw_habit habit = known_habit(0.01);
    fw_advice *advice = NULL;
    fw_advise_options how = {.unranked = true, .habit = &habit};
    fw_error err = {0};
    made m;
    begin(&m, 3, flats);
    read_three(&m, 0, 1, 2);
    solve(&m);
    habit.cov[0] = -1e6;
    assert_int_not_equal(fw_advise(m.result, &how, &advice, &err), FW_OK);
    assert_null(advice);
    assert_true(err.text[0] != 0);
    release(&m);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(habits_without_full_rank),
        cmocka_unit_test(a_habit_that_cannot_be),
        cmocka_unit_test(several_at_once),
        cmocka_unit_test(one_on_a_line),
        cmocka_unit_test(what_is_usual),
        cmocka_unit_test(nothing_is_known_of_the_noise),
        cmocka_unit_test(power_does_no_harm),
    };
    return cmocka_run_group_tests_name("plan_sets", tests, NULL, NULL);
}
