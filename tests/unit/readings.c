/* readings.c - readings.csv to scans and readings, and every fault by place. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "../support/close.h"
#include "../support/folder.h"
#include "job/scans.h"

static fw_job *read_job(const char *ini, const char *readings)
{
    folder at = folder_make();
    folder_write(&at, "job.ini", ini ? ini : PLAIN_INI);
    folder_write(&at, "readings.csv", readings);
    fw_job *job = folder_job(&at);
    folder_remove(&at);
    return job;
}

/* The faults of `rows` under the plain header: they begin in line 2. */
static void check(const char *rows, const char *expected)
{
    char text[4000];
    snprintf(text, sizeof text, "%s%s", PLAIN_HEADER, rows);
    assert_faults(NULL, text, expected);
}

static void test_plain(void **state)
{
    fw_job *job =
        read_job(NULL, PLAIN_HEADER "A,B,0,45,-90,1.5\nA,B,0,45,90,-2\nB,C,-30,190,0,0\n");
    (void)state;
    assert_int_equal(job->nscans, 2);
    assert_int_equal(job->nreadings, 3);
    assert_int_equal(job->nskipped, 0);
    assert_int_equal(job->scans[0].bottom, 0);
    assert_int_equal(job->scans[0].top, 1);
    assert_int_equal(job->scans[0].round, 1);
    assert_string_equal(job->scans[0].label, "");
    assert_close(job->scans[0].turn_deg, 0, 0, 0);
    assert_close(job->scans[0].diameter_deg, 45, 0, 0);
    assert_int_equal(job->scans[0].first, 0);
    assert_int_equal(job->scans[0].count, 2);
    assert_close(job->scans[1].turn_deg, -30, 0, 0);
    assert_close(job->scans[1].diameter_deg, 190, 0, 0); /* as typed */
    assert_int_equal(job->scans[1].first, 2);
    assert_close(job->readings[1].position_mm, 90, 0, 0);
    assert_close(job->readings[1].deviation_nm, -2, 0, 0);
    assert_true(isnan(job->readings[1].sigma_nm));
    assert_int_equal(job->readings[1].line, 3);
    fw_job_free(job);
}

static void test_no_rows(void **state)
{
    fw_job *job = read_job(NULL, PLAIN_HEADER);
    (void)state;
    assert_int_equal(job->nreadings, 0);
    assert_int_equal(job->nscans, 0);
    assert_int_equal(fw_job_round(job), 1);
    fw_job_free(job);
}

static const char light_ini[] = PLAIN_INI "[light]\nsource = mercury-green\n[readings]\n"
                                          "unit = fringe\nsigma = 0.02\n";

static void test_units(void **state)
{
    fw_job *job = read_job(light_ini, "bottom,top,turn_deg,diameter_deg,position_mm,deviation,unit,"
                                      "sigma\n"
                                      "A,B,0,0,1,0.5,,\nA,B,0,0,2,0.5,wave,0.1\n"
                                      "A,B,0,0,3,0.5,um,\nA,B,0,0,4,0.5,nm,2\n"
                                      "A,B,0,0,5,0.5,\xC2\xB5m,\n");
    const double deviations[] = {0.5 * 273.037, 0.5 * 546.074, 500, 0.5, 500};
    const double sigmas[] = {0.02 * 273.037, 0.1 * 546.074, 0.02 * 273.037, 2, 0.02 * 273.037};
    (void)state;
    for (int i = 0; i < 5; i++) {
        assert_close(job->readings[i].deviation_nm, deviations[i], 1e-15, 0);
        assert_close(job->readings[i].sigma_nm, sigmas[i], 1e-14, 0);
    }
    fw_job_free(job);
}

/* Rows in any order and columns in any order give the same scans; each keeps the file's order. */
static void test_grouping(void **state)
{
    fw_job *job =
        read_job(NULL, "deviation,scan,round,position_mm,diameter_deg,turn_deg,top,bottom\n"
                       "1,,1,-1,0,0,B,A\n2,x,1,-1,0,0,B,A\n3,,2,-1,0,0,B,A\n"
                       "4,,,1,-0,0.0,B,A\n5,x,1,1,0,0,B,A\n6,,1,1,180,0,B,A\n"
                       "7,,1,0,0,0,B,A\n8,,1,0,0,0,B,A\n");
    static const double order[] = {1, 4, 7, 8, 2, 5, 3, 6};
    static const size_t first[] = {0, 4, 6, 7}, counts[] = {4, 2, 1, 1};
    static const char *const labels[] = {"", "x", "", ""};
    (void)state;
    assert_int_equal(job->nscans, 4);
    for (size_t k = 0; k < 4; k++) {
        assert_int_equal(job->scans[k].first, first[k]);
        assert_int_equal(job->scans[k].count, counts[k]);
        assert_string_equal(job->scans[k].label, labels[k]);
        for (size_t i = 0; i < counts[k]; i++)
            assert_int_equal(job->readings[first[k] + i].scan, k);
    }
    for (size_t i = 0; i < 8; i++)
        assert_close(job->readings[i].deviation_nm, order[i], 0, 0);
    assert_int_equal(job->scans[2].round, 2);
    fw_job_free(job);
}

static void test_skip(void **state)
{
    fw_job *job =
        read_job(NULL, "bottom,top,turn_deg,diameter_deg,position_mm,deviation,skip,note\n"
                       "A,B,0,0,1,5,1,slipped\nA,C,0,0,1,5,0,\nA,B,0,0,2,6,,\"5\"\" ok\"\n");
    (void)state;
    assert_int_equal(job->nskipped, 1);
    assert_int_equal(job->nreadings, 2);
    assert_int_equal(job->nscans, 2);
    assert_int_equal(job->scans[0].top, 2); /* a skipped row makes no scan */
    fw_job_free(job);
    assert_faults(NULL,
                  "bottom,top,turn_deg,diameter_deg,position_mm,deviation,skip\n"
                  "A,B,0,0,1,x,1\nA,B,0,0,1,1,2\nA,B,0,0,1,1,yes\n",
                  "readings.csv:2:11: deviation 'x' is not a number, expected a number\n"
                  "readings.csv:3:13: skip is '2', expected 0 or 1\n"
                  "readings.csv:4:13: skip is 'yes', expected 0 or 1\n");
}

static void test_decimal_commas(void **state)
{
    fw_job *job = read_job(NULL, "\xEF\xBB\xBF"
                                 "bottom;top;turn_deg;diameter_deg;position_mm;deviation\r\n"
                                 "A;B;0;22,5;-12,25;1,5e1\r\n;;;;;\r\n");
    (void)state;
    assert_int_equal(job->nreadings, 1);
    assert_close(job->scans[0].diameter_deg, 22.5, 0, 0);
    assert_close(job->readings[0].position_mm, -12.25, 0, 0);
    assert_close(job->readings[0].deviation_nm, 15, 0, 0);
    fw_job_free(job);
    check("A,B,0,0,1,\"1,5\"\n", "readings.csv:2:11: deviation '1,5' has a comma where a decimal "
                                 "point belongs, expected a number\n");
}

static void test_numbers(void **state)
{
    (void)state;
    check("A,B,x,0,1,1\n", "readings.csv:2:5: turn_deg 'x' is not a number, expected an angle in "
                           "degrees\n");
    check("A,B,0,nan,1,1\n",
          "readings.csv:2:7: diameter_deg 'nan' is not a finite number, expected "
          "an angle in degrees\n");
    check("A,B,0,0,1e999,1\n", "readings.csv:2:9: position_mm '1e999' is too large for a number, "
                               "expected a place on the diameter in mm\n");
    check("A,B,0,0,1,1x\n",
          "readings.csv:2:11: deviation '1x' has text after the number, expected a "
          "number\n");
    check("A,B,0,0,1,\n", "readings.csv:2:11: deviation is empty, expected a number\n");
    check("A,B,0,0,1,-inf\n",
          "readings.csv:2:11: deviation '-inf' is not a finite number, expected "
          "a number\n");
    check("A,B,3601,0,1,1\n", "readings.csv:2:5: turn_deg is 3601, expected an angle in degrees\n");
    check("A,B,0,0,1,1e8\n",
          "readings.csv:2:11: deviation is 100000000 nm, expected less than 10 mm "
          "of gap\n");
    check("A,B,0,0,1\n", "readings.csv:2:0: the row has 5 fields, expected 6\n");
    check("A,B,0,0,1,1,1\n", "readings.csv:2:13: the row has 7 fields, expected 6\n");
}

/* Every fault of a row is told, and every row's. */
static void test_all_at_once(void **state)
{
    (void)state;
    check("A,A,x,y,z,\nD,B,0,0,1,1\n",
          "readings.csv:2:3: flat 'A' stands against itself, expected another one on top\n"
          "readings.csv:2:5: turn_deg 'x' is not a number, expected an angle in degrees\n"
          "readings.csv:2:7: diameter_deg 'y' is not a number, expected an angle in degrees\n"
          "readings.csv:2:9: position_mm 'z' is not a number, expected a place on the diameter in "
          "mm\n"
          "readings.csv:2:11: deviation is empty, expected a number\n"
          "readings.csv:3:1: unknown flat 'D', expected A, B or C\n");
}

static void test_flats(void **state)
{
    (void)state;
    check("a,B,0,0,1,1\nA,,0,0,1,1\nA,B,0,0,1,1\nA,\"B \",0,0,1,1\n",
          "readings.csv:2:1: unknown flat 'a', expected A, B or C, did you mean 'A'?\n"
          "readings.csv:3:3: top is empty, expected the name of a flat\n");
}

static void test_places(void **state)
{
    char text[400];
    static const char ini[] = PLAIN_INI "[flat B]\nbore = 30 mm\n";
    (void)state;
    check("A,B,0,0,100,1\nA,B,0,0,-100.001,1\n",
          "readings.csv:3:9: position_mm is -100.001, outside flat 'A', expected -100 to 100\n");
    snprintf(text, sizeof text,
             "%sA,C,0,0,0,1\nA,B,0,0,15,1\nA,B,0,0,-15,1\nB,C,0,0,14.99,1\n"
             "A,B,0,0,0,1\n",
             PLAIN_HEADER);
    assert_faults(
        ini, text,
        "readings.csv:5:9: position_mm is 14.99, in the bore of flat 'B', expected 15 or "
        "more from the centre\n"
        "readings.csv:6:9: position_mm is 0, in the bore of flat 'B', expected 15 or more "
        "from the centre\n");
}

static void test_rounds(void **state)
{
    (void)state;
    assert_faults(NULL,
                  "round,bottom,top,turn_deg,diameter_deg,position_mm,deviation\n"
                  "0,A,B,0,0,1,1\n1.5,A,B,0,0,1,1\n1e3,A,B,0,0,1,1\nx,A,B,0,0,1,1\n"
                  "10000,A,B,0,0,1,1\n99999999999999999999,A,B,0,0,1,1\n,A,B,0,0,1,1\n",
                  "readings.csv:2:1: round is 0, expected a whole number from 1 to 9999\n"
                  "readings.csv:3:1: round is '1.5', expected a whole number from 1 to 9999\n"
                  "readings.csv:4:1: round is '1e3', expected a whole number from 1 to 9999\n"
                  "readings.csv:5:1: round is 'x', expected a whole number from 1 to 9999\n"
                  "readings.csv:6:1: round is 10000, expected a whole number from 1 to 9999\n"
                  "readings.csv:7:1: round is '99999999999999999999', expected a whole number from "
                  "1 to 9999\n");
}

static void test_sigma(void **state)
{
    static const char header[] =
        "bottom,top,turn_deg,diameter_deg,position_mm,deviation,sigma,skip\n";
    char text[400];
    (void)state;
    snprintf(text, sizeof text, "%sA,B,0,0,1,1,2,\nA,B,0,0,2,1,,1\nA,B,0,0,3,1,,\nA,B,0,0,4,1,,\n",
             header);
    assert_faults(NULL, text,
                  "readings.csv:4:0: the reading has no sigma and others have one, expected one in "
                  "every row, or [readings] sigma in job.ini\n");
    snprintf(text, sizeof text, "%sA,B,0,0,1,1,0,\nA,B,0,0,2,1,-1,\nA,B,0,0,3,1,1e-12,\n", header);
    assert_faults(NULL, text,
                  "readings.csv:2:13: sigma is 0, expected a number above 0\n"
                  "readings.csv:3:13: sigma is -1, expected a number above 0\n"
                  "readings.csv:4:13: sigma is 1e-12 nm, expected 1e-9 nm to 10 mm\n");
}

static void test_unit_faults(void **state)
{
    static const char rows[] = "bottom,top,turn_deg,diameter_deg,position_mm,deviation,unit\n"
                               "A,B,0,0,1,1,fringes\nA,B,0,0,1,1,wave\nA,B,0,0,2,1,wave\n";
    (void)state;
    assert_faults(NULL, rows,
                  "readings.csv:2:13: unknown unit 'fringes', expected nm, um, fringe or wave, did "
                  "you mean 'fringe'?\n"
                  "readings.csv:3:13: unit 'wave' needs a light, expected [light] in job.ini\n");
}

static void test_columns(void **state)
{
    (void)state;
    assert_faults(NULL,
                  "bottom,top,turn,diameter_deg,position_mm,deviation,deviation\n"
                  "A,B,0,0,1,1,1\nA,D,0,0,1,1,1\n",
                  "readings.csv:1:0: column 'turn_deg' is missing\n"
                  "readings.csv:1:12: unknown column 'turn', did you mean 'turn_deg'?\n"
                  "readings.csv:1:52: column 'deviation' stands a second time, first as column 6\n"
                  "readings.csv:3:3: unknown flat 'D', expected A, B or C\n");
}

/* What job.ini leaves unknown is not held against the readings. */
static void test_broken_settings(void **state)
{
    (void)state;
    assert_faults(
        "[set]\nflats = A B C\ndiameter = wide\n[flat B]\nbore = 5\n",
        PLAIN_HEADER "A,B,0,0,900,1\nA,X,0,0,y,1\nB,C,0,0,1,1\n",
        "job.ini:3:12: diameter 'wide' is not a number, expected a length above 0 up to 10 "
        "m, such as 250 mm\n"
        "readings.csv:3:3: unknown flat 'X', expected A, B or C\n"
        "readings.csv:3:9: position_mm 'y' is not a number, expected a place on the "
        "diameter in mm\n"
        "readings.csv:4:9: position_mm is 1, in the bore of flat 'B', expected 2.5 or more "
        "from the centre\n");
    assert_faults("[set]\nflats = A\ndiameter = 200\n", PLAIN_HEADER "A,B,0,0,90,1\n",
                  "job.ini:2:9: fewer than two flats, expected two or more names, such as A B C\n");
    assert_faults("[set]\nflats = A B\ndiameter = 200\n[light]\nsource = x\n[readings]\nunit = "
                  "fringe\n",
                  PLAIN_HEADER "A,B,0,0,90,1\n",
                  "job.ini:5:10: source 'x' is not known, expected mercury-green, mercury-blue, "
                  "helium-yellow, sodium, hene-red or cadmium-red, or a wavelength instead\n");
}

/* Controls of a file never reach a screen. */
static void test_escapes(void **state)
{
    (void)state;
    check("A,\033[2J,0,0,1,1\n", "readings.csv:2:3: unknown flat '\\x1b[2J', expected A, B or C\n");
}

/* The list ends at 1000, the count goes on. */
static void test_many_faults(void **state)
{
    size_t room = 100000, filled;
    char *text = malloc(room);
    fw_job *job = NULL;
    fw_faults faults;
    fw_error err;
    folder at = folder_make();
    (void)state;
    filled = (size_t)snprintf(text, room, "%s", PLAIN_HEADER);
    for (int i = 0; i < 3000; i++)
        filled += (size_t)snprintf(text + filled, room - filled, "A,D,0,0,1,1\n");
    folder_write(&at, "job.ini", PLAIN_INI);
    folder_write(&at, "readings.csv", text);
    assert_int_equal(fw_job_read(at.path, &job, &faults, &err), FW_INPUT);
    assert_int_equal(faults.count, 3000);
    assert_int_equal(faults.listed, FW_FAULTS_LISTED);
    assert_int_equal(faults.list[FW_FAULTS_LISTED - 1].line, 1001);
    fw_faults_release(&faults);
    folder_remove(&at);
    free(text);
}

/* Thousands of scans, met in turns: each is found again, in the order first met. */
static void test_many_scans(void **state)
{
    enum { SCANS = 5000 };
    fw_scans scans = {0};
    char label[16];
    (void)state;
    for (int pass = 0; pass < 3; pass++)
        for (int i = 0; i < SCANS; i++) {
            fw_scan key = {.round = i % 7 + 1,
                           .bottom = i % 3,
                           .top = (i + 1) % 3,
                           .turn_deg = i % 11,
                           .diameter_deg = i * 0.5,
                           .label = label};
            snprintf(label, sizeof label, "%s%d", i % 2 ? "s" : "", i % 5);
            if (i == 0)
                key.turn_deg = pass == 1 ? -0.0 : 0.0;
            assert_int_equal(fw_scans_find(&scans, &key), i);
        }
    assert_int_equal(scans.count, SCANS);
    fw_scans_release(&scans);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_plain),
                                       cmocka_unit_test(test_no_rows),
                                       cmocka_unit_test(test_units),
                                       cmocka_unit_test(test_grouping),
                                       cmocka_unit_test(test_skip),
                                       cmocka_unit_test(test_decimal_commas),
                                       cmocka_unit_test(test_numbers),
                                       cmocka_unit_test(test_all_at_once),
                                       cmocka_unit_test(test_flats),
                                       cmocka_unit_test(test_places),
                                       cmocka_unit_test(test_rounds),
                                       cmocka_unit_test(test_sigma),
                                       cmocka_unit_test(test_unit_faults),
                                       cmocka_unit_test(test_columns),
                                       cmocka_unit_test(test_broken_settings),
                                       cmocka_unit_test(test_escapes),
                                       cmocka_unit_test(test_many_faults),
                                       cmocka_unit_test(test_many_scans)};
    return cmocka_run_group_tests_name("readings", tests, NULL, NULL);
}
