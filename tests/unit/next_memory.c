/* next_memory.c - every way to run out of memory in the advice what to read next. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "../support/close.h"
#include "../support/refuse.h"
#include "../support/simulate.h"
#include "flatwright/next.h"

static fw_status advise(void *data, fw_error *err)
{
    fw_next *next = NULL;
    fw_status status = fw_next_pairing(data, &next, err);
    assert_true((next != NULL) == (status == FW_OK));
    fw_next_free(next);
    return status;
}

/* Two flats, with a lost reading: nothing is ever told apart; three: repeats of a pairing do. */
static void walk(int nflats, double target, bool possible)
{
    sim s;
    double x[4] = {-80, -30, 30, 80};
    fw_result *r = NULL;
    fw_next *next = NULL;
    sim_init(&s, nflats, 200, 1);
    s.sigma_nm = s.stated_nm = 1;
    s.job->flatness_nm = target;
    for (int k = 0; k < nflats; k++) {
        if (nflats == 2)
            x[0] = k ? -80 : NAN;
        sim_scan(&s, 1, k, (k + 1) % nflats, 0, 0, 4, x);
    }
    assert_int_equal(fw_solve(s.job, NULL, &r, NULL), FW_OK);
    assert_true(refuse_each(advise, r, FW_OK, REFUSE_SPARE_NONE) > 100);
    assert_int_equal(fw_next_pairing(r, &next, NULL), FW_OK);
    assert_int_equal(next->enough.possible, possible);
    assert_false(next->enough.already);
    fw_next_free(next);
    fw_result_free(r);
    sim_release(&s);
}

/* Three diameters of which one is read elsewhere: pairings are ranked by their own readings. */
static void uneven(void)
{
    sim s;
    const double x[3] = {-80, 0, 80};
    fw_result *r = NULL;
    sim_init(&s, 3, 200, 1);
    s.sigma_nm = s.stated_nm = 1;
    for (int k = 0; k < 9; k++) {
        int fan = k / 3;
        sim_scan(&s, 1, k % 3, (k + 1) % 3, 0, 60.0 * fan - (k == 4), 3, x);
    }
    assert_int_equal(fw_solve(s.job, NULL, &r, NULL), FW_OK);
    assert_true(refuse_each(advise, r, FW_OK, REFUSE_SPARE_NONE) > 100);
    fw_result_free(r);
    sim_release(&s);
}

static void no_memory(void **state)
{
    (void)state;
    uneven();
    walk(2, 10, false);
    walk(3, 0.1, true);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(no_memory)};
    return cmocka_run_group_tests_name("next_memory", tests, NULL, NULL);
}
