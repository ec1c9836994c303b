/* draft.c - the times of a plan are at the least of what they minimise, whose terms are true. Data invented. */
#include <gsl/gsl_fit.h>
#include <math.h>

#include "../support/close.h"
#include "../support/known_habit.h"
#include "../support/simulate.h"
#include "shop/draft.h"
#include "shop/equations.h"

enum { STATIONS = 21, DIAMETERS = 8, MODES = FW_HABIT_MODES, POINTS = FW_MENU_RADII * 16 };

/* Flat B: convex by 150 nm, with a zone 80 nm high and a side 60 nm high. */
static double height(void *context, int flat, int state, double x, double y)
{
    double r = hypot(x, y), side = hypot(x - 40, y - 50);
    (void)context;
    (void)state;
    return flat != 1 ? 0.3 * cos(0.02 * x + flat)
                     : -150 * r * r / 1e4 + 80 * exp(-(r - 55) * (r - 55) / 400) +
                           60 * exp(-side * side / 900);
}

typedef struct made {
    sim set;
    fw_result *result;
    fw_menu *menu;
    fw_habit habit;
    view v;
} made;

static void make(made *m)
{
    double at[STATIONS];
    fw_disc disc = {100, 0};
    sim_init(&m->set, 3, 200, 11);
    for (int f = 0; f < 3; f++)
        m->set.job->flats[f].clear_mm = 190;
    m->set.truth = height;
    m->set.sigma_nm = m->set.stated_nm = 1;
    sim_stations(STATIONS, 95, at);
    for (int pair = 0; pair < 4; pair++)
        sim_fan(&m->set, 1, pair % 3, (pair + 1) % 3, pair < 3 ? 0 : 67.5, DIAMETERS, STATIONS, at);
    m->result = NULL;
    assert_int_equal(fw_solve(m->set.job, NULL, &m->result, NULL), FW_OK);
    assert_int_equal(fw_menu_new(&disc, 95, false, &m->menu, NULL), FW_OK);
    assert_int_equal(m->menu->npoints, POINTS);
    m->habit = known_habit(0.02);
    assert_int_equal(view_new(m->result, 1, m->menu, &m->v, NULL), FW_OK);
}

static void release(made *m)
{
    view_release(&m->v);
    fw_menu_free(m->menu);
    fw_result_free(m->result);
    sim_release(&m->set);
}

/* What the strokes chosen leave of the figure, on the datum of the weights they were chosen by. */
static void leave(const draft *d, double *left)
{
    for (int i = 0; i < POINTS; i++) {
        left[i] = d->v->mean[i];
        for (int k = 0; k < d->n; k++)
            left[i] -= d->hours[k] * d->p[i + d->stroke[k] * POINTS];
    }
    menu_project(&d->weighed, d->power, left);
}

/* Mean square of an hour's error: sum over modes C_qk <T_q u, T_k u>, on the datum. */
static double error_of(const draft *d, int j)
{
    static double part[MODES][POINTS];
    int stroke = d->seen[j], first = (int)d->menu->strokes[stroke].method * MODES;
    double t[MODES], sum = 0, all = 0, rate = d->habit->mean[first];
    for (int i = 0; i < POINTS; i++) {
        fw_habit_modes(&d->menu->strokes[stroke], &d->menu->flat, d->menu->r_mm[i], t);
        for (int q = 0; q < MODES; q++)
            part[q][i] = t[q] * d->menu->unit[i + stroke * POINTS];
    }
    for (int q = 1; q < MODES; q++)
        all += 1.0 / (q * q);
    for (int q = 0; q < MODES; q++)
        menu_project(&d->weighed, d->power, part[q]);
    for (int q = 0; q < MODES; q++)
        for (int k = 0; k < MODES; k++) {
            double c = d->habit->cov[first + q + (first + k) * FW_HABIT_SIZE];
            if (q == k && q > 0) /* what no learning takes away, mode by mode */
                c += pow(PLAN_UNLEARNED * rate, 2) / (q * q) / all;
            sum += c * menu_dot(&d->weighed, part[q], part[k]);
        }
    return sum;
}

/*
 * At the least every stroke chosen gains alike: its hour takes as much off the expected square as
 * the hour and its glass are worth, c + g m_j with the same c and g for all.
 */
static void at_the_least(void **state)
{
    static double left[POINTS], gain[FW_PLAN_ROWS], glass[FW_PLAN_ROWS];
    (void)state;
    for (int power = 0; power < 2; power++)
        for (int kind = 0; kind < 3; kind++) {
            static const int most[] = {FW_PLAN_ROWS, 12, FW_PLAN_ROWS};
            static const double hours[] = {100, 100, 0.5};
            made m;
            draft d = {0};
            double c, g, x, sum = 0, largest = 0;
            make(&m);
            assert_int_equal(draft_new(m.menu, &m.habit, &m.v, power, &d, NULL), FW_OK);
            assert_int_equal(draft_choose(&d, most[kind], hours[kind], NULL), FW_OK);
            assert_true(d.n > 3 && d.n <= most[kind]);
            leave(&d, left);
            for (int k = 0; k < d.n; k++) {
                const double *p = d.p + d.stroke[k] * POINTS;
                gain[k] = menu_dot(&d.weighed, p, left) -
                          d.hours[k] * error_of(&d, d.stroke[k]);
                glass[k] = 0;
                for (int i = 0; i < POINTS; i++)
                    glass[k] += d.weighed.weight[i] * p[i];
                largest = fmax(largest, fabs(gain[k]));
                sum += d.hours[k];
            }
            assert_true(sum <= hours[kind] * (1 + 1e-9));
            assert_int_equal(gsl_fit_linear(glass, 1, gain, 1, (size_t)d.n, &c, &g, &x, &x, &x, &x),
                             0);
            assert_true(c > 0 && g > 0);
            for (int k = 0; k < d.n; k++)
                assert_close(gain[k], c + g * glass[k], 0, 1e-4 * largest);
            draft_release(&d);
            release(&m);
        }
}

/* Fewer strokes leave more, but what is left out is what does least. */
static void fewer_strokes(void **state)
{
    static double left[POINTS];
    static const int most[] = {FW_PLAN_ROWS, 12, 8, 6, 3};
    static const double may_leave[] = {0.015, 0.015, 0.02, 0.025, 0.15}; /* 0.006 to 0.09 seen */
    double none;
    made m;
    draft d = {0};
    (void)state;
    make(&m);
    none = menu_dot(m.menu, m.v.mean, m.v.mean);
    assert_int_equal(draft_new(m.menu, &m.habit, &m.v, false, &d, NULL), FW_OK);
    for (int i = 0; i < 5; i++) {
        assert_int_equal(draft_choose(&d, most[i], 100, NULL), FW_OK);
        assert_true(d.n <= most[i]);
        leave(&d, left);
        assert_true(menu_dot(m.menu, left, left) < may_leave[i] * none);
    }
    draft_release(&d);
    release(&m);
}

/* Stroke j's hour on the datum of the weights. */
static void on_datum(const draft *d, int j, double *v)
{
    for (int i = 0; i < POINTS; i++)
        v[i] = d->p[i + j * POINTS];
    menu_project(&d->weighed, d->power, v);
}

/* Every inner product by its definition, under weights that are not the same all round. */
static void by_definition(void **state)
{
    static double one[POINTS], other[POINTS], h[POINTS], factor[POINTS];
    (void)state;
    for (int power = 0; power < 2; power++) {
        made m;
        draft d = {0};
        equations e;
        make(&m);
        assert_int_equal(draft_new(m.menu, &m.habit, &m.v, power, &d, NULL), FW_OK);
        for (int i = 0; i < POINTS; i++)
            factor[i] = 1 + 0.5 * sin(i) + 0.3 * cos(m.menu->theta[i]);
        assert_int_equal(menu_reweigh(m.menu, factor, &d.weighed, NULL), FW_OK);
        assert_int_equal(equations_init(&e, &d, NULL), FW_OK);
        equations_pose(&e);
        for (int i = 0; i < POINTS; i++)
            h[i] = m.v.mean[i];
        menu_project(&d.weighed, power, h);
        assert_close(e.square, menu_dot(&d.weighed, h, h), 1e-12, 0);
        for (int j = 0; j < d.nseen; j += 7) {
            const double *g = equations_column(&e, j);
            double mean = 0, glass = 0.025 * sqrt(e.square);
            on_datum(&d, j, one);
            for (int i = 0; i < POINTS; i++)
                mean += d.weighed.weight[i] * d.p[i + j * POINTS];
            assert_close(e.b[j], menu_dot(&d.weighed, h, one) - glass * mean, 1e-9, 1e-9 * e.square);
            for (int k = 0; k < d.nseen; k++) {
                on_datum(&d, k, other);
                double want = menu_dot(&d.weighed, one, other), own = menu_dot(&d.weighed, one, one);
                assert_close(g[k], k == j ? (want + error_of(&d, j)) * (1 + 1e-9) : want, 1e-9,
                             1e-11 * own);
            }
        }
        equations_release(&e);
        draft_release(&d);
        release(&m);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(at_the_least),
                                       cmocka_unit_test(fewer_strokes),
                                       cmocka_unit_test(by_definition)};
    return cmocka_run_group_tests_name("draft", tests, NULL, NULL);
}
