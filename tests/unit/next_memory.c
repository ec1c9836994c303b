/* next_memory.c - every way to run out of memory in the advice what to read next. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "../support/close.h"
#include "../support/simulate.h"
#include "flatwright/alloc.h"
#include "flatwright/next.h"

/* These stand in for src/base/alloc.c: the first `allowed` requests succeed. */
static int allowed = -1, held;

static bool granted(void)
{
    return allowed < 0 || allowed-- > 0; /* never gets below 0 by itself */
}

void *fw_alloc(size_t count, size_t size)
{
    void *memory = granted() ? calloc(count ? count : 1, size ? size : 1) : NULL;
    held += memory != NULL;
    return memory;
}

void *fw_resize(void *old, size_t count, size_t size)
{
    void *memory = granted() ? realloc(old, (count ? count : 1) * size) : NULL;
    held += memory != NULL && old == NULL;
    return memory;
}

char *fw_copy_text(const char *text)
{
    char *copy = fw_alloc(strlen(text) + 1, 1);
    return copy ? memcpy(copy, text, strlen(text) + 1) : NULL;
}

void fw_free(void *memory)
{
    held -= memory != NULL;
    free(memory);
}

/* Two flats only, with a lost reading: nothing is ever told apart; three: repeats of a pairing do. */
static void walk(int nflats, double target, bool possible)
{
    sim s;
    double x[4] = {-80, -30, 30, 80};
    fw_result *r = NULL;
    fw_next *next = NULL;
    fw_status status = FW_SYSTEM;
    int requests = 0;
    sim_init(&s, nflats, 200, 1);
    s.sigma_nm = s.stated_nm = 1;
    s.job->flatness_nm = target;
    for (int k = 0; k < nflats; k++) {
        if (nflats == 2)
            x[0] = k ? -80 : NAN;
        sim_scan(&s, 1, k, (k + 1) % nflats, 0, 0, 4, x);
    }
    assert_int_equal(fw_solve(s.job, NULL, &r, NULL), FW_OK);
    int before = held;
    for (; status; requests += requests < 400 ? 1 : 23) { /* later ones are more of the same */
        fw_error err = {0};
        allowed = requests;
        status = fw_next_pairing(r, &next, &err);
        if (status) {
            assert_int_equal(status, FW_SYSTEM);
            assert_string_equal(err.text, "out of memory");
            assert_null(next);
            assert_int_equal(held, before);
        }
    }
    allowed = -1;
    assert_true(requests > 100);
    assert_int_equal(next->enough.possible, possible);
    assert_false(next->enough.already);
    fw_next_free(next);
    assert_int_equal(held, before);
    fw_result_free(r);
    sim_release(&s);
}

static void no_memory(void **state)
{
    (void)state;
    walk(2, 10, false);
    walk(3, 0.1, true);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(no_memory)};
    return cmocka_run_group_tests_name("next_memory", tests, NULL, NULL);
}
