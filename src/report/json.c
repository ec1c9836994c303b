/* json.c - JSON written as it comes: a stack of what is open, and nothing else. */
#include <assert.h>
#include <math.h>
#include <string.h>

#include "flatwright/json.h"
#include "flatwright/text.h"

static void put_string(FILE *out, const char *text)
{
    putc('"', out);
    while (*text) {
        unsigned code = 0;
        size_t length = fw_utf8(text, &code);
        if (length == 0)
            fputs("\xEF\xBF\xBD", out);
        else if (code == '"' || code == '\\')
            fprintf(out, "\\%c", (int)code);
        else if (code == '\n' || code == '\t')
            fputs(code == '\n' ? "\\n" : "\\t", out);
        else if (!fw_char_harmless(code)) /* none is over U+FFFF */
            fprintf(out, "\\u%04x", code);
        else
            fwrite(text, 1, length, out);
        text += length ? length : 1;
    }
    putc('"', out);
}

static void put_line(fw_json *json)
{
    char line[1 + 2 * FW_JSON_DEPTH];
    size_t length = 1 + 2 * (size_t)json->depth;
    memset(line, ' ', length);
    line[0] = '\n';
    fwrite(line, 1, length, json->out);
}

/* Comma, line and key before a value. */
static void begin_value(fw_json *json, const char *key)
{
    if (json->depth == 0) {
        assert(!key);
        return;
    }
    int top = json->depth - 1;
    bool first = !json->open[top].filled;
    assert((key != NULL) == (json->open[top].close == '}'));
    if (!first)
        putc(',', json->out);
    if (json->open[top].layout == FW_JSON_LINES)
        put_line(json);
    else if (!first)
        putc(' ', json->out);
    json->open[top].filled = true;
    if (key) {
        putc('"', json->out); /* keys are ours: nothing in them to escape */
        fputs(key, json->out);
        fputs("\": ", json->out);
    }
}

static void open_value(fw_json *json, const char *key, const char *brackets, fw_json_layout layout)
{
    begin_value(json, key);
    assert(json->depth < FW_JSON_DEPTH);
    putc(brackets[0], json->out);
    json->open[json->depth].close = brackets[1];
    json->open[json->depth].layout = layout;
    json->open[json->depth].filled = false;
    json->depth++;
}

void fw_json_object(fw_json *json, const char *key, fw_json_layout layout)
{
    open_value(json, key, "{}", layout);
}

void fw_json_array(fw_json *json, const char *key, fw_json_layout layout)
{
    open_value(json, key, "[]", layout);
}

void fw_json_close(fw_json *json)
{
    assert(json->depth > 0);
    int top = --json->depth;
    if (json->open[top].layout == FW_JSON_LINES && json->open[top].filled)
        put_line(json);
    putc(json->open[top].close, json->out);
    if (json->depth == 0)
        putc('\n', json->out);
}

void fw_json_text(fw_json *json, const char *key, const char *text)
{
    begin_value(json, key);
    if (text)
        put_string(json->out, text);
    else
        fputs("null", json->out);
}

void fw_json_number(fw_json *json, const char *key, double value)
{
    char buffer[FW_NUMBER_SIZE];
    begin_value(json, key);
    fputs(isfinite(value) ? fw_number(value, buffer) : "null", json->out);
}

void fw_json_integer(fw_json *json, const char *key, long long value)
{
    begin_value(json, key);
    fprintf(json->out, "%lld", value);
}

void fw_json_bool(fw_json *json, const char *key, bool value)
{
    begin_value(json, key);
    fputs(value ? "true" : "false", json->out);
}

void fw_json_null(fw_json *json, const char *key)
{
    begin_value(json, key);
    fputs("null", json->out);
}
