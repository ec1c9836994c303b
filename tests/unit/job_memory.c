/* job_memory.c - every way of running out of memory while a job is read is walked. */

/*
 * The four calls of alloc.h are defined here, so that the linker leaves the library's own out: the
 * n-th request for memory fails, n grows until a run succeeds, and nothing may be left over.
 */
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "../support/close.h"
#include "../support/folder.h"
#include "flatwright/alloc.h"

static long countdown; /* requests that succeed before one is refused */
static bool once;      /* one is refused, or all that follow as well */
static bool refused;
static long alive;

static bool may_have(void)
{
    if (countdown > 0 || (once && refused)) {
        countdown--;
        return true;
    }
    refused = true;
    return false;
}

void *fw_alloc(size_t count, size_t size)
{
    void *memory = may_have() ? calloc(count ? count : 1, size ? size : 1) : NULL;
    alive += memory != NULL;
    return memory;
}

void *fw_resize(void *old, size_t count, size_t size)
{
    void *memory = may_have() ? realloc(old, count * size) : NULL;
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

/*
 * Reads with the n-th request refused, for n = 0, 1, 2, ...; returns how many runs met that. Where
 * a single one is refused libcsv asks again for less, and the run may still end well.
 */
static int walk(const folder *at, fw_status at_last)
{
    for (long n = 0; n < 1000; n++) {
        fw_job *job = NULL;
        fw_faults faults;
        fw_error err = {FW_OK, ""};
        countdown = n;
        refused = false;
        fw_status status = fw_job_read(at->path, &job, &faults, &err);
        bool has_job = job != NULL;
        fw_faults_release(&faults);
        fw_job_free(job);
        assert_int_equal(alive, 0);
        assert_true(has_job == (status == FW_OK));
        if (!refused || !once || status != at_last)
            assert_int_equal(status, refused ? FW_SYSTEM : at_last);
        assert_int_equal(err.status, status);
        if (!refused)
            return (int)n;
    }
    fail_msg("a thousand requests were not enough");
    return 0;
}

static void check_walk(const folder *at, fw_status at_last, int least)
{
    once = true;
    assert_true(walk(at, at_last) > least);
    once = false;
    assert_true(walk(at, at_last) > least);
}

static void write_tables(const folder *at)
{
    folder_write(at, "readings.csv",
                 "bottom,top,turn_deg,diameter_deg,position_mm,deviation,scan\n"
                 "A,B,0,0,1,1,a\nA,C,0,0,1,1,b\nA,B,0,0,2,1,a\n");
    folder_write(at, "work.csv", "round,flat,hours,method,note\n1,A,1,grind,x\n1,B,1,grind,\n");
    folder_write(at, "sag.csv", "round,flat,ring_mm,sag_um,note\n1,A,60,1,x\n1,B,60,1,\n");
}

static void test_good_job(void **state)
{
    folder at = folder_make();
    (void)state;
    folder_write(&at, "job.ini", PLAIN_INI "title = x\n[plan]\nturns = 0 90\n[flat B]\nbore = 1\n");
    write_tables(&at);
    check_walk(&at, FW_OK, 30);
    folder_remove(&at);
}

static void test_faulty_job(void **state)
{
    folder at = folder_make();
    (void)state;
    folder_write(&at, "job.ini", PLAIN_INI "bor = x\n[flat D]\nbore = 1\n");
    write_tables(&at);
    folder_write(&at, "work.csv", "round,flat,hours,method,note\n1,D,1,grind,x\n1,B,x,grind,\n");
    check_walk(&at, FW_INPUT, 20);
    folder_remove(&at);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_good_job),
                                       cmocka_unit_test(test_faulty_job)};
    return cmocka_run_group_tests_name("job_memory", tests, NULL, NULL);
}
