/* worked.c - strokes typed in as the plan printed them are the very same strokes. Data invented. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "../support/close.h"
#include "../support/known_habit.h"
#include "../support/folder.h"
#include "../support/simulate.h"
#include "flatwright/advice.h"

enum { STATIONS = 21, DIAMETERS = 8, POINTS = 200 };

static double height(void *context, int flat, int state, double x, double y)
{
    double r = hypot(x, y) / 100;
    (void)context;
    (void)state;
    return flat == 0   ? -140 * r * r + 30 * cos(7 * r)
           : flat == 1 ? 90 * r * r + 25 * exp(-hypot(x - 40, y + 40) / 20)
                       : 0.3 * cos(0.03 * x);
}

static void removal_of(const fw_stroke *s, double f[POINTS])
{
    double r[POINTS], theta[POINTS];
    fw_disc disc = {100, 0};
    for (int i = 0; i < POINTS; i++) {
        int ray = i / 25;
        r[i] = 100.0 * (i % 25) / 24;
        theta[i] = 0.7853981633974483 * ray;
    }
    assert_int_equal(fw_stroke_at(s, &disc, POINTS, r, theta, f, NULL), FW_OK);
}

static void assert_same(const fw_stroke *a, const fw_stroke *b)
{
    double f[POINTS], g[POINTS], t[FW_HABIT_MODES], u[FW_HABIT_MODES];
    fw_disc disc = {100, 0};
    removal_of(a, f);
    removal_of(b, g);
    for (int i = 0; i < POINTS; i++)
        assert_close(f[i], g[i], 0, 0);
    fw_habit_modes(a, &disc, 43, t); /* what is learned of it is of the same shapes, too */
    fw_habit_modes(b, &disc, 43, u);
    for (int q = 0; q < FW_HABIT_MODES; q++)
        assert_close(t[q], u[q], 0, 0);
    assert_int_equal(a->method, b->method);
}

/* The rows as printed, put behind the sheet that `new` lays, are read as a job. */
static fw_job *read_back(const fw_advice *advice, bool wide)
{
    static const char *const heads[] = {
        "round,flat,hours,method,inner_mm,outer_mm,side_deg,stroke,note\n",
        "round,flat,hours,method,inner_mm,outer_mm,side_deg,stroke,sweep,lap_mm,note\n"};
    char *text = NULL;
    size_t size;
    FILE *out = open_memstream(&text, &size);
    fputs(heads[wide], out);
    fw_advice_rows(out, advice);
    fclose(out);
    assert_non_null(strstr(text, wide ? ",stroke,sweep,lap_mm,note\n" : ",stroke,note\n"));
    folder at = folder_make();
    folder_write(&at, "job.ini", PLAIN_INI);
    folder_write(&at, "readings.csv", PLAIN_HEADER);
    folder_write(&at, "work.csv", text);
    fw_job *job = folder_job(&at);
    folder_remove(&at);
    free(text);
    return job;
}

/* Does the row name this row of the plan, hours and all? */
static bool is_of(const fw_work *work, const fw_plan_row *row)
{
    fw_work named;
    return fw_stroke_to_work(&row->stroke, &named, NULL) == FW_OK && named.method == work->method &&
           row->hours == work->hours &&
           (named.inner_mm == work->inner_mm || isnan(named.inner_mm)) &&
           (named.outer_mm == work->outer_mm || isnan(named.outer_mm)) &&
           (named.side_deg == work->side_deg || isnan(named.side_deg)) &&
           (named.stroke == work->stroke || isnan(named.stroke));
}

/* Every row of every plan finds its stroke and its hours, each once. */
static void compare(const fw_advice *advice, const fw_job *job)
{
    size_t at = 0;
    for (int p = 0; p < advice->nplans; p++) {
        const fw_plan *plan = &advice->plans[p];
        bool met[FW_PLAN_ROWS] = {false};
        for (int r = 0; r < plan->nrows; r++, at++) {
            fw_stroke s = fw_stroke_of_work(&job->work[at]);
            const fw_plan_row *like = NULL;
            assert_int_equal(job->work[at].flat, plan->flat);
            for (int k = 0; k < plan->nrows && !like; k++)
                if (!met[k] && is_of(&job->work[at], &plan->rows[k])) {
                    like = &plan->rows[k];
                    met[k] = true;
                }
            assert_non_null(like);
            assert_same(&s, &like->stroke);
        }
    }
    assert_int_equal(job->nwork, at);
}

/* All strokes of a plan: as the program makes it, and with W strokes and laps of one's own. */
static void plans(void **state)
{
    (void)state;
    sim set;
    double at[STATIONS];
    fw_result *result = NULL;
    fw_advice *advice = NULL;
    fw_habit habit = known_habit(0.01);
    fw_advise_options how = {.unranked = true, .habit = &habit};
    sim_init(&set, 3, 200, 5);
    set.truth = height;
    set.sigma_nm = set.stated_nm = 1;
    sim_stations(STATIONS, 95, at);
    for (int f = 0; f < 3; f++)
        sim_fan(&set, 1, f, (f + 1) % 3, 0, DIAMETERS, STATIONS, at);
    sim_fan(&set, 1, 0, 1, 22.5, DIAMETERS, STATIONS, at);
    assert_int_equal(fw_solve(set.job, NULL, &result, NULL), FW_OK);
    assert_int_equal(fw_advise(result, &how, &advice, NULL), FW_OK);
    assert_true(advice->nplans >= 2 && advice->plans[0].nrows > 3);
    bool named = false; /* a lap of its own: more columns */
    for (int k = 0; k < advice->nplans; k++)
        for (int r = 0; r < advice->plans[k].nrows; r++)
            named = named || advice->plans[k].rows[r].stroke.lap_mm > 0;
    fw_job *job = read_back(advice, named);
    compare(advice, job);
    fw_job_free(job);
    for (int r = 0; r < advice->plans[0].nrows; r++) {
        fw_stroke *s = &advice->plans[0].rows[r].stroke;
        s->lateral = s->method < FW_RING ? 0.07 + 0.01 * (r % 10) : s->lateral;
        s->lap_mm = s->method == FW_LAP_ON_TOP ? 60 + r / 3.0 : NAN; /* a flat tips on a small one */
    }
    advice->plans[0].rows[0].stroke = fw_stroke_usual(FW_LAP_ON_TOP);
    advice->plans[0].rows[0].stroke.lateral = 0.25;
    job = read_back(advice, true);
    compare(advice, job);
    fw_job_free(job);
    fw_advice_free(advice);
    fw_result_free(result);
    sim_release(&set);
}

/* The whole menu, and a W stroke, there and back. */
static void strokes(void **state)
{
    (void)state;
    fw_stroke menu[200];
    fw_disc disc = {100, 0};
    int n = fw_stroke_menu(&disc, 199, menu);
    assert_in_range(n, 20, 199);
    menu[n] = fw_stroke_usual(FW_FLAT_ON_TOP);
    menu[n].length = 0.3;
    menu[n++].lateral = 0.2;
    for (int i = 0; i < n; i++) {
        fw_work work = {.round = 7, .hours = 2};
        assert_int_equal(fw_stroke_to_work(&menu[i], &work, NULL), FW_OK);
        fw_stroke back = fw_stroke_of_work(&work);
        assert_same(&menu[i], &back);
        assert_int_equal(work.round, 7);
    }
    assert_close(menu[n - 1].lateral, 0.2, 0, 0);
}

/* What no row can say is refused, not bent into another stroke. */
static void not_to_be_named(void **state)
{
    (void)state;
    fw_stroke s[5];
    for (int i = 0; i < 5; i++)
        s[i] = fw_stroke_usual(i == 4 ? FW_SIDE : FW_LAP_ON_TOP);
    s[0].flow = 0;
    s[1].turn_upper = 0.3;
    s[2].sweeps = 0.5;
    s[3].method = FW_GRIND;
    s[4].lateral = 0;
    for (int i = 0; i < 5; i++) {
        fw_work work = {.method = FW_OTHER, .stroke = 7};
        fw_error err = {0};
        assert_int_equal(fw_stroke_to_work(&s[i], &work, &err), FW_INPUT);
        assert_int_equal(work.method, FW_OTHER);
        assert_true(strlen(err.text) > 0);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(plans), cmocka_unit_test(strokes),
                                       cmocka_unit_test(not_to_be_named)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
