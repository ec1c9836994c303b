/* bench_memory.c - every way to run out of memory in solving a set on a bench. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "../support/close.h"
#include "../support/refuse.h"
#include "../support/simulate.h"
#include "flatwright/result.h"

static fw_status solve(void *data, fw_error *err)
{
    fw_result *r = NULL;
    fw_status status = fw_solve(data, NULL, &r, err);
    assert_true((r != NULL) == (status == FW_OK));
    fw_result_free(r);
    return status;
}

static void no_memory(void **state)
{
    (void)state;
    const double x[3] = {-80, 0, 80};
    sim s;
    sim_init(&s, 3, 200, 1);
    s.sigma_nm = s.stated_nm = 1;
    for (int k = 0; k < 3; k++) {
        s.job->flats[k].thickness_mm = 20 + k;
        s.job->flats[k].glass = (fw_glass){"soda-lime", 72, 0.22, 2500, 8.5, 0.9, 800};
        sim_scan(&s, 1, k, (k + 1) % 3, 0, 0, 3, x);
        sim_scan(&s, 1, (k + 1) % 3, k, 0, 0, 3, x);
    }
    s.job->support_bottom = s.job->support_top = (fw_support){FW_SUPPORT_THREE, 70, 10};
    s.job->bending = FW_BENDING_SOLVE;
    s.job->gradient_k = 0.1;
    s.job->gap_um = 10;
    s.job->eye_mm = 1000;
    assert_true(refuse_each(solve, s.job, FW_OK, REFUSE_SPARE_NONE) > 100);
    sim_release(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(no_memory)};
    return cmocka_run_group_tests_name("bench_memory", tests, NULL, NULL);
}
