/* json.h - JSON written as it comes: no tree in memory, whatever the size. */
#ifndef FLATWRIGHT_JSON_H
#define FLATWRIGHT_JSON_H

#include <stdbool.h>
#include <stdio.h>

#define FW_JSON_DEPTH 16

/* How the members of an object or array are laid out. */
typedef enum fw_json_layout { FW_JSON_INLINE, FW_JSON_LINES } fw_json_layout;

/*
 * A text being written; starts as {.out = file}. Every value takes a key: in an object a name,
 * plain ASCII of the program; NULL in an array and at the top. Wrong nesting is a broken promise
 * of the caller (assert). Write errors stay in `out` for the caller to find (ferror).
 * Source: RFC 8259. Test: tests/unit/json.c.
 */
typedef struct fw_json {
    FILE *out;
    int depth;
    struct {
        char close; /* '}' or ']' */
        fw_json_layout layout;
        bool filled;
    } open[FW_JSON_DEPTH];
} fw_json;

void fw_json_object(fw_json *json, const char *key, fw_json_layout layout);
void fw_json_array(fw_json *json, const char *key, fw_json_layout layout);

/* Ends the innermost object or array; after the outermost a line ends. */
void fw_json_close(fw_json *json);

/*
 * A string. Valid UTF-8 stays; invalid bytes become U+FFFD each; controls, line separators and
 * bidi controls are escaped. NULL: null.
 */
void fw_json_text(fw_json *json, const char *key, const char *text);

/* A number in full double precision (fw_number); null when it is not finite. */
void fw_json_number(fw_json *json, const char *key, double value);

void fw_json_integer(fw_json *json, const char *key, long long value);
void fw_json_bool(fw_json *json, const char *key, bool value);
void fw_json_null(fw_json *json, const char *key);

#endif
