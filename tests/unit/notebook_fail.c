/* notebook_fail.c - files and memory fail while a job is made, read, added to: nothing is lost. */
#define _XOPEN_SOURCE 700
#include <dirent.h>
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "../support/close.h"
#include "../support/fail.h"
#include "../support/folder.h"
#include "../support/refuse.h"
#include "flatwright/file.h"
#include "flatwright/intake.h"
#include "flatwright/notebook.h"

#define INI PLAIN_INI "[light]\nsource = mercury-green\n[readings]\nunit = fringe\n"
#define ROW "A,B,0,0,1,0.5\n"
#define ADDED "A,B,0,22.5,-90,-0.25\nA,B,0,22.5,90,-0.25\n"
#define SIDE ".readings.csv.adding"

static const char *place(const folder *at, const char *name)
{
    static char path[2][120];
    static int turn;
    turn = !turn;
    snprintf(path[turn], sizeof path[turn], "%s/%s", at->path, name);
    return path[turn];
}

static bool holds(const folder *at, const char *name, const char *text)
{
    char got[4096];
    FILE *in = fopen(place(at, name), "rb");
    size_t n = in ? fread(got, 1, sizeof got - 1, in) : 0;
    got[n] = '\0';
    if (in)
        fclose(in);
    return in && strcmp(got, text) == 0;
}

/* Entries of the folder, hidden ones too. */
static int entries(const folder *at)
{
    int count = -2; /* . and .. */
    DIR *listing = opendir(at->path);
    assert_non_null(listing);
    while (readdir(listing))
        count++;
    closedir(listing);
    return count;
}

/* Both ways, as both calls are of one shape. */
static void walk(fail_call *call, const folder *at, int faults, int requests)
{
    assert_true(fail_each(call, (void *)at, FW_OK) >= faults);
    assert_true(refuse_each(call, (void *)at, FW_OK, REFUSE_SPARE_ONE) >= requests);
}

static fw_status replace(void *data, fw_error *err)
{
    const folder *at = data;
    fw_draft draft;
    fw_status status = fw_draft_open(place(at, "f"), &draft, err);
    if (status == FW_OK) {
        fputs("new", draft.out);
        status = fw_draft_commit(&draft, err);
    }
    fail_rest();
    assert_true(holds(at, "f", status ? "old" : "new"));
    assert_int_equal(entries(at), 1);
    folder_write(at, "f", "old");
    return status;
}

static fw_status make_file(void *data, fw_error *err)
{
    const folder *at = data;
    fw_draft draft;
    fw_status status = fw_draft_open(place(at, "f"), &draft, err);
    if (status == FW_OK) {
        fputs("new", draft.out);
        status = fw_draft_commit(&draft, err);
    }
    fail_rest();
    assert_int_equal(entries(at), status ? 0 : 1);
    folder_write(at, "f", NULL);
    return status;
}

static void drafts(void **state)
{
    (void)state;
    folder at = folder_make();
    walk(make_file, &at, 20, 2);
    folder_write(&at, "f", "old");
    walk(replace, &at, 25, 2);
    folder_remove(&at);
}

static fw_status write_null(void *data, fw_error *err)
{
    (void)data;
    fw_draft draft;
    fw_status status = fw_draft_open("/dev/null", &draft, err);
    if (status == FW_OK) {
        fputs("new", draft.out);
        status = fw_draft_commit(&draft, err);
    }
    return status;
}

static void devices(void **state)
{
    (void)state;
    walk(write_null, NULL, 10, 1);
}

static fw_status read_job(void *data, fw_error *err)
{
    const folder *at = data;
    fw_job *job = NULL;
    fw_faults faults;
    fw_status status = fw_job_read(at->path, &job, &faults, err);
    fw_faults_release(&faults);
    assert_true((job != NULL) == (status == FW_OK));
    fw_job_free(job);
    return status;
}

static void jobs_read(void **state)
{
    (void)state;
    folder at = folder_make();
    folder_write(&at, "job.ini", INI);
    folder_write(&at, "readings.csv", PLAIN_HEADER ROW);
    folder_write(&at, "work.csv", "round,flat,hours,method,note\n1,A,1,grind,x\n");
    folder_write(&at, "sag.csv", "round,flat,ring_mm,sag_um\n1,A,60,1\n");
    walk(read_job, &at, 60, 20);
    folder_remove(&at);
}

/* A job in a folder that is there, and in one that is made. */
static fw_status make_in(void *data, fw_error *err)
{
    const folder *at = data;
    fw_status status = fw_job_new(at->path, err);
    fail_rest();
    int files = entries(at);
    assert_true(status ? files == 0 || fail_goes_on() : files > 1);
    folder_remove(at);
    assert_int_equal(mkdir(at->path, 0777), 0);
    return status;
}

static fw_status make_below(void *data, fw_error *err)
{
    const folder *at = data;
    folder below;
    assert_true(snprintf(below.path, sizeof below.path, "%s/n", at->path) < (int)sizeof below.path);
    fw_status status = fw_job_new(below.path, err);
    fail_rest();
    assert_true(access(below.path, F_OK) == (status ? -1 : 0));
    if (!fail_goes_on())
        assert_int_equal(entries(at), status ? 0 : 1);
    folder_remove(at);
    assert_int_equal(mkdir(at->path, 0777), 0);
    return status;
}

static void jobs_made(void **state)
{
    (void)state;
    folder at = folder_make();
    walk(make_in, &at, 60, 0);
    walk(make_below, &at, 60, 1);
    folder_remove(&at);
}

static fw_entry entry_of(double position)
{
    return (fw_entry){.round = 1, .top = 1, .diameter_deg = 22.5, .position_mm = position,
                      .deviation = -0.25, .unit = FW_UNIT_FRINGE, .sigma = NAN, .label = "",
                      .note = ""};
}

/* The readings as before or complete, once what was cut off has been mended. */
static void settle(const folder *at, const char *before, const char *after, fw_status status)
{
    fail_rest();
    refuse_rest();
    fw_notebook_mend(at->path);
    if (status == FW_OK)
        assert_true(holds(at, "readings.csv", after));
    else
        assert_true(holds(at, "readings.csv", before) || holds(at, "readings.csv", after));
    folder_write(at, SIDE, NULL);
    assert_int_equal(entries(at), 2);
    folder_write(at, "readings.csv", before);
}

static fw_status add(void *data, fw_error *err)
{
    const folder *at = data;
    const fw_entry two[] = {entry_of(-90), entry_of(90)};
    fw_job *job = NULL;
    fw_notebook *nb = NULL;
    fw_faults faults;
    fw_status status = fw_job_read_set(at->path, &job, &faults, err);
    if (status == FW_OK)
        status = fw_notebook_open(job, &nb, err);
    if (status == FW_OK)
        status = fw_notebook_add(nb, two, 2, true, err);
    fw_notebook_close(nb);
    fw_job_free(job);
    fw_faults_release(&faults);
    settle(at, PLAIN_HEADER ROW, PLAIN_HEADER ROW ADDED, status);
    return status;
}

static fw_status correct(void *data, fw_error *err)
{
    const folder *at = data;
    const fw_entry old = entry_of(90), better = entry_of(80);
    fw_job *job = NULL;
    fw_notebook *nb = NULL;
    fw_faults faults;
    fw_status status = fw_job_read_set(at->path, &job, &faults, err);
    if (status == FW_OK)
        status = fw_notebook_open(job, &nb, err);
    if (status == FW_OK)
        status = fw_notebook_correct(nb, &old, &better, 1, err);
    fw_notebook_close(nb);
    fw_job_free(job);
    fw_faults_release(&faults);
    settle(at, PLAIN_HEADER "A,B,0,22.5,90,-0.25\n", PLAIN_HEADER "A,B,0,22.5,80,-0.25\n", status);
    return status;
}

static fw_status plan(void *data, fw_error *err)
{
    const folder *at = data;
    fw_job *job = NULL;
    fw_notebook *nb = NULL;
    fw_faults faults;
    fw_status status = fw_job_read_set(at->path, &job, &faults, err);
    if (status == FW_OK)
        status = fw_notebook_open(job, &nb, err);
    if (status == FW_OK)
        status = fw_notebook_set_stations(nb, (const double[]){-90, 0, 90}, 3, err);
    fw_notebook_close(nb);
    fw_job_free(job);
    fw_faults_release(&faults);
    settle(at, PLAIN_HEADER ROW, PLAIN_HEADER ROW "# stations: -90 0 90\n", status);
    return status;
}

static void notebooks(void **state)
{
    (void)state;
    folder at = folder_make();
    folder_write(&at, "job.ini", INI);
    folder_write(&at, "readings.csv", PLAIN_HEADER ROW);
    walk(add, &at, 60, 10);
    walk(plan, &at, 60, 10);
    folder_write(&at, "readings.csv", PLAIN_HEADER "A,B,0,22.5,90,-0.25\n");
    walk(correct, &at, 60, 10);
    folder_remove(&at);
}

/* Lays what a program left behind that was cut off in the middle of a row. */
static void cut_off(const folder *at)
{
    char side[200];
    snprintf(side, sizeof side, "flatwright adds %zu bytes at %zu\n" ROW, strlen(ROW),
             strlen(PLAIN_HEADER));
    folder_write(at, SIDE, side);
    folder_write(at, "readings.csv", PLAIN_HEADER "A,B,");
}

static fw_status mend(void *data, fw_error *err)
{
    const folder *at = data;
    (void)err;
    fw_notebook_mend(at->path);
    settle(at, PLAIN_HEADER ROW, PLAIN_HEADER ROW, FW_OK);
    cut_off(at);
    return FW_OK;
}

static void mending(void **state)
{
    (void)state;
    folder at = folder_make();
    folder_write(&at, "job.ini", INI);
    cut_off(&at);
    assert_true(fail_each(mend, &at, FW_OK) > 20);
    folder_remove(&at);
}

static fw_status take_in(void *data, fw_error *err)
{
    fw_job *job = data;
    char path[200];
    snprintf(path, sizeof path, "%s/sheet.csv", job->folder);
    fw_intake *intake = NULL;
    fw_faults faults;
    fw_status status = fw_intake_read(path, job, &(fw_intake_options){0}, &intake, &faults, err);
    assert_true((intake != NULL) == (status == FW_OK));
    if (status == FW_OK)
        status = fw_intake_drop_known(intake, job, err);
    fw_intake_free(intake);
    fw_faults_release(&faults);
    return status;
}

static void sheets(void **state)
{
    (void)state;
    folder at = folder_make();
    folder_write(&at, "job.ini", INI);
    folder_write(&at, "readings.csv", PLAIN_HEADER ROW);
    fw_job *job = folder_job(&at);
    folder_write(&at, "sheet.csv",
                 "pair,A/B,A/B,A/C,\nturn,0,90,0\ndiameter,0,0,0\nunit,nm,fringe,nm\n"
                 "scan,a,b,c\n1,10,2,30\n2,11,3,31\nsome words\n\npair,B/C\n1,5\n1,5\n");
    assert_true(fail_each(take_in, job, FW_OK) > 10);
    assert_true(refuse_each(take_in, job, FW_OK, REFUSE_SPARE_NONE) > 10);
    folder_write(&at, "sheet.csv", "lower,upper,rotation,angle,station (cm),nm,note,scan,skip\n"
                                   "A,B,0,0,1,5,x,a,\nB,C,0,0,1,5,x,a,1\nB,C,0,0,1,5,x,a,\n");
    assert_true(refuse_each(take_in, job, FW_OK, REFUSE_SPARE_ONE) > 10);
    fw_job_free(job);
    folder_remove(&at);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(drafts),    cmocka_unit_test(devices),   cmocka_unit_test(jobs_read),
        cmocka_unit_test(jobs_made), cmocka_unit_test(notebooks), cmocka_unit_test(mending),
        cmocka_unit_test(sheets)};
    return cmocka_run_group_tests_name("notebook_fail", tests, NULL, NULL);
}
