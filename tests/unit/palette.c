/* palette.c - contrast of everything that is read, and heights told apart without red and green. */
#include <math.h>
#include <stdlib.h>

#include "../support/close.h"
#include "report/palette.h"

/* WCAG 2.1, contrast ratio: white on black 21, #777777 on white 4.48 (W3C's own example), alike 1. */
static void test_formula(void **state)
{
    (void)state;
    assert_close(palette_contrast("#ffffff", "#000000"), 21, 1e-12, 0);
    assert_close(palette_contrast("#777777", "#ffffff"), 4.48, 0, 0.005);
    assert_close(palette_contrast("#123456", "#123456"), 1, 1e-12, 0);
}

/* WCAG 2.1, 1.4.3 (AA): 4.5 for words; 1.4.11: 3 for what a picture says. */
static void test_contrast(void **state)
{
    static const char *const words[] = {PALETTE_INK, PALETTE_SOFT, PALETTE_GOOD, PALETTE_BAD,
                                        PALETTE_DOUBT, PALETTE_SECOND, PALETTE_THIRD,
                                        PALETTE_FOURTH};
    (void)state;
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++)
        assert_true(palette_contrast(words[i], PALETTE_PAPER) >= 4.5);
    assert_true(palette_contrast(PALETTE_DARK, PALETTE_LIGHT) >= 3);
    assert_true(palette_contrast(PALETTE_GUIDE, PALETTE_DARK) >= 3);
    assert_true(palette_contrast(PALETTE_LIMIT, PALETTE_PAPER) >= 3);
    assert_true(palette_contrast(PALETTE_LIMIT, PALETTE_BAND) >= 3);
    assert_true(palette_contrast(PALETTE_INK, PALETTE_BAND) >= 3);
    assert_true(palette_contrast(PALETTE_INK, PALETTE_WORK) >= 4.5);
    assert_true(palette_contrast(PALETTE_LIMIT, PALETTE_WORK) >= 3);
    assert_true(palette_contrast(PALETTE_DARK, PALETTE_PAPER) >= 3);
}

typedef struct rgb {
    double r, g, b;
} rgb;

static rgb linear(const char *code)
{
    unsigned long all = strtoul(code + 1, NULL, 16);
    double c[3];
    for (int i = 0; i < 3; i++) {
        c[i] = (double)(all >> (16 - 8 * i) & 0xFF) / 255;
        c[i] = c[i] <= 0.04045 ? c[i] / 12.92 : pow((c[i] + 0.055) / 1.055, 2.4);
    }
    return (rgb){c[0], c[1], c[2]};
}

/*
 * Without the red-green channel what is left is lightness and blue against yellow: the colours of
 * the same height up and down must differ there. Blue less the mean of red and green, linear light.
 */
static void test_both_sides(void **state)
{
    char low[PALETTE_SIZE], high[PALETTE_SIZE];
    (void)state;
    for (int k = 1; k <= 10; k++) {
        rgb a = linear(palette_height(-k / 10.0, low)), b = linear(palette_height(k / 10.0, high));
        double blue_low = a.b - (a.r + a.g) / 2, blue_high = b.b - (b.r + b.g) / 2;
        assert_true(blue_low - blue_high > 0.03 * k);
    }
}

/* Steps are seen in grey: lightness falls from the middle to both ends. */
static void test_lightness(void **state)
{
    char code[PALETTE_SIZE];
    (void)state;
    for (int side = -1; side <= 1; side += 2) {
        double last = palette_contrast(palette_height(0, code), "#000000");
        for (int k = 1; k <= 20; k++) {
            double next = palette_contrast(palette_height(side * k / 20.0, code), "#000000");
            assert_true(next < last);
            last = next;
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_formula),
        cmocka_unit_test(test_contrast),
        cmocka_unit_test(test_both_sides),
        cmocka_unit_test(test_lightness),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
