/* job.c - a folder as a whole: work and sags, rounds and states, laying one, junk, strange files. */
#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "../support/close.h"
#include "../support/folder.h"

static folder plain_folder(void)
{
    folder at = folder_make();
    folder_write(&at, "job.ini", PLAIN_INI "[flat B]\nbore = 30 mm\n");
    folder_write(&at, "readings.csv", PLAIN_HEADER);
    return at;
}

static void check(const char *name, const char *text, const char *expected)
{
    folder at = plain_folder();
    folder_write(&at, name, text);
    const char *found = folder_faults(&at);
    folder_remove(&at);
    assert_string_equal(found, expected);
}

static void test_work(void **state)
{
    folder at = plain_folder();
    (void)state;
    folder_write(&at, "work.csv",
                 "round,flat,hours,method,inner_mm,outer_mm,side_deg,stroke,note\n"
                 "1,A,0.5,lap-on-top,,,,0.33,slow\n2,B,0,ring,15,100,,,\n"
                 "2,A,1,side,20,60,-30,,\n1,C,2,grind,,,,2,\n");
    fw_job *job = folder_job(&at);
    folder_remove(&at);
    assert_int_equal(job->nwork, 4);
    assert_int_equal(job->work[0].flat, 0);
    assert_int_equal(job->work[0].method, FW_LAP_ON_TOP);
    assert_close(job->work[0].hours, 0.5, 0, 0);
    assert_close(job->work[0].stroke, 0.33, 0, 0);
    assert_true(isnan(job->work[0].inner_mm) && isnan(job->work[0].side_deg));
    assert_string_equal(job->work[0].note, "slow");
    assert_int_equal(job->work[1].method, FW_RING);
    assert_close(job->work[1].outer_mm, 100, 0, 0);
    assert_int_equal(job->work[2].method, FW_SIDE);
    assert_close(job->work[2].side_deg, -30, 0, 0);
    assert_string_equal(job->work[3].note, "");
    assert_int_equal(job->work[3].line, 5);

    assert_int_equal(fw_job_round(job), 3); /* after the work of round 2 */
    const int states[3][4] = {{0, 1, 2, 2}, {0, 0, 1, 1}, {0, 1, 1, 1}};
    for (int flat = 0; flat < 3; flat++)
        for (int round = 1; round <= 4; round++)
            assert_int_equal(fw_job_state(job, flat, round), states[flat][round - 1]);
    fw_job_free(job);
}

static void test_work_faults(void **state)
{
    (void)state;
    check(
        "work.csv",
        "round,flat,hours,method,inner_mm,outer_mm,side_deg,stroke\n"
        ",A,1,grind,,,,\n1,,1,grind,,,,\n1,A,,grind,,,,\n1,A,1,,,,,\n1,D,1,grind,,,,\n"
        "1,A,-1,grind,,,,\n1,A,1,lap on top,,,,\n1,A,1,ring,,50,,\n1,A,1,ring,50,50,,\n"
        "1,A,1,ring,50,101,,\n1,A,1,side,,,,\n1,A,1,grind,,,,0\n1,A,1,grind,,,,2.1\n"
        "1,A,1,grind,-1,,,\n1,A,1,other,101,,,\n",
        "work.csv:2:1: round is empty, expected a whole number from 1 to 9999\n"
        "work.csv:3:3: flat is empty, expected the name of a flat\n"
        "work.csv:4:5: hours is empty, expected hours, 0 or more\n"
        "work.csv:5:7: method is empty, expected lap-on-top, flat-on-top, ring, side, grind or "
        "other\n"
        "work.csv:6:3: unknown flat 'D', expected A, B or C\n"
        "work.csv:7:5: hours is -1, expected hours, 0 or more\n"
        "work.csv:8:7: unknown method 'lap on top', expected lap-on-top, flat-on-top, ring, side, "
        "grind or other, did you mean 'lap-on-top'?\n"
        "work.csv:9:7: method 'ring' without its radii, expected inner_mm and outer_mm\n"
        "work.csv:10:12: inner_mm is 50, expected less than outer_mm, 50\n"
        "work.csv:11:15: outer_mm is 101, outside the flat, expected at most 100\n"
        "work.csv:12:7: method 'side' without its angle, expected side_deg\n"
        "work.csv:13:16: stroke is 0, expected a fraction of the diameter, above 0 up to 2\n"
        "work.csv:14:16: stroke is 2.1, expected a fraction of the diameter, above 0 up to 2\n"
        "work.csv:15:13: inner_mm is -1, expected a radius in mm, 0 or more\n"
        "work.csv:16:13: inner_mm is 101, outside the flat, expected less than 100\n");
    check("work.csv", "round,flat,hours,method,note\n1,A,1,grind,\xB5\n",
          "work.csv:2:13: note '\\xb5' is not UTF-8 text\n");
    check("work.csv", "", "work.csv:1:0: is empty, expected a header line\n");
}

static void test_sag(void **state)
{
    folder at = plain_folder();
    (void)state;
    folder_write(&at, "sag.csv",
                 "round,flat,ring_mm,sag_um,sigma_um,note\n1,A,60,-1.5,0.5,wet\n"
                 "2,B,15,0,,\n");
    fw_job *job = folder_job(&at);
    folder_remove(&at);
    assert_int_equal(job->nsag, 2);
    assert_close(job->sag[0].sag_um, -1.5, 0, 0);
    assert_close(job->sag[0].sigma_um, 0.5, 0, 0);
    assert_string_equal(job->sag[0].note, "wet");
    assert_int_equal(job->sag[1].flat, 1);
    assert_int_equal(job->sag[1].round, 2);
    assert_close(job->sag[1].ring_mm, 15, 0, 0);
    assert_true(isnan(job->sag[1].sigma_um));
    assert_int_equal(job->sag[1].line, 3);
    fw_job_free(job);
    check("sag.csv",
          "round,flat,ring_mm,sag_um,sigma_um\n1,A,0,1,\n1,A,101,1,\n1,B,14,1,\n1,A,50,2e5,\n"
          "1,A,50,1,0\n0,A,50,1,\n",
          "sag.csv:2:5: ring_mm is 0, expected the radius of the legs' circle in mm, above 0\n"
          "sag.csv:3:5: ring_mm is 101, outside the flat, expected at most 100\n"
          "sag.csv:4:5: ring_mm is 14, in the bore of the flat, expected at least 15\n"
          "sag.csv:5:8: sag_um is 200000, expected a sag in um, at most 100 mm\n"
          "sag.csv:6:10: sigma_um is 0, expected a standard uncertainty in um, above 0\n"
          "sag.csv:7:1: round is 0, expected a whole number from 1 to 9999\n");
}

/* All files at once, job.ini first, then by line and column. */
static void test_order(void **state)
{
    folder at = folder_make();
    (void)state;
    folder_write(&at, "job.ini", PLAIN_INI "bor = 1\n[flat D]\n");
    folder_write(&at, "readings.csv", PLAIN_HEADER "A,D,0,0,x,1\n");
    folder_write(&at, "work.csv", "round,flat,hours,method\n1,A,x,grind\n");
    folder_write(&at, "sag.csv", "round,flat,ring,sag_um\n1,A,60,x\n");
    const char *found = folder_faults(&at);
    folder_remove(&at);
    assert_string_equal(
        found, "job.ini:4:1: unknown key 'bor' in [set], did you mean 'bore'?\n"
               "job.ini:5:2: unknown flat 'D', expected A, B or C\n"
               "readings.csv:2:3: unknown flat 'D', expected A, B or C\n"
               "readings.csv:2:9: position_mm 'x' is not a number, expected a place on the "
               "diameter in mm\n"
               "work.csv:2:5: hours 'x' is not a number, expected hours, 0 or more\n"
               "sag.csv:1:0: column 'ring_mm' is missing\n"
               "sag.csv:1:12: unknown column 'ring', did you mean 'ring_mm'?\n"
               "sag.csv:2:8: sag_um 'x' is not a number, expected a sag in um, at most 100 "
               "mm\n");
}

static void test_missing(void **state)
{
    folder at = folder_make(), gone = {"no-such-folder"};
    (void)state;
    assert_string_equal(folder_faults(&at), "job.ini:0:0: is missing, every job has one\n"
                                            "readings.csv:0:0: is missing, every job has one\n");
    folder_remove(&at);
    assert_string_equal(folder_faults(&gone), ":0:0: there is no such folder\n");
    folder file = {"Makefile"};
    assert_string_equal(folder_faults(&file), ":0:0: is a file, expected the folder of a job\n");
    folder none = {""};
    assert_string_equal(folder_faults(&none), ":0:0: there is no such folder\n");
}

static void test_strange_files(void **state)
{
    char path[80];
    folder at = plain_folder();
    (void)state;
    folder_write(&at, "job.ini", NULL);
    snprintf(path, sizeof path, "%s/job.ini", at.path);
    assert_int_equal(mkfifo(path, 0600), 0);
    snprintf(path, sizeof path, "%s/work.csv", at.path);
    assert_int_equal(mkdir(path, 0700), 0);
    snprintf(path, sizeof path, "%s/sag.csv", at.path);
    assert_int_equal(symlink("/dev/zero", path), 0);
    const char *found = folder_faults(&at);
    assert_string_equal(found, "job.ini:0:0: is not a regular file\n"
                               "work.csv:0:0: is a folder, expected a file\n"
                               "sag.csv:0:0: is not a regular file\n");
    folder_remove(&at);
}

static void test_large_settings(void **state)
{
    static char text[(1 << 20) + 2];
    folder at = plain_folder();
    (void)state;
    memset(text, ';', sizeof text - 1);
    folder_write(&at, "job.ini", text);
    assert_string_equal(folder_faults(&at),
                        "job.ini:0:0: is larger than 1 MB, expected a page of text\n");
    folder_remove(&at);
}

static void test_new(void **state)
{
    fw_error err = {FW_OK, ""};
    folder at = folder_make();
    (void)state;
    assert_int_equal(rmdir(at.path), 0);
    assert_int_equal(fw_job_new(at.path, &err), FW_OK); /* makes the folder */
    fw_job *job = folder_job(&at);
    assert_int_equal(job->nflats, 3);
    assert_close(job->flats[0].diameter_mm, 200, 0, 0);
    assert_string_equal(job->flats[0].glass.name, "fused-silica");
    assert_int_equal(job->unit, FW_UNIT_FRINGE);
    assert_int_equal(job->nreadings + job->nwork + job->nsag, 0);
    fw_job_free(job);
    assert_int_equal(fw_job_new(at.path, &err), FW_INPUT);
    folder_remove(&at); /* fails where a draft was left behind: it removes plain files only */
}

/* The text of one of the folder's files. */
static size_t slurp(const folder *at, const char *name, char *text, size_t size)
{
    char path[80];
    snprintf(path, sizeof path, "%s/%s", at->path, name);
    FILE *in = fopen(path, "r");
    assert_non_null(in);
    size_t length = fread(text, 1, size - 1, in);
    fclose(in);
    text[length] = '\0';
    return length;
}

/* Everything that the laid files have switched off, or give as an example, is good as it stands. */
static void test_new_switched_on(void **state)
{
    static char text[20000], on[20000];
    fw_error err;
    folder at = folder_make();
    (void)state;
    assert_int_equal(fw_job_new(at.path, &err), FW_OK);
    size_t length = slurp(&at, "job.ini", text, sizeof text), filled = 0;
    for (size_t i = 0; i < length; i++)
        if (text[i] != ';' || (i > 0 && text[i - 1] != '\n') || strchr(" \n;", text[i + 1]))
            on[filled++] = text[i];
    on[filled] = '\0';
    folder_write(&at, "job.ini", on);
    const char *const names[] = {"readings.csv", "work.csv"};
    for (int i = 0; i < 2; i++) { /* "# 1,A,..." is a row switched off */
        slurp(&at, names[i], text, sizeof text);
        FILE *out = fmemopen(on, sizeof on, "w");
        for (const char *line = strtok(text, "\n"); line; line = strtok(NULL, "\n"))
            if (*line != '#')
                fprintf(out, "%s\n", line);
        fclose(out);
        slurp(&at, names[i], text, sizeof text);
        out = fmemopen(on + strlen(on), sizeof on - strlen(on), "w");
        for (const char *line = strtok(text, "\n"); line; line = strtok(NULL, "\n"))
            if (strncmp(line, "# 1,", 4) == 0 || strncmp(line, "# 2,", 4) == 0)
                fprintf(out, "%s\n", line + 2);
        fclose(out);
        folder_write(&at, names[i], on);
    }
    fw_job *job = folder_job(&at);
    assert_int_equal(job->nreadings, 15);
    assert_int_equal(job->nscans, 3);
    assert_int_equal(job->nwork, 3);
    assert_close(job->flats[1].clear_mm, 180, 0, 0);
    assert_int_equal(job->order, 6);
    assert_int_equal(job->nturns, 5);
    assert_int_equal(job->support_top.kind, FW_SUPPORT_THREE);
    assert_close(job->eye_mm, 2000, 0, 0);
    fw_job_free(job);
    folder_remove(&at);
}

/* All or nothing: one file in the way, and nothing is laid beside it. */
static void test_new_in_the_way(void **state)
{
    static const char *const names[] = {"job.ini", "readings.csv", "work.csv", "sag.csv"};
    fw_error err;
    (void)state;
    for (int i = 0; i < 4; i++) {
        char text[20];
        folder at = folder_make();
        folder_write(&at, names[i], "mine");
        assert_int_equal(fw_job_new(at.path, &err), FW_INPUT);
        slurp(&at, names[i], text, sizeof text);
        assert_string_equal(text, "mine");
        folder_write(&at, names[i], NULL);
        assert_int_equal(rmdir(at.path), 0); /* nothing else is in it */
    }
    assert_int_equal(fw_job_new("Makefile", &err), FW_INPUT);
    assert_int_equal(fw_job_new("no-such-folder/job", &err), FW_SYSTEM);
    assert_int_equal(fw_job_new("", &err), FW_SYSTEM);
}

static unsigned long long seed;

static unsigned roll(unsigned below)
{
    seed = seed * 6364136223846793005u + 1442695040888963407u;
    return (unsigned)(seed >> 33) % below;
}

/* A good file with some bytes changed, dropped or doubled; or nothing but random bytes. */
static size_t spoil(char *text, size_t length, size_t room)
{
    static const char spice[] = ",;\"\n\r#=[] \t-.0e\0\xFFxA";
    unsigned changes = roll(3) == 0 ? roll(6) : 0;
    if (roll(12) == 0) {
        length = roll(400);
        for (size_t i = 0; i < length; i++)
            text[i] = (char)roll(256);
    }
    for (unsigned k = 0; k < changes && length > 0; k++) {
        size_t at = roll((unsigned)length);
        if (roll(3) == 0 && length < room) {
            memmove(text + at + 1, text + at, length - at);
            length++;
        }
        text[at] = roll(2) ? spice[roll(sizeof spice - 1)] : (char)roll(256);
        if (roll(20) == 0)
            length = at;
    }
    return length;
}

/* Whatever the files hold: a job or a list of faults, never a crash, the same twice. Seeded. */
static void test_spoilt(void **state)
{
    static const char *const names[] = {"job.ini", "readings.csv", "work.csv", "sag.csv"};
    static const char *const good[] = {
        (PLAIN_INI "[light]\nsource = sodium\n[bench]\nsupport_top = three 65 mm 30\n"
                   "[flat B]\nbore = 30 mm\n[plan]\nturns = 0 90\n"),
        "round,bottom,top,turn_deg,diameter_deg,position_mm,deviation,unit,sigma,scan,skip,note\n"
        "1,A,B,0,45,-90,1.5,nm,2,,0,\n1,B,C,0,45,90,-2,fringe,0.1,x,,\"a \"\"b\"\"\nc\"\n",
        "round,flat,hours,method,inner_mm,outer_mm\n1,A,0.5,ring,20,80\n",
        "round,flat,ring_mm,sag_um\n1,A,60,1.5\n"};
    int clean = 0, faulty = 0;
    folder at = folder_make();
    (void)state;
    seed = 20;
    for (int run = 0; run < 600; run++) {
        for (int i = 0; i < 4; i++) {
            char text[1000];
            size_t length = strlen(good[i]);
            memcpy(text, good[i], length);
            folder_write_bytes(&at, names[i], text, spoil(text, length, sizeof text));
        }
        char first[64];
        const char *found = folder_faults(&at);
        clean += *found == '\0';
        faulty += *found != '\0';
        snprintf(first, sizeof first, "%s", found);
        assert_memory_equal(folder_faults(&at), first, strlen(first));
    }
    folder_remove(&at);
    assert_true(clean > 20 && faulty > 200);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_work),
                                       cmocka_unit_test(test_work_faults),
                                       cmocka_unit_test(test_sag),
                                       cmocka_unit_test(test_order),
                                       cmocka_unit_test(test_missing),
                                       cmocka_unit_test(test_strange_files),
                                       cmocka_unit_test(test_large_settings),
                                       cmocka_unit_test(test_new),
                                       cmocka_unit_test(test_new_switched_on),
                                       cmocka_unit_test(test_new_in_the_way),
                                       cmocka_unit_test(test_spoilt)};
    return cmocka_run_group_tests_name("job", tests, NULL, NULL);
}
