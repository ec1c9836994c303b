/* dialog.c - readings asked for: lines in, prompts and files out. All data are invented. */
#define _POSIX_C_SOURCE 200809L
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "../support/close.h"
#include "../support/folder.h"
#include "flatwright/dialog.h"

#define INI PLAIN_INI "[light]\nsource = mercury-green\n[readings]\nunit = fringe\nsigma = 0.02\n"
#define HEADER "scan,round,bottom,top,turn_deg,diameter_deg,position_mm,deviation\n"
#define STATIONS "# stations: -80 -40 0 40 80\n"

/* A talk with a job of its own. */
typedef struct talk {
    folder at;
    fw_job *job;
    fw_notebook *notebook;
    fw_screen screen;
    char *said;
    size_t size;
    fw_dialog *dialog;
} talk;

static void begin(talk *t, const char *ini, const char *readings)
{
    fw_error err;
    fw_dialog_options how = {0, true};
    *t = (talk){.at = folder_make()};
    folder_write(&t->at, "job.ini", ini);
    folder_write(&t->at, "readings.csv", readings);
    t->job = folder_job(&t->at);
    t->screen = (fw_screen){.out = open_memstream(&t->said, &t->size), .columns = 2000};
    assert_int_equal(fw_notebook_open(t->job, &t->notebook, &err), FW_OK);
    assert_int_equal(fw_dialog_new(t->job, t->notebook, &t->screen, &how, &t->dialog, &err), FW_OK);
}

/* Says lines, separated by |; returns what was answered to the last one. */
static const char *say(talk *t, const char *lines)
{
    char line[400];
    size_t before = 0;
    fflush(t->screen.out);
    for (const char *end; lines; lines = end ? end + 1 : NULL) {
        end = strchr(lines, '|');
        snprintf(line, sizeof line, "%.*s", (int)(end ? end - lines : (int)strlen(lines)), lines);
        before = t->size;
        fw_dialog_line(t->dialog, line);
        fflush(t->screen.out);
    }
    return t->said + before;
}

static void finish(talk *t)
{
    fw_dialog_free(t->dialog);
    fw_notebook_close(t->notebook);
    fw_job_free(t->job);
    fclose(t->screen.out);
    free(t->said);
    folder_remove(&t->at);
}

/* Stops, and begins another talk on the same folder. */
static void restart(talk *t)
{
    fw_error err;
    fw_dialog_options how = {0, true};
    fw_dialog_free(t->dialog);
    fw_notebook_close(t->notebook);
    fw_job_free(t->job);
    fclose(t->screen.out);
    free(t->said);
    t->job = folder_job(&t->at);
    t->screen = (fw_screen){.out = open_memstream(&t->said, &t->size), .columns = 2000};
    assert_int_equal(fw_notebook_open(t->job, &t->notebook, &err), FW_OK);
    assert_int_equal(fw_dialog_new(t->job, t->notebook, &t->screen, &how, &t->dialog, &err), FW_OK);
    fflush(t->screen.out);
}

static const char *whole(const talk *t)
{
    static char text[1 << 14];
    char path[80];
    snprintf(path, sizeof path, "%s/readings.csv", t->at.path);
    FILE *in = fopen(path, "rb");
    assert_non_null(in);
    text[fread(text, 1, sizeof text - 1, in)] = '\0';
    fclose(in);
    return text;
}

/* The rows behind the header and the list of stations. */
static const char *rows(const talk *t)
{
    const char *at = strstr(whole(t), HEADER) + strlen(HEADER);
    return strncmp(at, "# stations", 10) == 0 ? strchr(at, '\n') + 1 : at;
}

static void assert_ends(const char *text, const char *end)
{
    size_t n = strlen(text), m = strlen(end);
    if (n < m || strcmp(text + n - m, end) != 0)
        fail_msg("'%s' does not end in '%s'", text, end);
}

static void assert_says(const char *text, const char *part)
{
    if (!strstr(text, part))
        fail_msg("'%s' does not say '%s'", text, part);
}

static void test_prompts(void **state)
{
    (void)state;
    talk t;
    begin(&t, INI, HEADER);
    fflush(t.screen.out);
    assert_ends(t.said, "bottom and top [A B]: ");
    assert_ends(say(&t, "A"), "bottom and top [A B]: ");
    assert_says(say(&t, "A Q"), "There is no flat 'Q'");
    assert_says(say(&t, "A A"), "two different flats");
    assert_ends(say(&t, "c/b"), "turn of the top, deg [0]: ");
    assert_says(say(&t, "north"), "an angle in degrees");
    assert_ends(say(&t, "22,5"), "diameter, deg [0]: ");
    assert_ends(say(&t, "back"), "turn of the top, deg [22.5]: ");
    finish(&t);
}

static void test_stations(void **state)
{
    (void)state;
    talk t;
    begin(&t, INI "[flat B]\nbore = 30 mm\n", HEADER);
    assert_ends(say(&t, "|||200"), "mm [100]: ");
    assert_ends(say(&t, "90"), "[13]: ");
    assert_says(say(&t, "1"), "a whole number from 2");
    assert_says(say(&t, "5"), "press"); /* the sign */
    assert_ends(say(&t, "sign"), "-90 mm (1 of 4): "); /* the middle is in the bore */
    say(&t, ".1 .2 .3 .4");
    assert_string_equal(rows(&t), ",1,A,B,0,0,-90,0.1\n,1,A,B,0,0,-45,0.2\n,1,A,B,0,0,45,0.3\n"
                                  ",1,A,B,0,0,90,0.4\n");
    assert_ends(say(&t, "C A||"), "-90 mm (1 of 5): "); /* no bore here */
    finish(&t);
}

/* All that can be typed for a reading; the sign by what is seen. */
static void test_forms(void **state)
{
    (void)state;
    talk t;
    begin(&t, INI, HEADER STATIONS);
    assert_says(say(&t, "|||t"), "+ toward you"); /* bands move toward the person when pressed */
    say(&t, ".12|3/25|6/|27.3037nm|-0,5w");
    assert_string_equal(rows(&t), ",1,A,B,0,0,-80,0.12\n,1,A,B,0,0,-40,0.12\n,1,A,B,0,0,0,0.24\n"
                                  ",1,A,B,0,0,40,0.1\n");
    assert_says(say(&t, "x"), "is no reading");
    assert_says(say(&t, "1e9"), "slip of the pen");
    assert_says(say(&t, "0.5a"), "the bands bow");
    assert_string_equal(strrchr(rows(&t), ','), ",-0.5\n");
    finish(&t);
}

static void test_corrections(void **state)
{
    (void)state;
    talk t;
    begin(&t, INI, HEADER STATIONS);
    assert_ends(say(&t, "|||s|.1|.2|.3|back"), "0 mm (3 of 5) [+0.3]: ");
    assert_ends(say(&t, "b"), "-40 mm (2 of 5) [+0.2]: ");
    assert_ends(say(&t, ".25"), "0 mm (3 of 5) [+0.3]: ");
    assert_ends(say(&t, ""), "+40 mm (4 of 5) last +0.3: ");
    assert_ends(say(&t, "sk"), "+80 mm (5 of 5): ");
    say(&t, "flip");
    assert_string_equal(rows(&t), ",1,A,B,0,0,-80,-0.1\n,1,A,B,0,0,-40,-0.25\n,1,A,B,0,0,0,-0.3\n"
                                  "# skipped: 1 A B 0 0 40\n");
    assert_ends(say(&t, "again|s|1 2 3 4 5"), "bottom and top [B C]: ");
    assert_says(rows(&t), "2,1,A,B,0,0,80,5\n");
    finish(&t);
}

static void test_going_on(void **state)
{
    (void)state;
    talk t;
    begin(&t, INI, HEADER STATIONS ",1,B,C,45,90,-80,0.32\n,1,B,C,45,90,-40,0.1\n");
    fflush(t.screen.out);
    assert_says(t.said, "Unfinished: B below, C on top, turn 45, diameter 90");
    assert_ends(say(&t, "s"), "0 mm (3 of 5) last +0.1: ");
    assert_ends(say(&t, "back|back|"), "-40 mm (2 of 5) [+0.1]: ");
    say(&t, "back|.33");
    assert_says(rows(&t), ",1,B,C,45,90,-80,0.33\n");
    assert_int_equal(fw_dialog_count(t.dialog), 0);
    assert_false(fw_dialog_line(t.dialog, "stop"));
    assert_false(fw_dialog_line(t.dialog, "more"));
    assert_int_equal(fw_dialog_status(t.dialog), FW_OK);
    finish(&t);
}

/* What was foretold: from the flats, from a repeat, from the places before. */
static void test_pointed_out(void **state)
{
    (void)state;
    talk t;
    begin(&t, INI, HEADER STATIONS);
    assert_null(strstr(say(&t, "|||s|0 .3 .4 .3 0"), "fit"));
    say(&t, "B C|||0 -.1 -.2 -.1 0|C A|||0 .1 .15 .1 0");
    /* Bottom and top exchanged: the same glass, another tilt. */
    const char *answer = say(&t, "B A|||.1 .45 .6 .55");
    assert_null(strstr(answer, "fit"));
    answer = say(&t, "1.3");
    assert_says(answer, "! +1.3 does not fit: +0.3 ");
    assert_says(answer, "from the earlier readings");
    assert_says(rows(&t), ",1,B,A,0,0,80,1.3\n"); /* kept */
    finish(&t);
    begin(&t, INI, HEADER STATIONS);
    answer = say(&t, "|||s|0 .1 .2 -3");
    assert_says(answer, "! -3 does not fit: +0.3 ");
    assert_says(answer, "from the places before it");
    finish(&t);
}

static void test_second_look_at_the_sign(void **state)
{
    (void)state;
    talk t;
    begin(&t, INI, HEADER STATIONS);
    assert_ends(say(&t, "|||a|0 .3 .4 .3 0"), "not clear [Enter]: ");
    assert_says(say(&t, "t"), "bows to the other side");
    say(&t, "flip|");
    assert_string_equal(strchr(rows(&t), '\n') + 1, ",1,A,B,0,0,-40,-0.3\n,1,A,B,0,0,0,-0.4\n"
                                                    ",1,A,B,0,0,40,-0.3\n,1,A,B,0,0,80,0\n");
    finish(&t);
}

/*
 * Bands across the diameter. The gap of a pair with a sphere of sag P at the rim R on a slope b is
 * g = b x + P x^2 / R^2 in fringes, crossed where it is whole; the glass is -g. Derived. A straight
 * line apart the readings must be that, to the error of a cubic through four crossings.
 */
static void test_crossings(void **state)
{
    (void)state;
    talk t;
    char line[400] = "cross +";
    const double b = 0.1, p = 0.8, r = 100;
    begin(&t, INI, HEADER STATIONS);
    say(&t, "|||s");
    for (int k = -8; k <= 10; k++) { /* p x^2 / r^2 + b x - k = 0 */
        double x = 2 * k / (b + sqrt(b * b + 4 * p * k / (r * r)));
        if (fabs(x) < 95)
            snprintf(line + strlen(line), sizeof line - strlen(line), " %.4f", x);
    }
    assert_says(say(&t, "cross 1 2 3"), "press on the middle");
    assert_says(say(&t, "cross + 1 2"), "Three crossings");
    assert_says(say(&t, "cross + 3 2 1"), "each beyond the one before");
    assert_string_equal(rows(&t), "");
    assert_says(say(&t, line), "5 readings");
    double y[5], x[] = {-80, -40, 0, 40, 80}, slope, mean = 0;
    const char *at = rows(&t);
    for (int i = 0; i < 5; i++, at = strchr(at, '\n') + 1)
        y[i] = strtod(strchr(at + 11, ',') + 1, NULL); /* behind ",1,A,B,0,0," and the place */
    slope = (2 * (y[4] - y[0]) + y[3] - y[1]) / (10 * 40); /* of the line through five places */
    for (int i = 0; i < 5; i++) {
        y[i] += p * x[i] * x[i] / (r * r) - slope * x[i];
        mean += y[i] / 5;
    }
    for (int i = 0; i < 5; i++)
        assert_close(y[i] - mean, 0, 0, 2e-4);
    finish(&t);
    /* The slope of a setup must stay. */
    begin(&t, INI "levelling = setup\n", HEADER STATIONS);
    assert_says(say(&t, "|||s|cross + -80 0 80"), "levelling = scan");
    finish(&t);
}

/* A folder as `new` lays it has no column for repeats: it gets one, and loses nothing. */
static void test_repeat_gets_its_column(void **state)
{
    (void)state;
    talk t;
    begin(&t, INI, PLAIN_HEADER STATIONS "A,B,0,0,-80,1\nA,B,0,0,-40,1\nA,B,0,0,0,1\n"
                                         "A,B,0,0,40,1\nA,B,0,0,80,1\n");
    assert_says(say(&t, "A B|0|0"), "this is a repeat, scan 2");
    say(&t, "s|1.1|1.2|back|1.3|again|5 6 7 8 9");
    assert_says(whole(&t), "deviation,scan\n" STATIONS "A,B,0,0,-80,1,\nA,B,0,0,-40,1,\n");
    assert_says(whole(&t), "A,B,0,0,80,1,\nA,B,0,0,-80,1.1,2\nA,B,0,0,-40,1.3,2\nA,B,0,0,-80,5,3\n");
    finish(&t);
    /* In the middle of a scan, and a correction of what was typed before. */
    begin(&t, INI, PLAIN_HEADER STATIONS);
    say(&t, "|||s|1 2 3|again|4|back|5|stop");
    assert_says(whole(&t), "A,B,0,0,-80,1,\nA,B,0,0,-40,2,\nA,B,0,0,0,3,\nA,B,0,0,-80,5,2\n");
    finish(&t);
}

/* A place left out is no place missing. */
static void test_left_out(void **state)
{
    (void)state;
    talk t;
    begin(&t, INI, HEADER STATIONS);
    say(&t, "|||s|skip|.2|.3|skip|.5");
    assert_says(say(&t, "A B|0|0"), "this is a repeat, scan 2");
    assert_ends(say(&t, "1|skip|back|back|"), "-40 mm (2 of 5) [left out]: ");
    assert_says(say(&t, "list"), "left out");
    say(&t, "stop");
    restart(&t);
    assert_says(t.said, "Unfinished: A below, B on top, turn 0, diameter 0");
    assert_ends(say(&t, "s"), "0 mm (3 of 5): ");
    say(&t, "3 4 5|stop");
    restart(&t);
    assert_null(strstr(t.said, "Unfinished"));
    finish(&t);
    /* All left out is not read. */
    begin(&t, INI, HEADER STATIONS);
    say(&t, "|||s|skip|skip|skip|skip|skip");
    assert_ends(say(&t, "0"), "-80 mm (1 of 5) [left out]: ");
    say(&t, "7");
    assert_string_equal(strrchr(rows(&t), '\n') - 1, "7\n");
    finish(&t);
}

/* Readings with a sigma each, and no common one: those typed would have none. */
static void test_no_weight(void **state)
{
    (void)state;
    folder at = folder_make();
    fw_error err;
    fw_notebook *notebook = NULL;
    fw_dialog *dialog = NULL;
    fw_dialog_options how = {0, false};
    folder_write(&at, "job.ini", PLAIN_INI);
    folder_write(&at, "readings.csv", "sigma," PLAIN_HEADER "1,A,B,0,0,0,1\n");
    fw_job *job = folder_job(&at);
    fw_screen screen = {.out = stderr};
    assert_int_equal(fw_notebook_open(job, &notebook, &err), FW_OK);
    assert_int_equal(fw_dialog_new(job, notebook, &screen, &how, &dialog, &err), FW_INPUT);
    assert_null(dialog);
    assert_says(err.text, "a sigma of their own");
    fw_notebook_close(notebook);
    fw_job_free(job);
    folder_remove(&at);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_prompts),      cmocka_unit_test(test_stations),
        cmocka_unit_test(test_forms),        cmocka_unit_test(test_corrections),
        cmocka_unit_test(test_going_on),     cmocka_unit_test(test_pointed_out),
        cmocka_unit_test(test_second_look_at_the_sign), cmocka_unit_test(test_crossings),
        cmocka_unit_test(test_repeat_gets_its_column), cmocka_unit_test(test_left_out),
        cmocka_unit_test(test_no_weight),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
