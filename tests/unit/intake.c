/* intake.c - files of readings in the layouts people use: what is understood, and every fault. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "../support/close.h"
#include "../support/folder.h"
#include "flatwright/intake.h"

#define INI PLAIN_INI "[light]\nsource = mercury-green\n[readings]\nunit = fringe\n" \
                      "[flat B]\nbore = 20 mm\n"

static char dump[1 << 14];

/* Reads `text` against a plain job; dumps the readings, then what is left out, then the faults. */
static const char *understood(const char *text, const char *known)
{
    static const char *const units[] = {"nm", "um", "fringe", "wave"};
    char path[80];
    folder at = folder_make();
    size_t n = 0;
    folder_write(&at, "job.ini", INI);
    folder_write(&at, "readings.csv", known ? known : PLAIN_HEADER);
    folder_write(&at, "in.csv", text);
    fw_job *job = folder_job(&at);
    fw_intake *in = NULL;
    fw_faults faults;
    fw_error err = {FW_OK, ""};
    snprintf(path, sizeof path, "%s/in.csv", at.path);
    fw_status status = fw_intake_read(path, job, NULL, &in, &faults, &err);
    assert_true((in != NULL) == (status == FW_OK));
    assert_int_equal(status, faults.count ? FW_INPUT : FW_OK);
    dump[0] = '\0';
    if (in)
        assert_int_equal(fw_intake_drop_known(in, job, &err), FW_OK);
    for (size_t i = 0; in && i < in->count; i++) {
        const fw_entry *e = &in->entries[i];
        n += (size_t)snprintf(dump + n, sizeof dump - n, "%d%s%s %g %g%s%s %g:%.9g%s", e->round,
                              job->flats[e->bottom].name, job->flats[e->top].name, e->turn_deg,
                              e->diameter_deg, *e->label ? " #" : "", e->label, e->position_mm,
                              e->deviation, units[e->unit]);
        if (!isnan(e->sigma))
            n += (size_t)snprintf(dump + n, sizeof dump - n, "+-%g", e->sigma);
        n += (size_t)snprintf(dump + n, sizeof dump - n, "%s%s\n", *e->note ? " " : "", e->note);
    }
    if (in && in->nknown + in->ntwice + in->nskipped + in->nsecond > 0)
        n += (size_t)snprintf(dump + n, sizeof dump - n, "known %zu twice %zu skip %zu second %zu\n",
                              in->nknown, in->ntwice, in->nskipped, in->nsecond);
    for (int i = 0; in && i < in->nunread && i < FW_UNREAD_LISTED; i++)
        n += (size_t)snprintf(dump + n, sizeof dump - n, "unread %s\n", in->unread[i]);
    for (size_t i = 0; i < faults.listed; i++)
        n += (size_t)snprintf(dump + n, sizeof dump - n, "%d:%d: %s\n", faults.list[i].line,
                              faults.list[i].column, faults.list[i].text);
    fw_faults_release(&faults);
    fw_intake_free(in);
    fw_job_free(job);
    folder_remove(&at);
    return dump;
}

static void check(const char *text, const char *expected)
{
    assert_string_equal(understood(text, NULL), expected);
}

static void test_tables(void **state)
{
    (void)state;
    check(PLAIN_HEADER "A,B,0,45,-90,0.25\n", "1AB 0 45 -90:0.25fringe\n");
    check("note,sigma,unit,skip,scan,round," PLAIN_HEADER
          "\"a, b\",2,nm,0,x,3,A,C,90,0,0,-1.5\n,,,1,,,A,C,0,0,0,1\n",
          "3AC 90 0 #x 0:-1.5nm+-2 a, b\nknown 0 twice 0 skip 1 second 0\n");
    /* Names that are near, other units, an unknown column, a title. */
    check("My readings\nLower;Upper;Rotation (deg);Angle;Station (cm);nm;weather\n"
          "B;C;0;22,5;-9,5;-12,25;rain\n",
          "1BC 0 22.5 -95:-12.25nm\nunread line 1: My readings\nunread column 7: weather\n");
    check("pair\tturn\tdiameter\tx [in]\tdeviation (waves)\nA/B\t0\t0\t1\t0,5\n",
          "1AB 0 0 25.4:0.5wave\n");
    /* Signs of other tables in the texts of this one. */
    check("note," PLAIN_HEADER "a;b;c\td,A,B,0,0,10,1\n\"x;y\",A,B,0,0,20,2\n",
          "1AB 0 0 10:1fringe a;b;c\td\n1AB 0 0 20:2fringe x;y\n");
    check("\xEF\xBB\xBFsep=;\r\nbottom;top;turn_deg;diameter_deg;position_mm;deviation\r\n"
          "A;B;0;0;10;0,5\r\n;;;;;\r\n", "1AB 0 0 10:0.5fringe\n");
}

#define SHEET "bottom,A,,B\ntop,B,,C\nturn,0,,45\ndiameter,0,90,0\n"

static void test_sheets(void **state)
{
    (void)state;
    check(SHEET "-50,1,2,3\n50,4,,6\n",
          "1AB 0 0 -50:1fringe\n1AB 0 0 50:4fringe\n1AB 0 90 -50:2fringe\n"
          "1BC 45 0 -50:3fringe\n1BC 45 0 50:6fringe\n");
    /* A block for each scan, one under another; what is not said again goes on. */
    check("Bottom:;A\nTop:;B\nTurn:;0\nDiameter:;0\nposition;deviation (nm)\n-50;1,5\n50;2,5\n\n"
          "second evening\nDiameter:;45\n-50;3\n50;4\n\nPair:;C A\nscan;2\nround;2\n50;5\n",
          "1AB 0 0 -50:1.5nm\n1AB 0 0 50:2.5nm\n1AB 0 45 -50:3fringe\n1AB 0 45 50:4fringe\n"
          "2CA 0 45 #2 50:5fringe\nunread line 9: second evening\n");
    check("pair\tA/B\tB/C\nturn\t0\t0\ndiameter\t0\t0\nunit\tnm\tum\nmm\t\t\n10\t1\t2\n",
          "1AB 0 0 10:1nm\n1BC 0 0 10:2um\n");
}

static void test_known(void **state)
{
    (void)state;
    assert_string_equal(
        understood(PLAIN_HEADER "A,B,0,0,50,1.0\nA,B,0,0,-50,2\nA,B,0,0,60,7\nA,B,0,0,60,7\n"
                                "A,B,0,45,50,1\n",
                   PLAIN_HEADER "A,B,0,0,50.001,1\nA,B,0,0,-50,3\n"),
        "1AB 0 0 -50:2fringe\n1AB 0 0 60:7fringe\n1AB 0 45 50:1fringe\n"
        "known 1 twice 1 skip 0 second 1\n");
}

/* The other end of the diameter, turns a whole circle apart, rows that are skipped in the job. */
static void test_known_otherwise(void **state)
{
    (void)state;
    assert_string_equal(
        understood(PLAIN_HEADER "A,B,0,190.3,50,1\nA,B,360,10.3,60,2\nA,B,-180,180,70,3\n"
                                "A,B,180,0,-70,3.5\nA,B,0,10.3,50,1\n",
                   PLAIN_HEADER "A,B,0,10.3,-50,1\nA,B,0,10.3,60,2\nA,B,180,0,-70,3\n"),
        "1AB 180 0 -70:3.5fringe\n1AB 0 10.3 50:1fringe\nknown 3 twice 0 skip 0 second 1\n");
    assert_string_equal(
        understood("skip," PLAIN_HEADER "0,A,B,0,0,50,1\n1,A,B,0,0,60,2\n0,A,B,0,0,70,3\n",
                   "skip,sigma," PLAIN_HEADER "1,,A,B,0,0,50,1\n0,0.1,A,B,0,0,60,2\n"),
        "1AB 0 0 70:3fringe\nknown 1 twice 0 skip 1 second 0\n");
}

static void test_faults(void **state)
{
    (void)state;
    check("", "0:0: has no readings: expected a header with bottom, top, turn, diameter, position, "
              "deviation, or a sheet with such lines over its columns\n");
    check(PLAIN_HEADER "A,Q,0,0,5,1\nA,A,x,0,50,1\nA,B,0,0,500,1\nA,B,0,0,5,1e99\nA,B,0,0,50\n"
                       "A,B,0,0,50,1,9\n",
          "2:3: unknown flat 'Q', expected A, B or C\n"
          "3:3: flat 'A' stands against itself, expected another one on top\n"
          "3:5: turn 'x', expected a number\n"
          "4:9: position_mm is 500, outside flat 'A', expected -100 to 100\n"
          "5:9: position_mm is 5, in the bore of flat 'B', expected 10 or more from the centre\n"
          "5:11: deviation '1e99', expected a number from -36625.1 to 36625.1\n"
          "6:0: deviation is empty, expected a number\n"
          "7:14: the value stands beyond the 6 columns of the header\n");
    check("bottom,top,position,deviation\nA,B,1,2\n",
          "1:0: a column for the turn is missing, turn_deg\n");
    check("bottom,A\ntop,B\nturn,0\n-50,1\n", "4:1: readings begin, and no line above says diameter\n");
    check(SHEET "fifty,1,2,3\n", "5:1: 'fifty' is neither a position nor bottom, top, pair, turn, "
                                 "diameter, round, scan or unit\n");
    check("bottom,Q\ntop,B\nturn,0\ndiameter,\n50,1\n60,1\n",
          "1:8: unknown flat 'Q', expected A, B or C\n4:10: diameter is empty, expected a number\n");
    check("bottom,top,turn,diameter,position (ft),deviation\nA,B,0,0,1,1\n",
          "1:26: unknown unit of length, expected mm, cm, m or in\n");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_tables),
        cmocka_unit_test(test_sheets),
        cmocka_unit_test(test_known),
        cmocka_unit_test(test_known_otherwise),
        cmocka_unit_test(test_faults),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
