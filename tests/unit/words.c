/* words.c - numbers to the place of their uncertainty, probabilities, positions. */
#include <math.h>

#include "../support/close.h"
#include "report/words.h"

static void assert_quantity(double value, double u, bool sign, const char *want)
{
    char text[WORDS_SIZE];
    assert_string_equal(words_quantity((fw_quantity){value, u}, sign, text), want);
}

#define PM FW_BLANK FW_PM FW_BLANK
#define NM FW_BLANK "nm"

/* Two significant digits of u, the value to the same place (GUM, 7.2.6). */
static void rounds_to_uncertainty(void **state)
{
    (void)state;
    assert_quantity(41.234, 2.34, false, "41.2" PM "2.3" NM);
    assert_quantity(5.129, 0.941, false, "5.13" PM "0.94" NM);
    assert_quantity(30.12, 1.16, true, "+30.1" PM "1.2" NM);
    assert_quantity(-30.12, 1.16, true, "-30.1" PM "1.2" NM);
    assert_quantity(-30.12, 1.16, false, "-30.1" PM "1.2" NM);
    assert_quantity(1234.6, 23.4, false, "1235" PM "23" NM);
    assert_quantity(1234.5, 234, false, "1230" PM "230" NM);
    assert_quantity(1234.5, 9960, false, "1000" PM "10000" NM);
    assert_quantity(7.654, 0.996, false, "7.7" PM "1.0" NM);
    assert_quantity(7.654, 0.994, false, "7.65" PM "0.99" NM);
    assert_quantity(7.654, 9.96, false, "8" PM "10" NM);
    assert_quantity(0.1234567, 0.000812, false, "0.123" PM "0.001" NM);
}

static void has_no_sign_of_nothing(void **state)
{
    (void)state;
    assert_quantity(-0.04, 1.2, true, "0.0" PM "1.2" NM);
    assert_quantity(0.04, 1.2, true, "0.0" PM "1.2" NM);
    assert_quantity(-0.06, 1.2, true, "-0.1" PM "1.2" NM);
    assert_quantity(-3, 230, true, "0" PM "230" NM);
}

/* No uncertainty: three digits; one too small to show: the value alone. */
static void goes_without_uncertainty(void **state)
{
    (void)state;
    assert_quantity(41.234, NAN, false, "41.2" NM);
    assert_quantity(0, NAN, true, "0.0" NM);
    assert_quantity(-1234.5, NAN, true, "-1230" NM);
    assert_quantity(9.996, NAN, false, "10.0" NM);
    assert_quantity(41.2345678, 1e-9, false, "41.235" NM);
    assert_quantity(41.2345678, 0, false, "41.235" NM);
}

static void says_probabilities(void **state)
{
    (void)state;
    char text[WORDS_SIZE];
    assert_string_equal(words_probability(0.612, text), "0.61");
    assert_string_equal(words_probability(0, text), "under" FW_BLANK "0.01");
    assert_string_equal(words_probability(0.0049, text), "under" FW_BLANK "0.01");
    assert_string_equal(words_probability(0.005001, text), "0.01");
    assert_string_equal(words_probability(0.9949, text), "0.99");
    assert_string_equal(words_probability(0.995, text), "over" FW_BLANK "0.99");
}

static void says_positions(void **state)
{
    (void)state;
    char text[WORDS_SIZE];
    assert_string_equal(words_position(60, text), "+60" FW_BLANK "mm");
    assert_string_equal(words_position(-62.5, text), "-62.5" FW_BLANK "mm");
    assert_string_equal(words_position(-0.0, text), "0" FW_BLANK "mm");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(rounds_to_uncertainty), cmocka_unit_test(has_no_sign_of_nothing),
        cmocka_unit_test(goes_without_uncertainty), cmocka_unit_test(says_probabilities),
        cmocka_unit_test(says_positions)};
    return cmocka_run_group_tests_name("words", tests, NULL, NULL);
}
