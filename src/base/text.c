/* text.c - characters and numbers as text: UTF-8 by its table, doubles in full. */
#include <locale.h>
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "flatwright/text.h"

typedef struct range {
    unsigned first, last;
} range;

static bool within(unsigned code, const range *ranges, size_t count)
{
    for (size_t i = 0; i < count; i++)
        if (code >= ranges[i].first && code <= ranges[i].last)
            return true;
    return false;
}

size_t fw_utf8(const char *text, unsigned *code)
{
    const unsigned char *t = (const unsigned char *)text;
    static const unsigned least[] = {0, 0, 0x80, 0x800, 0x10000};
    size_t length = t[0] < 0x80 ? 1 : t[0] < 0xC2 ? 0 : t[0] < 0xE0 ? 2 : t[0] < 0xF0 ? 3 :
                    t[0] < 0xF5 ? 4 : 0;
    if (length == 0)
        return 0;
    unsigned value = length == 1 ? t[0] : t[0] & (0xFFu >> (length + 1));
    for (size_t i = 1; i < length; i++) {
        if ((t[i] & 0xC0) != 0x80) /* also the ending 0: nothing after it is read */
            return 0;
        value = value << 6 | (t[i] & 0x3F);
    }
    if (value < least[length] || value > 0x10FFFF || (value >= 0xD800 && value <= 0xDFFF))
        return 0;
    *code = value;
    return length;
}

int fw_char_width(unsigned code)
{
    static const range none[] = {
        {0x0300, 0x036F}, {0x0483, 0x0489}, {0x0591, 0x05BD}, {0x064B, 0x065F}, {0x1AB0, 0x1AFF},
        {0x1DC0, 0x1DFF}, {0x200B, 0x200D}, {0x20D0, 0x20FF}, {0xFE00, 0xFE0F}, {0xFE20, 0xFE2F},
        {0xFEFF, 0xFEFF}, {0xE0100, 0xE01EF}};
    static const range wide[] = {
        {0x1100, 0x115F}, {0x2E80, 0x303E}, {0x3041, 0xA4CF}, {0xAC00, 0xD7A3}, {0xF900, 0xFAFF},
        {0xFE30, 0xFE6F}, {0xFF00, 0xFF60}, {0xFFE0, 0xFFE6}, {0x1F300, 0x1FAFF},
        {0x20000, 0x3FFFD}};
    if (code < 0x300)
        return 1;
    if (within(code, none, sizeof none / sizeof none[0]))
        return 0;
    return within(code, wide, sizeof wide / sizeof wide[0]) ? 2 : 1;
}

bool fw_char_harmless(unsigned code)
{
    static const range harmful[] = {
        {0x00, 0x1F}, {0x7F, 0x9F}, {0x061C, 0x061C}, {0x200E, 0x200F}, {0x2028, 0x202E},
        {0x2066, 0x2069}};
    return !within(code, harmful, sizeof harmful / sizeof harmful[0]);
}

/* The locale's decimal sign, of one or more bytes, becomes a point. */
static void point_for_sign(char *text)
{
    const char *sign = localeconv()->decimal_point;
    size_t length = strlen(sign);
    char *at = strcmp(sign, ".") == 0 ? NULL : strstr(text, sign);
    if (!at)
        return;
    *at = '.';
    memmove(at + 1, at + length, strlen(at + length) + 1);
}

#ifdef __SIZEOF_INT128__
__extension__ typedef unsigned __int128 wide;

/* Writes number / 10^decimals, without zeros at the end. */
static void put_decimal(bool negative, uint64_t number, int decimals, char *buffer)
{
    char text[FW_NUMBER_SIZE];
    int at = FW_NUMBER_SIZE;
    for (; decimals > 0 && number % 10 == 0; decimals--)
        number /= 10;
    text[--at] = '\0';
    for (int i = 0; i <= decimals || number > 0; i++) {
        if (i == decimals && i > 0)
            text[--at] = '.';
        text[--at] = (char)('0' + number % 10);
        number /= 10;
    }
    if (negative)
        text[--at] = '-';
    memcpy(buffer, text + at, (size_t)(FW_NUMBER_SIZE - at));
}

/*
 * The common sizes, ten times as fast as printf and exact: with |value| = m / 2^shift, the nearest
 * n / 10^k reads back as value when it is within half a unit of m, 2 |m 10^k - n 2^shift| < 10^k.
 * All of it fits in 120 bits. False: not of that size.
 */
static bool put_common(double value, char *buffer)
{
    static const double limits[] = {1e-3, 1e-2, 1e-1, 1,   1e1,  1e2,  1e3,  1e4,  1e5, 1e6,
                                    1e7,  1e8,  1e9,  1e10, 1e11, 1e12, 1e13, 1e14, 1e15};
    double size = fabs(value);
    int exponent, whole = -3; /* digits before the point; -3: as many zeros after it */
    if (!(size >= 1e-4 && size < 1e15))
        return false;
    while (size >= limits[whole + 3])
        whole++;
    uint64_t m = (uint64_t)ldexp(frexp(size, &exponent), 53);
    int shift = 53 - exponent;
    wide power = 1;
    for (int i = whole; i < 15; i++)
        power *= 10;
    for (int digits = 15;; digits++, power *= 10) {
        wide half = (wide)1 << (shift - 1), scaled = m * power, n = (scaled + half) >> shift;
        n -= (n & 1) && (n << shift) - scaled == half; /* a tie goes to even, as in printf */
        wide back = n << shift, miss = back > scaled ? back - scaled : scaled - back;
        if (2 * miss < power || digits == 17) {
            put_decimal(value < 0, (uint64_t)n, digits - whole, buffer);
            return true;
        }
    }
}
#else
static bool put_common(double value, char *buffer)
{
    (void)value;
    (void)buffer;
    return false;
}
#endif

char *fw_number(double value, char buffer[FW_NUMBER_SIZE])
{
    if (put_common(value, buffer))
        return buffer;
    for (int digits = 15; digits <= 17; digits++) {
        snprintf(buffer, FW_NUMBER_SIZE, "%.*g", digits, value);
        if (strtod(buffer, NULL) == value) /* in the locale it was written in */
            break;
    }
    point_for_sign(buffer);
    return buffer;
}
