/* track_memory.c - every way of running out of memory while looking back is walked. */

#include <stdlib.h>
#include <string.h>

#include "../support/close.h"
#include "../support/refuse.h"
#include "flatwright/track.h"

static fw_status look_back(void *data, fw_error *err)
{
    fw_track *track = NULL;
    fw_status status = fw_track_new(data, &track, err);
    assert_true((track != NULL) == (status == FW_OK));
    assert_int_equal(err->status, status);
    fw_track_free(track);
    return status;
}

/* Invented. */
static void walks_memory(void **state)
{
    (void)state;
    static char a[] = "A", b[] = "B";
    fw_flat flats[] = {{.name = a, .diameter_mm = 200, .clear_mm = 190},
                       {.name = b, .diameter_mm = 200, .clear_mm = 190}};
    fw_scan scans[] = {{.round = 1}, {.round = 2}};
    fw_work work[] = {{.round = 1, .flat = 0, .hours = 1}};
    fw_sag sag[] = {{1, 0, 50, 0.5, 0.1, NULL, 2}, {1, 1, 50, 0.5, 0.1, NULL, 3}};
    fw_job job = {.nflats = 2, .flats = flats, .flatness_nm = 10, .confidence = 0.95, .nscans = 2,
                  .scans = scans, .nwork = 1, .work = work, .nsag = 2, .sag = sag};
    fw_face faces[] = {
        {.flat = 0, .first_round = 1, .last_round = 1, .figure.pv = {100, 2}},
        {.flat = 0, .state = 1, .first_round = 2, .last_round = 2, .figure.pv = {80, 2}},
        {.flat = 1, .first_round = 1, .last_round = 2, .figure.pv = {60, 2}}};
    int today[] = {1, 2};
    fw_result result = {.job = &job, .round = 2, .nfaces = 3, .faces = faces, .today = today};
    assert_in_range(refuse_each(look_back, &result, FW_OK, REFUSE_SPARE_NONE), 11, 40);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(walks_memory)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
