/* dialog.c - readings asked for: lines in, prompts and files out. All data are invented. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "../support/close.h"
#include "../support/talk.h"

static void test_prompts(void **state)
{
    (void)state;
    talk t;
    talk_begin(&t, TALK_INI, TALK_HEADER);
    fflush(t.screen.out);
    assert_ends(t.said, "bottom and top [A B]: ");
    assert_ends(talk_say(&t, "A"), "bottom and top [A B]: ");
    assert_says(talk_say(&t, "A Q"), "There is no flat 'Q'");
    assert_says(talk_say(&t, "A A"), "two different flats");
    assert_ends(talk_say(&t, "c/b"), "turn of the top, deg [0]: ");
    assert_says(talk_say(&t, "north"), "an angle in degrees");
    assert_ends(talk_say(&t, "22,5"), "diameter, deg [0]: ");
    assert_ends(talk_say(&t, "back"), "turn of the top, deg [22.5]: ");
    talk_finish(&t);
}

static void test_stations(void **state)
{
    (void)state;
    talk t;
    talk_begin(&t, TALK_INI "[flat B]\nbore = 30 mm\n", TALK_HEADER);
    assert_ends(talk_say(&t, "|||200"), "mm [100]: ");
    assert_ends(talk_say(&t, "90"), "[13]: ");
    assert_says(talk_say(&t, "1"), "a whole number from 2");
    assert_says(talk_say(&t, "5"), "press"); /* the sign */
    assert_ends(talk_say(&t, "sign"), "-90 mm (1 of 4): "); /* the middle is in the bore */
    talk_say(&t, ".1 .2 .3 .4");
    assert_string_equal(talk_rows(&t), ",1,A,B,0,0,-90,0.1\n,1,A,B,0,0,-45,0.2\n,1,A,B,0,0,45,0.3\n"
                                  ",1,A,B,0,0,90,0.4\n");
    assert_ends(talk_say(&t, "C A||"), "-90 mm (1 of 5): "); /* no bore here */
    talk_finish(&t);
}

/* All that can be typed for a reading; the sign by what is seen. */
static void test_forms(void **state)
{
    (void)state;
    talk t;
    talk_begin(&t, TALK_INI, TALK_HEADER TALK_STATIONS);
    assert_says(talk_say(&t, "|||t"), "+ toward you"); /* where bands move when pressed */
    talk_say(&t, ".12|3/25|6/|27.3037nm|-0,5w");
    assert_string_equal(talk_rows(&t), ",1,A,B,0,0,-80,0.12\n,1,A,B,0,0,-40,0.12\n"
                                       ",1,A,B,0,0,0,0.24\n"
                                  ",1,A,B,0,0,40,0.1\n");
    assert_says(talk_say(&t, "x"), "is no reading");
    assert_says(talk_say(&t, "1e9"), "slip of the pen");
    assert_says(talk_say(&t, "0.5a"), "the bands bow");
    assert_string_equal(strrchr(talk_rows(&t), ','), ",-0.5\n");
    talk_finish(&t);
}

static void test_corrections(void **state)
{
    (void)state;
    talk t;
    talk_begin(&t, TALK_INI, TALK_HEADER TALK_STATIONS);
    assert_ends(talk_say(&t, "|||s|.1|.2|.3|back"), "0 mm (3 of 5) [+0.3]: ");
    assert_ends(talk_say(&t, "b"), "-40 mm (2 of 5) [+0.2]: ");
    assert_ends(talk_say(&t, ".25"), "0 mm (3 of 5) [+0.3]: ");
    assert_ends(talk_say(&t, ""), "+40 mm (4 of 5) last +0.3: ");
    assert_ends(talk_say(&t, "sk"), "+80 mm (5 of 5): ");
    talk_say(&t, "flip");
    assert_string_equal(talk_rows(&t), ",1,A,B,0,0,-80,-0.1\n,1,A,B,0,0,-40,-0.25\n"
                                       ",1,A,B,0,0,0,-0.3\n"
                                  "# skipped: 1 A B 0 0 40\n");
    assert_ends(talk_say(&t, "again|s|1 2 3 4 5"), "bottom and top [B C]: ");
    assert_says(talk_rows(&t), "2,1,A,B,0,0,80,5\n");
    talk_finish(&t);
}

static void test_going_on(void **state)
{
    (void)state;
    talk t;
    talk_begin(&t, TALK_INI, TALK_HEADER TALK_STATIONS ",1,B,C,45,90,-80,0.32\n"
               ",1,B,C,45,90,-40,0.1\n");
    fflush(t.screen.out);
    assert_says(t.said, "Unfinished: B below, C on top, turn 45, diameter 90");
    assert_ends(talk_say(&t, "s"), "0 mm (3 of 5) last +0.1: ");
    assert_ends(talk_say(&t, "back|back|"), "-40 mm (2 of 5) [+0.1]: ");
    talk_say(&t, "back|.33");
    assert_says(talk_rows(&t), ",1,B,C,45,90,-80,0.33\n");
    assert_int_equal(fw_dialog_count(t.dialog), 0);
    assert_false(fw_dialog_line(t.dialog, "stop"));
    assert_false(fw_dialog_line(t.dialog, "more"));
    assert_int_equal(fw_dialog_status(t.dialog), FW_OK);
    talk_finish(&t);
}

/* What was foretold: from the flats, from a repeat, from the places before. */
static void test_pointed_out(void **state)
{
    (void)state;
    talk t;
    talk_begin(&t, TALK_INI, TALK_HEADER TALK_STATIONS);
    assert_null(strstr(talk_say(&t, "|||s|0 .3 .4 .3 0"), "fit"));
    talk_say(&t, "B C|||0 -.1 -.2 -.1 0|C A|||0 .1 .15 .1 0");
    /* Bottom and top exchanged: the same glass, another tilt. */
    const char *answer = talk_say(&t, "B A|||.1 .45 .6 .55");
    assert_null(strstr(answer, "fit"));
    answer = talk_say(&t, "1.3");
    assert_says(answer, "! +1.3 does not fit: +0.3 ");
    assert_says(answer, "from the earlier readings");
    assert_says(talk_rows(&t), ",1,B,A,0,0,80,1.3\n"); /* kept */
    talk_finish(&t);
    talk_begin(&t, TALK_INI, TALK_HEADER TALK_STATIONS);
    answer = talk_say(&t, "|||s|0 .1 .2 -3");
    assert_says(answer, "! -3 does not fit: +0.3 ");
    assert_says(answer, "from the places before it");
    talk_finish(&t);
}

static void test_second_look_at_the_sign(void **state)
{
    (void)state;
    talk t;
    talk_begin(&t, TALK_INI, TALK_HEADER TALK_STATIONS);
    assert_ends(talk_say(&t, "|||a|0 .3 .4 .3 0"), "not clear [Enter]: ");
    assert_says(talk_say(&t, "t"), "bows to the other side");
    talk_say(&t, "flip|");
    assert_string_equal(strchr(talk_rows(&t), '\n') + 1, ",1,A,B,0,0,-40,-0.3\n,1,A,B,0,0,0,-0.4\n"
                                                    ",1,A,B,0,0,40,-0.3\n,1,A,B,0,0,80,0\n");
    talk_finish(&t);
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
    talk_begin(&t, TALK_INI, TALK_HEADER TALK_STATIONS);
    talk_say(&t, "|||s");
    for (int k = -8; k <= 10; k++) { /* p x^2 / r^2 + b x - k = 0 */
        double x = 2 * k / (b + sqrt(b * b + 4 * p * k / (r * r)));
        if (fabs(x) < 95)
            snprintf(line + strlen(line), sizeof line - strlen(line), " %.4f", x);
    }
    assert_says(talk_say(&t, "cross 1 2 3"), "press on the middle");
    assert_says(talk_say(&t, "cross + 1 2"), "Three crossings");
    assert_says(talk_say(&t, "cross + 3 2 1"), "each beyond the one before");
    assert_string_equal(talk_rows(&t), "");
    assert_says(talk_say(&t, line), "5 readings");
    double y[5], x[] = {-80, -40, 0, 40, 80}, slope, mean = 0;
    const char *at = talk_rows(&t);
    for (int i = 0; i < 5; i++, at = strchr(at, '\n') + 1)
        y[i] = strtod(strchr(at + 11, ',') + 1, NULL); /* behind ",1,A,B,0,0," and the place */
    slope = (2 * (y[4] - y[0]) + y[3] - y[1]) / (10 * 40); /* of the line through five places */
    for (int i = 0; i < 5; i++) {
        y[i] += p * x[i] * x[i] / (r * r) - slope * x[i];
        mean += y[i] / 5;
    }
    for (int i = 0; i < 5; i++)
        assert_close(y[i] - mean, 0, 0, 2e-4);
    talk_finish(&t);
    /* The slope of a setup must stay. */
    talk_begin(&t, TALK_INI "levelling = setup\n", TALK_HEADER TALK_STATIONS);
    assert_says(talk_say(&t, "|||s|cross + -80 0 80"), "levelling = scan");
    talk_finish(&t);
}

/* A folder as `new` lays it has no column for repeats: it gets one, and loses nothing. */
static void test_repeat_gets_its_column(void **state)
{
    (void)state;
    talk t;
    talk_begin(&t, TALK_INI, PLAIN_HEADER TALK_STATIONS "A,B,0,0,-80,1\nA,B,0,0,-40,1\n"
                                         "A,B,0,0,0,1\n"
                                         "A,B,0,0,40,1\nA,B,0,0,80,1\n");
    assert_says(talk_say(&t, "A B|0|0"), "this is a repeat, scan 2");
    talk_say(&t, "s|1.1|1.2|back|1.3|again|5 6 7 8 9");
    assert_says(talk_file(&t), "deviation,scan\n" TALK_STATIONS "A,B,0,0,-80,1,\nA,B,0,0,-40,1,\n");
    assert_says(talk_file(&t), "A,B,0,0,80,1,\nA,B,0,0,-80,1.1,2\nA,B,0,0,-40,1.3,2\n"
                               "A,B,0,0,-80,5,3\n");
    talk_finish(&t);
    /* In the middle of a scan, and a correction of what was typed before. */
    talk_begin(&t, TALK_INI, PLAIN_HEADER TALK_STATIONS);
    talk_say(&t, "|||s|1 2 3|again|4|back|5|stop");
    assert_says(talk_file(&t), "A,B,0,0,-80,1,\nA,B,0,0,-40,2,\nA,B,0,0,0,3,\nA,B,0,0,-80,5,2\n");
    talk_finish(&t);
}

/* A place left out is no place missing. */
static void test_left_out(void **state)
{
    (void)state;
    talk t;
    talk_begin(&t, TALK_INI, TALK_HEADER TALK_STATIONS);
    talk_say(&t, "|||s|skip|.2|.3|skip|.5");
    assert_says(talk_say(&t, "A B|0|0"), "this is a repeat, scan 2");
    assert_ends(talk_say(&t, "1|skip|back|back|"), "-40 mm (2 of 5) [left out]: ");
    assert_says(talk_say(&t, "list"), "left out");
    talk_say(&t, "stop");
    talk_restart(&t);
    assert_says(t.said, "Unfinished: A below, B on top, turn 0, diameter 0");
    assert_ends(talk_say(&t, "s"), "0 mm (3 of 5): ");
    talk_say(&t, "3 4 5|stop");
    talk_restart(&t);
    assert_null(strstr(t.said, "Unfinished"));
    talk_finish(&t);
    /* All left out is not read. */
    talk_begin(&t, TALK_INI, TALK_HEADER TALK_STATIONS);
    talk_say(&t, "|||s|skip|skip|skip|skip|skip");
    assert_ends(talk_say(&t, "0"), "-80 mm (1 of 5) [left out]: ");
    talk_say(&t, "7");
    assert_string_equal(strrchr(talk_rows(&t), '\n') - 1, "7\n");
    talk_finish(&t);
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
