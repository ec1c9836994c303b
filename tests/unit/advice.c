/* advice.c - the advice in words and as JSON. All numbers are invented. */
#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "../support/close.h"
#include "../support/fake_result.h"
#include "flatwright/advice.h"
#include "report/advice_parts.h"

/* Two plans, one idle flat, two pairings, one of them stale. */
typedef struct set {
    fake_set *fake;
    fw_advice advice;
    fw_plan plans[2], idle[1];
    fw_next next;
    fw_candidate candidates[2];
    fw_pairing stale[1];
    double diameters[2];
} set;

static void begin(set *s)
{
    memset(s, 0, sizeof *s);
    s->fake = fake_new(3, 2, 9);
    fw_stroke full = fw_stroke_usual(FW_FLAT_ON_TOP), side = fw_stroke_usual(FW_SIDE);
    full.length = 0.5;
    side.inner_mm = 60;
    side.outer_mm = 125;
    side.side_deg = 135;
    s->plans[0] = (fw_plan){.flat = 1,
                            .nrows = 2,
                            .hours = 1.6,
                            .spells = 2,
                            .fraction = 0.6,
                            .pv_before_nm = 84,
                            .pv_after_nm = 31,
                            .pv_after_u_nm = 4.2,
                            .gain_nm_per_h = 25,
                            .z = 12,
                            .significant = true,
                            .high_mm = 20,
                            .high_rad = 0,
                            .warnings = FW_WARN_GOOD,
                            .good_from_mm = 90,
                            .good_to_mm = 110,
                            .rows = {{full, 1.5, 84, 40, 5}, {side, 0.1, 40, 31, 4.2}}};
    s->plans[1] = (fw_plan){.flat = 2,
                            .nrows = 1,
                            .hours = 0.05,
                            .spells = 1,
                            .fraction = 0.6,
                            .significant = true,
                            .pv_before_nm = 44,
                            .pv_after_nm = 35,
                            .pv_after_u_nm = 6,
                            .gain_nm_per_h = 10,
                            .warnings =
                                FW_WARN_TRIAL | FW_WARN_EDGE | FW_WARN_BORE | FW_WARN_LINE,
                            .rows = {{side, 0.05, 44, 35, 6}}};
    s->idle[0] = (fw_plan){.flat = 0, .warnings = FW_WARN_NOISE};
    s->candidates[0] = (fw_candidate){.bottom = 0,
                                      .top = 1,
                                      .turn_deg = 45,
                                      .score_before_nm2 = 81,
                                      .score_after_nm2 = 4,
                                      .worst_flat = 2,
                                      .worst_u_before_nm = 14,
                                      .worst_u_after_nm = 2.4};
    s->candidates[1] = (fw_candidate){
        .bottom = 2, .top = 1, .worst_flat = 2, .worst_u_before_nm = 14, .worst_u_after_nm = 7};
    s->stale[0] =
        (fw_pairing){.round = 1, .bottom = 0, .top = 2, .turn_deg = 0, .bottom_changed = true};
    s->diameters[1] = 90;
    s->next = (fw_next){.result = &s->fake->result,
                        .prior_nm = 1000,
                        .ncandidates = 2,
                        .candidates = s->candidates,
                        .nstale = 1,
                        .stale = s->stale,
                        .ndiameters = 2,
                        .diameters_deg = s->diameters,
                        .exchange = -1};
    s->advice = (fw_advice){.result = &s->fake->result,
                            .decision = FW_DECIDE_WORK,
                            .reason = FW_REASON_DEPARTS,
                            .flat = 1,
                            .nplans = 2,
                            .plans = s->plans,
                            .nidle = 1,
                            .idle = s->idle,
                            .next = &s->next,
                            .wait_both_s = 1700,
                            .wait_one_s = 5000};
}

static char *said(const set *s)
{
    char *text = NULL;
    size_t size;
    FILE *out = open_memstream(&text, &size);
    fw_screen screen = {.out = out, .columns = 400};
    fw_advice_text(&screen, &s->advice);
    fclose(out);
    return text;
}

static void assert_says(const set *s, const char *words)
{
    char *text = said(s);
    if (!strstr(text, words)) {
        print_message("%s\n", text);
        fail_msg("not in it: '%s'", words);
    }
    free(text);
}

static void assert_silent(const set *s, const char *words)
{
    char *text = said(s);
    if (strstr(text, words))
        fail_msg("'%s' is in:\n%s", words, text);
    free(text);
}

static void work_in_words(void **state)
{
    (void)state;
    set s;
    begin(&s);
    char *text = said(&s);
    const char *want =
        "Next: work on B: face down on the full lap, strokes of 125 mm (0.5 diameters), 90 minutes "
        "(about 3600 strokes), and 1 more, 96 minutes in all; let it cool, measure again.\nWhy: B "
        "departs significantly";
    assert_memory_equal(text, want, strlen(want));
    assert_true(strstr(text, "To work,") < strstr(text, "To measure,"));
    free(text);
    assert_says(
        &s,
        "1. B: PV 84.0 nm, highest 20 mm out at 0 deg (12 o'clock); after this 31.0 +- 4.2 nm.");
    assert_says(&s, "- face down on the full lap, strokes of 125 mm (0.5 diameters): 90 minutes");
    assert_says(&s, "in 2 spells of an hour at most with the lap's channels opened between");
    assert_says(&s, "- face up, small lap at one side, from 60 to 125 mm, lap 91 mm across, at "
                    "135 deg from the mark (7:30): 6.0 minutes (about 240 strokes).");
    assert_says(&s, "The full lap is taken as one that flows until it bears evenly");
    assert_silent(&s, "It goes out to the rim"); /* a fifteenth of the time: not worth a word */
    s.advice.habit.spells[FW_FLAT_ON_TOP] = 1;
    assert_silent(&s, "The full lap is taken");
    s.plans[0].rows[1].hours = s.plans[0].hours = 1;
    assert_says(&s, "It goes out to the rim: the last twentieth of the radius turns down");
    s.plans[0].rows[1].hours = 0.1;
    s.plans[0].hours = 1.6;
    assert_says(&s, "It cuts into what is already good between 90 and 110 mm");
    assert_says(&s, "a short trial only");
    assert_says(&s, "the rim of the bore");
    assert_says(&s, "the outermost edge");
    assert_says(&s, "read on one diameter only");
    assert_says(&s, "Do not polish A: no departure above its uncertainty.");
    assert_says(&s, "1. B on A, turned 45 deg: uncertainty of C from 14.0 nm to 2.40 nm.");
    assert_says(&s, "2. B on C, marks together");
    assert_says(&s, "Stale, of surfaces that are gone: round 1 C on A, marks together.");
    assert_says(&s, "30 minutes with air at both faces, 85 with the back lying");
    assert_says(&s, "No acids.");
    s.advice.wait_both_s = NAN;
    assert_says(&s, "glass and thickness in job.ini would tell how long");
    fake_free(s.fake);
}

static void other_decisions(void **state)
{
    (void)state;
    set s;
    begin(&s);
    s.advice.decision = FW_DECIDE_STOP;
    s.advice.reason = FW_REASON_WITHIN;
    s.advice.flat = -1;
    s.advice.nplans = s.advice.nidle = 0;
    assert_says(&s, "Next: stop: every flat is within.\nWhy: each flat is within");
    assert_silent(&s, "No acids"); /* cautions where work is advised */
    s.advice.decision = FW_DECIDE_MEASURE;
    s.advice.reason = FW_REASON_NOISE;
    s.advice.flat = 2;
    assert_says(&s, "Next: measure, do not polish: B on A, turned 45 deg.\nWhy: C is undecided");
    assert_silent(&s, "Nothing was learned");
    s.advice.habit.untold = 1;
    assert_says(&s, "Nothing was learned of 1 removal: a stroke of work.csv");
    s.next.enough = (fw_enough){.limit_nm = 10 / 3.0, .already = true, .possible = true};
    assert_says(&s, "Every flat's heights are known to 3.33 nm, a third of the target, or better; "
                    "more readings tell on which side");
    s.advice.nidle = 1;
    assert_says(&s, "Do not polish A: no departure above its uncertainty.");
    s.idle[0].warnings = FW_WARN_NO_GAIN;
    s.advice.reason = FW_REASON_NO_GAIN;
    assert_says(&s, "Next: measure: B on A, turned 45 deg.\nWhy: C departs, but no stroke reckoned "
                    "here would make it better");
    assert_says(&s, "Do not polish A: no stroke reckoned here makes it better.");
    assert_says(&s, "Enough is read: every flat's heights are known to 3.33 nm");
    s.advice.reason = FW_REASON_UNDETERMINED;
    assert_says(&s, "Next: measure: B on A, turned 45 deg.\nWhy: C by itself is not carried");
    assert_silent(&s, "Wait before measuring");
    s.advice.next = NULL;
    s.advice.reason = FW_REASON_UNREAD;
    assert_silent(&s, "Wait before measuring");
    s.fake->result.faces[s.fake->result.today[2]].state = 1; /* from the lap, and warm */
    assert_says(&s, "Wait before measuring: 30 minutes with air at both faces, 85 with the back");
    assert_says(&s,
                "Next: measure C with the others.\nWhy: C has no readings of its present surface.");
    s.advice.reason = FW_REASON_NO_SIGMA;
    assert_says(&s, "give sigma in job.ini or repeat a scan");
    s.advice.reason = FW_REASON_NO_READINGS;
    s.advice.flat = -1;
    assert_says(&s, "Next: read every flat with every other, and write readings.csv.\nWhy: nothing "
                    "is known yet.");
    fake_free(s.fake);
}

/* For the hand: one lap at a time, sides of one zone together, clockwise; times as they were. */
static void grouped(void **state)
{
    (void)state;
    set s;
    int order[FW_PLAN_ROWS];
    static const double side[] = {45, 315, 0}, inner[] = {50, 0, 20};
    fw_flat flat = {.diameter_mm = 250};
    begin(&s);
    fw_plan *plan = &s.plans[0];
    plan->nrows = 0;
    for (int i = 0; i < 3; i++) {
        fw_stroke near = fw_stroke_usual(FW_SIDE), ring = fw_stroke_usual(FW_RING);
        near.inner_mm = 60;
        near.outer_mm = 125;
        near.side_deg = side[i];
        ring.inner_mm = inner[i];
        ring.outer_mm = inner[i] + (i == 1 ? 36 : 60); /* in the middle as large a lap, or 15 mm */
        plan->rows[plan->nrows++] = (fw_plan_row){near, (i + 1) / 240.0, 1, 1, 1};
        plan->rows[plan->nrows++] = (fw_plan_row){ring, (i + 1) / 10.0, 1, 1, 1};
    }
    fw_stroke sweep = fw_stroke_usual(FW_LAP_ON_TOP);
    sweep.length = 0.4;
    sweep.lateral = 0.2;
    plan->rows[plan->nrows++] = (fw_plan_row){sweep, 0.5, 1, 1, 1};
    advice_order(plan, &flat, order);
    static const int want[] = {6, 5, 1, 3, 4, 2, 0}; /* rings with 15 mm, then 12 mm */
    for (int i = 0; i < 7; i++)
        assert_int_equal(order[i], want[i]);
    assert_says(&s, "- face up, full lap on top, strokes of 100 mm (0.4 diameters), swept sideways "
                    "through 50 mm (0.2 diameters): 30 minutes (about 1200 strokes).\n    - face "
                    "up, small lap in a ring:\n      - from 20 to 80 mm, lap 54 mm across: 18 "
                    "minutes (about 720 strokes).\n");
    assert_says(&s, "- face up, small lap at one side, from 60 to 125 mm, lap 91 mm across, "
                    "clockwise from the mark: 12 o'clock (0 deg) 30 strokes; 1:30 (315 deg) 20 "
                    "strokes; 10:30 (45 deg) 10 strokes.");
    fake_free(s.fake);
}

/* After a stop: what is worth knowing still, or nothing. */
static void after_a_stop(void **state)
{
    (void)state;
    set s;
    fw_repeat again = {0, 2};
    begin(&s);
    s.advice.decision = FW_DECIDE_STOP;
    s.advice.reason = FW_REASON_WITHIN;
    s.advice.flat = -1;
    s.advice.nplans = s.advice.nidle = 0;
    s.next.enough = (fw_enough){.limit_nm = 10 / 3.0, .already = true, .possible = true};
    char *text = said(&s);
    assert_string_equal(text, "Next: stop: every flat is within.\nWhy: each flat is within the "
                              "target with the confidence asked for.\n");
    free(text);
    s.next.enough.already = false;
    s.next.enough.nrepeats = 1;
    s.next.enough.repeats = &again;
    assert_says(&s, "Worth knowing still:\n  For every flat's heights to 3.33 nm, a third of the "
                    "target, read: B on A, turned 45 deg, 2 times.");
    assert_silent(&s, "To measure");
    assert_silent(&s, "Stale");
    fake_free(s.fake);
}

static json_t *parsed(const set *s)
{
    char *text = NULL;
    size_t size;
    json_error_t error;
    FILE *out = open_memstream(&text, &size);
    fw_advice_json(out, &s->advice);
    fclose(out);
    json_t *root = json_loads(text, JSON_REJECT_DUPLICATES, &error);
    assert_non_null(root);
    free(text);
    return root;
}

static double number(const json_t *object, const char *key)
{
    json_t *value = json_object_get(object, key);
    assert_true(json_is_number(value));
    return json_number_value(value);
}

static const char *word(const json_t *object, const char *key)
{
    return json_string_value(json_object_get(object, key));
}

/* Back to the grinder: said first, and no polishing strokes are listed. */
static void over_a_wave(void **state)
{
    (void)state;
    set s;
    begin(&s);
    s.plans[0].warnings = FW_WARN_WAVE;
    s.plans[0].pv_before_nm = 712;
    s.advice.nplans = 1;
    assert_says(&s, "Next: grind B again: it departs by over a wave.\nWhy: B departs by 712 nm.");
    assert_says(&s, "1. B: PV 712 nm, highest 20 mm out at 0 deg (12 o'clock).\n    It departs by "
                    "over a wave: back to the grinder");
    assert_says(&s, "`flatwright track` then says which two to grind together");
    assert_silent(&s, "minutes (about");
    json_t *root = parsed(&s), *work = json_object_get(root, "work");
    assert_int_equal(json_array_size(work), 1);
    assert_string_equal(word(json_array_get(work, 0), "method"), "grind");
    assert_string_equal(word(json_array_get(work, 0), "flat"), "B");
    assert_true(json_is_null(json_object_get(json_array_get(work, 0), "hours")));
    assert_close(number(json_array_get(work, 0), "pv_before_nm"), 712, 0, 0);
    json_decref(root);
    fake_free(s.fake);
}

static void as_json(void **state)
{
    (void)state;
    set s;
    begin(&s);
    json_t *root = parsed(&s), *work = json_object_get(root, "work"),
           *measure = json_object_get(root, "measure");
    assert_string_equal(word(root, "format"), "flatwright-advice/1");
    assert_string_equal(word(root, "decision"), "work");
    assert_int_equal((int)number(root, "round"), s.fake->result.round);
    assert_int_equal(json_array_size(work), 3);
    json_t *row = json_array_get(work, 0);
    assert_string_equal(word(row, "flat"), "B");
    assert_string_equal(word(row, "method"), "flat-on-top");
    assert_close(number(row, "inner_mm"), 0, 0, 0);
    assert_close(number(row, "outer_mm"), 125, 0, 0);
    assert_true(json_is_null(json_object_get(row, "side_deg")));
    assert_close(number(row, "stroke"), 0.5, 0, 0);
    assert_close(number(row, "hours"), 1.5, 0, 0);
    assert_int_equal((int)number(row, "spells"), 2);
    assert_close(number(row, "pv_before_nm"), 84, 0, 0);
    assert_close(number(row, "pv_after_nm"), 40, 0, 0);
    assert_close(number(row, "pv_after_u_nm"), 5, 0, 0);
    row = json_array_get(work, 1);
    assert_string_equal(word(row, "method"), "side");
    assert_close(number(row, "side_deg"), 135, 0, 0);
    assert_close(number(row, "inner_mm"), 60, 0, 0);
    assert_true(json_is_null(json_object_get(row, "stroke")));
    assert_int_equal(json_array_size(measure), 2);
    row = json_array_get(measure, 0);
    assert_string_equal(word(row, "bottom"), "A");
    assert_string_equal(word(row, "top"), "B");
    assert_string_equal(word(row, "worst_flat"), "C");
    assert_close(number(row, "turn_deg"), 45, 0, 0);
    assert_int_equal(json_array_size(json_object_get(row, "diameters_deg")), 2);
    assert_close(number(row, "score_before_nm2"), 81, 0, 0);
    assert_close(number(row, "score_after_nm2"), 4, 0, 0);
    assert_close(number(row, "worst_u_before_nm"), 14, 0, 0);
    assert_close(number(row, "worst_u_after_nm"), 2.4, 0, 0);
    row = json_array_get(json_object_get(root, "stale"), 0);
    assert_string_equal(word(row, "bottom"), "A");
    assert_string_equal(word(row, "top"), "C");
    assert_int_equal((int)number(row, "round"), 1);
    json_decref(root);
    s.advice.next = NULL;
    s.advice.nplans = 0;
    root = parsed(&s);
    assert_int_equal(json_array_size(json_object_get(root, "measure")), 0);
    assert_int_equal(json_array_size(json_object_get(root, "work")), 0);
    json_decref(root);
    fake_free(s.fake);
}

/* The one screen ends with the very sentence. */
static void the_summary(void **state)
{
    (void)state;
    set s;
    char *text = NULL;
    size_t size;
    begin(&s);
    FILE *out = open_memstream(&text, &size);
    fw_screen screen = {.out = out, .columns = 400};
    fw_summary_advised(&screen, &s.fake->result, &s.advice);
    fclose(out);
    const char *last = "Next: work on B: face down on the full lap, strokes of 125 mm (0.5 "
                       "diameters), 90 minutes (about 3600 strokes), and 1 more, 96 minutes in "
                       "all; let it cool, measure again.\n";
    assert_true(strlen(text) > strlen(last));
    assert_string_equal(text + strlen(text) - strlen(last), last);
    free(text);
    fake_free(s.fake);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(work_in_words), cmocka_unit_test(other_decisions),
        cmocka_unit_test(over_a_wave),   cmocka_unit_test(grouped),
        cmocka_unit_test(after_a_stop),  cmocka_unit_test(as_json),
        cmocka_unit_test(the_summary)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
