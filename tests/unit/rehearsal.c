/* rehearsal.c - tests of what is said of a measuring plan: JSON by another parser, words by eye. */
#include <jansson.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "../support/close.h"
#include "flatwright/rehearse.h"

static char names[4][16] = {"Ash", "Birch", "Cedar", "Invented set"};
static fw_flat flats[] = {{.name = names[0]}, {.name = names[1]}, {.name = names[2]}};
static fw_job job = {.title = names[3], .nflats = 3, .flats = flats, .flatness_nm = 10,
                     .confidence = 0.95};
static fw_mate mates[] = {{0, 1, 0}, {1, 2, 22.5}};
static double diameters[] = {0, 22.5}, stations[] = {-90, -30.25, 90};

static fw_rehearsal sample(fw_expected *expected)
{
    expected[0] = (fw_expected){true, 1.5, 2.25, 1.75, 19, 0};
    expected[1] = (fw_expected){true, 1.25, 2, 1.5, 17, 1};
    expected[2] = (fw_expected){false, NAN, NAN, NAN, 0, 0};
    return (fw_rehearsal){.job = &job,
                          .scheme = {2, mates, 2, diameters, 3, stations, 2, FW_MODEL_AUTO},
                          .nscans = 4,
                          .nreadings = 12,
                          .model = FW_MODEL_PROFILE,
                          .expected = expected};
}

static char *text_of(const fw_rehearsal *r, bool json)
{
    char *text = NULL;
    size_t size;
    FILE *out = open_memstream(&text, &size);
    fw_screen screen = {.out = out, .columns = 80};
    assert_non_null(out);
    if (json)
        fw_rehearsal_json(out, r);
    else
        fw_rehearsal_text(&screen, r);
    assert_int_equal(fclose(out), 0);
    return text;
}

static void as_json(void **state)
{
    fw_expected expected[3];
    fw_rehearsal r = sample(expected);
    char *text = text_of(&r, true);
    const char *bottom, *top, *format, *flat, *model;
    double turn, angle, mean, worst, pv;
    int determined, enough;
    json_t *root = json_loads(text, 0, NULL), *row;
    (void)state;
    assert_non_null(root);
    assert_int_equal(json_object_size(root), 5); /* these and no other */
    assert_int_equal(json_unpack(root, "{s:s, s:s, s:b}", "format", &format, "model", &model,
                                 "enough", &enough), 0);
    assert_string_equal(model, "profile");
    assert_string_equal(format, "flatwright-rehearsal/1");
    assert_false(enough);
    row = json_array_get(json_object_get(root, "plan"), 1);
    assert_int_equal(json_unpack(row, "{s:s, s:s, s:F, s:[F, F!]!}", "bottom", &bottom, "top",
                                 &top, "turn_deg", &turn, "diameters_deg", &angle, &mean), 0);
    assert_string_equal(bottom, "Birch");
    assert_string_equal(top, "Cedar");
    assert_close(turn, 22.5, 0, 0);
    assert_close(mean, 22.5, 0, 0);
    row = json_array_get(json_object_get(root, "expected"), 0);
    assert_int_equal(json_unpack(row, "{s:s, s:b, s:F, s:F, s:F!}", "flat", &flat, "determined",
                                 &determined, "mean_u_nm", &mean, "worst_u_nm", &worst, "pv_u_nm",
                                 &pv), 0);
    assert_string_equal(flat, "Ash");
    assert_true(determined);
    assert_close(mean, 1.5, 0, 0);
    assert_close(worst, 2.25, 0, 0);
    assert_close(pv, 1.75, 0, 0);
    row = json_array_get(json_object_get(root, "expected"), 2);
    assert_true(json_is_false(json_object_get(row, "determined")));
    assert_true(json_is_null(json_object_get(row, "mean_u_nm")));
    assert_true(json_is_null(json_object_get(row, "pv_u_nm")));
    json_decref(root);
    free(text);
}

static void contains(const char *text, const char *part)
{
    if (!strstr(text, part))
        print_error("not said: %s\nin: %s\n", part, text);
    assert_non_null(strstr(text, part));
}

static void in_words(void **state)
{
    fw_expected expected[3];
    fw_rehearsal r = sample(expected);
    (void)state;
    char *text = text_of(&r, false);
    for (const char *line = text; *line; line += strcspn(line, "\n") + 1)
        assert_true(strcspn(line, "\n") <= 80);
    contains(text, "Rehearsal of Invented set: nothing was read");
    contains(text, "2. Cedar on Birch, turned 22.5 deg.");
    contains(text, "Cedar: not determined by this plan.");
    contains(text, "Enough: no. Some heights stay undetermined");
    free(text);
    expected[2] = expected[1];
    text = text_of(&r, false);
    contains(text, "at least 17 would be judged");
    contains(text, "or a smaller sigma");
    free(text);
    fw_expected *second = &expected[1], *third = &expected[2];
    second->good_within = third->good_within = 20;
    third->poor_within = 3;
    r.searched = true;
    text = text_of(&r, false);
    contains(text, "The surest plan tried:");
    contains(text, "It is more diameters");
    free(text);
    third->poor_within = 0;
    r.enough = true;
    text = text_of(&r, false);
    contains(text, "Smallest plan found that is enough:");
    contains(text, "Enough: yes.");
    contains(text, "Expected standard uncertainty:\n");
    contains(text, "finer than the stations.");
    free(text);
}

/* Surfaces: their order is said, and what it takes for a higher one. */
static void of_surfaces(void **state)
{
    fw_expected expected[3];
    fw_rehearsal r = sample(expected);
    (void)state;
    r.model = FW_MODEL_SURFACE;
    r.order = 4;
    char *text = text_of(&r, false);
    contains(text, "Expected standard uncertainty, each flat taken as smooth, as circle polynomials\n"
                   "  up to order 4:\n");
    contains(text, "turned by an angle of which no multiple up to the order");
    contains(text, "Not counted: warmth, bending, and structure finer than the order.");
    free(text);
    expected[2] = expected[1];
    text = text_of(&r, false);
    contains(text, "The made-up flats have\n  orders up to 6: it is more diameters");
    free(text);
    r.order = 6;
    text = text_of(&r, false);
    assert_null(strstr(text, "orders up to 6"));
    free(text);
    text = text_of(&r, true);
    contains(text, "\"model\": \"surface\"");
    free(text);
}

/* One of everything, two flats, PV that is not known: no plural, and what two flats cannot show. */
static void of_one(void **state)
{
    fw_expected expected[3];
    fw_rehearsal r = sample(expected);
    fw_job two = job;
    (void)state;
    two.nflats = 2;
    r.job = &two;
    r.scheme = (fw_scheme){1, mates, 1, diameters, 1, stations, 2, FW_MODEL_AUTO};
    r.nscans = r.nreadings = 1;
    expected[0].pv_u_nm = NAN;
    expected[1].determined = false;
    char *text = text_of(&r, false);
    contains(text, "Plan: 1 pairing, 1 diameter (0 deg), 1 station on each; 1 scan, 1 reading in\n"
                   "  all.\n");
    contains(text, "Ash: heights 1.50 nm, 2.25 nm at worst.\n");
    contains(text, "Enough: no. Two flats show only their sum: it takes three.\n");
    assert_null(strstr(text, "Without --pair"));
    free(text);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(as_json), cmocka_unit_test(in_words),
                                       cmocka_unit_test(of_surfaces), cmocka_unit_test(of_one)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
