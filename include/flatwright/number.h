/* number.h - strict reading of numbers: a whole field converts, or it is no number. */
#ifndef FLATWRIGHT_NUMBER_H
#define FLATWRIGHT_NUMBER_H

#include <stdbool.h>
#include <stddef.h>

/* Why a field is no number. */
typedef enum fw_number_status {
    FW_NUMBER_OK,
    FW_NUMBER_EMPTY,
    FW_NUMBER_WORD,     /* does not begin with a number */
    FW_NUMBER_UNFINITE, /* nan, inf */
    FW_NUMBER_HEX,
    FW_NUMBER_COMMA,    /* a decimal comma where none is taken */
    FW_NUMBER_TRAILING, /* text after the number */
    FW_NUMBER_OVERFLOW,
    FW_NUMBER_LONG /* more than FW_NUMBER_CHARACTERS characters that do not fit the quick path */
} fw_number_status;

#define FW_NUMBER_CHARACTERS 500

/*
 * Reads a decimal number: [+-] digits [. digits] [e [+-] digits], correctly rounded, whatever the
 * locale; a number too small for a double becomes 0 or the nearest subnormal.
 * text    in   `length` bytes, need not be terminated; blanks at either end are refused
 * comma   in   true: a comma is taken as the decimal point as well
 * value   out  finite; unchanged on failure
 * Cost: a few ns up to 15 digits (exact product or quotient of two doubles), else strtod.
 * Tests: tests/unit/number.c.
 */
fw_number_status fw_number_read(const char *text, size_t length, bool comma, double *value);

/* As fw_number_read for a whole number without point or exponent; overflow beyond long. */
fw_number_status fw_integer_read(const char *text, size_t length, long *value);

/*
 * The leading number of `text`: *used becomes its length, so that a unit may follow.
 * FW_NUMBER_TRAILING and FW_NUMBER_COMMA are not returned. Otherwise as fw_number_read.
 */
fw_number_status fw_number_prefix(const char *text, size_t length, bool comma, double *value,
                                  size_t *used);

/* What is wrong, to stand after the quoted field: "is not a number", "has text after the number". */
const char *fw_number_text(fw_number_status fault);

#endif
