/* dialog_fail.c - memory and files fail in the middle of a talk: what was accepted stays. */
#include <stdio.h>
#include <string.h>

#include "../support/close.h"
#include "../support/fail.h"
#include "../support/refuse.h"
#include "../support/talk.h"

#define STATIONS "# stations: -80 0 80\n"
#define ROWS ",1,A,B,0,0,-80,0.1\n,1,A,B,0,0,0,0.2\n"

/* A talk of which only the folder and the screen last. */
typedef struct sitting {
    folder at;
    fw_job *job;
    FILE *nowhere;
    const char *ini, *readings;
} sitting;

/* Rows are whole: what is left is read without a fault. */
static void lay_again(const sitting *s)
{
    fail_rest();
    refuse_rest();
    fw_notebook_mend(s->at.path);
    assert_string_equal(folder_faults(&s->at), "");
    folder_write(&s->at, ".readings.csv.adding", NULL);
    folder_write(&s->at, "readings.csv", s->readings);
}

static fw_status sit(void *data, fw_error *err)
{
    static const char *const lines[] = {"A B", "0",    "0", "a",   "1",  "back",  "1.5", "skip",
                                        "flip", "2",   "a", "",    "BC", "B C",   "",    "",
                                        "1 2",  "again", "5", "stop"};
    const sitting *s = data;
    fw_screen screen = {.out = s->nowhere, .columns = 80};
    fw_notebook *notebook = NULL;
    fw_dialog *dialog = NULL;
    fw_status status = fw_notebook_open(s->job, &notebook, err);
    if (status == FW_OK)
        status = fw_dialog_new(s->job, notebook, &screen, &(fw_dialog_options){0, true}, &dialog,
                               err);
    for (size_t i = 0; dialog && i < sizeof lines / sizeof *lines; i++)
        fw_dialog_line(dialog, lines[i]);
    fw_dialog_free(dialog);
    fw_notebook_close(notebook);
    lay_again(s);
    return status;
}

static void walk(const char *readings)
{
    sitting s = {.at = folder_make(), .nowhere = fopen("/dev/null", "w"), .readings = readings};
    assert_non_null(s.nowhere);
    folder_write(&s.at, "job.ini", TALK_INI);
    folder_write(&s.at, "readings.csv", readings);
    s.job = folder_job(&s.at);
    assert_true(fail_each(sit, &s, FW_OK) > 100);
    assert_true(refuse_each(sit, &s, FW_OK, REFUSE_SPARE_ALL) > 100);
    fw_job_free(s.job);
    fclose(s.nowhere);
    folder_remove(&s.at);
}

static void test_new_set(void **state)
{
    (void)state;
    walk(PLAIN_HEADER STATIONS); /* without a column for repeats */
}

static void test_unfinished(void **state)
{
    (void)state;
    walk(TALK_HEADER STATIONS ROWS);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_new_set),
                                       cmocka_unit_test(test_unfinished)};
    return cmocka_run_group_tests_name("dialog_fail", tests, NULL, NULL);
}
