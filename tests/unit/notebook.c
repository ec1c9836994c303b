/* notebook.c - readings added: in the file's own habits, whole or not at all, cut off anywhere. */
#include <fcntl.h>
#include <math.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <unistd.h>

#include "../support/close.h"
#include "../support/folder.h"
#include "flatwright/alloc.h"
#include "flatwright/notebook.h"

#define LIGHT_INI PLAIN_INI "[light]\nsource = mercury-green\n[readings]\nunit = fringe\n"

static fw_entry entry_of(double position, double deviation)
{
    return (fw_entry){.round = 1, .bottom = 0, .top = 1, .turn_deg = 0, .diameter_deg = 22.5,
                      .position_mm = position, .deviation = deviation, .unit = FW_UNIT_FRINGE,
                      .sigma = NAN, .label = "", .note = ""};
}

static const char *path_in(const folder *at, const char *name)
{
    static char path[120];
    snprintf(path, sizeof path, "%s/%s", at->path, name);
    return path;
}

/* What the file holds; "" when it is not there. */
static const char *text_of(const folder *at, const char *name)
{
    static char text[1 << 16];
    FILE *in = fopen(path_in(at, name), "rb");
    size_t n = in ? fread(text, 1, sizeof text - 1, in) : 0;
    text[n] = '\0';
    if (in)
        fclose(in);
    return text;
}

static folder job_with(const char *readings)
{
    folder at = folder_make();
    folder_write(&at, "job.ini", LIGHT_INI);
    folder_write(&at, "readings.csv", readings);
    return at;
}

static fw_status add_to(const folder *at, const fw_entry *entries, size_t n, fw_error *err)
{
    fw_job *job = folder_job(at);
    fw_notebook *nb = NULL;
    fw_status status = fw_notebook_open(job, &nb, err);
    if (status == FW_OK)
        status = fw_notebook_add(nb, entries, n, false, err);
    fw_notebook_close(nb);
    fw_job_free(job);
    return status;
}

/* Adds one entry to a file of `before`; the file must then be `after`. */
static void check_added(const char *before, const fw_entry *entry, const char *after)
{
    folder at = job_with(before);
    fw_error err = {FW_OK, ""};
    fw_status status = add_to(&at, entry, 1, &err);
    if (status != FW_OK)
        print_error("%s\n", err.text);
    assert_int_equal(status, FW_OK);
    assert_string_equal(text_of(&at, "readings.csv"), after);
    assert_int_equal(access(path_in(&at, ".readings.csv.adding"), F_OK), -1);
    folder_remove(&at);
}

static void test_habits(void **state)
{
    (void)state;
    fw_entry e = entry_of(-90, -0.25);
    check_added(PLAIN_HEADER, &e, PLAIN_HEADER "A,B,0,22.5,-90,-0.25\n");
    check_added(PLAIN_HEADER "A,B,0,0,1,2", &e,
                PLAIN_HEADER "A,B,0,0,1,2\nA,B,0,22.5,-90,-0.25\n");
    check_added("\xEF\xBB\xBF" "deviation;top;bottom;turn_deg;diameter_deg;position_mm;note\r\n"
                "0,5;B;A;0;0;1;\"x;\"\"y\"\r\n", &e,
                "\xEF\xBB\xBF" "deviation;top;bottom;turn_deg;diameter_deg;position_mm;note\r\n"
                "0,5;B;A;0;0;1;\"x;\"\"y\"\r\n-0,25;B;A;0;22,5;-90;\r\n");
    check_added("bottom;top;turn_deg;diameter_deg;position_mm;deviation\nA;B;0;0;1;0.5\n", &e,
                "bottom;top;turn_deg;diameter_deg;position_mm;deviation\nA;B;0;0;1;0.5\n"
                "A;B;0;22.5;-90;-0.25\n");
    check_added("bottom,top,turn_deg,diameter_deg,position_mm,deviation\rA,B,0,0,1,0.5\r", &e,
                "bottom,top,turn_deg,diameter_deg,position_mm,deviation\rA,B,0,0,1,0.5\r"
                "A,B,0,22.5,-90,-0.25\r");
}

/* RFC 4180, 2.6 and 2.7; the other columns of a row. */
static void test_columns(void **state)
{
    (void)state;
    fw_entry e = entry_of(0, 1e-20);
    e.round = 3;
    e.label = "a \"b\", c";
    e.note = " blanks ";
    e.sigma = 0.02;
    e.unit = FW_UNIT_NM;
    check_added("scan,note,sigma,unit,skip,round," PLAIN_HEADER, &e,
                "scan,note,sigma,unit,skip,round," PLAIN_HEADER
                "\"a \"\"b\"\", c\",\" blanks \",0.02,nm,,3,A,B,0,22.5,0,1e-20\n");
    e.label = e.note = "";
    e.round = 1;
    e.sigma = NAN;
    e.deviation = 273.037; /* as it was written, not one fringe */
    check_added(PLAIN_HEADER "A,B,0,0,1,2\n", &e,
                "bottom,top,turn_deg,diameter_deg,position_mm,deviation,unit\nA,B,0,0,1,2,\n"
                "A,B,0,22.5,0,273.037,nm\n");
}

static void refuse(const fw_entry *entry, const char *before, const char *why)
{
    folder at = job_with(before);
    fw_error err = {FW_OK, ""};
    fw_entry two[] = {entry_of(1, 1), *entry};
    assert_int_equal(add_to(&at, two, 2, &err), FW_INPUT);
    assert_non_null(strstr(err.text, why));
    assert_string_equal(text_of(&at, "readings.csv"), before); /* all or none */
    folder_remove(&at);
}

/* A column that is needed is added, and the rows that are there stay what they were. */
static void test_lacking_columns(void **state)
{
    (void)state;
    fw_entry e = entry_of(0, 1);
    e.round = 2;
    check_added(PLAIN_HEADER "A,B,0,0,1,2\n", &e,
                "bottom,top,turn_deg,diameter_deg,position_mm,deviation,round\n"
                "A,B,0,0,1,2,\nA,B,0,22.5,0,1,2\n");
    e.label = "2";
    e.note = "a;b";
    check_added("\xEF\xBB\xBF" "sep=;\r\n# first\r\ntop;bottom;deviation;turn_deg;diameter_deg;"
                "position_mm;;\r\n\r\nA;B;0,5;0;0;\" 1\" ; ;\r\n# between\r\nA;B;0,5;0;0;2;;", &e,
                "\xEF\xBB\xBF" "sep=;\r\n# first\r\ntop;bottom;deviation;turn_deg;diameter_deg;"
                "position_mm;round;scan;note\r\n\r\nA;B;0,5;0;0;\" 1\" ;;;\r\n# between\r\n"
                "A;B;0,5;0;0;2;;;\r\nB;A;1;0;22,5;0;2;2;\"a;b\"\r\n");
    /* Values over several lines. */
    e.note = "";
    check_added("note,round," PLAIN_HEADER "\"x\ny, \"\"z\n# no comment\",1,A,B,0,0,1,2\n", &e,
                "note,round,bottom,top,turn_deg,diameter_deg,position_mm,deviation,scan\n"
                "\"x\ny, \"\"z\n# no comment\",1,A,B,0,0,1,2,\n,2,A,B,0,22.5,0,1,2\n");
    check_added("bottom,top,turn_deg,diameter_deg,position_mm,deviation\rA,B,0,0,1,0.5\r", &e,
                "bottom,top,turn_deg,diameter_deg,position_mm,deviation,round,scan\r"
                "A,B,0,0,1,0.5,,\rA,B,0,22.5,0,1,2,2\r");
}

static void test_refused(void **state)
{
    (void)state;
    fw_entry e = entry_of(0, 1);
    e.label = "#2";
    refuse(&e, "scan," PLAIN_HEADER, "comment");
    /* Weights for some only. */
    e.label = "";
    e.sigma = 1;
    refuse(&e, PLAIN_HEADER, "a sigma of their own");
    e.sigma = NAN;
    refuse(&e, "sigma," PLAIN_HEADER "0.1,A,B,0,0,1,2\n", "a sigma of their own");
}

static void test_skipped(void **state)
{
    (void)state;
    folder at = job_with(PLAIN_HEADER "\"# skipped: 1 A B 0 22.5 5\",,,,,\n");
    fw_job *job = folder_job(&at);
    fw_notebook *nb = NULL;
    fw_error err;
    fw_entry e = entry_of(-90, 0), other = entry_of(5, 0);
    assert_int_equal(fw_notebook_open(job, &nb, &err), FW_OK);
    assert_true(fw_notebook_is_skipped(nb, &other)); /* as a spreadsheet saved it */
    assert_false(fw_notebook_is_skipped(nb, &e));
    assert_int_equal(fw_notebook_skip(nb, &e, &err), FW_OK);
    assert_int_equal(fw_notebook_skip(nb, &e, &err), FW_OK); /* said once */
    assert_true(fw_notebook_is_skipped(nb, &e));
    e.label = "2";
    assert_false(fw_notebook_is_skipped(nb, &e));
    assert_int_equal(fw_notebook_skip(nb, &e, &err), FW_OK);
    fw_notebook_close(nb);
    assert_int_equal(fw_notebook_open(job, &nb, &err), FW_OK);
    assert_true(fw_notebook_is_skipped(nb, &e));
    e.position_mm = -9;
    assert_false(fw_notebook_is_skipped(nb, &e));
    fw_notebook_close(nb);
    assert_string_equal(text_of(&at, "readings.csv"), PLAIN_HEADER
                        "\"# skipped: 1 A B 0 22.5 5\",,,,,\n# skipped: 1 A B 0 22.5 -90\n"
                        "# skipped: 1 A B 0 22.5 -90 2\n");
    fw_job_free(job);
    folder_remove(&at);
}

/* Every way an earlier program can have been cut off while it added two rows. */
static void test_cut_off(void **state)
{
    (void)state;
    static const char rows[] = "A,B,0,0,-90,0.12\nA,B,0,0,90,0.34\n";
    char side[200], before[400], whole[400];
    snprintf(whole, sizeof whole, "%s%s", PLAIN_HEADER, rows);
    int length = snprintf(side, sizeof side, "flatwright adds %zu bytes at %zu\n%s",
                          sizeof rows - 1, sizeof PLAIN_HEADER - 1, rows);
    for (int kept = 0; kept <= length; kept++) {
        /* The intention cut at `kept`: then the file was not touched; else any part is written. */
        for (size_t part = 0; part < (kept < length ? 1 : sizeof rows); part++) {
            snprintf(before, sizeof before, "%s%.*s", PLAIN_HEADER, (int)part, rows);
            folder at = folder_make();
            folder_write(&at, "job.ini", LIGHT_INI);
            folder_write(&at, "readings.csv", before);
            folder_write_bytes(&at, ".readings.csv.adding", side, (size_t)kept);
            if (part > 0 && before[strlen(before) - 1] != '\n')
                assert_non_null(strstr(folder_faults(&at), "was cut off while it was added"));
            fw_notebook_mend(at.path);
            if (kept > 0)
                assert_int_equal(access(path_in(&at, ".readings.csv.adding"), F_OK), -1);
            assert_string_equal(text_of(&at, "readings.csv"),
                                kept < length ? PLAIN_HEADER : whole);
            folder_remove(&at);
        }
    }
}

/* A file that was changed by hand after the program was cut off is left alone. */
static void test_cut_off_and_edited(void **state)
{
    (void)state;
    folder at = job_with(PLAIN_HEADER "A,C,0,0,5,6\n");
    folder_write(&at, ".readings.csv.adding", "flatwright adds 17 bytes at 54\nA,B,0,0,-90,0.12\n");
    fw_entry e = entry_of(1, 2);
    fw_error err;
    assert_int_equal(add_to(&at, &e, 1, &err), FW_OK);
    assert_string_equal(text_of(&at, "readings.csv"),
                        PLAIN_HEADER "A,C,0,0,5,6\nA,B,0,22.5,1,2\n");
    folder_remove(&at);
}

static void test_full_disk(void **state)
{
    (void)state;
    char before[8192];
    size_t n = (size_t)snprintf(before, sizeof before, "%s", PLAIN_HEADER);
    while (n < 4000)
        n += (size_t)snprintf(before + n, sizeof before - n, "A,B,0,0,1,2\n");
    folder at = job_with(before);
    struct rlimit old;
    fw_entry many[20];
    for (int i = 0; i < 20; i++)
        many[i] = entry_of(i, i);
    assert_int_equal(getrlimit(RLIMIT_FSIZE, &old), 0);
    signal(SIGXFSZ, SIG_IGN);
    for (size_t room = 0; room <= 500; room += 7) {
        fw_error err = {FW_OK, ""};
        struct rlimit small = {n + room, old.rlim_max};
        setrlimit(RLIMIT_FSIZE, &small);
        fw_status status = add_to(&at, many, 20, &err);
        setrlimit(RLIMIT_FSIZE, &old);
        if (status == FW_OK) {
            assert_true(room >= 320); /* ten rows of 15 bytes, ten of 17 */
            break;
        }
        assert_int_equal(status, FW_SYSTEM);
        assert_string_equal(text_of(&at, "readings.csv"), before);
        assert_int_equal(access(path_in(&at, ".readings.csv.adding"), F_OK), -1);
    }
    signal(SIGXFSZ, SIG_DFL);
    folder_remove(&at);
}

static void test_strange_files(void **state)
{
    (void)state;
    fw_error err = {FW_OK, ""};
    fw_entry e = entry_of(1, 2);
    folder at = job_with(PLAIN_HEADER);
    fw_job *job = folder_job(&at);
    fw_notebook *nb = NULL;
    /* A link stays a link, and what it points to grows. */
    assert_int_equal(rename(path_in(&at, "readings.csv"), "build/notebook-linked.csv"), 0);
    assert_int_equal(symlink("../notebook-linked.csv", path_in(&at, "readings.csv")), 0);
    assert_int_equal(add_to(&at, &e, 1, &err), FW_OK);
    struct stat place;
    assert_int_equal(lstat(path_in(&at, "readings.csv"), &place), 0);
    assert_true(S_ISLNK(place.st_mode));
    assert_string_equal(text_of(&at, "readings.csv"), PLAIN_HEADER "A,B,0,22.5,1,2\n");
    remove("build/notebook-linked.csv");
    remove(path_in(&at, "readings.csv"));
    assert_int_equal(mkfifo(path_in(&at, "readings.csv"), 0600), 0);
    assert_int_equal(fw_notebook_open(job, &nb, &err), FW_INPUT);
    assert_null(nb);
    remove(path_in(&at, "readings.csv"));
    /* Something else in the place of the side file. */
    folder_write(&at, "readings.csv", PLAIN_HEADER);
    assert_int_equal(mkfifo(path_in(&at, ".readings.csv.adding"), 0600), 0);
    assert_int_equal(fw_notebook_open(job, &nb, &err), FW_INPUT);
    remove(path_in(&at, ".readings.csv.adding"));
    assert_int_equal(symlink("readings.csv", path_in(&at, ".readings.csv.adding")), 0);
    assert_int_equal(fw_notebook_open(job, &nb, &err), FW_SYSTEM);
    assert_string_equal(text_of(&at, "readings.csv"), PLAIN_HEADER);
    fw_job_free(job);
    folder_remove(&at);
}

static void test_correct(void **state)
{
    (void)state;
    folder at = job_with(PLAIN_HEADER "A,B,0,22.5,1,2 \n");
    fw_job *job = folder_job(&at);
    fw_notebook *nb = NULL;
    fw_error err = {FW_OK, ""};
    fw_entry old[] = {entry_of(1, 2), entry_of(-1, 3)}, fresh[] = {entry_of(1, 20), entry_of(-1, 0)};
    assert_int_equal(fw_notebook_open(job, &nb, &err), FW_OK);
    assert_int_equal(fw_notebook_add(nb, old, 2, true, &err), FW_OK);
    assert_true(fw_notebook_is_current(nb));
    assert_int_equal(fw_notebook_correct(nb, old, fresh, 2, &err), FW_OK);
    assert_string_equal(text_of(&at, "readings.csv"), PLAIN_HEADER
                        "A,B,0,22.5,1,2 \nA,B,0,22.5,1,20\nA,B,0,22.5,-1,0\n");
    /* One of two is not there any more: neither is changed. */
    fw_entry mixed[] = {fresh[0], old[1]};
    assert_int_equal(fw_notebook_correct(nb, mixed, old, 2, &err), FW_INPUT);
    assert_string_equal(text_of(&at, "readings.csv"), PLAIN_HEADER
                        "A,B,0,22.5,1,2 \nA,B,0,22.5,1,20\nA,B,0,22.5,-1,0\n");
    fw_notebook_close(nb);
    fw_job_free(job);
    folder_remove(&at);
}

/* Another program, or an editor, between two of our writes. */
static void test_others(void **state)
{
    (void)state;
    folder at = job_with(PLAIN_HEADER);
    fw_job *job = folder_job(&at);
    fw_notebook *a = NULL, *b = NULL;
    fw_error err = {FW_OK, ""};
    fw_entry one = entry_of(1, 1), two = entry_of(2, 2);
    assert_int_equal(fw_notebook_open(job, &a, &err), FW_OK);
    assert_int_equal(fw_notebook_open(job, &b, &err), FW_OK);
    assert_int_equal(fw_notebook_add(a, &one, 1, false, &err), FW_OK);
    assert_false(fw_notebook_is_current(b));
    assert_int_equal(fw_notebook_add(b, &two, 1, true, &err), FW_INPUT);
    assert_int_equal(fw_notebook_add(b, &two, 1, false, &err), FW_OK);
    assert_string_equal(text_of(&at, "readings.csv"),
                        PLAIN_HEADER "A,B,0,22.5,1,1\nA,B,0,22.5,2,2\n");
    /* The columns are put in another order meanwhile: the next row follows. */
    folder_write(&at, "readings.csv", "top;bottom;deviation;turn_deg;diameter_deg;position_mm\n");
    assert_int_equal(fw_notebook_add(a, &one, 1, false, &err), FW_OK);
    assert_string_equal(text_of(&at, "readings.csv"),
                        "top;bottom;deviation;turn_deg;diameter_deg;position_mm\nB;A;1;0;22.5;1\n");
    fw_notebook_close(a);
    fw_notebook_close(b);
    fw_job_free(job);
    folder_remove(&at);
}

static void test_stations(void **state)
{
    (void)state;
    folder at = job_with("# stations: 1 2\n" PLAIN_HEADER);
    fw_job *job = folder_job(&at);
    fw_notebook *nb = NULL;
    fw_error err;
    size_t n = 0;
    static const double mm[] = {-92.5, 0, 92.5};
    assert_int_equal(fw_notebook_open(job, &nb, &err), FW_OK);
    assert_close(fw_notebook_stations(nb, &n)[1], 2, 0, 0);
    assert_int_equal(n, 2);
    assert_int_equal(fw_notebook_set_stations(nb, mm, 3, &err), FW_OK);
    fw_notebook_close(nb);
    assert_string_equal(text_of(&at, "readings.csv"),
                        "# stations: 1 2\n" PLAIN_HEADER "# stations: -92.5 0 92.5\n");
    /* As a spreadsheet saves it. */
    folder_write(&at, "readings.csv", PLAIN_HEADER "\"# stations: 5 -5\",,,,,\r\n");
    assert_int_equal(fw_notebook_open(job, &nb, &err), FW_OK);
    assert_close(fw_notebook_stations(nb, &n)[0], -5, 0, 0);
    assert_int_equal(n, 2);
    fw_notebook_close(nb);
    fw_job_free(job);
    folder_remove(&at);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_habits),          cmocka_unit_test(test_columns),
        cmocka_unit_test(test_lacking_columns), cmocka_unit_test(test_cut_off),
        cmocka_unit_test(test_cut_off_and_edited), cmocka_unit_test(test_full_disk),
        cmocka_unit_test(test_strange_files),   cmocka_unit_test(test_correct),
        cmocka_unit_test(test_others),          cmocka_unit_test(test_stations),
        cmocka_unit_test(test_refused),         cmocka_unit_test(test_skipped),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
