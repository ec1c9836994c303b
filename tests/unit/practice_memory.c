/* practice_memory.c - no memory, or no disk, while readings are made up: no job, or a whole one. */
#include <dirent.h>
#include <stdio.h>
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

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(into_a_new_folder)};
    return cmocka_run_group_tests_name("practice_memory", tests, NULL, NULL);
}
