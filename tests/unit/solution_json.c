/* solution_json.c - flatwright-solution/1 read back by an independent parser (jansson). */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include <jansson.h>

#include "../support/close.h"
#include "../support/fake_result.h"
#include "flatwright/report.h"

static void print_today(FILE *out, const fw_result *result)
{
    fw_solution_json(out, result, false);
}

static void print_all(FILE *out, const fw_result *result)
{
    fw_solution_json(out, result, true);
}

static json_t *solution(const fake_set *fake, bool all)
{
    char *text = fake_printed(all ? print_all : print_today, &fake->result);
    json_error_t error;
    json_t *root = json_loads(text, JSON_REJECT_DUPLICATES, &error);
    if (!root)
        print_error("line %d: %s\n%s\n", error.line, error.text, text);
    assert_non_null(root);
    free(text);
    return root;
}

/* The value under a key, which must be there and of that type. */
static json_t *get(json_t *object, const char *key, json_type type)
{
    json_t *value = json_object_get(object, key);
    if (!value || json_typeof(value) != type)
        print_error("key '%s' is %s\n", key, value ? "of another type" : "not there");
    assert_true(value && json_typeof(value) == type);
    return value;
}

static double number(json_t *object, const char *key)
{
    json_t *value = json_object_get(object, key);
    if (!json_is_number(value))
        print_error("key '%s' is no number\n", key);
    assert_true(json_is_number(value));
    return json_number_value(value);
}

static const char *text_of(json_t *object, const char *key)
{
    return json_string_value(get(object, key, JSON_STRING));
}

static void assert_null_key(json_t *object, const char *key)
{
    get(object, key, JSON_NULL);
}

static json_t *flat_of(json_t *root, size_t index)
{
    return json_array_get(get(root, "flats", JSON_ARRAY), index);
}

static const char *const figure_keys[] = {
    "pv_nm", "pv_u_nm", "pv_raw_nm", "rms_nm", "rms_u_nm", "power_nm", "power_u_nm",
    "irregularity_nm", "irregularity_u_nm", "symmetric_nm", "symmetric_u_nm", "probability_within"};
enum { FIGURE_KEYS = sizeof figure_keys / sizeof figure_keys[0] };

/* Every key of the interface, with the value that was put in. */
static void has_every_key(void **state)
{
    (void)state;
    fake_set *fake = fake_new(3, 4, 9);
    json_t *root = solution(fake, false), *fit = get(root, "fit", JSON_OBJECT);
    assert_string_equal(text_of(root, "format"), "flatwright-solution/1");
    assert_int_equal(json_integer_value(get(root, "round", JSON_INTEGER)), 1);
    assert_string_equal(text_of(root, "model"), "profile");
    assert_int_equal(json_integer_value(get(fit, "readings", JSON_INTEGER)), 144);
    assert_int_equal(json_integer_value(get(fit, "unknowns", JSON_INTEGER)), 131);
    assert_int_equal(json_integer_value(get(fit, "rank", JSON_INTEGER)), 116);
    assert_int_equal(json_integer_value(get(fit, "redundancy", JSON_INTEGER)), 28);
    assert_close(number(fit, "sigma0"), 1.02, 0, 0);
    assert_close(number(fit, "chi_square"), 29.13, 0, 0);
    assert_close(number(fit, "p_value"), 0.41, 0, 0);
    assert_close(number(fit, "birge"), 1, 0, 0);
    assert_int_equal(json_array_size(get(root, "flats", JSON_ARRAY)), 3);
    assert_int_equal(json_array_size(get(root, "undetermined", JSON_ARRAY)), 0);
    assert_int_equal(json_array_size(get(root, "suspects", JSON_ARRAY)), 0);
    json_t *flat = flat_of(root, 1);
    assert_string_equal(text_of(flat, "name"), "B");
    assert_int_equal(json_integer_value(get(flat, "state", JSON_INTEGER)), 0);
    get(flat, "determined", JSON_TRUE);
    assert_int_equal(json_integer_value(get(flat, "order", JSON_INTEGER)), 6);
    static const double figures[FIGURE_KEYS] = {41.23, 2.34, 46.02, 9.81, 0.62, -30.13, 1.12,
                                                12.28, 1.53, 7.31, 1.22, 0};
    for (int i = 0; i < FIGURE_KEYS; i++)
        assert_close(number(flat, figure_keys[i]), figures[i], 0, 0);
    assert_string_equal(text_of(flat, "verdict"), "outside");
    json_decref(root);
    fake_free(fake);
}

/* Heights in full double precision, points from - to +. */
static void has_every_point(void **state)
{
    (void)state;
    fake_set *fake = fake_new(2, 3, 11);
    json_t *root = solution(fake, false);
    for (int f = 0; f < 2; f++) {
        json_t *diameters = get(flat_of(root, (size_t)f), "diameters", JSON_ARRAY);
        const fw_profile *profile = &fake->result.faces[f].profile;
        assert_int_equal(json_array_size(diameters), 3);
        for (int d = 0; d < 3; d++) {
            json_t *diameter = json_array_get(diameters, (size_t)d);
            json_t *points = get(diameter, "points", JSON_ARRAY);
            assert_close(number(diameter, "angle_deg"), 60 * d, 0, 0);
            get(diameter, "determined", JSON_TRUE);
            assert_int_equal(json_array_size(points), 11);
            for (size_t i = 0; i < 11; i++) {
                const fw_point *point = &profile->diameters[d].points[i];
                json_t *got = json_array_get(points, i);
                assert_close(number(got, "position_mm"), point->position_mm, 0, 0);
                assert_close(number(got, "height_nm"), point->height_nm, 0, 0);
                assert_close(number(got, "u_nm"), 1.4, 0, 0);
                get(got, "clear", JSON_TRUE);
            }
        }
    }
    json_decref(root);
    fake_free(fake);
}

static void undetermined_is_null(void **state)
{
    (void)state;
    fake_set *fake = fake_new(3, 2, 5);
    fake_undetermine(fake, 0, 1);
    fake_unknown(fake, "What A, B and C have in common on 45 and 135 deg.");
    json_t *root = solution(fake, false), *flat = flat_of(root, 0);
    get(flat, "determined", JSON_FALSE);
    assert_null_key(flat, "order");
    assert_null_key(flat, "pv_nm");
    assert_null_key(flat, "pv_u_nm");
    assert_null_key(flat, "pv_raw_nm");
    assert_null_key(flat, "rms_nm");
    assert_null_key(flat, "probability_within");
    assert_close(number(flat, "power_nm"), 2.96, 0, 0); /* determined even so */
    assert_string_equal(text_of(flat, "verdict"), "undetermined");
    json_t *diameters = get(flat, "diameters", JSON_ARRAY);
    get(json_array_get(diameters, 0), "determined", JSON_TRUE);
    get(json_array_get(diameters, 1), "determined", JSON_FALSE);
    json_t *point = json_array_get(get(json_array_get(diameters, 1), "points", JSON_ARRAY), 2);
    assert_close(number(point, "position_mm"), 0, 0, 0);
    assert_null_key(point, "height_nm");
    assert_null_key(point, "u_nm");
    json_t *unknown = json_array_get(get(root, "undetermined", JSON_ARRAY), 0);
    json_t *flats = get(unknown, "flats", JSON_ARRAY);
    json_t *angles = get(unknown, "diameters_deg", JSON_ARRAY);
    assert_int_equal(json_array_size(flats), 3);
    assert_string_equal(json_string_value(json_array_get(flats, 2)), "C");
    assert_close(json_number_value(json_array_get(angles, 1)), 135, 0, 0);
    assert_string_equal(text_of(unknown, "text"), "What A, B and C have in common on 45 and 135 "
                                                  "deg.");
    json_decref(root);
    fake_free(fake);
}

/* No sigma and no redundancy: heights without uncertainty, a fit without a test. */
static void unknown_uncertainty_is_null(void **state)
{
    (void)state;
    fake_set *fake = fake_new(3, 1, 3);
    fake->result.fit = (fw_fit){9, 9, 9, 0, false, NAN, NAN, NAN, 1};
    fake->result.worst_mdb_nm = NAN;
    fake->result.faces[0].profile.diameters[0].points[1].u_nm = NAN;
    json_t *root = solution(fake, false), *fit = get(root, "fit", JSON_OBJECT);
    assert_null_key(fit, "sigma0");
    assert_null_key(fit, "chi_square");
    assert_null_key(fit, "p_value");
    assert_close(number(fit, "birge"), 1, 0, 0);
    assert_null_key(root, "worst_mdb_nm");
    json_t *diameter = json_array_get(get(flat_of(root, 0), "diameters", JSON_ARRAY), 0);
    json_t *point = json_array_get(get(diameter, "points", JSON_ARRAY), 1);
    assert_close(number(point, "height_nm"), 1.25, 0, 0);
    assert_null_key(point, "u_nm");
    json_decref(root);
    fake_free(fake);
}

static void names_suspects(void **state)
{
    (void)state;
    fake_set *fake = fake_new(3, 1, 3);
    fake_suspect(fake, 12, false);
    fake_suspect(fake, 345, true);
    json_t *root = solution(fake, false), *suspects = get(root, "suspects", JSON_ARRAY);
    assert_int_equal(json_array_size(suspects), 2);
    json_t *first = json_array_get(suspects, 0);
    assert_string_equal(text_of(first, "file"), "readings.csv");
    assert_int_equal(json_integer_value(get(first, "line", JSON_INTEGER)), 12);
    assert_close(number(first, "standardised"), 4.43, 0, 0);
    assert_close(number(first, "error_nm"), 14.21, 0, 0);
    assert_close(number(first, "position_mm"), 60, 0, 0);
    assert_string_equal(text_of(first, "bottom"), "A");
    get(first, "tied", JSON_FALSE);
    get(json_array_get(suspects, 1), "tied", JSON_TRUE);
    json_decref(root);
    fake_free(fake);
}

/* After work: today's state is the one listed, the earlier one only when asked for. */
static void lists_todays_states(void **state)
{
    (void)state;
    fake_set *fake = fake_new(3, 1, 3);
    fake_work(fake, 1);
    json_t *root = solution(fake, false), *flat = flat_of(root, 1);
    assert_int_equal(json_array_size(get(root, "flats", JSON_ARRAY)), 3);
    assert_string_equal(text_of(flat_of(root, 2), "name"), "C");
    assert_int_equal(json_integer_value(get(flat, "state", JSON_INTEGER)), 1);
    get(flat, "determined", JSON_FALSE);
    assert_null_key(flat, "first_round");
    assert_int_equal(json_array_size(get(flat, "diameters", JSON_ARRAY)), 0);
    assert_null(json_object_get(root, "earlier"));
    json_decref(root);
    fake_reread(fake, 1);
    root = solution(fake, true);
    json_t *earlier = get(root, "earlier", JSON_ARRAY);
    assert_int_equal(json_array_size(earlier), 1);
    assert_string_equal(text_of(json_array_get(earlier, 0), "name"), "B");
    assert_int_equal(json_integer_value(get(json_array_get(earlier, 0), "state", JSON_INTEGER)), 0);
    json_t *removal = json_array_get(get(root, "removals", JSON_ARRAY), 0);
    assert_string_equal(text_of(removal, "flat"), "B");
    assert_close(number(removal, "rms_nm"), 8.81, 0, 0);
    json_t *spell = json_array_get(get(removal, "spells", JSON_ARRAY), 0);
    assert_string_equal(text_of(spell, "method"), "lap-on-top");
    assert_close(number(spell, "hours"), 0.5, 0, 0);
    json_decref(root);
    fake_free(fake);
}

/* A title of any bytes gives valid JSON without a control character. */
static void survives_any_title(void **state)
{
    (void)state;
    fake_set *fake = fake_new(2, 1, 1);
    free(fake->job.title);
    fake->job.title = strdup("\033[31m\"x\"\n\xFF");
    json_t *root = solution(fake, false);
    assert_string_equal(text_of(root, "title"), "\033[31m\"x\"\n\xEF\xBF\xBD");
    json_decref(root);
    char *text = fake_printed(print_today, &fake->result);
    assert_null(strchr(text, '\033'));
    free(text);
    fake_free(fake);
}

static void takes_many_flats(void **state)
{
    (void)state;
    fake_set *fake = fake_new(26, 2, 3);
    json_t *root = solution(fake, false);
    assert_int_equal(json_array_size(get(root, "flats", JSON_ARRAY)), 26);
    assert_string_equal(text_of(flat_of(root, 25), "name"), "Z");
    json_decref(root);
    fake_free(fake);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(has_every_key), cmocka_unit_test(has_every_point),
        cmocka_unit_test(undetermined_is_null), cmocka_unit_test(unknown_uncertainty_is_null),
        cmocka_unit_test(names_suspects), cmocka_unit_test(lists_todays_states),
        cmocka_unit_test(survives_any_title), cmocka_unit_test(takes_many_flats)};
    return cmocka_run_group_tests_name("solution_json", tests, NULL, NULL);
}
