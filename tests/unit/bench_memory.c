/* bench_memory.c - every way to run out of memory in solving a set on a bench. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "../support/close.h"
#include "../support/simulate.h"
#include "flatwright/alloc.h"
#include "flatwright/result.h"

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

static void no_memory(void **state)
{
    (void)state;
    const double x[5] = {-80, -30, 0, 30, 80};
    sim s;
    fw_result *r = NULL;
    fw_status status = FW_SYSTEM;
    int requests = 0;
    sim_init(&s, 3, 200, 1);
    s.sigma_nm = s.stated_nm = 1;
    for (int k = 0; k < 3; k++) {
        s.job->flats[k].thickness_mm = 20 + k;
        s.job->flats[k].glass = (fw_glass){"soda-lime", 72, 0.22, 2500, 8.5, 0.9, 800};
        sim_scan(&s, 1, k, (k + 1) % 3, 0, 0, 5, x);
        sim_scan(&s, 1, (k + 1) % 3, k, 0, 0, 5, x);
    }
    s.job->support_bottom = s.job->support_top = (fw_support){FW_SUPPORT_THREE, 70, 10};
    s.job->bending = FW_BENDING_SOLVE;
    s.job->gradient_k = 0.1;
    s.job->gap_um = 10;
    s.job->eye_mm = 1000;
    int before = held;
    for (; status; requests += requests < 200 ? 1 : 101) { /* later ones are more of the same */
        fw_error err = {0};
        allowed = requests;
        status = fw_solve(s.job, NULL, &r, &err);
        if (status) {
            assert_int_equal(status, FW_SYSTEM);
            assert_non_null(strstr(err.text, "memory"));
            assert_null(r);
            assert_int_equal(held, before);
        }
    }
    allowed = -1;
    assert_true(requests > 1000);
    fw_result_free(r);
    assert_int_equal(held, before);
    sim_release(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(no_memory)};
    return cmocka_run_group_tests_name("bench_memory", tests, NULL, NULL);
}
