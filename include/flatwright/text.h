/* text.h - characters and numbers as text: what is harmless, how wide it is, how it is written. */
#ifndef FLATWRIGHT_TEXT_H
#define FLATWRIGHT_TEXT_H

#include <stdbool.h>
#include <stddef.h>

/* Room for any text of fw_number. */
#define FW_NUMBER_SIZE 32

/*
 * The first character of `text`.
 * text  in   bytes that end in 0, not empty
 * code  out  its code point; untouched when the bytes are not UTF-8
 * Returns its length in bytes; 0 when the first byte begins no valid character (Unicode, table
 * 3-7: no overlong forms, no surrogates, nothing over U+10FFFF). Test: tests/unit/screen.c.
 */
size_t fw_utf8(const char *text, unsigned *code);

/* Columns a character takes on a terminal: 0 for combining marks, 2 for wide ones (approximate). */
int fw_char_width(unsigned code);

/* False for what could drive a terminal or turn its text around: C0, C1, line and bidi controls. */
bool fw_char_harmless(unsigned code);

/*
 * The shortest of %.15g, %.16g, %.17g that reads back as the same double, with a point whatever the
 * locale. value: finite. Returns buffer.
 */
char *fw_number(double value, char buffer[FW_NUMBER_SIZE]);

#endif
