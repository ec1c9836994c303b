/* job_edges.c - what is rare in a job's files: each fault told where it stands, each limit kept. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "../support/close.h"
#include "../support/folder.h"
#include "flatwright/alloc.h"
#include "flatwright/intake.h"
#include "flatwright/notebook.h"

#define LIGHT_INI PLAIN_INI "[light]\nsource = mercury-green\n[readings]\nunit = fringe\n"
#define SIDE ".readings.csv.adding"

static char said[1 << 15];

/* All faults of a file of readings, "line:column: text" each; the number of readings without. */
static const char *intake_says(const char *ini, const char *text)
{
    char path[80];
    folder at = folder_make();
    fw_intake *in = NULL;
    fw_faults faults;
    fw_error err = {FW_OK, ""};
    size_t n = 0;
    folder_write(&at, "job.ini", ini);
    folder_write(&at, "readings.csv", PLAIN_HEADER);
    folder_write(&at, "in.csv", text);
    fw_job *job = folder_job(&at);
    snprintf(path, sizeof path, "%s/in.csv", at.path);
    fw_status status = fw_intake_read(path, job, NULL, &in, &faults, &err);
    assert_int_equal(status, faults.count ? FW_INPUT : FW_OK);
    said[0] = '\0';
    for (size_t i = 0; i < faults.listed; i++)
        n += (size_t)snprintf(said + n, sizeof said - n, "%d:%d: %s\n", faults.list[i].line,
                              faults.list[i].column, faults.list[i].text);
    if (in)
        snprintf(said, sizeof said, "%zu readings, %d unread, %zu skipped", in->count, in->nunread,
                 in->nskipped);
    fw_faults_release(&faults);
    fw_intake_free(in);
    fw_job_free(job);
    folder_remove(&at);
    return said;
}

static void tells(const char *text, const char *part)
{
    assert_non_null(text);
    if (!strstr(text, part))
        fail_msg("'%s' is not said in '%s'", part, text ? text : "");
}

#define NAMES "bottom,top,turn,diameter,position,nm,round,scan,unit,sigma,skip,note\n"

static void test_tables_taken_in(void **state)
{
    (void)state;
    const struct {
        const char *row, *fault;
    } cases[] = {
        {",B,0,0,1,1,,,,,,\n", "2:1: bottom is empty, expected the name of a flat"},
        {"A,,0,0,1,1,,,,,,\n", "2:3: top is empty"},
        {"AB,B,0,0,1,1,,,,,,\n", "2:1: unknown flat 'AB'"},
        {"A,A,0,0,1,1,,,,,,\n", "2:3: flat 'A' stands against itself"},
        {"A,B,x,0,1,1,,,,,,\n", "2:5: turn 'x', expected a number"},
        {"A,B,4000,0,1,1,,,,,,\n", "2:5: turn '4000', expected a number from -3600 to 3600"},
        {"A,B,0,0,101,1,,,,,,\n", "2:9: "},
        {"A,B,0,0,1,,,,,,,\n", "2:11: deviation is empty"},
        {"A,B,0,0,1,1,0,,,,,\n", "2:13: round '0', expected a whole number from 1 to 9999"},
        {"A,B,0,0,1,1,10000,,,,,\n", "2:13: round '10000'"},
        {"A,B,0,0,1,1,x,,,,,\n", "2:13: round 'x'"},
        {"A,B,0,0,1,1,,\xFF,,,,\n", "2:14: scan "},
        {"A,B,0,0,1,1,,,ell,,,\n", "unit 'ell', expected nm, um, fringe or wave"},
        {"A,B,0,0,1,1,,,,0,,\n", "sigma '0', expected a number above 0"},
        {"A,B,0,0,1,1,,,,x,,\n", "sigma 'x', expected a number"},
        {"A,B,0,0,1,1,,,,-1,,\n", "sigma '-1', expected a number above 0"},
        {"A,B,0,0,1,1,,,,,2,\n", "skip '2', expected 0 or 1"},
        {"A,B,0,0,1,1,,,,,,\xFF\n", "note "},
        {"A,B,0,0,1,1,,,,,,,beyond\n", "2:19: the value stands beyond the 12 columns"},
        {"A,B,0,0,1,1,,,,,,,\n", "1 readings, 0 unread, 0 skipped"},
        {"A,B,0,0,1,1,,,,,0,\nA,B,0,0,2,1,,,,2,1,\n", "1 readings, 0 unread, 1 skipped"},
    };
    char text[400];
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        snprintf(text, sizeof text, NAMES "%s", cases[i].row);
        tells(intake_says(LIGHT_INI, text), cases[i].fault);
    }
    tells(intake_says(PLAIN_INI "[readings]\nunit = nm\n",
                      "bottom,top,turn,diameter,position,fringes\nA,B,0,0,1,1\n"),
          "2:11: unit 'fringe' needs a light");
    tells(intake_says(LIGHT_INI, "words\npair,turn,diameter,position (mm),nm,turn_deg,colour,\n"
                                 "A+B,0,0,1,1\n"),
          "2:37: column 'turn_deg' says the same as column 2");
    tells(intake_says(LIGHT_INI, "words\npair,turn,diameter,position (ell),nm\nA+B,0,0,1,1\n"),
          "2:20: unknown unit of length");
    tells(intake_says(LIGHT_INI, "words\npair,position,nm\nA B,1,1\n"),
          "a column for the turn is missing");
    tells(intake_says(LIGHT_INI, "words\npair,turn,position,nm\nA B,0,1,1\n"),
          "a column for the diameter is missing");
    tells(intake_says(LIGHT_INI, "words\n\npair,turn,diameter,position,nm,colour,\n"
                                 "A + B,0,0,1,1,red\nA/C,0,0,1,1\n"),
          "2 readings, 2 unread");
    tells(intake_says(LIGHT_INI, "pair,turn,diameter,position,nm\nA/,0,0,1,1\nAB,0,0,1,1\n"
                                 "A/Q,0,0,1,1\nQ/A,0,0,1,1\nA/A,0,0,1,1\n"),
          "2:1: pair 'A/', expected the bottom's name, a /, the top's name\n"
          "3:1: pair 'AB', expected the bottom's name, a /, the top's name\n"
          "4:1: unknown flat 'A/Q'");
}

static void test_sheets_taken_in(void **state)
{
    (void)state;
    tells(intake_says(LIGHT_INI, "1,2\n"), "bottom and top");
    tells(intake_says(LIGHT_INI, "pair,A/B\n1,2\n"), "turn");
    tells(intake_says(LIGHT_INI, "bottom,A\ntop,B\nturn,0\n1,2\n"), "diameter");
    tells(intake_says(LIGHT_INI, "bottom,A\nturn,0\ndiameter,0\n1,2\n"), "bottom and top");
    tells(intake_says(LIGHT_INI, "pair,A/B\nturn,0\ndiameter,0\nposition (ell),nm\n1,2\n"),
          "unknown unit of length");
    tells(intake_says(LIGHT_INI, "pair,A/B\nturn,0\ndiameter,0\nwords,y,z\n1,2\n"),
          "'words' is neither a position nor bottom");
    tells(intake_says(LIGHT_INI, "a\nb\nc\nd\ne\nf\ng\npair,A/B\nturn,0\ndiameter,0\n1,2\n"),
          "1 readings, 7 unread");
    tells(intake_says(LIGHT_INI, "pair,A/B,,A/C\nturn,0,90,0\ndiameter,0,0,0\nround,1,,2\n"
                                 "position_cm,nm,nm,um\n1,2,3,4\nx\n2,,5,\n\npair,B/C\n1,2\n"),
          "5 readings, 0 unread");
    tells(intake_says(LIGHT_INI, ""), "");
}

/* A file with a label and a note that begin like comments, blanks that would be lost, no light. */
static fw_status add_to(const char *ini, const char *before, const fw_entry *entries, size_t n,
                        char *after, size_t size)
{
    folder at = folder_make();
    char path[80];
    fw_error err = {FW_OK, ""};
    fw_notebook *nb = NULL;
    folder_write(&at, "job.ini", ini);
    folder_write(&at, "readings.csv", before);
    fw_job *job = folder_job(&at);
    assert_int_equal(fw_notebook_open(job, &nb, &err), FW_OK);
    const char *names[FW_NOTEBOOK_LACKS];
    fw_notebook_lacks(nb, entries, n, names);
    fw_status status = fw_notebook_add(nb, entries, n, true, &err);
    fw_notebook_close(nb);
    fw_job_free(job);
    snprintf(path, sizeof path, "%s/readings.csv", at.path);
    FILE *in = fopen(path, "rb");
    assert_non_null(in);
    after[fread(after, 1, size - 1, in)] = '\0';
    fclose(in);
    assert_string_equal(folder_faults(&at), "");
    folder_remove(&at);
    return status;
}

static void test_rows_written(void **state)
{
    (void)state;
    static char after[100000];
    fw_entry e = {.round = 1, .top = 1, .position_mm = 5, .deviation = 1, .sigma = NAN,
                  .unit = FW_UNIT_FRINGE, .label = "#1", .note = ""};
    assert_int_equal(add_to(LIGHT_INI, "scan," PLAIN_HEADER, &e, 1, after, sizeof after), FW_INPUT);
    assert_string_equal(after, "scan," PLAIN_HEADER);
    e.label = "";
    e.note = "#1";
    assert_int_equal(add_to(LIGHT_INI, "note," PLAIN_HEADER, &e, 1, after, sizeof after), FW_INPUT);
    e.note = "a note ";
    assert_int_equal(add_to(LIGHT_INI, PLAIN_HEADER "A,B,0,0,1,1", &e, 1, after, sizeof after),
                     FW_OK);
    tells(after, ",note\nA,B,0,0,1,1,\nA,B,0,0,5,1,\"a note \"\n");
    e.note = "\ta";
    assert_int_equal(add_to(LIGHT_INI, PLAIN_HEADER, &e, 1, after, sizeof after), FW_OK);
    tells(after, ",\"\ta\"\n");
    e.note = "a\t";
    assert_int_equal(add_to(LIGHT_INI, PLAIN_HEADER, &e, 1, after, sizeof after), FW_OK);
    tells(after, ",\"a\t\"\n");
    e.note = "";
    assert_int_equal(add_to(PLAIN_INI, PLAIN_HEADER, &e, 1, after, sizeof after), FW_INPUT);
    /* Columns that all rows get at once: quotes and comments in between, other line ends. */
    e.round = 2;
    e.label = "x";
    e.unit = FW_UNIT_NM;
    e.sigma = 1;
    assert_int_equal(add_to(LIGHT_INI "sigma = 1\n",
                            "# first\r\n" "bottom,top,turn_deg,diameter_deg,position_mm,deviation,"
                            "note\r\n# 2\r\n\r\nA,B,0,0,1,1,\"a, \"\"b\"\r\nA,B,0,0,2,1,\r\n# 3",
                            &e, 1, after, sizeof after),
                     FW_OK);
    tells(after, "\"a, \"\"b\",,,,\r\nA,B,0,0,2,1,,,,,\r\n# 3\r\nA,B,0,0,5,1,");
    /* Many long rows at once. */
    static fw_entry many[200];
    static char note[600];
    memset(note, '"', sizeof note - 1);
    for (int i = 0; i < 200; i++) {
        many[i] = e;
        many[i].position_mm = i / 4.0;
        many[i].note = note;
    }
    assert_int_equal(add_to(LIGHT_INI "sigma = 1\n", PLAIN_HEADER, many, 40, after, sizeof after),
                     FW_OK);
}

/* Comments that hold stations and places left out, as spreadsheets change them. */
static void test_comments(void **state)
{
    (void)state;
    static char text[20000];
    folder at = folder_make();
    fw_notebook *nb = NULL;
    fw_error err = {FW_OK, ""};
    size_t n = 0, used = (size_t)snprintf(text, sizeof text, PLAIN_HEADER "# stations:");
    for (int i = 0; i < 1100; i++)
        used += (size_t)snprintf(text + used, sizeof text - used, " %d", i % 90);
    snprintf(text + used, sizeof text - used, "\n");
    folder_write(&at, "job.ini", LIGHT_INI);
    folder_write(&at, "readings.csv", text);
    fw_job *job = folder_job(&at);
    assert_int_equal(fw_notebook_open(job, &nb, &err), FW_OK);
    assert_non_null(fw_notebook_stations(nb, &n));
    assert_in_range(n, 90, 1000);
    fw_notebook_close(nb);
    folder_write(&at, "readings.csv", PLAIN_HEADER "\"# skipped: 1 A B 0 0 40,,,\"\n"
                                                   "# skipped: 1 A B 0 0 50 ,;\n# skipped: 11\n");
    assert_int_equal(fw_notebook_open(job, &nb, &err), FW_OK);
    fw_entry e = {.round = 1, .top = 1, .position_mm = 40, .sigma = NAN, .label = "", .note = ""};
    assert_true(fw_notebook_is_skipped(nb, &e));
    e.position_mm = 50;
    assert_true(fw_notebook_is_skipped(nb, &e));
    e.position_mm = 5;
    assert_false(fw_notebook_is_skipped(nb, &e));
    fw_notebook_close(nb);
    fw_job_free(job);
    folder_remove(&at);
}

/* A side file that says something else, or too little: it is nothing, and goes. */
static void test_side_files(void **state)
{
    (void)state;
    static const char *const sides[] = {
        "something else\n", "flatwright adds x", "flatwright adds 5 pieces at 3\n",
        "flatwright adds 5 bytes at -3\nabcde", "flatwright adds 5 bytes at 3 \nabcde",
        "flatwright adds 0 bytes at 3\n", "flatwright adds 5 bytes at 3\nabc",
        "flatwright adds 99999999999999999999 bytes at 3\nabc",
        "flatwright adds 5 bytes at 300\nabcde", /* beyond the end of readings.csv */
        "flatwright adds 5 bytes at 3\nabcde",   /* what stands there is not its beginning */
    };
    folder at = folder_make();
    char path[80], got[200];
    folder_write(&at, "job.ini", LIGHT_INI);
    folder_write(&at, "readings.csv", PLAIN_HEADER "A,B,0,0,1,1\n");
    for (size_t i = 0; i < sizeof sides / sizeof *sides; i++) {
        folder_write(&at, SIDE, sides[i]);
        fw_notebook_mend(at.path);
        snprintf(path, sizeof path, "%s/" SIDE, at.path);
        FILE *in = fopen(path, "rb");
        assert_null(in);
        snprintf(path, sizeof path, "%s/readings.csv", at.path);
        in = fopen(path, "rb");
        got[fread(got, 1, sizeof got - 1, in)] = '\0';
        fclose(in);
        assert_string_equal(got, PLAIN_HEADER "A,B,0,0,1,1\n");
    }
    folder_remove(&at);
}

static void test_settings(void **state)
{
    (void)state;
    const struct {
        const char *line, *fault;
    } cases[] = {
        {"[target]\nflatness = x\n", "is not a number"},
        {"[target]\nflatness = 1 ell\n", "ell"},
        {"[target]\nflatness = -1 nm\n", "is out of range"},
        {"[bench]\nsupport_bottom = three 70 mm 5000 deg\n", "is out of range"},
        {"[bench]\nsupport_bottom = three 70 mm x\n", "is not a number"},
        {"[bench]\nsupport_bottom = ring -70 mm\n", "is out of range"},
        {"[bench]\nsupport_bottom = ring 70 ell-ell-ell-ell-ell\n", "ell"},
        {"[bench]\nsupport_bottom = ring 70 mm x\n", "has text after the support"},
        {"[bench]\nsupport_bottom = a-word-of-more-than-sixteen\n", "is not known"},
        {"[plan]\nturns = 0 4000\n", "is out of range"},
        {"[plan]\nturns = 0 9x\n", "has text after the number"},
        {"[plan]\nturns = 0,, 90\n", ":"},
    };
    char ini[400];
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        folder at = folder_make();
        snprintf(ini, sizeof ini, PLAIN_INI "%s", cases[i].line);
        folder_write(&at, "job.ini", ini);
        folder_write(&at, "readings.csv", PLAIN_HEADER);
        tells(folder_faults(&at), cases[i].fault);
        folder_remove(&at);
    }
    assert_faults(PLAIN_INI "[bench]\nsupport_bottom = three 70 mm 30 deg\n", PLAIN_HEADER, "");
    assert_faults(PLAIN_INI "[bench]\nsupport_bottom = three 70 -30\nsupport_top = ring 70 +5\n",
                  PLAIN_HEADER, "job.ini:6:15: support_top 'ring 70 +5' has text after the support, "
                                "expected rim, ring RADIUS or three RADIUS ANGLE, such as "
                                "three 78 mm 30\n");
    assert_faults(NULL, PLAIN_HEADER "A,B,0,0,1,1\n# only a comment, no end", "");
}

/* More turns than a plan may have, more flats than a set, very many faults. */
static void test_limits(void **state)
{
    (void)state;
    static char text[200000];
    size_t used = (size_t)snprintf(text, sizeof text, PLAIN_INI "[plan]\nturns =");
    for (int i = 0; i < 4000; i++)
        used += (size_t)snprintf(text + used, sizeof text - used, " %d", i % 300);
    folder at = folder_make();
    folder_write(&at, "job.ini", text);
    folder_write(&at, "readings.csv", PLAIN_HEADER);
    tells(folder_faults(&at), "is too long");
    used = (size_t)snprintf(text, sizeof text, "[set]\ndiameter = 200 mm\nflats =");
    for (int i = 0; i < 101; i++)
        used += (size_t)snprintf(text + used, sizeof text - used, " F%d", i);
    folder_write(&at, "job.ini", text);
    tells(folder_faults(&at), "more than 100 flats");
    folder_write(&at, "job.ini", PLAIN_INI);
    used = (size_t)snprintf(text, sizeof text, PLAIN_HEADER);
    for (int i = 0; i < 2000; i++)
        used += (size_t)snprintf(text + used, sizeof text - used, "A,B,0,0,x,y\n");
    folder_write(&at, "readings.csv", text);
    fw_job *job = NULL;
    fw_faults faults;
    fw_error err;
    assert_int_equal(fw_job_read(at.path, &job, &faults, &err), FW_INPUT);
    assert_int_equal(faults.listed, FW_FAULTS_LISTED);
    assert_int_equal(faults.count, 4000);
    fw_faults_release(&faults);
    folder_remove(&at);
}

/* Sigmas apart by more than any bench has; a scan's name that is no text; other encodings. */
static void test_readings(void **state)
{
    (void)state;
    folder at = folder_make();
    folder_write(&at, "job.ini", LIGHT_INI);
    folder_write(&at, "readings.csv", "sigma,scan,bottom,top,turn_deg,diameter_deg,position_mm,"
                                      "deviation\n1e-9,,A,B,0,0,1,1\n1e4,,A,B,0,0,2,1\n");
    tells(folder_faults(&at), "sigma");
    folder_write(&at, "readings.csv", "scan," PLAIN_HEADER "\xFF\xFE,A,B,0,0,1,1\n");
    tells(folder_faults(&at), "is not UTF-8 text");
    folder_write_bytes(&at, "readings.csv", "\xFF\xFE" "b\0o\0", 6);
    tells(folder_faults(&at), "UTF");
    folder_write_bytes(&at, "readings.csv", "\xFE\xFF" "\0b\0o", 6);
    tells(folder_faults(&at), "UTF");
    folder_write_bytes(&at, "readings.csv", "b", 1);
    tells(folder_faults(&at), "readings.csv:1:");
    folder_remove(&at);
}

/* A folder's path that ends in a slash; "" is none. */
static void test_folders(void **state)
{
    (void)state;
    folder at = folder_make();
    char path[80];
    fw_job *job = NULL;
    fw_faults faults;
    fw_error err = {FW_OK, ""};
    snprintf(path, sizeof path, "%s/new//", at.path);
    assert_int_equal(fw_job_new(path, &err), FW_OK);
    assert_int_equal(fw_job_read_set(path, &job, &faults, &err), FW_OK);
    fw_job_free(job);
    fw_faults_release(&faults);
    assert_int_equal(fw_job_read("", &job, &faults, &err), FW_INPUT);
    assert_null(job);
    fw_faults_release(&faults);
    assert_int_equal(fw_job_new("", &err), FW_SYSTEM);
    folder_remove(&at);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_tables_taken_in), cmocka_unit_test(test_sheets_taken_in),
        cmocka_unit_test(test_rows_written),    cmocka_unit_test(test_comments),
        cmocka_unit_test(test_side_files),      cmocka_unit_test(test_settings),
        cmocka_unit_test(test_limits),          cmocka_unit_test(test_readings),
        cmocka_unit_test(test_folders)};
    return cmocka_run_group_tests_name("job_edges", tests, NULL, NULL);
}
