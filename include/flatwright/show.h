/* show.h - text of unknown origin made fit to be shown in one line. */
#ifndef FLATWRIGHT_SHOW_H
#define FLATWRIGHT_SHOW_H

#include <stdbool.h>
#include <stddef.h>

/*
 * Copies `text` with every byte that could drive a terminal, or is not UTF-8, as \xNN.
 * out   out  ends in 0; a text that does not fit is cut at a character and ends in "..."
 * size  in   of out, at least 8
 * Returns out. Test: tests/unit/nearest.c.
 */
char *fw_show(char *out, size_t size, const char *text);

/* As fw_show, between single quotes. Returns out, which has FW_QUOTED bytes. */
#define FW_QUOTED 72
char *fw_show_quoted(char *out, const char *text);

/* True when all of `text` is UTF-8. */
bool fw_show_is_utf8(const char *text);

#endif
