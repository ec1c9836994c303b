/* solution_text.c - the two screens: golden text, width, height, plain characters, safe text. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "../support/close.h"
#include "../support/fake_result.h"
#include "flatwright/alloc.h"
#include "flatwright/report.h"
#include "flatwright/text.h"

typedef void print_function(fw_screen *screen, const fw_result *result);

/* How it is printed: a pipe, a UTF-8 terminal, or for the ear. */
typedef enum medium { PIPE, TERMINAL, EAR } medium;

static char *printed(print_function *print, const fake_set *fake, medium how)
{
    char *text = NULL;
    size_t size = 0;
    fw_screen screen = {.out = open_memstream(&text, &size), .columns = 80};
    screen.drawing = screen.colour = how == TERMINAL;
    screen.spoken = how == EAR;
    print(&screen, &fake->result);
    fclose(screen.out);
    int lines = 0;
    for (const char *c = text; *c; c++)
        lines += *c == '\n';
    assert_int_equal(lines, screen.lines);
    return text;
}

static void assert_prints(print_function *print, const fake_set *fake, medium how,
                          const char *want)
{
    char *text = printed(print, fake, how);
    assert_string_equal(text, want);
    free(text);
}

/* Blanks and line breaks made one blank, so that a sentence can be found wherever it breaks. */
static void join_lines(char *text)
{
    char *to = text;
    for (const char *from = text; *from; from++) {
        char c = (char)(*from == '\n' ? ' ' : *from);
        if (c != ' ' || (to > text && to[-1] != ' '))
            *to++ = c;
    }
    *to = '\0';
}

static void assert_says(print_function *print, const fake_set *fake, const char *words)
{
    char *text = printed(print, fake, PIPE);
    join_lines(text);
    if (!strstr(text, words))
        print_error("'%s' not in:\n%s\n", words, text);
    assert_non_null(strstr(text, words));
    free(text);
}

static void assert_silent(print_function *print, const fake_set *fake, const char *words)
{
    char *text = printed(print, fake, PIPE);
    join_lines(text);
    assert_null(strstr(text, words));
    free(text);
}

static void summary_golden(void **state)
{
    (void)state;
    fake_set *fake = fake_new(3, 4, 9);
    assert_prints(fw_summary_text, fake, PIPE,
"Collimator trio, round 1: target PV 10 nm at confidence 0.95.\n"
"A  within 10 nm (probability 0.98): PV 5.13 +- 0.94 nm, power +2.96 +- 0.51 nm\n"
"   (convex).\n"
"B  outside 10 nm (within with probability under 0.01): PV 41.2 +- 2.3 nm, power\n"
"   -30.1 +- 1.1 nm (concave), with finer structure.\n"
"C  undecided at 10 nm (within with probability 0.61): PV 9.4 +- 1.9 nm, power\n"
"   +0.4 +- 1.1 nm (sign not sure).\n"
"\n"
"    nm  A 135 deg               B 135 deg               C 135 deg\n"
"   +20 |                       |                      *|                       |\n"
"   +10 |                       |**                  ***|                       |\n"
"     0 |***********************| ******- - - - - ****- |***********************|\n"
"   -10 |                       |      ************     |                       |\n"
"   -20 |                       |              *        |                       |\n"
"    mm  -125               +125 -125               +125 -125               +125\n"
"\n"
"Fit: 144 readings, redundancy 28; sigma as given agrees (p 0.41).\n"
"Next: measure, do not polish: C is undecided; repeat its pairings, or another\n"
"  turn.\n");
    fake_free(fake);
}

static void solution_golden(void **state)
{
    (void)state;
    fake_set *fake = fake_new(2, 1, 3);
    fake_work(fake, 1);
    fake_reread(fake, 1);
    fake_undetermine(fake, 0, 0);
    fake_unknown(fake, "The shape that A and B have in common: a third flat would show it.");
    fake_suspect(fake, 12, true);
    fake_note(fake, "gradient in job.ini is not used by this version");
    fake->result.unchecked = 3;
    fake->result.fit.birge = 1.31;
    fake->result.fit.p_value = 0.002;
    assert_prints(fw_solution_text, fake, PIPE,
"Collimator trio, round 2: target PV 10 nm at confidence 0.95.\n"
"\n"
"A  undetermined: the readings do not tell it apart from the others; power\n"
"   +2.96 +- 0.51 nm (convex: high in the middle).\n"
"B  outside 10 nm (within with probability under 0.01): PV 41.2 +- 2.3 nm, rms\n"
"   9.81 +- 0.62 nm, power -30.1 +- 1.1 nm (concave: low in the middle),\n"
"   irregularity 12.3 +- 1.5 nm, rotationally symmetric irregularity\n"
"   7.3 +- 1.2 nm, raw PV 46.0 nm. There is structure finer than the smooth\n"
"   figure, rms 2.13 nm (by chance: under 0.01): look for a ring, an edge, a\n"
"   groove.\n"
"PV and irregularity are those of the smooth figure along the diameters read (1\n"
"on each flat), as far out as stations were read in the clear aperture; rms and\n"
"power those over all of it. Raw PV is of the heights as they come, reading noise\n"
"in it. So few diameters may miss astigmatism.\n"
"\n"
"Profiles. Height over position, + is high; the same scale for all, a row is\n"
"  2 nm.\n"
"\n"
"A, read in round 1: no height of it can be told.\n"
"    nm  0 deg\n"
"    +6 |                                  |\n"
"    +4 |                                  |\n"
"    +2 |                                  |\n"
"     0 |           undetermined           |\n"
"    -2 |                                  |\n"
"    -4 |                                  |\n"
"    -6 |                                  |\n"
"    mm  -125                          +125\n"
"\n"
"B, after 1 spell of work, read in round 2: highest +6.9 +- 1.4 nm at +120 mm of\n"
"  0 deg, lowest -5.0 +- 1.4 nm at 0 mm of 0 deg.\n"
"    nm  0 deg\n"
"    +6 |                              ****|\n"
"    +4 |*                          ****   |\n"
"    +2 |*****                    ***      |\n"
"     0 | - -*****- - - - - - -**** - - - -|\n"
"    -2 |        *****      ****           |\n"
"    -4 |            ********              |\n"
"    -6 |                **                |\n"
"    mm  -125                          +125\n"
"\n"
"Fit. 144 readings, 131 unknowns, rank 116, redundancy 28; sigma as given,\n"
"  2.00 nm, is too small for these readings (chi-square 29.1, expected 28,\n"
"  p under 0.01): every uncertainty here is enlarged 1.31 times.\n"
"Removal. The shape of what the work took off; its mean and tilt are not seen.\n"
"  B, lap-on-top after round 1, 0.5 h: rms 8.8 +- 1.9 nm; most +6.9 +- 1.4 nm\n"
"    at +120 mm of 0 deg; least -5.0 +- 1.4 nm at 0 mm of 0 deg.\n"
"Undetermined.\n"
"  - The shape that A and B have in common: a third flat would show it.\n"
"Suspect readings. None was left out: look them up in the notebook, then correct\n"
"  the row or set its skip to 1.\n"
"  trio/readings.csv:12: A under B, turn 45 deg, diameter 90 deg, at +60 mm,\n"
"    round 1: looks off by +14.2 nm (4.4 times its standard deviation, where 3.5\n"
"    is the limit); another reading explains it as well.\n"
"Largest error that could hide in one reading: 14.2 nm (larger ones are found\n"
"  four times in five).\n"
"3 of the 144 readings are checked by no other: an error in them would go unseen\n"
"  into the heights.\n"
"Notes.\n"
"  - gradient in job.ini is not used by this version\n");
    fake_free(fake);
}

/* Sets of all kinds; each call gives the next one, NULL after the last. */
static fake_set *kind(int which)
{
    static const int sizes[][3] = {{2, 0, 0}, {2, 1, 1}, {3, 1, 9}, {3, 4, 21}, {3, 8, 5},
                                   {4, 3, 9}, {5, 2, 3}, {26, 1, 3}, {3, 36, 9}};
    const int nsizes = sizeof sizes / sizeof sizes[0];
    if (which >= 2 * nsizes)
        return NULL;
    const int *size = sizes[which < nsizes ? which : which - nsizes];
    fake_set *fake = fake_new(size[0], size[1], size[2]);
    if (which >= nsizes) {
        fake_rename(fake, 0, "a-flat-with-a-very-long-name-that-somebody-typed-in-one-go-and-never-"
                             "thought-of-the-screen-it-would-be-shown-on_01234567890123456789");
        fake_work(fake, 1);
        if (size[1] > 0 && size[0] > 2)
            fake_undetermine(fake, 2, 0);
        fake_unknown(fake, "What A, B and C have in common, odd from end to end, on the diameters "
                           "45 and 135 deg changes no reading. Reading A under B turned by 45 deg "
                           "on all diameters would show it, and so would any other pair turned "
                           "likewise.");
        fake_unknown(fake, "Another.");
        fake_suspect(fake, 12, true);
        fake_suspect(fake, 1234567, false);
        fake_suspect(fake, 3, false);
        fake_note(fake, "a note");
    }
    return fake;
}

/* The columns of the widest line; terminal sequences take none. */
static int widest(const char *text)
{
    int most = 0, width = 0;
    while (*text) {
        unsigned code = 0;
        size_t length = fw_utf8(text, &code);
        assert_true(length > 0);
        if (code == '\033') {
            text += strcspn(text, "m") + 1;
            continue;
        }
        width = code == '\n' ? 0 : width + fw_char_width(code);
        most = width > most ? width : most;
        text += length;
    }
    return most;
}

static void keeps_to_80_columns(void **state)
{
    (void)state;
    fake_set *fake;
    for (int which = 0; (fake = kind(which)) != NULL; which++) {
        for (medium how = PIPE; how <= EAR; how++) {
            char *solution = printed(fw_solution_text, fake, how);
            char *summary = printed(fw_summary_text, fake, how);
            assert_in_range(widest(solution), 40, 80);
            assert_in_range(widest(summary), 40, 80);
            free(solution);
            free(summary);
        }
        fake_free(fake);
    }
}

/* A pipe and an ear get printable ASCII and line ends, nothing else. */
static void pipes_get_plain_text(void **state)
{
    (void)state;
    fake_set *fake;
    for (int which = 0; (fake = kind(which)) != NULL; which++) {
        for (int turn = 0; turn < 4; turn++) {
            char *text = printed(turn % 2 ? fw_solution_text : fw_summary_text, fake,
                                 turn / 2 ? EAR : PIPE);
            for (const char *c = text; *c; c++)
                assert_true(*c == '\n' || (*c >= ' ' && *c <= '~'));
            assert_null(strstr(text, " \n"));
            assert_true(turn / 2 == 0 || !strchr(text, '|'));
            free(text);
        }
        fake_free(fake);
    }
}

static void a_terminal_gets_signs(void **state)
{
    (void)state;
    fake_set *fake = fake_new(3, 4, 9);
    char *text = printed(fw_solution_text, fake, TERMINAL);
    assert_non_null(strstr(text, "\033[1;31moutside\033[0m"));
    assert_non_null(strstr(text, "\xC2\xB1"));
    assert_non_null(strstr(text, "\xE2\x94\x82"));
    assert_null(strstr(text, "+-"));
    free(text);
    fake_free(fake);
}

/* Three flats on one screen of 24 lines, whatever is wrong with them. */
static void summary_fits_the_screen(void **state)
{
    (void)state;
    for (int bits = 0; bits < 64; bits++) {
        fake_set *fake = fake_new(3, 4, 9);
        if (bits & 1)
            fake_undetermine(fake, 0, 2);
        if (bits & 2)
            fake_work(fake, 1);
        if (bits & 4)
            fake_undetermine(fake, 2, -1);
        for (int i = 0; bits & 8 && i < 5; i++)
            fake_suspect(fake, 12 + i, i == 2);
        for (int i = 0; bits & 16 && i < 3; i++)
            fake_unknown(fake,
                         "What A, B and C have in common, odd from end to end, on the diameters "
                         "45 and 135 deg, and on all those between them that were read in the "
                         "same setting, changes no reading at all, however carefully it was "
                         "made. Reading A under B turned by 45 deg on all diameters would show "
                         "it, and so would C under A turned by 135 deg, or any other pairing of "
                         "two flats of this set that is turned by one spacing of the diameters.");
        fake->result.fit.birge = bits & 32 ? 1.7 : 1;
        char *text = printed(fw_summary_text, fake, PIPE);
        int lines = 0;
        for (const char *c = text; *c; c++)
            lines += *c == '\n';
        assert_in_range(lines, 5, 24);
        free(text);
        fake_free(fake);
    }
}

/* No byte of the user's files can drive the terminal. */
static void shows_text_escaped(void **state)
{
    (void)state;
    fake_set *fake = fake_new(2, 1, 3);
    fw_free(fake->job.title);
    fw_free(fake->job.folder);
    fw_free(fake->job.scans[0].label);
    fake->job.title = fw_copy_text("\033]0;title\007 \x01\x02\x0e \xC2\x9B \xFF");
    fake->job.folder = fw_copy_text("a\033[2Jb/");
    fake->job.scans[0].label = fw_copy_text("\033[1m");
    fake_rename(fake, 0, "\033[5m");
    fake_unknown(fake, "\033[6n");
    fake_note(fake, "\033c");
    fake_suspect(fake, 2, false);
    for (int turn = 0; turn < 2; turn++) {
        char *text = printed(turn ? fw_solution_text : fw_summary_text, fake, PIPE);
        for (const char *c = text; *c; c++)
            assert_true(*c == '\n' || ((unsigned char)*c >= ' ' && *c != 0x7f));
        assert_null(strstr(text, "\xC2\x9B"));
        assert_non_null(strstr(text, "\\x1B]0;title\\x07 \\x01\\x02\\x0E \\u009B \\xFF"));
        assert_non_null(strstr(text, "a\\x1B[2Jb/readings.csv:2"));
        assert_non_null(strstr(text, "\\x1B[6n"));
        free(text);
    }
    fake_free(fake);
}

static void gives_the_reason(void **state)
{
    (void)state;
    fake_set *fake = fake_new(3, 4, 9);
    fake_undetermine(fake, 0, 2);
    fake_undetermine(fake, 2, -1);
    fake_work(fake, 1);
    assert_says(fw_summary_text, fake,
                "A undetermined: only 3 of its 4 diameters can be told apart");
    assert_says(fw_summary_text, fake, "B undetermined: no readings since the work in round 1.");
    assert_says(fw_summary_text, fake,
                "C undetermined: the readings do not tell it apart from the others");
    assert_silent(fw_solution_text, fake, "Nothing is undetermined");
    fake_free(fake);

    fake = fake_new(2, 0, 0);
    fake_undetermine(fake, 0, -1);
    fake->result.faces[0].first_round = fake->result.faces[0].last_round = 0;
    fake->result.faces[0].figure.power = (fw_quantity){NAN, NAN};
    assert_says(fw_summary_text, fake, "A undetermined: no readings of it yet.");
    fake_free(fake);

    fake = fake_new(3, 1, 3);
    fake->result.fit = (fw_fit){9, 9, 9, 0, false, NAN, NAN, NAN, 1};
    fake->result.faces[1].figure.verdict = FW_UNDETERMINED;
    fake->result.faces[1].figure.pv.u_nm = NAN;
    assert_says(fw_solution_text, fake,
                "B undetermined: no uncertainty is known: no sigma is given, and "
                "no reading checks another; PV 41.2 nm, rms");
    assert_says(fw_solution_text, fake, "sigma is not given and cannot be estimated.");
    assert_says(fw_summary_text, fake, "no reading checks another.");
    fake_free(fake);
}

/* What is judged comes first. */
static void judges_the_measure(void **state)
{
    (void)state;
    fake_set *fake = fake_new(3, 4, 9);
    fake->job.measure = FW_MEASURE_RMS;
    assert_says(fw_summary_text, fake, "target rms 10 nm");
    assert_says(fw_summary_text, fake, "): rms 1.21 +- 0.22 nm, power");
    assert_says(fw_solution_text, fake, "): rms 1.21 +- 0.22 nm, PV 5.13 +- 0.94 nm, power");
    fake->job.measure = FW_MEASURE_IRREGULARITY;
    assert_says(fw_solution_text, fake,
                "): irregularity 2.11 +- 0.57 nm, PV 5.13 +- 0.94 nm, rms 1.21");
    fake_free(fake);
}

/* Doubt first, then measuring, then work on the worst; stop when all are within. */
static void says_what_next(void **state)
{
    (void)state;
    fake_set *fake = fake_new(3, 4, 9);
    assert_says(fw_summary_text, fake, "Next: measure, do not polish: C is undecided");
    fake->result.faces[2].figure.verdict = FW_OUTSIDE;
    assert_says(fw_summary_text, fake, "Next: work on B, the farthest from the target;");
    fake->result.faces[2].figure.verdict = FW_WITHIN;
    assert_says(fw_summary_text, fake, "Next: work on B; stop short");
    fake->result.faces[1].figure.verdict = FW_WITHIN;
    assert_says(fw_summary_text, fake, "Next: stop: every flat is within.");
    fake_work(fake, 0);
    assert_says(fw_summary_text, fake, "Next: measure A with the others.");
    fake_suspect(fake, 12, false);
    assert_says(fw_summary_text, fake, "Suspect: trio/readings.csv:12 looks off by +14.2 nm.");
    assert_says(fw_summary_text, fake, "Next: look the suspect up in the notebook; correct it,");
    assert_says(fw_solution_text, fake, "looks off by +14.2 nm (4.4 times");
    fake->job.unit = FW_UNIT_FRINGE;
    assert_says(fw_solution_text, fake, "looks off by +14.2 nm or +0.052 fringe (4.4 times");
    fake_suspect(fake, 30, true);
    assert_says(fw_summary_text, fake, "trio/readings.csv:30 looks off by +14.2 nm, or another");
    assert_says(fw_summary_text, fake, "Next: look the suspects up in the notebook; correct what");
    fake->result.fit.readings = 0;
    assert_says(fw_summary_text, fake, "Next: read every flat with every other");
    assert_says(fw_solution_text, fake, "Fit. No readings yet.");
    fake_free(fake);
}

static void says_how_sigma_fares(void **state)
{
    (void)state;
    fake_set *fake = fake_new(3, 4, 9);
    assert_says(fw_solution_text, fake,
                "sigma as given, 2.00 nm, agrees with the readings (chi-square "
                "29.1, expected 28, p 0.41; spread 1.02 times sigma).");
    assert_says(fw_solution_text, fake, "Nothing is undetermined along the diameters read.");
    fake->job.sigma_nm = NAN;
    fake->result.fit.p_value = 0.9999;
    assert_says(fw_solution_text, fake,
                "sigma as given with the readings is larger than these readings "
                "show");
    fake->result.fit.sigma_known = false;
    assert_says(fw_solution_text, fake,
                "estimated from the residuals: 1.02 nm (Student's t with 28 "
                "degrees of freedom).");
    assert_says(fw_summary_text, fake, "sigma estimated: 1.02 nm.");
    fake->job.nskipped = 2;
    assert_says(fw_solution_text, fake, "redundancy 28, 2 more skipped;");
    fake_free(fake);
}

/* A bored flat's curve has a gap where there is no glass. */
static void leaves_the_bore_open(void **state)
{
    (void)state;
    fake_set *fake = fake_new(2, 1, 4);
    char *solid = printed(fw_summary_text, fake, PIPE);
    assert_null(strstr(solid, "| **********- - - - - -*****- -|"));
    free(solid);
    fake->job.flats[1].bore_mm = 60;
    assert_says(fw_summary_text, fake, "| **********- - - - - -*****- -|");
    fake_free(fake);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(summary_golden), cmocka_unit_test(solution_golden),
        cmocka_unit_test(keeps_to_80_columns), cmocka_unit_test(pipes_get_plain_text),
        cmocka_unit_test(a_terminal_gets_signs), cmocka_unit_test(summary_fits_the_screen),
        cmocka_unit_test(shows_text_escaped), cmocka_unit_test(gives_the_reason),
        cmocka_unit_test(judges_the_measure), cmocka_unit_test(says_what_next),
        cmocka_unit_test(says_how_sigma_fares), cmocka_unit_test(leaves_the_bore_open)};
    return cmocka_run_group_tests_name("solution_text", tests, NULL, NULL);
}
