/* report_kinds.c - answers that are rare, each printed in every form: whole, and what it says. */
#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "../support/close.h"
#include "../support/fake_result.h"
#include "flatwright/alloc.h"
#include "flatwright/intake.h"
#include "flatwright/page.h"
#include "flatwright/report.h"

/* Invented sets, what is advised for them, and all that is printed of both. */
typedef struct set {
    fake_set *fake;
    fw_advice advice;
    fw_plan plans[2];
    const fw_track_circle *circle; /* NULL: as it comes */
    char *screens, *rows, *page;
} set;

static void begin(set *s, int nflats, int ndiameters, int nstations)
{
    memset(s, 0, sizeof *s);
    s->fake = fake_new(nflats, ndiameters, nstations);
    s->advice = (fw_advice){.result = &s->fake->result, .decision = FW_DECIDE_MEASURE,
                            .reason = FW_REASON_NOISE, .flat = nflats - 1, .plans = s->plans};
}

static void let_go(set *s)
{
    free(s->screens);
    free(s->rows);
    free(s->page);
    s->screens = s->rows = s->page = NULL;
}

static void end(set *s)
{
    let_go(s);
    fake_free(s->fake);
}

static void check_json(char *text)
{
    json_error_t fault;
    json_t *read = json_loads(text, JSON_REJECT_DUPLICATES, &fault);
    if (!read)
        fail_msg("line %d: %s in\n%s", fault.line, fault.text, text);
    json_decref(read);
    free(text);
}

static char *json_of(set *s, const fw_track *track)
{
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&text, &size);
    fputc('[', out);
    fw_solution_json(out, &s->fake->result, true);
    fputc(',', out);
    fw_advice_json(out, &s->advice);
    fputc(',', out);
    fw_track_json(out, track);
    fputc(']', out);
    fclose(out);
    return text;
}

static char *screens_of(set *s, const fw_track *track)
{
    char *text = NULL;
    size_t size = 0;
    fw_screen screen = {.out = open_memstream(&text, &size), .columns = 4000};
    fw_solution_text(&screen, &s->fake->result);
    fw_summary_text(&screen, &s->fake->result);
    fw_budget_text(&screen, &s->fake->result);
    fw_advice_text(&screen, &s->advice);
    fw_track_text(&screen, track);
    fclose(screen.out);
    return text;
}

/* Prints all; numbers that are none are left out everywhere. */
static void print(set *s)
{
    size_t size = 0;
    fw_track *track = NULL;
    assert_int_equal(fw_track_new(&s->fake->result, &track, NULL), FW_OK);
    if (s->circle)
        track->circle = *s->circle;
    check_json(json_of(s, track));
    let_go(s);
    s->screens = screens_of(s, track);
    if (strstr(s->screens, "nan"))
        fail_msg("a number that is none: '%.100s'", strstr(s->screens, "nan") - 60);
    FILE *out = open_memstream(&s->rows, &size);
    fw_advice_rows(out, &s->advice);
    fclose(out);
    out = open_memstream(&s->page, &size);
    assert_int_equal(fw_page_html(out, &s->advice, track, NULL), FW_OK);
    fclose(out);
    assert_null(strstr(s->page, "\"nan"));
    assert_null(strstr(s->page, ">nan"));
    fw_track_free(track);
}

static void says(const char *text, const char *part)
{
    if (!strstr(text, part))
        fail_msg("'%s' is not said", part);
}

static void test_surface_model(void **state)
{
    (void)state;
    set s;
    static fw_surface_term terms[] = {{2, 0, 3.5, 0.5, true}, {2, 2, 1.25, 0.25, true},
                                      {3, -1, NAN, NAN, false}};
    begin(&s, 3, 2, 5);
    fw_result *r = &s.fake->result;
    r->model = FW_MODEL_SURFACE;
    snprintf(r->why, sizeof r->why, "the diameters close on nothing");
    r->faces[0].surface = (fw_surface){120, 3, terms};
    fake_note(s.fake, "a note");
    print(&s);
    says(s.screens, "circle polynomials up to order 6");
    says(s.screens, "Model. Surface: the diameters close on nothing");
    says(s.screens, "- a note");
    r->why[0] = '\0';
    for (int f = 0; f < 3; f++)
        r->faces[f].figure.order = 0;
    print(&s);
    says(s.screens, "Model. Surface, as asked for");
    assert_null(strstr(s.screens, "circle polynomials up to"));
    end(&s);
}

/* More of a kind than a screen says; one of a kind. */
static void test_many(void **state)
{
    (void)state;
    set s;
    begin(&s, 3, 2, 5);
    fw_result *r = &s.fake->result;
    for (int i = 0; i < 40; i++) {
        fake_unknown(s.fake, "Not shown.");
        fake_suspect(s.fake, 10 + i, i % 2);
    }
    s.fake->job.unit = FW_UNIT_FRINGE;
    r->unchecked = 1;
    print(&s);
    says(s.screens, "more: see `flatwright solve --json`");
    says(s.screens, "1 of the 144 readings is checked by no other");
    says(s.screens, "fringe (4.4 times");
    r->nclosures = 1;
    r->closures[0].expected_nm = NAN;
    r->unchecked = 2;
    print(&s);
    says(s.screens, "over 1 loop;");
    says(s.screens, "2 of the 144 readings are checked");
    r->closures[0].redundancy = 0;
    print(&s);
    assert_null(strstr(s.screens, "Closures."));
    r->nclosures = 2;
    r->closures[1].rms_nm = NAN;
    print(&s);
    assert_null(strstr(s.screens, "Closures."));
    end(&s);
}

/* What the work took off is not known; two spells in one. */
static void test_removals(void **state)
{
    (void)state;
    set s;
    begin(&s, 3, 2, 5);
    fake_work(s.fake, 1);
    fake_reread(s.fake, 1);
    fw_removal *removal = &s.fake->result.removals[0];
    static size_t both[2];
    removal->hours = NAN;
    removal->rms = (fw_quantity){NAN, NAN};
    print(&s);
    says(s.screens, "undetermined.");
    size_t *own = removal->work;
    both[0] = both[1] = own[0];
    removal->work = both;
    removal->nwork = 2;
    removal->rms = (fw_quantity){8, NAN};
    for (int d = 0; d < removal->profile.ndiameters; d++)
        for (size_t i = 0; i < removal->profile.diameters[d].npoints; i++)
            removal->profile.diameters[d].points[i].determined = false;
    print(&s);
    says(s.screens, "B, lap-on-top after round 1 and lap-on-top after round 1: rms 8");
    removal->work = own;
    end(&s);
}

/* The judged number is the rms; no light is named; one plane for a round; little uncertainty. */
static void test_other_jobs(void **state)
{
    (void)state;
    set s;
    begin(&s, 3, 3, 5);
    fw_job *job = &s.fake->job;
    job->measure = FW_MEASURE_RMS;
    job->levelling = FW_LEVELLING_SETUP;
    job->light = (fw_light){"", NAN, 0};
    job->flats[0].clear_mm = job->flats[0].diameter_mm;
    for (int d = 0; d < 3; d++)
        for (int i = 0; i < 5; i++)
            s.fake->result.faces[0].profile.diameters[d].points[i].u_nm = 0.2;
    s.fake->result.faces[2].profile.diameters[1].points[2].u_nm = NAN;
    print(&s);
    says(s.page, "drawn for the green mercury line");
    says(s.page, "one plane is free for all diameters");
    job->measure = FW_MEASURE_IRREGULARITY;
    print(&s);
    end(&s);
}

/* A crowd: more flats, pairings and diameters than are pictured; names longer than a label. */
static void test_crowd(void **state)
{
    (void)state;
    set s;
    begin(&s, 9, 20, 60);
    fw_job *job = &s.fake->job;
    fake_rename(s.fake, 1, "a name of a flat that is much longer than any label on a picture may "
                           "be, so that it is cut");
    fake_rename(s.fake, 4, "=cmd");
    job->scans = fw_resize(job->scans, 40, sizeof *job->scans);
    for (int i = (int)job->nscans; i < 40; i++)
        job->scans[i] = (fw_scan){1, i % 9, (i + 1 + i / 9) % 9, 45, 90, fw_copy_text("x,\"y\""), 0,
                                  0};
    job->nscans = 40;
    for (int f = 0; f < 9; f += 2)
        fake_work(s.fake, f);
    for (int f = 0; f < 9; f += 2)
        fake_reread(s.fake, f);
    print(&s);
    says(s.page, "And more pairings than the");
    says(s.page, "20 diameters");
    end(&s);
}

/* One diameter with one place; no diameter at all; nothing determined. */
static void test_little(void **state)
{
    (void)state;
    set s;
    begin(&s, 2, 1, 1);
    print(&s);
    fake_undetermine(s.fake, 0, -1);
    fake_undetermine(s.fake, 1, -1);
    s.fake->result.fit = (fw_fit){0, 0, 0, 0, false, NAN, NAN, NAN, 1};
    s.fake->result.worst_mdb_nm = NAN;
    s.advice.reason = FW_REASON_NO_READINGS;
    s.advice.flat = -1;
    print(&s);
    assert_null(strstr(s.screens, "Largest error"));
    end(&s);
    begin(&s, 3, 3, 5);
    fake_undetermine(s.fake, 0, 0);
    fake_undetermine(s.fake, 1, 1);
    print(&s);
    end(&s);
}

/* Every reason the advice knows, with a flat and without; work with every kind of stroke. */
static void test_reasons(void **state)
{
    (void)state;
    set s;
    begin(&s, 3, 2, 5);
    for (int reason = FW_REASON_NO_READINGS; reason <= FW_REASON_WITHIN; reason++)
        for (int flat = -1; flat < 2; flat++) {
            bool all = reason == FW_REASON_NO_READINGS || reason == FW_REASON_WITHIN;
            if (reason == FW_REASON_DEPARTS || all != (flat < 0))
                continue;
            s.advice.reason = (fw_reason)reason;
            s.advice.flat = flat;
            s.advice.decision = reason == FW_REASON_WITHIN ? FW_DECIDE_STOP : FW_DECIDE_MEASURE;
            print(&s);
            says(s.screens, "Why:");
        }
    end(&s);
}

static fw_plan_row row_of(fw_method method, double inner, double outer)
{
    fw_stroke stroke = fw_stroke_usual(method);
    stroke.length = method == FW_LAP_ON_TOP || method == FW_FLAT_ON_TOP ? 0.4 : NAN;
    stroke.inner_mm = inner;
    stroke.outer_mm = outer;
    return (fw_plan_row){stroke, 0.2, 40, 30, 4};
}

static void test_strokes(void **state)
{
    (void)state;
    set s;
    begin(&s, 3, 2, 5);
    fw_plan *plan = &s.plans[0];
    *plan = (fw_plan){.flat = 1, .nrows = 6, .hours = 1.2, .spells = 2, .fraction = 0.6,
                      .pv_before_nm = 41, .pv_after_nm = 0.5, .pv_after_u_nm = 4,
                      .gain_nm_per_h = 9, .significant = true};
    plan->rows[0] = row_of(FW_LAP_ON_TOP, NAN, NAN);
    plan->rows[0].stroke.lateral = 0.2;
    plan->rows[0].stroke.lap_mm = 150;
    plan->rows[1] = row_of(FW_FLAT_ON_TOP, NAN, NAN);
    plan->rows[2] = row_of(FW_RING, 20, 60);
    plan->rows[3] = row_of(FW_RING, 20, 80);
    plan->rows[4] = row_of(FW_SIDE, 60, 125);
    plan->rows[4].stroke.side_deg = 135;
    plan->rows[5] = row_of(FW_LAP_ON_TOP, NAN, NAN);
    plan->rows[5].stroke.length = 0.6;
    s.advice.decision = FW_DECIDE_WORK;
    s.advice.reason = FW_REASON_DEPARTS;
    s.advice.flat = 1;
    s.advice.nplans = 1;
    for (unsigned warnings = 0; warnings < 256; warnings = 2 * warnings + 1) {
        plan->warnings = warnings;
        plan->good_from_mm = 20;
        plan->good_to_mm = 40;
        plan->hours *= 2;
        print(&s);
    }
    says(s.rows, "sweep,lap_mm");
    fake_suspect(s.fake, 12, false);
    plan->warnings = 0;
    plan->hours = 0.01;
    print(&s);
    says(s.screens, "look the suspect up in the notebook first");
    s.advice.plans = &s.plans[1];
    s.advice.nplans = 0;
    s.advice.nidle = 1;
    s.advice.idle = plan;
    s.advice.decision = FW_DECIDE_MEASURE;
    s.advice.reason = FW_REASON_NOISE;
    plan->warnings = FW_WARN_NOISE;
    print(&s);
    plan->warnings = FW_WARN_NO_GAIN;
    print(&s);
    end(&s);
}

/* Going round in circles, and whatever could break the circle. */
static void test_circle(void **state)
{
    (void)state;
    set s;
    fw_track_circle circle = {.known = true, .round = true, .from_round = 1, .to_round = 2,
                              .gain = {0.5, 3}};
    begin(&s, 3, 2, 5);
    fake_work(s.fake, 1);
    fake_reread(s.fake, 1);
    s.circle = &circle;
    for (unsigned breaks = 0; breaks < 64; breaks = 2 * breaks + 1) {
        circle.breaks = breaks;
        print(&s);
        says(s.screens, "circle");
    }
    circle.round = false;
    print(&s);
    end(&s);
}

/* What was understood of a sheet: in one block or several, with much left out. */
static void test_intake(void **state)
{
    (void)state;
    set s;
    begin(&s, 3, 2, 5);
    enum { MANY = 60 };
    static fw_entry entries[MANY];
    static char unread[FW_UNREAD_LISTED][100];
    fw_intake in = {.sheet = true, .nblocks = 1, .count = MANY, .entries = entries, .nskipped = 2,
                    .nknown = 3, .ntwice = 1, .nsecond = 2, .nunread = 9, .unread = unread};
    for (int i = 0; i < MANY; i++) {
        entries[i] = (fw_entry){.round = 1, .top = 1, .sigma = NAN, .label = "", .note = ""};
        entries[i].position_mm = i;
    }
    entries[1].round = 2;
    entries[2].bottom = 2;
    entries[3].top = 2;
    entries[4].turn_deg = 90;
    entries[5].diameter_deg = 45;
    entries[6].unit = FW_UNIT_UM;
    entries[7].label = "x";
    for (int i = 8; i < MANY; i++)
        entries[i].turn_deg = i;
    for (int i = 0; i < FW_UNREAD_LISTED; i++)
        snprintf(unread[i], sizeof unread[i], "line %d: 'words'", i + 1);
    for (int round = 0; round < 2; round++) {
        char *text = NULL;
        size_t size = 0;
        fw_screen screen = {.out = open_memstream(&text, &size), .columns = 400};
        fw_intake_text(&screen, &s.fake->job, &in);
        fclose(screen.out);
        says(text, "readings in other scans");
        says(text, "1 that stand in the file twice");
        says(text, "2 with skip = 1");
        says(text, "Not taken for data: line 5: 'words'");
        says(text, "and 4 more lines or columns");
        free(text);
        in.nblocks = 3;
    }
    end(&s);
}

/* What was read, in lists that are empty, short and long; what is enough, and the rest of a stop. */
static void test_read_before(void **state)
{
    enum { READ = 14 };
    fw_pairing list[READ];
    double u[3] = {1, 2, 3}, after[3] = {1, 1, 1};
    fw_candidate candidate = {.top = 1, .u_after_nm = after};
    fw_repeat repeats[2] = {{0, 1}, {0, 3}};
    fw_next next = {.sigma_source = FW_SIGMA_GIVEN, .sigma_nm = 2, .ndiameters = 1, .u_nm = u,
                    .diameters_deg = u, .nstations = 3, .stations_mm = u, .ncandidates = 1,
                    .candidates = &candidate, .bench_nm = u, .exchange = -1, .stale = list,
                    .good = list, .enough = {.limit_nm = 3, .u_nm = u, .floor_nm = u}};
    (void)state;
    set s;
    begin(&s, 3, 1, 3);
    next.result = &s.fake->result;
    s.advice.next = &next;
    for (int i = 0; i < READ; i++)
        list[i] = (fw_pairing){.round = 1 + i / 3, .top = 1, .turn_deg = i % 2 ? 90 : 0};
    next.nstale = 3;
    print(&s);
    says(s.screens, "No number of repeats brings");
    says(s.screens, "Stale, of surfaces that are gone: round 1 B on A, marks together; B on A, "
                    "turned 90 deg; B on A, marks together.");
    assert_null(strstr(s.screens, "Still good"));
    next.ngood = READ; /* of five rounds the last two are told, and of one round eight */
    next.enough.possible = true;
    next.enough.nrepeats = 2;
    next.enough.repeats = repeats;
    print(&s);
    says(s.screens, ", 3 times.");
    says(s.screens, "; and 6 more.");
    for (int i = 0; i < READ; i++)
        list[i].round = 1;
    print(&s);
    says(s.screens, "; and 6 more.");
    s.advice.decision = FW_DECIDE_STOP;
    s.advice.reason = FW_REASON_WITHIN;
    print(&s);
    says(s.screens, "Worth knowing still:");
    next.sigma_source = FW_SIGMA_UNKNOWN;
    print(&s);
    assert_null(strstr(s.screens, "Worth knowing still:"));
    next.sigma_source = FW_SIGMA_GIVEN;
    next.enough.already = true;
    print(&s);
    assert_null(strstr(s.screens, "Worth knowing still:"));
    fake_unknown(s.fake, "Not shown.");
    print(&s);
    says(s.screens, "What the readings leave open");
    s.advice.decision = FW_DECIDE_MEASURE;
    s.advice.reason = FW_REASON_NOISE;
    print(&s);
    says(s.screens, "Every flat's heights are known to");
    s.advice.reason = FW_REASON_DEPARTS;
    print(&s);
    says(s.screens, "Enough is read: every flat's heights");
    next.sigma_source = FW_SIGMA_UNKNOWN;
    print(&s);
    assert_null(strstr(s.screens, "Enough is read"));
    end(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_surface_model), cmocka_unit_test(test_many),
        cmocka_unit_test(test_removals),      cmocka_unit_test(test_other_jobs),
        cmocka_unit_test(test_crowd),         cmocka_unit_test(test_little),
        cmocka_unit_test(test_reasons),       cmocka_unit_test(test_strokes),
        cmocka_unit_test(test_circle),        cmocka_unit_test(test_intake),
        cmocka_unit_test(test_read_before)};
    return cmocka_run_group_tests_name("report_kinds", tests, NULL, NULL);
}
