/* nearest.c - the known name nearest to a mistyped one, and names shown safely. */
#include <stdio.h>
#include <string.h>

#include "../support/close.h"
#include "flatwright/nearest.h"
#include "flatwright/show.h"

static const char *nearest_of(const char *word)
{
    static const char *const names[] = {"bore", "clear", "diameter", "thickness", "deviation"};
    fw_nearest nearest = fw_nearest_start(word);
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++)
        fw_nearest_offer(&nearest, names[i]);
    return nearest.name ? nearest.name : "";
}

static void test_nearest(void **state)
{
    char longest[300];
    (void)state;
    assert_string_equal(nearest_of("bor"), "bore");
    assert_string_equal(nearest_of("BORE"), "bore");
    assert_string_equal(nearest_of("obre"), "bore"); /* two letters swapped: one step */
    assert_string_equal(nearest_of("diametre"), "diameter");
    assert_string_equal(nearest_of("deviaton"), "deviation");
    assert_string_equal(nearest_of("thikness"), "thickness");
    assert_string_equal(nearest_of("wavelength"), "");
    assert_string_equal(nearest_of("dev"), "deviation");
    assert_string_equal(nearest_of("de"), "");
    assert_string_equal(nearest_of("be"), "");
    assert_string_equal(nearest_of(""), "");
    memset(longest, 'x', sizeof longest);
    longest[sizeof longest - 1] = '\0';
    assert_string_equal(nearest_of(longest), "");
}

/* Single letters are no typing mistakes of each other: B is not C mistyped. */
static void test_short_names(void **state)
{
    char text[FW_SUGGESTION];
    fw_nearest nearest = fw_nearest_start("D");
    (void)state;
    fw_nearest_offer(&nearest, "A");
    assert_string_equal(fw_nearest_text(&nearest, text), "");
    nearest = fw_nearest_start("a");
    fw_nearest_offer(&nearest, "B");
    fw_nearest_offer(&nearest, "A");
    assert_string_equal(fw_nearest_text(&nearest, text), ", did you mean 'A'?");
}

static void test_same_name(void **state)
{
    (void)state;
    assert_true(fw_same_name("fused silica", "fused-silica"));
    assert_true(fw_same_name("Fused_Silica", "fused-silica"));
    assert_false(fw_same_name("fused", "fused-silica"));
    assert_false(fw_same_name("fused-silica", "fused"));
    assert_true(fw_same_name("", ""));
}

static void test_show(void **state)
{
    char out[32], quoted[FW_QUOTED], text[200];
    (void)state;
    assert_string_equal(fw_show(out, sizeof out, "plain"), "plain");
    assert_string_equal(fw_show(out, sizeof out, "a\033[1mb"), "a\\x1b[1mb");
    assert_string_equal(fw_show(out, sizeof out, "a\tb\nc"), "a\\x09b\\x0ac");
    assert_string_equal(fw_show(out, sizeof out, "\xC2\xB5m"), "\xC2\xB5m");
    assert_string_equal(fw_show(out, sizeof out, "\xB5m"), "\\xb5m");
    assert_string_equal(fw_show(out, sizeof out, "\xC2\x9B" "31m"), "\\xc2\\x9b31m"); /* C1 */
    assert_string_equal(fw_show(out, 8, "1234567"), "1234567");
    assert_string_equal(fw_show(out, 8, "12345678"), "1234...");
    assert_string_equal(fw_show(out, 8, "123\xC2\xB5" "5678"), "123...");
    memset(text, 'x', sizeof text);
    text[sizeof text - 1] = '\0';
    fw_show_quoted(quoted, text);
    assert_int_equal(strlen(quoted), FW_QUOTED - 1);
    assert_string_equal(quoted + FW_QUOTED - 5, "...'");
    assert_true(fw_show_is_utf8("\xC3\xA9t\xC3\xA9"));
    assert_false(fw_show_is_utf8("\xE9t\xE9"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_nearest), cmocka_unit_test(test_short_names),
        cmocka_unit_test(test_same_name), cmocka_unit_test(test_show)};
    return cmocka_run_group_tests_name("nearest", tests, NULL, NULL);
}
