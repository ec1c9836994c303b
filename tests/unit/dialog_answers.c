/* dialog_answers.c - every prompt at the bench: its help, its defaults, what it refuses. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "../support/close.h"
#include "../support/talk.h"

static void test_helps(void **state)
{
    (void)state;
    talk t;
    talk_begin(&t, TALK_INI, TALK_HEADER);
    assert_says(talk_say(&t, "?"), "Two names: the flat that lies below");
    assert_says(talk_say(&t, "|help"), "from the bottom's mark to the top's mark");
    assert_says(talk_say(&t, "|?"), "The line that is read");
    assert_says(talk_say(&t, "|?"), "The outermost place that is read");
    assert_says(talk_say(&t, "90|?"), "Evenly spaced");
    assert_says(talk_say(&t, "3|?"), "The letter of the side");
    const char *answer = talk_say(&t, "l|?");
    assert_says(answer, "How far the band stands off");
    assert_says(answer, "+ is to the left, - is to the right; or the letter behind the number: "
                        "0.12r");
    assert_says(talk_say(&t, "0 0 0|?"), "The side toward which the middle of the bands bows");
    assert_false(fw_dialog_line(t.dialog, NULL));
    talk_finish(&t);
}

static void test_refusals(void **state)
{
    (void)state;
    talk t;
    talk_begin(&t, TALK_INI, TALK_HEADER);
    assert_says(talk_say(&t, "back"), "There is nothing before this");
    assert_says(talk_say(&t, "s"), "sk for skip, st for stop");
    assert_says(talk_say(&t, "skip"), "nothing to skip here");
    assert_says(talk_say(&t, "again"), "is for a scan being read");
    assert_says(talk_say(&t, "flip"), "is for a scan being read");
    assert_says(talk_say(&t, "list"), "No scan is being read");
    assert_says(talk_say(&t, "A B C"), "two names are wanted");
    assert_says(talk_say(&t, "12"), "two names are wanted"); /* no pairing to read once more */
    assert_says(talk_say(&t, "A B|cross + 1 2 3"), "is for a scan being read");
    assert_says(talk_say(&t, "1e5"), "an angle in degrees");
    assert_says(talk_say(&t, "0|nan"), "an angle in degrees");
    assert_says(talk_say(&t, "0|x"), "a distance up to 100 mm");
    assert_says(talk_say(&t, "-5"), "a distance up to 100 mm");
    assert_says(talk_say(&t, "101"), "a distance up to 100 mm");
    assert_says(talk_say(&t, "-90 x 90"), "positions in mm, on the glass");
    assert_says(talk_say(&t, "-90 0 101"), "positions in mm, on the glass");
    assert_says(talk_say(&t, "50|x"), "a whole number from 2");
    assert_says(talk_say(&t, "1001"), "a whole number from 2");
    assert_ends(talk_say(&t, "back"), "mm [50]: ");
    assert_ends(talk_say(&t, "90 0 -90"), "sign [s]: "); /* the sign */
    assert_says(talk_say(&t, "x"), "the letter of a side");
    assert_says(talk_say(&t, "ax"), "the letter of a side");
    assert_says(talk_say(&t, "u"), "+ up, - down");
    assert_says(talk_say(&t, "flip"), "nothing to turn yet");
    assert_says(talk_say(&t, ""), "A number, or `skip`");
    assert_says(talk_say(&t, "/3"), "is no reading");
    assert_says(talk_say(&t, "1/"), "is no reading"); /* no spacing was typed before */
    assert_says(talk_say(&t, "1/x"), "is no reading");
    assert_says(talk_say(&t, "1/-3"), "is no reading");
    assert_says(talk_say(&t, "1q"), "is no reading");
    assert_says(talk_say(&t, "1ud"), "is no reading");
    assert_string_equal(talk_rows(&t), "");
    assert_ends(talk_say(&t, "1 2 3 4"), "[Enter]: ");
    assert_says(talk_say(&t, "x"), "the letter of a side, or Enter");
    assert_says(talk_say(&t, "ud"), "the letter of a side, or Enter");
    assert_ends(talk_say(&t, "back"), "+90 mm (3 of 3) [+3]: ");
    talk_finish(&t);
}

static void test_no_light(void **state)
{
    (void)state;
    talk t;
    talk_begin(&t, PLAIN_INI "[readings]\nunit = nm\n", TALK_HEADER TALK_STATIONS);
    talk_say(&t, "|||s");
    assert_says(talk_say(&t, "1/2"), "need a light");
    assert_says(talk_say(&t, "1fringe"), "need a light");
    assert_says(talk_say(&t, "cross + 1 2 3"), "Crossings need a light");
    assert_says(talk_say(&t, "-1e8"), "a slip of the pen");
    assert_ends(talk_say(&t, "1um"), "last +1000: ");
    talk_finish(&t);
}

/* Too little glass for two places. */
static void test_no_places(void **state)
{
    (void)state;
    talk t;
    talk_begin(&t, TALK_INI "[flat B]\nbore = 100 mm\n", TALK_HEADER);
    assert_says(talk_say(&t, "A B|||-90 0 10"), "fewer than two places");
    assert_says(talk_say(&t, "20|5"), "fewer than two places");
    assert_ends(talk_say(&t, "-90 90"), "sign [s]: ");
    talk_finish(&t);
    talk_begin(&t, TALK_INI "[flat B]\nbore = 180 mm\n", TALK_HEADER TALK_STATIONS);
    assert_ends(talk_say(&t, "A B||"), "mm [100]: "); /* none of the stations is on the ring */
    talk_finish(&t);
}

/* The way back through the prompts; what was answered before is the default. */
static void test_back(void **state)
{
    (void)state;
    talk t;
    talk_begin(&t, TALK_INI, TALK_HEADER TALK_STATIONS);
    assert_ends(talk_say(&t, "B A|90|45|a|back"), "sign [a]: ");
    assert_ends(talk_say(&t, "back"), "diameter, deg [45]: ");
    assert_ends(talk_say(&t, "back"), "turn of the top, deg [90]: ");
    assert_ends(talk_say(&t, "back"), "bottom and top [B A]: ");
    assert_ends(talk_say(&t, "||"), "sign [a]: ");
    assert_ends(talk_say(&t, ""), "-80 mm (1 of 5): "); /* the sign as it was */
    assert_ends(talk_say(&t, "1|back|back"), "sign [a]: ");
    talk_finish(&t);
    talk_begin(&t, TALK_INI, TALK_HEADER TALK_STATIONS);
    assert_ends(talk_say(&t, "|||s|1|back|back"), "diameter, deg [0]: ");
    talk_finish(&t);
}

/* After a scan: the next diameter of the set, once more, the turns of the plan, other pairings. */
static void test_defaults(void **state)
{
    (void)state;
    talk t;
    talk_begin(&t, TALK_INI "[plan]\nturns = 0 90\n", TALK_HEADER TALK_STATIONS);
    assert_ends(talk_say(&t, "||60|s|1 2 3 4 5"), "diameter, deg [0]: ");
    assert_ends(talk_say(&t, "|1 2 3 4 5"), "bottom and top [B C]: ");
    assert_ends(talk_say(&t, "90"), "-80 mm (1 of 5): "); /* one more diameter of A B */
    assert_ends(talk_say(&t, "1 2 3 4 5 6"), "bottom and top [B C]: ");
    assert_ends(talk_say(&t, "A B"), "turn of the top, deg [90]: ");
    talk_say(&t, "||1 2 3 4 5||1 2 3 4 5||1 2 3 4 5");
    assert_ends(talk_say(&t, "A B"), "turn of the top, deg [45]: ");
    talk_say(&t, "||1 2 3 4 5|stop");
    talk_restart(&t);
    assert_says(t.said, "Going on with A below, B on top, turn 45");
    talk_finish(&t);
    talk_begin(&t, TALK_INI, TALK_HEADER TALK_STATIONS
               ",1,A,B,0,0,-80,0.1\n,1,B,C,0,0,-80,0.1\n,1,C,A,0,0,-80,0.1\n");
    assert_ends(talk_say(&t, "back|back|back"), "bottom and top [C A]: ");
    talk_finish(&t);
}

/* No comment with stations: those of the fullest scan, in their order. */
static void test_stations_of_a_scan(void **state)
{
    (void)state;
    talk t;
    talk_begin(&t, TALK_INI, TALK_HEADER ",1,A,B,0,0,50,0.1\n,1,A,B,0,0,-50,0.1\n"
               ",1,A,B,0,0,0,0.1\n,1,B,C,0,0,10,0.1\n");
    assert_ends(talk_say(&t, "|||s"), "-50 mm (1 of 3): ");
    talk_finish(&t);
    /* A round of its own; a label that the talk cannot go on with. */
    talk_begin(&t, TALK_INI, TALK_HEADER TALK_STATIONS "a label of forty letters and no less,1,A,B,"
                                                       "0,0,-80,0.1\n");
    fflush(t.screen.out);
    assert_null(strstr(t.said, "Unfinished"));
    talk_finish(&t);
}

/* Crossings between few bands, and many; beyond them the places stay empty. */
static void test_crossings(void **state)
{
    (void)state;
    talk t;
    char line[4000] = "cross -";
    talk_begin(&t, TALK_INI, TALK_HEADER TALK_STATIONS);
    talk_say(&t, "|||s");
    for (int k = 0; k <= 400; k++)
        snprintf(line + strlen(line), sizeof line - strlen(line), " %.1f", -80 + 0.4 * k);
    fw_dialog_line(t.dialog, line);
    assert_string_equal(talk_rows(&t), ""); /* more than 400 */
    talk_say(&t, "list|cross - -60 0 60");
    fflush(t.screen.out);
    assert_says(t.said, "3 bands give 3 readings");
    assert_says(t.said, "2 places stay empty");
    assert_string_equal(talk_rows(&t), "# skipped: 1 A B 0 0 -80\n,1,A,B,0,0,-40,0\n"
                                       ",1,A,B,0,0,0,0\n,1,A,B,0,0,40,0\n"
                                       "# skipped: 1 A B 0 0 80\n");
    talk_finish(&t);
    talk_begin(&t, TALK_INI, TALK_HEADER TALK_STATIONS);
    talk_say(&t, "|||s|cross + -90 0 90");
    fflush(t.screen.out);
    assert_says(t.said, "3 bands give 5 readings; there are more stations than bands");
    talk_finish(&t);
}

/* The list of a scan, with a place left out; drawn, and told. */
static void test_list(void **state)
{
    (void)state;
    talk t;
    talk_begin(&t, TALK_INI, PLAIN_HEADER TALK_STATIONS);
    talk_say(&t, "|||s|1|skip|3");
    const char *answer = talk_say(&t, "list");
    assert_says(answer, "A below, B on top, turn 0, diameter 0, round 1: 2 of 5 places");
    assert_says(answer, "-40 mm  left out");
    assert_says(answer, "+0 mm  +3");
    assert_says(talk_say(&t, "again"), "Once more: scan 2; what is read stays");
    assert_says(talk_say(&t, "s|list"), "round 1, scan 2: 0 of 5");
    talk_finish(&t);
}

/* A job that cannot be read any more is said; what is typed still goes where it belongs. */
static void test_unreadable(void **state)
{
    (void)state;
    talk t;
    talk_begin(&t, TALK_INI, TALK_HEADER TALK_STATIONS);
    talk_say(&t, "|||s|1 2 3 4");
    folder_write(&t.at, "work.csv", "nonsense\n");
    talk_say(&t, "5");
    fflush(t.screen.out);
    assert_says(t.said, "Readings cannot be held against the others: ");
    assert_ends(talk_say(&t, "back|back|B C||"), "-80 mm (1 of 5): ");
    assert_ends(talk_say(&t, "1"), "last +1: ");
    assert_says(talk_rows(&t), ",1,B,C,0,0,-80,1\n");
    talk_finish(&t);
}

/* readings.csv taken away, or a correction of what an editor has changed: nothing is written. */
static void test_not_written(void **state)
{
    (void)state;
    talk t;
    char changed[1000];
    talk_begin(&t, TALK_INI, TALK_HEADER TALK_STATIONS);
    talk_say(&t, "|||s|1|2");
    snprintf(changed, sizeof changed, "%s", talk_file(&t));
    strstr(changed, "-40,2")[4] = '7';
    folder_write(&t.at, "readings.csv", changed);
    assert_says(talk_say(&t, "back|3"), "! Not written: ");
    assert_says(talk_say(&t, "flip"), "! Not written: ");
    assert_int_equal(fw_dialog_status(t.dialog), FW_INPUT);
    assert_string_equal(talk_file(&t), changed);
    folder_write(&t.at, "readings.csv", NULL);
    assert_says(talk_say(&t, "|5"), "! Not written: ");
    assert_says(talk_say(&t, "skip"), "! Not written: ");
    assert_says(talk_say(&t, "cross + -30 0 90"), "! Not written: ");
    assert_says(talk_say(&t, "cross + -90 0 90"), "! Not written: ");
    assert_int_equal(fw_dialog_count(t.dialog), 2);
    talk_finish(&t);
    talk_begin(&t, TALK_INI, TALK_HEADER);
    talk_say(&t, "||");
    folder_write(&t.at, "readings.csv", NULL);
    assert_ends(talk_say(&t, "-90 0 90"), "mm [100]: ");
    assert_int_equal(fw_dialog_status(t.dialog), FW_SYSTEM);
    talk_finish(&t);
}

/* Readings with a sigma each: those typed would have none. */
static void test_sigmas(void **state)
{
    (void)state;
    folder at = folder_make();
    fw_screen screen = {.columns = 80};
    fw_notebook *notebook = NULL;
    fw_dialog *dialog = NULL;
    fw_error err = {FW_OK, ""};
    folder_write(&at, "job.ini", PLAIN_INI "[readings]\nunit = nm\n");
    folder_write(&at, "readings.csv",
                 "bottom,top,turn_deg,diameter_deg,position_mm,deviation,sigma\nA,B,0,0,1,1,2\n");
    fw_job *job = folder_job(&at);
    assert_int_equal(fw_notebook_open(job, &notebook, &err), FW_OK);
    assert_int_equal(fw_dialog_new(job, notebook, &screen, &(fw_dialog_options){0}, &dialog, &err),
                     FW_INPUT);
    assert_null(dialog);
    fw_dialog_free(NULL);
    fw_notebook_close(notebook);
    fw_job_free(job);
    folder_remove(&at);
}

/* Three pairs that do not close, and a reading that the others speak against. */
static void test_after_a_scan(void **state)
{
    (void)state;
    talk t;
    talk_begin(&t, TALK_INI, TALK_HEADER TALK_STATIONS);
    talk_say(&t, "||90|s|0 .3 .4 .3 0|back|back|B C||90|0 .1 .2 .1 0|back|back|A C||90|"
                 "0 3 0 -3 0");
    fflush(t.screen.out);
    assert_says(t.said, "The three pairs do not close");
    talk_finish(&t);
    talk_begin(&t, TALK_INI, TALK_HEADER "# stations: -80 -60 -40 -20 0 20 40 60 80\n");
    talk_say(&t, "|||s|0 0 0 0 0 0 0 0 0|A B|0|0|0 0 0 0 0 0 0 0 0|A B|0|0|"
                 "0 0 0 2 0 0 0 0 0");
    fflush(t.screen.out);
    assert_says(t.said, "would explain it");
    talk_finish(&t);
}

/*
 * Pairs that do not close are told of after a scan of two of them on that diameter, named by either
 * end and from either flat; not after a turned scan, another diameter, another flat.
 */
static void test_closures(void **state)
{
    static const char FOUR[] = "[set]\nflats = A B C D\ndiameter = 200 mm\n[light]\n"
                               "source = mercury-green\n[readings]\nunit = fringe\nsigma = 0.02\n";
    static const struct {
        const char *scan;
        bool told;
    } then[] = {{"back|back|A B|0|90|s|0 .3 .4 .3 0", true},
                {"back|back|B A|0|-90|s|0 .3 .4 .3 0", true},
                {"back|back|A B|0|270|s|0 .3 .4 .3 0", true},
                {"back|back|A B|0|0|s|0 .3 .4 .3 0", false},
                {"back|back|A B|90|90|s|0 .3 .4 .3 0", false},
                {"back|back|A D|0|90|s|0 .3 .4 .3 0", false}};
    static const char CLOSE[] = "The three pairs do not close";
    (void)state;
    talk t;
    talk_begin(&t, FOUR, TALK_HEADER TALK_STATIONS); /* these close: all are even */
    talk_say(&t, "A B|0|90|s|0 .3 .4 .3 0|back|back|B C|0|90|0 .1 .2 .1 0|back|back|C A|0|90|"
                 "0 .1 .15 .1 0");
    fflush(t.screen.out);
    assert_says(talk_rows(&t), ",1,C,A,0,90,80,0\n");
    assert_null(strstr(t.said, CLOSE));
    talk_finish(&t);
    for (size_t i = 0; i < sizeof then / sizeof *then; i++) {
        talk_begin(&t, FOUR, TALK_HEADER TALK_STATIONS
                   "1,1,A,B,0,90,-80,0\n1,1,A,B,0,90,-40,.3\n1,1,A,B,0,90,0,.4\n"
                   "1,1,A,B,0,90,40,.3\n1,1,A,B,0,90,80,0\n1,1,B,C,0,90,-80,0\n"
                   "1,1,B,C,0,90,-40,.1\n1,1,B,C,0,90,0,.2\n1,1,B,C,0,90,40,.1\n"
                   "1,1,B,C,0,90,80,0\n1,1,C,A,0,90,-80,0\n1,1,C,A,0,90,-40,3\n"
                   "1,1,C,A,0,90,0,0\n1,1,C,A,0,90,40,-3\n1,1,C,A,0,90,80,0\n");
        talk_say(&t, then[i].scan);
        fflush(t.screen.out);
        print_message("%s\n", then[i].scan);
        assert_true((strstr(t.said, CLOSE) != NULL) == then[i].told);
        talk_finish(&t);
    }
}

/* Names that differ in case only, with other signs between them; blanks; lines beyond all measure. */
static void test_names(void **state)
{
    (void)state;
    talk t;
    static char line[6000];
    talk_begin(&t, "[set]\nflats = ab AB C\ndiameter = 200 mm\n[readings]\nunit = nm\n",
               TALK_HEADER);
    assert_says(talk_say(&t, "Ab C"), "There is no flat 'Ab'");
    assert_says(talk_say(&t, "C Ab"), "There is no flat 'Ab'");
    assert_ends(talk_say(&t, "ab,c  "), "turn of the top, deg [0]: ");
    assert_ends(talk_say(&t, "back|AB+C"), "turn of the top, deg [0]: ");
    memset(line, '1', sizeof line - 1);
    fw_dialog_line(t.dialog, line);
    fflush(t.screen.out);
    assert_says(t.said, "That line is too long; nothing was taken");
    assert_ends(talk_say(&t, "|"), "mm [100]: ");
    assert_says(talk_say(&t, "0"), "a distance up to 100 mm");
    for (int i = 0; i < 2040; i++)
        memcpy(line + 2 * i, "1 ", 3);
    fw_dialog_line(t.dialog, line); /* more places than are kept */
    assert_ends(talk_say(&t, "s|stop"), "");
    talk_finish(&t);
    talk_begin(&t, TALK_INI, TALK_HEADER);
    assert_says(talk_say(&t, "|||90|"), "press"); /* thirteen stations */
    assert_ends(talk_say(&t, "s"), "-90 mm (1 of 13): ");
    talk_finish(&t);
}

/* A round of one's own; a diameter once more that is no angle; the first scan again. */
static void test_once_more(void **state)
{
    (void)state;
    talk t;
    fw_error err;
    talk_begin(&t, TALK_INI, TALK_HEADER TALK_STATIONS);
    talk_say(&t, "A B|||s");
    assert_null(strstr(talk_say(&t, "again"), "Once more")); /* nothing is read of it */
    talk_say(&t, "s|1 2 3 4 5");
    assert_says(talk_say(&t, "9e9"), "an angle in degrees");
    assert_ends(talk_say(&t, "60"), "-80 mm (1 of 5): ");
    fw_dialog_free(t.dialog);
    assert_int_equal(fw_dialog_new(t.job, t.notebook, &t.screen, &(fw_dialog_options){2, false},
                                   &t.dialog, &err), FW_OK);
    talk_say(&t, "A B|||s|1 2 3 4 5");
    assert_says(talk_rows(&t), ",2,A,B,0,0,80,5\n");
    fw_dialog_free(t.dialog);
    assert_int_equal(fw_dialog_new(t.job, t.notebook, &t.screen, &(fw_dialog_options){1, true},
                                   &t.dialog, &err), FW_OK);
    t.screen.spoken = true; /* words only */
    talk_say(&t, "back|back|back|B C|||a|1 2 3 4 5|");
    assert_says(talk_rows(&t), ",1,B,C,0,0,80,5\n");
    talk_finish(&t);
}

/* The bow of what was typed, with places left out, straight, to either side. */
static void test_bows(void **state)
{
    (void)state;
    talk t;
    talk_begin(&t, TALK_INI, TALK_HEADER TALK_STATIONS);
    talk_say(&t, "|||l|0|skip|.4|.3|0");
    assert_ends(talk_say(&t, "l"), "bottom and top [B C]: "); /* as it was typed */
    talk_finish(&t);
    talk_begin(&t, TALK_INI, TALK_HEADER TALK_STATIONS);
    talk_say(&t, "|||r|0|-.3|-.4|-.3|0");
    assert_says(talk_say(&t, "r"), "bows to the other side");
    talk_finish(&t);
    talk_begin(&t, TALK_INI, TALK_HEADER TALK_STATIONS);
    talk_say(&t, "|||u|0|0|0|0|0");
    assert_says(talk_say(&t, "d"), "bows to the other side"); /* straight: to neither */
    assert_ends(talk_say(&t, "back"), "+40 mm (4 of 5) [0]: ");
    talk_finish(&t);
    talk_begin(&t, TALK_INI, TALK_HEADER TALK_STATIONS);
    talk_say(&t, "|||u|1|skip|skip|skip|skip");
    assert_says(talk_say(&t, "u"), "bows to the other side"); /* one place has no bow */
    talk_finish(&t);
}

/* No sigma is given: what an eye tells, or what the readings show of themselves. */
static void test_no_sigma(void **state)
{
    (void)state;
    talk t;
    talk_begin(&t, PLAIN_INI "[readings]\nunit = nm\n", TALK_HEADER TALK_STATIONS);
    assert_says(talk_say(&t, "|||s|0|0|0|500"), "does not fit");
    talk_finish(&t);
    talk_begin(&t, PLAIN_INI "[light]\nsource = mercury-green\n[readings]\nunit = fringe\n",
               TALK_HEADER TALK_STATIONS);
    assert_says(talk_say(&t, "|||s|0|0|0|2"), "does not fit");
    talk_say(&t, "back|0|0|A B|0|0|.01 -.01 .02 -.02 .01|A B|0|0|.02 .01 -.02 .02 .01");
    assert_says(talk_say(&t, "B A|0|0|0|0|0|5"), "does not fit");
    talk_finish(&t);
    /* Three scans of one name: what is pointed out is said of the scan it is in. */
    talk_begin(&t, TALK_INI, TALK_HEADER "# stations: -80 -60 -40 -20 0 20 40 60 80\n");
    talk_say(&t, "|||s|0 0 0 0 0 0 0 0 0|A B|0|0|0 0 0 2 0 0 0 0 0|A B|0|0|0 0 0 0 0 0 0 0 0");
    fflush(t.screen.out);
    assert_says(t.said, "would explain it");
    talk_finish(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_helps),     cmocka_unit_test(test_refusals),
        cmocka_unit_test(test_no_light),  cmocka_unit_test(test_no_places),
        cmocka_unit_test(test_back),      cmocka_unit_test(test_defaults),
        cmocka_unit_test(test_stations_of_a_scan), cmocka_unit_test(test_crossings),
        cmocka_unit_test(test_list),      cmocka_unit_test(test_unreadable),
        cmocka_unit_test(test_not_written), cmocka_unit_test(test_sigmas),
        cmocka_unit_test(test_after_a_scan), cmocka_unit_test(test_closures), cmocka_unit_test(test_names),
        cmocka_unit_test(test_once_more), cmocka_unit_test(test_bows),
        cmocka_unit_test(test_no_sigma)};
    return cmocka_run_group_tests_name("dialog_answers", tests, NULL, NULL);
}
