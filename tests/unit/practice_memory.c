/* practice_memory.c - no memory, or no disk, while readings are made up: no job, or a whole one. */
#include <dirent.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "../support/close.h"
#include "../support/fail.h"
#include "../support/folder.h"
#include "../support/refuse.h"
#include "flatwright/rehearse.h"

typedef struct task {
    const fw_rehearsal *rehearsal;
    char to[60];
} task;

/* Takes the files of a folder away and counts them, without the hidden ones. */
static int empty(const char *path)
{
    char name[400];
    int count = 0;
    DIR *dir = opendir(path);
    for (struct dirent *e; dir && (e = readdir(dir)) != NULL;)
        if (strcmp(e->d_name, ".") != 0 && strcmp(e->d_name, "..") != 0) {
            snprintf(name, sizeof name, "%s/%s", path, e->d_name);
            unlink(name);
            count += e->d_name[0] != '.';
        }
    if (dir) {
        closedir(dir);
        rmdir(path);
    }
    return count;
}

static fw_status practise(void *data, fw_error *err)
{
    const task *t = data;
    fw_status status = fw_practice(t->rehearsal, 7, t->to, NULL, err);
    refuse_rest();
    fail_rest();
    int files = empty(t->to);
    assert_int_equal(files, status ? 0 : 5);
    return status;
}

static void into_a_new_folder(void **state)
{
    (void)state;
    fw_mate mates[] = {{0, 1, 0}, {1, 2, 0}, {2, 0, 0}};
    double diameter = 0, at[] = {-90, 10, 90};
    fw_scheme scheme = {3, mates, 1, &diameter, 3, at, 1.5, FW_MODEL_AUTO};
    folder from = folder_make();
    task t = {0};
    fw_rehearsal *r = NULL;
    folder_write(&from, "job.ini", PLAIN_INI);
    folder_write(&from, "readings.csv", PLAIN_HEADER);
    fw_job *job = folder_job(&from);
    assert_int_equal(fw_rehearse(job, &scheme, &r, NULL), FW_OK);
    t.rehearsal = r;
    snprintf(t.to, sizeof t.to, "%s/new", from.path);
    assert_true(refuse_each(practise, &t, FW_OK, REFUSE_SPARE_NONE) > 50);
    assert_true(fail_each(practise, &t, FW_OK) > 20);
    fw_rehearsal_free(r);
    fw_job_free(job);
    folder_remove(&from);
}

/* The next round behind an earlier one: the files that grow, as they were before. */
typedef struct next {
    const fw_rehearsal *rehearsal;
    const folder *at;
    char *readings, *truth;
} next;

static char *slurp(const folder *at, const char *name)
{
    enum { ROOM = 100000 };
    char path[100], *text = calloc(1, ROOM);
    snprintf(path, sizeof path, "%s/%s", at->path, name);
    FILE *in = fopen(path, "r");
    assert_non_null(in);
    assert_true(fread(text, 1, ROOM - 1, in) < ROOM - 1);
    assert_int_equal(fclose(in), 0);
    return text;
}

/* Rows of readings that are no comment, the header among them. */
static int rows(const char *text)
{
    int n = 0;
    for (; *text; text += strcspn(text, "\n") + 1)
        n += *text != '#' && *text != '\n';
    return n;
}

static fw_status practise_on(void *data, fw_error *err)
{
    const next *n = data;
    char side[100];
    fw_practised done = {0};
    fw_status status = fw_practice(n->rehearsal, 7, NULL, &done, err);
    refuse_rest();
    fail_rest();
    char *readings = slurp(n->at, "readings.csv"), *truth = slurp(n->at, "truth.csv");
    bool grown = strcmp(readings, n->readings) != 0;
    if (!status)
        assert_true(done.went_on && done.round == 2 && done.nreadings == 9 && grown);
    if (grown) { /* all of them, behind what was there */
        assert_memory_equal(readings, n->readings, strlen(n->readings));
        assert_int_equal(rows(readings), rows(n->readings) + 9);
    }
    assert_true(strcmp(truth, n->truth) == 0 || strstr(truth, "in round 2"));
    assert_true(grown || strcmp(truth, n->truth) == 0); /* no truth ahead of its readings */
    free(readings);
    free(truth);
    snprintf(side, sizeof side, "%s/.readings.csv.adding", n->at->path);
    unlink(side); /* else what was broken off is completed the next time */
    folder_write(n->at, "readings.csv", n->readings);
    folder_write(n->at, "truth.csv", n->truth);
    return status;
}

static void behind_what_is_there(void **state)
{
    fw_mate mates[] = {{0, 1, 0}, {1, 2, 0}, {2, 0, 0}};
    double diameter = 0, at[] = {-90, 10, 90};
    fw_scheme scheme = {3, mates, 1, &diameter, 3, at, 1.5, FW_MODEL_AUTO};
    folder here = folder_make();
    fw_rehearsal *r = NULL;
    (void)state;
    folder_write(&here, "job.ini", PLAIN_INI);
    folder_write(&here, "readings.csv", PLAIN_HEADER);
    fw_job *job = folder_job(&here);
    assert_int_equal(fw_rehearse(job, &scheme, &r, NULL), FW_OK);
    assert_int_equal(fw_practice(r, 7, NULL, NULL, NULL), FW_OK);
    folder_write(&here, "work.csv", "round,flat,hours,method\n1,A,0.5,lap-on-top\n");
    next n = {r, &here, slurp(&here, "readings.csv"), slurp(&here, "truth.csv")};
    assert_true(refuse_each(practise_on, &n, FW_OK, REFUSE_SPARE_NONE) > 50);
    assert_true(fail_each(practise_on, &n, FW_OK) > 20);
    free(n.readings);
    free(n.truth);
    fw_rehearsal_free(r);
    fw_job_free(job);
    folder_remove(&here);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(into_a_new_folder),
                                       cmocka_unit_test(behind_what_is_there)};
    return cmocka_run_group_tests_name("practice_memory", tests, NULL, NULL);
}
