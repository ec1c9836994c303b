/* number.c - strict reading of numbers: check the grammar, then convert exactly or by strtod. */
#include <limits.h>
#include <locale.h>
#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "flatwright/number.h"

/* Beyond this an exponent decides alone; digits and point add at most the length of a field. */
#define EXPONENT_LIMIT 100000

/* Digits that a 64-bit mantissa takes without overflow. */
#define DIGITS_LIMIT 18

/* A decimal number taken apart: +-mantissa * 10^power where exact, else the digits as typed. */
typedef struct parts {
    bool negative, exact;
    uint64_t mantissa;
    long power;
    size_t point;  /* where the decimal sign stands; past `used`: nowhere */
    size_t digits; /* before the exponent */
    size_t used;   /* length of the number; digits 0: there is none */
} parts;

static bool is_digit(char c)
{
    return c >= '0' && c <= '9';
}

/* An exponent at text[i], or nothing: "5e" and "5 em" are the number 5 and some text. */
static size_t take_exponent(parts *number, const char *text, size_t length, size_t i)
{
    if (i >= length || (text[i] != 'e' && text[i] != 'E'))
        return i;
    size_t k = i + 1;
    bool negative = k < length && text[k] == '-';
    if (k < length && (text[k] == '-' || text[k] == '+'))
        k++;
    if (k >= length || !is_digit(text[k]))
        return i;
    long exponent = 0;
    for (; k < length && is_digit(text[k]); k++)
        if (exponent < EXPONENT_LIMIT)
            exponent = exponent * 10 + (text[k] - '0');
    number->power += negative ? -exponent : exponent;
    return k;
}

/* The digits from text[i] on join the mantissa, which wraps round where they are too many. */
static size_t take_digits(uint64_t *mantissa, const char *text, size_t length, size_t i)
{
    uint64_t m = *mantissa;
    for (; i < length && is_digit(text[i]); i++)
        m = m * 10 + (uint64_t)(text[i] - '0');
    *mantissa = m;
    return i;
}

/* Takes apart the longest number that text begins with. */
static void take_apart(parts *number, const char *text, size_t length, bool comma)
{
    size_t start = length > 0 && (text[0] == '-' || text[0] == '+') ? 1 : 0;
    number->negative = start == 1 && text[0] == '-';
    number->mantissa = 0;
    number->power = 0;
    number->point = SIZE_MAX;
    size_t i = take_digits(&number->mantissa, text, length, start);
    number->digits = i - start;
    if (i < length && (text[i] == '.' || (comma && text[i] == ','))) {
        number->point = i++;
        size_t end = take_digits(&number->mantissa, text, length, i);
        number->power = -(long)(end - i);
        number->digits += end - i;
        i = end;
    }
    /* Up to 2^53 a double holds every whole number. */
    number->exact = number->digits <= DIGITS_LIMIT && number->mantissa <= UINT64_C(1) << 53;
    number->used = number->digits > 0 ? take_exponent(number, text, length, i) : i;
}

/*
 * Both factors are doubles without error and one operation rounds once, so the result is the
 * nearest double (W. D. Clinger, How to read floating point numbers accurately, 1990).
 */
static double convert_exactly(const parts *number)
{
    static const double tens[] = {1e0,  1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,
                                  1e8,  1e9,  1e10, 1e11, 1e12, 1e13, 1e14, 1e15,
                                  1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22};
    double value = (double)number->mantissa;
    value = number->power < 0 ? value / tens[-number->power] : value * tens[number->power];
    return number->negative ? -value : value;
}

/* Hands the checked digits to strtod, with the decimal sign of the locale in force. */
static fw_number_status convert_by_library(const char *text, const parts *number, double *value)
{
    char copy[FW_NUMBER_CHARACTERS + 32];
    if (number->used > FW_NUMBER_CHARACTERS)
        return FW_NUMBER_LONG;
    size_t head = number->point < number->used ? number->point : number->used, length = head;
    memcpy(copy, text, head);
    if (head < number->used) {
        const char *sign = localeconv()->decimal_point;
        size_t size = strlen(sign);
        if (size > 16)
            return FW_NUMBER_LONG;
        memcpy(copy + length, sign, size);
        length += size;
        memcpy(copy + length, text + head + 1, number->used - head - 1);
        length += number->used - head - 1;
    }
    copy[length] = '\0';
    double converted = strtod(copy, NULL);
    if (!isfinite(converted))
        return FW_NUMBER_OVERFLOW;
    *value = converted;
    return FW_NUMBER_OK;
}

/* True when text begins with `word`, given in lower case. */
static bool begins(const char *text, size_t length, const char *word)
{
    size_t size = strlen(word);
    if (length < size)
        return false;
    for (size_t i = 0; i < size; i++)
        if ((text[i] | 0x20) != word[i])
            return false;
    return true;
}

static fw_number_status why_no_number(const char *text, size_t length)
{
    if (length == 0)
        return FW_NUMBER_EMPTY;
    if (*text == '-' || *text == '+')
        text++, length--;
    return begins(text, length, "nan") || begins(text, length, "inf") ? FW_NUMBER_UNFINITE
                                                                      : FW_NUMBER_WORD;
}

fw_number_status fw_number_prefix(const char *text, size_t length, bool comma, double *value,
                                  size_t *used)
{
    parts number;
    take_apart(&number, text, length, comma);
    if (number.digits == 0)
        return why_no_number(text, length);
    fw_number_status status = FW_NUMBER_OK;
    if (number.mantissa == 0 && number.exact)
        *value = number.negative ? -0.0 : 0.0;
    else if (number.exact && number.power >= -22 && number.power <= 22)
        *value = convert_exactly(&number);
    else
        status = convert_by_library(text, &number, value);
    if (status == FW_NUMBER_OK)
        *used = number.used;
    return status;
}

fw_number_status fw_number_read(const char *text, size_t length, bool comma, double *value)
{
    size_t used = 0;
    double converted = 0;
    fw_number_status status = fw_number_prefix(text, length, comma, &converted, &used);
    if (status == FW_NUMBER_OK && used == length) {
        *value = converted;
        return FW_NUMBER_OK;
    }
    if (status != FW_NUMBER_OK)
        return status;
    if (text[used] == ',')
        return FW_NUMBER_COMMA;
    return (text[used] | 0x20) == 'x' && converted == 0 ? FW_NUMBER_HEX : FW_NUMBER_TRAILING;
}

fw_number_status fw_integer_read(const char *text, size_t length, long *value)
{
    size_t i = length > 0 && (text[0] == '-' || text[0] == '+') ? 1 : 0;
    bool negative = i == 1 && text[0] == '-';
    if (i >= length || !is_digit(text[i]))
        return why_no_number(text, length);
    long sum = 0; /* kept negative: LONG_MIN has no positive twin */
    for (; i < length && is_digit(text[i]); i++) {
        int digit = text[i] - '0';
        if (sum < (LONG_MIN + digit) / 10)
            return FW_NUMBER_OVERFLOW;
        sum = sum * 10 - digit;
    }
    if (i < length)
        return FW_NUMBER_TRAILING;
    if (!negative && sum == LONG_MIN)
        return FW_NUMBER_OVERFLOW;
    *value = negative ? sum : -sum;
    return FW_NUMBER_OK;
}

const char *fw_number_text(fw_number_status fault)
{
    switch (fault) {
    case FW_NUMBER_OK:
        return "is a number";
    case FW_NUMBER_EMPTY:
        return "is empty";
    case FW_NUMBER_WORD:
        return "is not a number";
    case FW_NUMBER_UNFINITE:
        return "is not a finite number";
    case FW_NUMBER_HEX:
        return "is not a decimal number";
    case FW_NUMBER_COMMA:
        return "has a comma where a decimal point belongs";
    case FW_NUMBER_TRAILING:
        return "has text after the number";
    case FW_NUMBER_OVERFLOW:
        return "is too large for a number";
    case FW_NUMBER_LONG:
        return "has too many digits";
    }
    return "is not a number";
}
