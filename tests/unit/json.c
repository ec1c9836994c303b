/* json.c - the JSON writer, read back by an independent parser (jansson). */
#include <float.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include <jansson.h>

#include "../support/close.h"
#include "flatwright/json.h"
#include "flatwright/text.h"

/* All that `write` writes; the caller frees it. */
static char *written(void (*write)(fw_json *json))
{
    char *text = NULL;
    size_t size = 0;
    fw_json json = {.out = open_memstream(&text, &size)};
    write(&json);
    assert_int_equal(json.depth, 0);
    fclose(json.out);
    return text;
}

static json_t *parsed(void (*write)(fw_json *json))
{
    char *text = written(write);
    json_error_t error;
    json_t *root = json_loads(text, JSON_REJECT_DUPLICATES, &error);
    if (!root)
        print_error("line %d: %s\n%s\n", error.line, error.text, text);
    assert_non_null(root);
    free(text);
    return root;
}

static void write_layout(fw_json *json)
{
    fw_json_object(json, NULL, FW_JSON_LINES);
    fw_json_integer(json, "a", -5);
    fw_json_array(json, "empty", FW_JSON_LINES);
    fw_json_close(json);
    fw_json_array(json, "list", FW_JSON_INLINE);
    fw_json_bool(json, NULL, true);
    fw_json_null(json, NULL);
    fw_json_number(json, NULL, 0.5);
    fw_json_close(json);
    fw_json_object(json, "none", FW_JSON_INLINE);
    fw_json_close(json);
    fw_json_text(json, "no", NULL);
    fw_json_close(json);
}

static void lays_out(void **state)
{
    (void)state;
    char *text = written(write_layout);
    assert_string_equal(text, "{\n  \"a\": -5,\n  \"empty\": [],\n  \"list\": [true, null, 0.5],\n"
                              "  \"none\": {},\n  \"no\": null\n}\n");
    free(text);
}

/* Every kind of byte: quotes, controls, UTF-8 of each length, and bytes that are none. */
static const char *const texts[][2] = {
    {"plain", "plain"},
    {"quote \" back \\ slash /", "quote \" back \\ slash /"},
    {"\b\f\n\r\t\x01\x1f\x7f", "\b\f\n\r\t\x01\x1f\x7f"},
    {"\xC2\xB5m \xE2\x88\x9E \xF0\x9D\x84\x9E", "\xC2\xB5m \xE2\x88\x9E \xF0\x9D\x84\x9E"},
    {"\xC2\x85 \xE2\x80\xAE", "\xC2\x85 \xE2\x80\xAE"},
    {"a\x80z", "a\xEF\xBF\xBDz"},
    {"a\xC3", "a\xEF\xBF\xBD"},
    {"\xC0\xAF", "\xEF\xBF\xBD\xEF\xBF\xBD"},
    {"\xED\xA0\x80", "\xEF\xBF\xBD\xEF\xBF\xBD\xEF\xBF\xBD"},
    {"\xF4\x90\x80\x80!", "\xEF\xBF\xBD\xEF\xBF\xBD\xEF\xBF\xBD\xEF\xBF\xBD!"},
    {"\xE2\x82z", "\xEF\xBF\xBD\xEF\xBF\xBDz"}};
enum { TEXTS = sizeof texts / sizeof texts[0] };

static void write_texts(fw_json *json)
{
    fw_json_array(json, NULL, FW_JSON_INLINE);
    for (size_t i = 0; i < TEXTS; i++)
        fw_json_text(json, NULL, texts[i][0]);
    fw_json_close(json);
}

static void keeps_texts(void **state)
{
    (void)state;
    json_t *root = parsed(write_texts);
    assert_int_equal(json_array_size(root), TEXTS);
    for (size_t i = 0; i < TEXTS; i++)
        assert_string_equal(json_string_value(json_array_get(root, i)), texts[i][1]);
    json_decref(root);
    char *text = written(write_texts);
    for (const char *c = text; *c; c++) /* nothing in it drives a terminal */
        assert_true(*c == '\n' || ((unsigned char)*c >= 0x20 && *c != 0x7f));
    assert_null(strstr(text, "\xE2\x80\xAE"));
    assert_null(strstr(text, "\xC2\x85"));
    free(text);
}

static const double numbers[] = {0, -0.0, 1, -120, 0.1, 1.0 / 3, 546.07, 1e300, -1e-300, DBL_MAX,
                                 DBL_MIN, DBL_TRUE_MIN, 0.1 + 0.2, 5e15, 9007199254740993.0,
                                 123456789.123456789};
enum { NUMBERS = sizeof numbers / sizeof numbers[0] };

static void write_numbers(fw_json *json)
{
    fw_json_array(json, NULL, FW_JSON_LINES);
    for (size_t i = 0; i < NUMBERS; i++)
        fw_json_number(json, NULL, numbers[i]);
    fw_json_number(json, NULL, NAN);
    fw_json_number(json, NULL, INFINITY);
    fw_json_close(json);
}

static void keeps_numbers(void **state)
{
    (void)state;
    json_t *root = parsed(write_numbers);
    for (size_t i = 0; i < NUMBERS; i++)
        assert_close(json_number_value(json_array_get(root, i)), numbers[i], 0, 0);
    assert_true(json_is_null(json_array_get(root, NUMBERS)));
    assert_true(json_is_null(json_array_get(root, NUMBERS + 1)));
    json_decref(root);
}

/* The shortest text: 0.1 stays 0.1, what needs 16 or 17 digits gets them. */
static void writes_numbers_short(void **state)
{
    (void)state;
    char buffer[FW_NUMBER_SIZE];
    assert_string_equal(fw_number(0.1, buffer), "0.1");
    assert_string_equal(fw_number(-120, buffer), "-120");
    assert_string_equal(fw_number(1.0 / 3, buffer), "0.3333333333333333");
    assert_string_equal(fw_number(0.1 + 0.2, buffer), "0.30000000000000004");
}

/* The same by the definition: the first of three formats that reads back. */
static void assert_shortest(double value)
{
    char got[FW_NUMBER_SIZE], want[64] = "";
    for (int digits = 15; digits <= 17; digits++) {
        snprintf(want, sizeof want, "%.*g", digits, value);
        if (strtod(want, NULL) == value)
            break;
    }
    assert_string_equal(fw_number(value, got), want);
}

/* Doubles of any bits, of the sizes that heights have, and around the powers of ten and two. */
static void writes_every_number(void **state)
{
    (void)state;
    unsigned long long bits = 1;
    for (int i = 0; i < 60000; i++) {
        double value;
        bits = bits * 6364136223846793005ULL + 1442695040888963407ULL; /* Knuth's MMIX generator */
        memcpy(&value, &bits, sizeof value);
        if (isfinite(value))
            assert_shortest(value);
        assert_shortest(((double)bits / 1.8446744073709552e19 - 0.5) * pow(10, i % 22 - 4));
        assert_shortest(round((double)bits / 1e15) / pow(10, i % 6));
    }
    for (int e = -330; e <= 308; e++)
        for (int i = -3; i <= 3; i++)
            assert_shortest(pow(10, e) * (1 + i * DBL_EPSILON));
    for (int e = -1074; e < 1024; e++)
        for (int i = -1; i <= 1; i++)
            assert_shortest(ldexp(1 + i * DBL_EPSILON / 2, e));
}

static void write_big(fw_json *json)
{
    fw_json_array(json, NULL, FW_JSON_LINES);
    for (int i = 0; i < 100000; i++)
        fw_json_integer(json, NULL, i);
    fw_json_close(json);
}

static void streams_many(void **state)
{
    (void)state;
    json_t *root = parsed(write_big);
    assert_int_equal(json_array_size(root), 100000);
    assert_int_equal(json_integer_value(json_array_get(root, 99999)), 99999);
    json_decref(root);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(lays_out),      cmocka_unit_test(keeps_texts),
        cmocka_unit_test(keeps_numbers), cmocka_unit_test(writes_numbers_short),
        cmocka_unit_test(writes_every_number),
        cmocka_unit_test(streams_many)};
    return cmocka_run_group_tests_name("json", tests, NULL, NULL);
}
