/* number.c - strict reading of numbers. */
#include <errno.h>
#include <locale.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "../support/close.h"
#include "flatwright/number.h"

static fw_number_status read_text(const char *text, bool comma, double *value)
{
    return fw_number_read(text, strlen(text), comma, value);
}

/* strtod is the independent second way: the same bits are expected. */
static void check_like_strtod(const char *text)
{
    double value = 0.5, expected = strtod(text, NULL);
    fw_number_status status = read_text(text, false, &value);
    if (status != FW_NUMBER_OK)
        fail_msg("%s is refused", text);
    if (value != expected || signbit(value) != signbit(expected))
        fail_msg("%s reads as %.17g, expected %.17g", text, value, expected);
}

static void test_good_numbers(void **state)
{
    static const char *const texts[] = {"0",
                                        "-0",
                                        "+0.0",
                                        "1",
                                        "-1",
                                        "+1",
                                        "007",
                                        "0.1",
                                        ".5",
                                        "5.",
                                        "-.5",
                                        "1e3",
                                        "1E3",
                                        "1e+3",
                                        "1e-3",
                                        "123456789012345678",
                                        "9007199254740992",
                                        "9007199254740993",
                                        "9007199254740991",
                                        "0.1e-5",
                                        "1e22",
                                        "1e23",
                                        "1e-22",
                                        "1e-23",
                                        "1.7976931348623157e308",
                                        "4.9e-324",
                                        "1e-400",
                                        "0e99999999999",
                                        "0.000000000000000000000000000000001",
                                        "100000000000000000000000000000",
                                        "2.2250738585072011e-308",
                                        "179769313486231570000000000000000000000e270"};
    (void)state;
    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++)
        check_like_strtod(texts[i]);
}

static void test_many_numbers(void **state)
{
    unsigned long long seed = 12345;
    char text[64];
    (void)state;
    for (int i = 0; i < 200000; i++) {
        seed = seed * 6364136223846793005u + 1442695040888963407u;
        double value = (double)(seed >> 11) / 9007199254740992.0 - 0.5;
        int digits = (int)(seed >> 40) % 18;
        if (i % 2)
            snprintf(text, sizeof text, "%.*f", digits, value * pow(10, i % 7));
        else
            snprintf(text, sizeof text, "%.*e", digits, value * pow(10, i % 40 - 20));
        check_like_strtod(text);
    }
}

static void test_refused(void **state)
{
    static const struct {
        const char *text;
        fw_number_status status;
    } cases[] = {{"", FW_NUMBER_EMPTY},
                 {"abc", FW_NUMBER_WORD},
                 {"-", FW_NUMBER_WORD},
                 {".", FW_NUMBER_WORD},
                 {"+.", FW_NUMBER_WORD},
                 {"e5", FW_NUMBER_WORD},
                 {" 1", FW_NUMBER_WORD},
                 {"1 ", FW_NUMBER_TRAILING},
                 {"1x", FW_NUMBER_TRAILING},
                 {"1e", FW_NUMBER_TRAILING},
                 {"1e+", FW_NUMBER_TRAILING},
                 {"1.2.3", FW_NUMBER_TRAILING},
                 {"--1", FW_NUMBER_WORD},
                 {"1-", FW_NUMBER_TRAILING},
                 {"nan", FW_NUMBER_UNFINITE},
                 {"NaN(1)", FW_NUMBER_UNFINITE},
                 {"-inf", FW_NUMBER_UNFINITE},
                 {"INFINITY", FW_NUMBER_UNFINITE},
                 {"0x10", FW_NUMBER_HEX},
                 {"0X1p3", FW_NUMBER_HEX},
                 {"1x2", FW_NUMBER_TRAILING},
                 {"1e999", FW_NUMBER_OVERFLOW},
                 {"-1e309", FW_NUMBER_OVERFLOW},
                 {"1e99999999999999999999", FW_NUMBER_OVERFLOW},
                 {"0,5", FW_NUMBER_COMMA},
                 {"1,5e3", FW_NUMBER_COMMA},
                 {"1d3", FW_NUMBER_TRAILING},
                 {"\xE2\x88\x92"
                  "5",
                  FW_NUMBER_WORD}};
    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        double value = 77;
        fw_number_status status = read_text(cases[i].text, false, &value);
        if (status != cases[i].status)
            fail_msg("'%s' gives %d, expected %d", cases[i].text, (int)status,
                     (int)cases[i].status);
        assert_close(value, 77, 0, 0);
    }
}

static void test_decimal_comma(void **state)
{
    double value = 0;
    (void)state;
    assert_int_equal(read_text("-12,25", true, &value), FW_NUMBER_OK);
    assert_close(value, -12.25, 0, 0);
    assert_int_equal(read_text("0,12345678901234567890123", true, &value), FW_NUMBER_OK);
    assert_close(value, 0.12345678901234567890123, 0, 0);
    assert_int_equal(read_text("12.25", true, &value), FW_NUMBER_OK);
    assert_close(value, 12.25, 0, 0);
    assert_int_equal(read_text("1.234,5", true, &value), FW_NUMBER_COMMA);
    assert_int_equal(read_text("1,2,3", true, &value), FW_NUMBER_COMMA);
}

static void test_not_terminated(void **state)
{
    double value = 0;
    (void)state;
    assert_int_equal(fw_number_read("1234567", 3, false, &value), FW_NUMBER_OK);
    assert_close(value, 123, 0, 0);
    assert_int_equal(fw_number_read("0.1234567890123456789012", 21, false, &value), FW_NUMBER_OK);
    assert_close(value, 0.1234567890123456789, 0, 0);
}

static void test_long(void **state)
{
    char text[700];
    double value = 77;
    (void)state;
    memset(text, '3', sizeof text);
    text[1] = '.';
    assert_int_equal(fw_number_read(text, FW_NUMBER_CHARACTERS, false, &value), FW_NUMBER_OK);
    assert_close(value, 3.333333333333333333333, 0, 0);
    value = 77;
    assert_int_equal(fw_number_read(text, FW_NUMBER_CHARACTERS + 1, false, &value), FW_NUMBER_LONG);
    assert_close(value, 77, 0, 0);
}

/* With a comma for a point in the locale nothing changes; skipped where no such locale exists. */
static void test_locale(void **state)
{
    static const char *const names[] = {"de_DE.UTF-8", "de_DE", "fr_FR.UTF-8", "fr_FR"};
    double value = 0;
    bool found = false;
    (void)state;
    for (int i = 0; i < 4 && !found; i++)
        found = setlocale(LC_NUMERIC, names[i]) != NULL;
    assert_int_equal(read_text("0.12345678901234567890123", false, &value), FW_NUMBER_OK);
    assert_int_equal(read_text("1,5", false, &value), FW_NUMBER_COMMA);
    setlocale(LC_NUMERIC, "C");
    assert_close(value, 0.12345678901234567890123, 0, 0);
    if (!found)
        skip();
}

static void test_prefix(void **state)
{
    double value = 0;
    size_t used = 0;
    (void)state;
    assert_int_equal(fw_number_prefix("82.5 mm", 7, false, &value, &used), FW_NUMBER_OK);
    assert_close(value, 82.5, 0, 0);
    assert_int_equal(used, 4);
    assert_int_equal(fw_number_prefix("5em", 3, false, &value, &used), FW_NUMBER_OK);
    assert_int_equal(used, 1);
    assert_int_equal(fw_number_prefix("mm", 2, false, &value, &used), FW_NUMBER_WORD);
}

static void check_whole(const char *text, fw_number_status status, long expected)
{
    long value = 77;
    fw_number_status found = fw_integer_read(text, strlen(text), &value);
    if (found != status || value != (status == FW_NUMBER_OK ? expected : 77))
        fail_msg("'%s' gives %d and %ld", text, (int)found, value);
}

static void test_whole(void **state)
{
    (void)state;
    check_whole("0", FW_NUMBER_OK, 0);
    check_whole("-12", FW_NUMBER_OK, -12);
    check_whole("+12", FW_NUMBER_OK, 12);
    check_whole("9223372036854775807", FW_NUMBER_OK, 9223372036854775807L);
    check_whole("-9223372036854775808", FW_NUMBER_OK, -9223372036854775807L - 1);
    check_whole("9223372036854775808", FW_NUMBER_OVERFLOW, 0);
    check_whole("-9223372036854775809", FW_NUMBER_OVERFLOW, 0);
    check_whole("99999999999999999999999", FW_NUMBER_OVERFLOW, 0);
    check_whole("", FW_NUMBER_EMPTY, 0);
    check_whole("1.0", FW_NUMBER_TRAILING, 0);
    check_whole("1e2", FW_NUMBER_TRAILING, 0);
    check_whole("x", FW_NUMBER_WORD, 0);
    check_whole("nan", FW_NUMBER_UNFINITE, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_good_numbers),   cmocka_unit_test(test_many_numbers),
        cmocka_unit_test(test_refused),        cmocka_unit_test(test_decimal_comma),
        cmocka_unit_test(test_not_terminated), cmocka_unit_test(test_long),
        cmocka_unit_test(test_locale),         cmocka_unit_test(test_prefix),
        cmocka_unit_test(test_whole)};
    return cmocka_run_group_tests_name("number", tests, NULL, NULL);
}
