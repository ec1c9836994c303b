/* advice_memory.c - every way to run out of memory while it is decided what to work, and how. */
#include <math.h>

#include "../support/close.h"
#include "../support/known_habit.h"
#include "../support/refuse.h"
#include "../support/simulate.h"
#include "flatwright/advice.h"

/* Flat B is hollow, with a ridge that the terms do not show. Invented. */
static double height(void *context, int flat, int state, double x, double y)
{
    double r = hypot(x, y);
    (void)context;
    (void)state;
    return flat == 1 ? 200 * r * r / 1e4 + 60 * exp(-(r - 50) * (r - 50) / 40) : 0;
}

typedef struct task {
    fw_advise_options how;
    const fw_result *result;
} task;

static fw_status advise(void *data, fw_error *err)
{
    const task *t = data;
    fw_advice *advice = NULL;
    fw_status status = fw_advise(t->result, &t->how, &advice, err);
    assert_true((advice != NULL) == (status == FW_OK));
    fw_advice_free(advice);
    return status;
}

/* On one diameter, where a plan is quickly made; bored: by somebody whose strokes are not known. */
static void no_memory(void **state)
{
    (void)state;
    for (int bored = 0; bored < 2; bored++) {
        sim s;
        double at[15];
        fw_result *r = NULL;
        fw_advice *advice = NULL;
        fw_habit habit = known_habit(0.01);
        task t = {.how = {.unranked = true, .habit = bored ? NULL : &habit}};
        sim_init(&s, 3, 200, 4);
        s.truth = height;
        s.sigma_nm = s.stated_nm = 1;
        for (int f = 0; f < 3 && bored; f++)
            s.job->flats[f].bore_mm = 30;
        sim_stations(15, 95, at);
        for (int i = 0; i < 15 && bored; i++)
            at[i] = fabs(at[i]) < 16 ? NAN : at[i];
        for (int pass = 0; pass < 2; pass++)
            for (int k = 0; k < 3; k++)
                sim_fan(&s, 1, k, (k + 1) % 3, 0, 1, 15, at);
        assert_int_equal(fw_solve(s.job, NULL, &r, NULL), FW_OK);
        t.result = r;
        assert_int_equal(fw_advise(r, &t.how, &advice, NULL), FW_OK);
        assert_int_equal(advice->decision, FW_DECIDE_WORK);
        assert_int_equal(advice->plans[0].flat, 1);
        assert_true(advice->plans[0].warnings & FW_WARN_LINE);
        fw_advice_free(advice);
        assert_true(refuse_each(advise, &t, FW_OK, REFUSE_SPARE_NONE) > 50);
        fw_result_free(r);
        sim_release(&s);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(no_memory)};
    return cmocka_run_group_tests_name("advice_memory", tests, NULL, NULL);
}
