/* widen.c - readings.csv gets the columns that a reading needs, and loses nothing. */
#include <stdio.h>
#include <string.h>

#include "flatwright/alloc.h"
#include "job/whole.h"
#include "job/widen.h"

#define MORE 200 /* holds the names of all columns */

/* The old text with a place in it, and the new one behind it. */
typedef struct copy {
    const char *from;
    size_t at, length;
    int line; /* that `at` begins */
    char eol;
    char *to;
    size_t filled, room;
} copy;

static bool put(copy *c, const char *text, size_t length)
{
    if (length == 0)
        return true; /* the very first piece: there is no place yet to put it */
    if (c->filled + length > c->room) {
        size_t room = 2 * c->room + length + 4096;
        char *to = fw_resize(c->to, room, 1);
        if (!to)
            return false;
        c->to = to;
        c->room = room;
    }
    memcpy(c->to + c->filled, text, length);
    c->filled += length;
    return true;
}

/* The end of n lines from here, their ends included. */
static size_t end_of(const copy *c, int n)
{
    size_t at = c->at;
    for (; n > 0 && at < c->length; n--) {
        const char *eol = memchr(c->from + at, c->eol, c->length - at);
        at = eol ? (size_t)(eol - c->from) + 1 : c->length;
    }
    return at;
}

/* Lines before `line` are no rows: they are taken over. */
static bool take_over(copy *c, int line)
{
    size_t end = end_of(c, line - c->line);
    bool good = put(c, c->from + c->at, end - c->at);
    c->at = end;
    c->line = line;
    return good;
}

/* Where the row's value number n - 1 ends: at a separator, or at the line's end. */
static size_t end_of_fields(const copy *c, size_t end, size_t n, char separator)
{
    bool open = false;
    size_t at = c->at;
    for (; at < end; at++) {
        open = open != (c->from[at] == '"');
        if (!open && c->from[at] == separator && --n == 0)
            break;
    }
    return at;
}

/* The row on the next `lines` lines, with more values behind its n own ones. */
static bool widen_row(copy *c, int lines, size_t n, char separator, const char *more)
{
    size_t end = end_of(c, lines), text = end;
    while (text > c->at && (c->from[text - 1] == '\n' || c->from[text - 1] == '\r'))
        text--;
    size_t cut = end_of_fields(c, text, n, separator);
    bool good = put(c, c->from + c->at, cut - c->at) && put(c, more, strlen(more)) &&
                put(c, c->from + text, end - text);
    c->at = end;
    c->line += lines;
    return good;
}

/* ",scan,note" for the header, ",," for a row. */
static void make_more(const bool add[FW_READING_COLUMNS], char separator, char names[MORE],
                      char fields[MORE])
{
    size_t n = 0, m = 0;
    names[0] = fields[0] = '\0';
    for (int k = 0; k < FW_READING_COLUMNS; k++)
        if (add[k]) {
            n += (size_t)snprintf(names + n, MORE - n, "%c%s", separator,
                                  fw_reading_columns[k].name);
            m += (size_t)snprintf(fields + m, MORE - m, "%c", separator);
        }
}

static fw_status copy_rows(copy *c, fw_table *t, const bool add[FW_READING_COLUMNS], fw_error *err)
{
    char names[MORE], fields[MORE];
    fw_row row = FW_ROW;
    make_more(add, t->rows.separator, names, fields);
    c->eol = t->rows.eol;
    for (const char *more = names; row == FW_ROW; more = fields) { /* the header first */
        if (!take_over(c, t->rows.line) ||
            !widen_row(c, t->rows.record_lines, t->nfields, t->rows.separator, more))
            return fw_out_of_memory(err);
        row = fw_table_next(t, err);
    }
    if (row == FW_ROW_FAILED)
        return FW_SYSTEM;
    return put(c, c->from + c->at, c->length - c->at) ? FW_OK : fw_out_of_memory(err);
}

/* The new rows, on lines of their own. */
static fw_status put_rows(copy *c, const char *rows, size_t length, const char *eol, fw_error *err)
{
    char last = c->filled > 0 ? c->to[c->filled - 1] : '\n';
    bool ended = last == '\n' || last == '\r';
    return (ended || put(c, eol, strlen(eol))) && put(c, rows, length) ? FW_OK
                                                                       : fw_out_of_memory(err);
}

fw_status fw_widen(const char *path, const bool add[FW_READING_COLUMNS], const char *rows,
                   size_t length, const char *eol, fw_error *err)
{
    fw_table t;
    fw_faults faults = {0};
    char *text = NULL;
    copy c = {.line = 1};
    fw_status status = fw_table_open(&t, path, fw_reading_columns, FW_READING_COLUMNS, false,
                                     &faults, err);
    if (status == FW_OK)
        status = fw_whole_read(path, &text, &c.length, err);
    c.from = text;
    if (status == FW_OK && faults.count == 0)
        status = copy_rows(&c, &t, add, err);
    if (status == FW_OK && faults.count == 0)
        status = put_rows(&c, rows, length, eol, err);
    if (status == FW_OK && faults.count > 0)
        status = fw_fail(err, FW_INPUT, "'%s': %s", path,
                         faults.listed ? faults.list[0].text : "has faults");
    if (status == FW_OK)
        status = fw_whole_replace(path, c.to, c.filled, err);
    fw_table_close(&t);
    fw_faults_release(&faults);
    fw_free(text);
    fw_free(c.to);
    return status;
}
