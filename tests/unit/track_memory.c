/* track_memory.c - every way of running out of memory while looking back is walked. */

/*
 * The calls of alloc.h are defined here, so that the linker leaves the library's own out: the n-th
 * request for memory and all after it fail, n grows until a run succeeds, and nothing is left over.
 */
#include <stdlib.h>
#include <string.h>

#include "../support/close.h"
#include "flatwright/alloc.h"
#include "flatwright/track.h"

static long countdown, alive;

void *fw_alloc(size_t count, size_t size)
{
    void *memory = countdown-- > 0 ? calloc(count ? count : 1, size ? size : 1) : NULL;
    alive += memory != NULL;
    return memory;
}

void *fw_resize(void *old, size_t count, size_t size)
{
    void *memory = countdown-- > 0 ? realloc(old, count * size) : NULL;
    alive += memory && !old;
    return memory;
}

char *fw_copy_text(const char *text)
{
    size_t size = strlen(text) + 1;
    char *copy = fw_alloc(size, 1);
    return copy ? memcpy(copy, text, size) : NULL;
}

void fw_free(void *memory)
{
    alive -= memory != NULL;
    free(memory);
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
    fw_status status = FW_SYSTEM;
    int refused = 0;
    for (; status != FW_OK && refused < 100; refused++) {
        fw_track *track = NULL;
        fw_error err = {FW_OK, ""};
        countdown = refused;
        status = fw_track_new(&result, &track, &err);
        assert_true((track != NULL) == (status == FW_OK));
        assert_int_equal(err.status, status);
        fw_track_free(track);
        assert_int_equal(alive, 0);
    }
    assert_int_equal(status, FW_OK);
    assert_in_range(refused, 12, 20); /* as many as there are pieces to ask for */
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(walks_memory)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
