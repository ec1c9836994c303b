/* page.c - the page and its pictures on made-up results: what is there, what is left out, and how. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "../support/close.h"
#include "../support/fake_result.h"
#include "flatwright/alloc.h"
#include "flatwright/page.h"

/* A fake set with advice of one plan of two strokes, and its track. */
typedef struct set {
    fake_set *fake;
    fw_advice advice;
    fw_plan plan;
    fw_track *track;
} set;

static void begin(set *s, int nflats, int ndiameters, int nstations)
{
    fw_error err;
    fw_stroke side = fw_stroke_usual(FW_SIDE), full = fw_stroke_usual(FW_LAP_ON_TOP);
    memset(s, 0, sizeof *s);
    s->fake = fake_new(nflats, ndiameters, nstations);
    side.inner_mm = 60;
    side.outer_mm = 125;
    side.side_deg = 135;
    full.length = 0.4;
    s->plan = (fw_plan){.flat = 1, .nrows = 2, .hours = 0.5, .spells = 1, .fraction = 0.6,
                        .pv_before_nm = 41, .pv_after_nm = 31, .pv_after_u_nm = 4,
                        .gain_nm_per_h = 9, .significant = true,
                        .rows = {{side, 0.1, 41, 36, 4}, {full, 0.4, 36, 31, 4}}};
    s->advice = (fw_advice){.result = &s->fake->result, .decision = FW_DECIDE_WORK,
                            .reason = FW_REASON_DEPARTS, .flat = 1, .nplans = 1,
                            .plans = &s->plan, .wait_both_s = 900, .wait_one_s = 1800};
    assert_int_equal(fw_track_new(&s->fake->result, &s->track, &err), FW_OK);
}

static void end(set *s)
{
    fw_track_free(s->track);
    fake_free(s->fake);
}

static char *page_of(set *s)
{
    char *text = NULL;
    size_t size = 0;
    fw_error err;
    FILE *out = open_memstream(&text, &size);
    assert_int_equal(fw_page_html(out, &s->advice, s->track, &err), FW_OK);
    fclose(out);
    return text;
}

static char *picture_of(set *s, const char *name, fw_status want, fw_error *err)
{
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&text, &size);
    assert_int_equal(fw_page_picture(out, &s->advice, s->track, name, err), want);
    fclose(out);
    return text;
}

static int count(const char *text, const char *what)
{
    int n = 0;
    for (const char *at = strstr(text, what); at; at = strstr(at + 1, what))
        n++;
    return n;
}

static void test_sections(void **state)
{
    static const char *const want[] = {
        "<!DOCTYPE html>", "lang=\"en\"", "Next: </b>work on ", "id=\"flats\"", "id=\"profiles\"",
        "id=\"faces\"", "id=\"fringes\"", "id=\"next\"", "id=\"progress\"", "id=\"budget\"", "id=\"doubts\"",
        "id=\"tables\"", "id=\"method\"", "id=\"cautions\"", "JCGM", "ISO 14999-4", "41.2",
        "<li>reading noise: <bdi>read twice</bdi>.</li>", "<td>12.0</td>", "<td>open</td>",
        "<caption><bdi>A</bdi>, 0\xC2\xB0</caption>", "scope=\"row\"", "@page", "</html>"};
    static const char *const never[] = {"<script", "http://www.w3.org/1999/xlink", "src=", "url(",
                                        "@import", "nan", "inf<"};
    (void)state;
    set s;
    begin(&s, 3, 4, 9);
    s.fake->result.faces[1].budget =
        (fw_budget){2, {{FW_SOURCE_NOISE, 3, 4, 12, "read twice"}, {FW_SOURCE_WARMTH, 4, 3, NAN, ""}},
                    {FW_SOURCE_NOISE, 5, 5, NAN, ""},
                    NAN};
    char *page = page_of(&s);
    for (size_t i = 0; i < sizeof want / sizeof want[0]; i++)
        if (!strstr(page, want[i]))
            fail_msg("the page has no '%s'", want[i]);
    for (size_t i = 0; i < sizeof never / sizeof never[0]; i++)
        if (strstr(page, never[i]))
            fail_msg("the page has '%s'", never[i]);
    assert_int_equal(count(page, "<svg"), 3 + 3 + 1 + 2);
    assert_int_equal(count(page, "<figure>"), count(page, "<svg"));
    assert_int_equal(count(page, "role=\"img\""), count(page, "<svg"));
    assert_int_equal(count(page, "<desc>"), count(page, "<svg"));
    char *again = page_of(&s);
    assert_string_equal(page, again);
    free(again);
    free(page);
    end(&s);
}

static void test_names(void **state)
{
    (void)state;
    set s;
    fw_error err;
    char *text = NULL;
    size_t size = 0;
    begin(&s, 3, 4, 9);
    FILE *out = open_memstream(&text, &size);
    assert_int_equal(fw_page_names(out, &s.advice, s.track, &err), FW_OK);
    fclose(out);
    assert_string_equal(text, "profile-A\nface-A\nprofile-B\nface-B\nprofile-C\nface-C\n"
                              "fringes-A-B-45\nwork-B-1\nwork-B-2\n");
    for (char *name = strtok(text, "\n"); name; name = strtok(NULL, "\n")) {
        char *svg = picture_of(&s, name, FW_OK, &err);
        assert_int_equal(count(svg, "<svg"), 1);
        assert_int_equal(strncmp(svg, "<?xml", 5), 0);
        free(svg);
    }
    free(text);
    text = picture_of(&s, "face", FW_OK, &err);
    assert_int_equal(count(text, "<svg"), 4);
    free(text);
    text = picture_of(&s, "face-D", FW_INPUT, &err);
    assert_string_equal(text, "");
    assert_non_null(strstr(err.text, "'face-D'"));
    free(text);
    end(&s);
}

/* What is not determined is said, and nothing is drawn in its place. */
static void test_undetermined(void **state)
{
    (void)state;
    set s;
    begin(&s, 3, 2, 9);
    fake_undetermine(s.fake, 1, 1);
    fake_undetermine(s.fake, 2, -1);
    fake_unknown(s.fake, "the common odd part");
    char *page = page_of(&s);
    assert_int_equal(count(page, "<svg"), 3 + 1 + 0 + 2);
    assert_non_null(strstr(page, "not determined"));
    assert_non_null(strstr(page, "the common odd part"));
    assert_null(strstr(page, "nan"));
    free(page);
    end(&s);
}

static void test_one_diameter(void **state)
{
    (void)state;
    set s;
    begin(&s, 2, 1, 5);
    char *page = page_of(&s);
    assert_int_equal(count(page, "<svg"), 2 + 2);
    assert_non_null(strstr(page, "No face can be drawn"));
    free(page);
    end(&s);
}

static void test_rounds(void **state)
{
    (void)state;
    set s;
    fw_error err;
    begin(&s, 3, 2, 9);
    fake_work(s.fake, 1);
    fake_reread(s.fake, 1);
    fw_track_free(s.track);
    assert_int_equal(fw_track_new(&s.fake->result, &s.track, &err), FW_OK);
    char *page = page_of(&s);
    assert_int_equal(count(page, "<svg"), 3 + 3 + 1 + 2 + 2);
    assert_non_null(strstr(page, "over the hours of polishing"));
    free(page);
    end(&s);
}

/* A thousand flats: the worst twelve are pictured, all are in the table of verdicts. */
static void test_many_flats(void **state)
{
    (void)state;
    set s;
    begin(&s, 60, 4, 400);
    char *page = page_of(&s);
    assert_int_equal(count(page, "<figure>"), 12 + 12 + 1 + 2);
    assert_true(count(page, "class=\"word\"") == 60);
    assert_non_null(strstr(page, "Of 60 flats the 12 farthest"));
    assert_non_null(strstr(page, "stations each"));
    assert_non_null(strstr(page, "`flatwright export`"));
    assert_true(strlen(page) < 3000000);
    free(page);
    end(&s);
}

static void test_hostile_title(void **state)
{
    (void)state;
    set s;
    begin(&s, 3, 2, 9);
    fw_free(s.fake->job.title);
    s.fake->job.title = fw_copy_text("</title><script>alert(1)</script> & \"q\" '\xE2\x80\xAE");
    fake_note(s.fake, "<b onclick=\"x\">&nbsp;");
    char *page = page_of(&s);
    assert_null(strstr(page, "<script"));
    assert_null(strstr(page, "onclick=\"x\""));
    assert_null(strstr(page, "\xE2\x80\xAE"));
    assert_int_equal(count(page, "</title>"), 1 + count(page, "<svg"));
    free(page);
    end(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_sections),      cmocka_unit_test(test_names),
        cmocka_unit_test(test_undetermined),  cmocka_unit_test(test_one_diameter),
        cmocka_unit_test(test_rounds),        cmocka_unit_test(test_many_flats),
        cmocka_unit_test(test_hostile_title),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
