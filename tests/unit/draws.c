/* draws.c - random draws are those of the library, and running out of memory is said. */
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "../support/close.h"
#include "base/draws.h"
#include "flatwright/alloc.h"

static bool short_of_memory;

/* In place of the library's own. */
void *fw_alloc(size_t count, size_t size)
{
    return short_of_memory ? NULL : calloc(count, size);
}

void *fw_resize(void *old, size_t count, size_t size)
{
    return realloc(old, count * size);
}

char *fw_copy_text(const char *text)
{
    return strdup(text);
}

void fw_free(void *memory)
{
    free(memory);
}

static void test_same_as_the_library(void **state)
{
    gsl_rng *own = draws_new(42), *theirs = gsl_rng_alloc(gsl_rng_mt19937);
    (void)state;
    gsl_rng_set(theirs, 42);
    assert_non_null(own);
    for (int i = 0; i < 2000; i++)
        assert_true(gsl_rng_get(own) == gsl_rng_get(theirs));
    gsl_rng_free(theirs);
    draws_free(own);
    draws_free(NULL);
}

static void test_no_memory(void **state)
{
    (void)state;
    short_of_memory = true;
    assert_null(draws_new(42));
    short_of_memory = false;
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_same_as_the_library),
        cmocka_unit_test(test_no_memory),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
