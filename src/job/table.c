/* table.c - a table of named columns: rows found by line, taken apart by libcsv. */
#include <limits.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "base/open.h"
#include "flatwright/alloc.h"
#include "flatwright/nearest.h"
#include "flatwright/show.h"
#include "job/table.h"

#define FIRST_ROOM ((size_t)1 << 18)
/* A row whose quotes have no end is looked at again from its second line; not for ever. */
#define UNCLOSED_LIMIT 20

static bool is_blank(char c)
{
    return c == ' ' || c == '\t';
}

static const char *record_of(const fw_table *t)
{
    return t->buffer + t->start;
}

static fw_status no_memory(const fw_table *t, fw_error *err)
{
    return fw_fail(err, FW_SYSTEM, "no memory for '%s'", t->path);
}

/* Room for longer rows; the values of a row never take more than its text, and an end each. */
static fw_status grow(fw_table *t, fw_error *err)
{
    size_t room = t->room ? 2 * t->room : FIRST_ROOM;
    char *text = fw_resize(t->text, room + 2, 1);
    if (!text)
        return no_memory(t, err);
    t->text = text;
    char *buffer = fw_resize(t->buffer, room, 1);
    if (!buffer)
        return no_memory(t, err);
    t->buffer = buffer;
    t->room = room;
    return FW_OK;
}

/* Reads on, behind the bytes not yet consumed. */
static fw_status fill(fw_table *t, fw_error *err)
{
    fw_error why;
    size_t got = 0;
    if (t->start > 0) {
        memmove(t->buffer, t->buffer + t->start, t->end - t->start);
        t->end -= t->start;
        t->start = 0;
    }
    if (t->end == t->room) {
        fw_status status = grow(t, err);
        if (status != FW_OK)
            return status;
    }
    char *fresh = t->buffer + t->end;
    if (fw_read_input(t->fd, fresh, t->room - t->end, &got, &why) != FW_OK)
        return fw_fail(err, FW_SYSTEM, "'%s' %s", t->path, why.text);
    t->file_ended = got < t->room - t->end;
    t->end += got;
    t->has_nul = t->has_nul || memchr(fresh, '\0', got);
    t->has_quote = t->has_quote || memchr(fresh, '"', got);
    return FW_OK;
}

/* Adds the next line to the record, its end included; none: the file has ended. */
static fw_status add_line(fw_table *t, fw_error *err)
{
    size_t searched = t->record;
    for (;;) {
        const char *from = record_of(t) + searched;
        const char *end = memchr(from, t->eol, t->end - t->start - searched);
        if (end) {
            t->record = (size_t)(end - record_of(t)) + 1;
            break;
        }
        searched = t->end - t->start;
        if (t->file_ended || searched > FW_RECORD_LIMIT) {
            t->record = searched;
            break;
        }
        fw_status status = fill(t, err);
        if (status != FW_OK)
            return status;
    }
    t->record_lines++;
    return FW_OK;
}

/* A comment, or nothing but blanks and separators, as spreadsheets pad their tables. */
static bool is_skipped(const fw_table *t)
{
    const char *at = record_of(t), *end = at + t->record;
    while (at < end && is_blank(*at))
        at++;
    if (at == end || *at == '#')
        return true;
    while (at < end && (is_blank(*at) || *at == '\r' || *at == '\n' ||
                        (t->fields ? *at == t->separator : *at == ',' || *at == ';')))
        at++;
    return at == end;
}

static bool has_even_quotes(const char *text, size_t length)
{
    bool even = true;
    const char *end = text + length;
    while ((text = memchr(text, '"', (size_t)(end - text))) != NULL) {
        even = !even;
        text++;
    }
    return even;
}

/* Finds the next row: one line, or more where a quoted value holds line ends. */
static fw_status find_record(fw_table *t, fw_error *err)
{
    t->start += t->record;
    t->line = t->line > INT_MAX - t->record_lines ? INT_MAX : t->line + t->record_lines;
    t->record = 0;
    t->record_lines = 0;
    fw_status status = add_line(t, err);
    if (status != FW_OK || !t->has_quote || is_skipped(t))
        return status;
    size_t checked = 0;
    bool even = true;
    for (;;) {
        even = even == has_even_quotes(record_of(t) + checked, t->record - checked);
        checked = t->record;
        bool last = t->file_ended && t->start + t->record == t->end;
        if (even || last || t->record > FW_RECORD_LIMIT)
            return FW_OK;
        status = add_line(t, err);
        if (status != FW_OK)
            return status;
    }
}

/* Where value number `field` begins: its line, and its column there. */
static void place_of(const fw_table *t, size_t field, int *line, int *column)
{
    const char *at = record_of(t), *end = at + t->record, *start = at;
    *line = t->line;
    for (;;) {
        while (at < end && is_blank(*at))
            at++;
        if (field == 0 || at == end)
            break;
        bool quoted = *at == '"', open = quoted;
        if (quoted)
            at++;
        for (; at < end && (open || *at != t->separator); at++) {
            if (quoted && *at == '"')
                open = !open;
            if (*at == t->eol) {
                ++*line;
                start = at + 1;
            }
        }
        at += at < end;
        field--;
    }
    *column = (int)(at - start) + 1;
}

static void report(fw_table *t, size_t field, const char *text)
{
    int line, column;
    place_of(t, field, &line, &column);
    fw_fault_add(t->faults, t->path, line, column, "%s", text);
}

void fw_table_fault(fw_table *t, int column, const char *format, ...)
{
    char text[512];
    va_list args;
    va_start(args, format);
    vsnprintf(text, sizeof text, format, args);
    va_end(args);
    int slot = t->slot[column];
    if (t->faults->listed == FW_FAULTS_LISTED || slot < 0)
        fw_fault_add(t->faults, t->path, t->line, 0, "%s", text);
    else
        report(t, (size_t)slot, text);
}

/* Called by libcsv for each value. */
static void take_value(void *value, size_t length, void *data)
{
    fw_table *t = data;
    const char *from = value;
    while (length > 0 && is_blank(from[length - 1]))
        length--;
    for (; length > 0 && is_blank(*from); length--)
        from++;
    if (t->seen < t->nfields) {
        char *to = t->text + t->text_length;
        if (length > 0)
            memcpy(to, from, length);
        to[length] = '\0';
        t->fields[t->seen] = (fw_field){to, length};
        t->text_length += length + 1;
    } else if (length > 0 && t->extra == 0)
        t->extra = t->seen + 1;
    t->seen++;
}

/* Called by libcsv at the end of each row. */
static void end_row(int end, void *data)
{
    (void)end;
    ((fw_table *)data)->rows++;
}

/* Leaves the rest of a broken row: its second line, if it has one, may begin a good one. */
static void give_up_record(fw_table *t)
{
    const char *end = memchr(record_of(t), t->eol, t->record);
    if (end)
        t->record = (size_t)(end - record_of(t)) + 1;
    t->record_lines = 1;
}

static void report_quotes(fw_table *t)
{
    if (t->rows > 1) {
        report(t, 0, "a bare carriage return stands inside the line");
        return;
    }
    size_t field = t->seen;
    report(t, field, csv_error(&t->parser) == CSV_EPARSE
                         ? "the value has a quote out of place, expected \"...\" with every "
                           "quote inside doubled"
                         : "the quoted value has no closing quote");
    if (t->record_lines > 1 && ++t->unclosed == UNCLOSED_LIMIT) {
        fw_fault_add(t->faults, t->path, t->line, 0,
                     "too many quoted values without an end, the rest is not read");
        t->stopped = true;
    }
}

/* Takes the record apart; *good: it has the form of one row. */
static fw_status parse_record(fw_table *t, bool *good, fw_error *err)
{
    const char *text = record_of(t);
    t->seen = t->extra = t->text_length = 0;
    t->rows = 0;
    *good = false;
    size_t taken = csv_parse(&t->parser, text, t->record, take_value, end_row, t);
    if (taken == t->record && t->rows == 0)
        csv_parse(&t->parser, "\n", 1, take_value, end_row, t);
    int fault = csv_error(&t->parser);
    if (fault != CSV_SUCCESS && fault != CSV_EPARSE)
        return no_memory(t, err);
    if (fault == CSV_SUCCESS && t->rows == 1) {
        *good = true;
        return FW_OK;
    }
    report_quotes(t);
    give_up_record(t);
    csv_fini(&t->parser, NULL, NULL, NULL);
    return FW_OK;
}

/* Binary data and lines without an end: nothing behind them can be trusted. */
static bool is_text(fw_table *t)
{
    const char *nul = t->has_nul ? memchr(record_of(t), '\0', t->record) : NULL;
    if (nul)
        fw_fault_add(t->faults, t->path, t->line, (int)(nul - record_of(t)) + 1,
                     "holds binary data (a 0 byte), expected UTF-8 text");
    else if (t->record > FW_RECORD_LIMIT && t->record_lines == 1)
        fw_fault_add(t->faults, t->path, t->line, 0, "the line is longer than 1 MB");
    else
        return true;
    t->stopped = true;
    return false;
}

/* The next record that is no comment and has the form of a row, or FW_ROW_END. */
static fw_row next_record(fw_table *t, fw_error *err)
{
    while (!t->stopped) {
        bool good;
        if (find_record(t, err) != FW_OK)
            return FW_ROW_FAILED;
        if (t->record == 0)
            break;
        if (is_skipped(t))
            continue;
        if (!is_text(t))
            break;
        bool quoted_hash = t->record > 1 && memcmp(record_of(t), "\"#", 2) == 0;
        if (!t->fields && quoted_hash)
            continue;
        if (!t->fields)
            return FW_ROW; /* the header: its separator is still to be found */
        if (parse_record(t, &good, err) != FW_OK)
            return FW_ROW_FAILED;
        if (good && !quoted_hash)
            return FW_ROW;
    }
    return FW_ROW_END;
}

fw_row fw_table_next(fw_table *t, fw_error *err)
{
    char text[100];
    fw_row row;
    while ((row = next_record(t, err)) == FW_ROW) {
        if (t->seen >= t->nfields && t->extra == 0)
            break;
        snprintf(text, sizeof text, "the row has %zu field%s, expected %zu", t->seen,
                 t->seen == 1 ? "" : "s", t->nfields);
        if (t->extra > 0)
            report(t, t->extra - 1, text);
        else
            fw_fault_add(t->faults, t->path, t->line, 0, "%s", text);
    }
    return row;
}

/* The separator that the header has more of, outside quotes. */
static bool find_separator(fw_table *t)
{
    size_t commas = 0, semicolons = 0, tabs = 0;
    bool open = false;
    for (size_t i = 0; i < t->record; i++) {
        char c = record_of(t)[i];
        open = open != (c == '"');
        commas += !open && c == ',';
        semicolons += !open && c == ';';
        tabs += !open && c == '\t';
    }
    t->separator = semicolons > commas ? ';' : ',';
    t->comma = t->separator == ';';
    csv_set_delim(&t->parser, (unsigned char)t->separator);
    if (tabs == 0 || commas + semicolons > 0)
        return true;
    fw_fault_add(t->faults, t->path, t->line, 0,
                 "the columns are separated by tabs, expected commas or semicolons");
    return false;
}

/* ", expected bottom, top, turn_deg" */
static void list_columns(const fw_table *t, char *out, size_t size)
{
    size_t filled = 0;
    for (int i = 0; i < t->ncolumns && filled < size; i++)
        filled += (size_t)snprintf(out + filled, size - filled, "%s%s", i ? ", " : ", expected ",
                                   t->columns[i].name);
}

/* Finds the known column that the header's value i names; reports what is wrong with it. */
static void name_column(fw_table *t, size_t i)
{
    char quoted[FW_QUOTED], suggestion[300], text[400];
    const char *name = t->fields[i].text;
    fw_nearest nearest = fw_nearest_start(name);
    for (int k = 0; k < t->ncolumns; k++) {
        fw_nearest_offer(&nearest, t->columns[k].name);
        if (strcmp(t->columns[k].name, name) != 0)
            continue;
        if (t->slot[k] < 0)
            t->slot[k] = (int)i;
        else {
            snprintf(text, sizeof text, "column %s stands a second time, first as column %d",
                     fw_show_quoted(quoted, name), t->slot[k] + 1);
            report(t, i, text);
        }
        return;
    }
    fw_nearest_text(&nearest, suggestion);
    if (!nearest.name)
        list_columns(t, suggestion, sizeof suggestion);
    if (*name == '\0')
        snprintf(text, sizeof text, "column %zu has no name", i + 1);
    else
        snprintf(text, sizeof text, "unknown column %s%s", fw_show_quoted(quoted, name),
                 suggestion);
    report(t, i, text);
}

static void name_columns(fw_table *t)
{
    char list[300];
    int found = 0;
    for (size_t i = 0; i < t->nfields; i++)
        for (int k = 0; k < t->ncolumns; k++)
            found += strcmp(t->fields[i].text, t->columns[k].name) == 0;
    if (found == 0) {
        list_columns(t, list, sizeof list);
        fw_fault_add(t->faults, t->path, t->line, 0,
                     "the first line is no header with known columns%s", list);
        t->stopped = true;
        return;
    }
    for (size_t i = 0; i < t->nfields; i++)
        name_column(t, i);
    for (int k = 0; k < t->ncolumns; k++)
        if (t->columns[k].required && t->slot[k] < 0)
            fw_fault_add(t->faults, t->path, t->line, 0, "column '%s' is missing",
                         t->columns[k].name);
}

/* Takes the header's record apart. */
static fw_status parse_header(fw_table *t, fw_error *err)
{
    bool good;
    t->nfields = 1;
    for (size_t i = 0; i < t->record; i++)
        t->nfields += record_of(t)[i] == t->separator;
    t->fields = fw_alloc(t->nfields, sizeof *t->fields);
    if (!t->fields)
        return no_memory(t, err);
    fw_status status = parse_record(t, &good, err);
    if (status != FW_OK || !good) {
        t->stopped = true;
        return status;
    }
    t->nfields = t->seen < t->nfields ? t->seen : t->nfields;
    while (t->nfields > 0 && t->fields[t->nfields - 1].length == 0)
        t->nfields--;
    name_columns(t);
    return FW_OK;
}

/* "sep=;" as some spreadsheets write before the header; the header tells the same. */
static bool is_separator_line(const fw_table *t)
{
    return t->record >= 5 && t->record <= 7 && memcmp(record_of(t), "sep=", 4) == 0;
}

static fw_status read_header(fw_table *t, fw_error *err)
{
    fw_status status = fill(t, err);
    if (status != FW_OK)
        return status;
    const char *text = t->buffer;
    if (t->end >= 2 && (memcmp(text, "\xFF\xFE", 2) == 0 || memcmp(text, "\xFE\xFF", 2) == 0)) {
        fw_fault_add(t->faults, t->path, 1, 0, "is UTF-16 text, expected UTF-8");
        t->stopped = true;
        return FW_OK;
    }
    t->start = t->end >= 3 && memcmp(text, "\xEF\xBB\xBF", 3) == 0 ? 3 : 0;
    t->eol = !memchr(text, '\n', t->end) && memchr(text, '\r', t->end) ? '\r' : '\n';
    fw_row row = next_record(t, err);
    if (row == FW_ROW && is_separator_line(t))
        row = next_record(t, err);
    if (row == FW_ROW_FAILED)
        return FW_SYSTEM;
    if (row == FW_ROW_END && !t->stopped)
        fw_fault_add(t->faults, t->path, 1, 0, "is empty, expected a header line");
    if (row == FW_ROW_END || !find_separator(t)) {
        t->stopped = true;
        return FW_OK;
    }
    return parse_header(t, err);
}

static void *csv_grow(void *old, size_t size)
{
    return fw_resize(old, size, 1);
}

fw_status fw_table_open(fw_table *t, const char *path, const fw_column *columns, int ncolumns,
                        bool optional, fw_faults *faults, fw_error *err)
{
    bool missing;
    fw_error why;
    *t = (fw_table){.path = path, .faults = faults, .columns = columns, .ncolumns = ncolumns,
                    .fd = -1, .line = 1};
    for (int k = 0; k < FW_TABLE_COLUMNS; k++)
        t->slot[k] = -1;
    csv_init(&t->parser, CSV_STRICT);
    csv_set_realloc_func(&t->parser, csv_grow);
    csv_set_free_func(&t->parser, fw_free);
    csv_set_blk_size(&t->parser, 1 << 16);
    fw_status status = fw_open_input(path, &t->fd, &missing, &why);
    if (status == FW_INPUT) {
        t->stopped = true;
        if (!missing || !optional)
            fw_fault_add(faults, path, 0, 0, "%s", missing ? "is missing, every job has one"
                                                           : why.text);
        return FW_OK;
    }
    if (status != FW_OK)
        return fw_fail(err, status, "'%s' %s", path, why.text);
    return read_header(t, err);
}

void fw_table_close(fw_table *t)
{
    csv_free(&t->parser);
    fw_free(t->text);
    fw_free(t->buffer);
    fw_free(t->fields);
    if (t->fd >= 0)
        close(t->fd);
    *t = (fw_table){.fd = -1, .stopped = true};
}
