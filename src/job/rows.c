/* rows.c - the rows of a table: found by line, taken apart by libcsv, whatever the size. */
#include <limits.h>
#include <string.h>
#include <unistd.h>

#include "base/open.h"
#include "flatwright/alloc.h"
#include "job/rows.h"

#define FIRST_ROOM ((size_t)1 << 18)
/* A row whose quotes have no end is looked at again from its second line; not for ever. */
#define UNCLOSED_LIMIT 20

/* A tab is a blank, but where it separates. */
static bool is_blank(const fw_rows *r, char c)
{
    return c == ' ' || (c == '\t' && r->separator != '\t');
}

static const char *record_of(const fw_rows *r)
{
    return r->buffer + r->start;
}

static fw_status no_memory(const fw_rows *r, fw_error *err)
{
    return fw_fail(err, FW_SYSTEM, "no memory for '%s'", r->path);
}

/* Room for longer rows; the values of a row never take more than its text, and an end each. */
static fw_status grow(fw_rows *r, fw_error *err)
{
    size_t room = r->room ? 2 * r->room : FIRST_ROOM;
    char *text = fw_resize(r->text, room + 2, 1);
    if (!text)
        return no_memory(r, err);
    r->text = text;
    char *buffer = fw_resize(r->buffer, room, 1);
    if (!buffer)
        return no_memory(r, err);
    r->buffer = buffer;
    r->room = room;
    return FW_OK;
}

/* Reads on, behind the bytes not yet consumed. */
static fw_status fill(fw_rows *r, fw_error *err)
{
    fw_error why;
    size_t got = 0;
    if (r->start > 0) {
        memmove(r->buffer, r->buffer + r->start, r->end - r->start);
        r->end -= r->start;
        r->start = 0;
    }
    if (r->end == r->room) {
        fw_status status = grow(r, err);
        if (status != FW_OK)
            return status;
    }
    char *fresh = r->buffer + r->end;
    if (fw_read_input(r->fd, fresh, r->room - r->end, &got, &why) != FW_OK)
        return fw_fail(err, FW_SYSTEM, "'%s' %s", r->path, why.text);
    r->file_ended = got < r->room - r->end;
    r->end += got;
    r->has_nul = r->has_nul || memchr(fresh, '\0', got);
    r->has_quote = r->has_quote || memchr(fresh, '"', got);
    return FW_OK;
}

/* Adds the next line to the record, its end included; none: the file has ended. */
static fw_status add_line(fw_rows *r, fw_error *err)
{
    size_t searched = r->record;
    for (;;) {
        const char *from = record_of(r) + searched;
        const char *end = memchr(from, r->eol, r->end - r->start - searched);
        if (end) {
            r->record = (size_t)(end - record_of(r)) + 1;
            break;
        }
        searched = r->end - r->start;
        if (r->file_ended || searched > FW_RECORD_LIMIT) {
            r->record = searched;
            break;
        }
        fw_status status = fill(r, err);
        if (status != FW_OK)
            return status;
    }
    r->record_lines++;
    return FW_OK;
}

/* A comment, or nothing but blanks and separators, as spreadsheets pad their tables. */
static bool is_skipped(const fw_rows *r)
{
    const char *at = record_of(r), *end = at + r->record;
    while (at < end && is_blank(r, *at))
        at++;
    if (at == end || *at == '#')
        return true;
    while (at < end && (is_blank(r, *at) || *at == '\r' || *at == '\n' ||
                        (r->separator ? *at == r->separator : *at == ',' || *at == ';')))
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
static fw_status find_record(fw_rows *r, fw_error *err)
{
    r->start += r->record;
    r->line = r->line > INT_MAX - r->record_lines ? INT_MAX : r->line + r->record_lines;
    r->record = 0;
    r->record_lines = 0;
    fw_status status = add_line(r, err);
    if (status != FW_OK || !r->has_quote || is_skipped(r))
        return status;
    size_t checked = 0;
    bool even = true;
    for (;;) {
        even = even == has_even_quotes(record_of(r) + checked, r->record - checked);
        checked = r->record;
        bool last = r->file_ended && r->start + r->record == r->end;
        if (even || last || r->record > FW_RECORD_LIMIT)
            return FW_OK;
        status = add_line(r, err);
        if (status != FW_OK)
            return status;
    }
}

/* A walk over the values of the row. */
typedef struct walk {
    const char *at, *start; /* of the line that `at` is on */
    int line;
} walk;

static walk walk_of(const fw_rows *r)
{
    return (walk){record_of(r), record_of(r), r->line};
}

/* The place of the next value, and on to the one behind it. */
static void step(const fw_rows *r, walk *w, int *line, int *column)
{
    const char *end = record_of(r) + r->record;
    while (w->at < end && is_blank(r, *w->at))
        w->at++;
    *line = w->line;
    *column = (int)(w->at - w->start) + 1;
    bool quoted = w->at < end && *w->at == '"', open = quoted;
    if (quoted)
        w->at++;
    for (; w->at < end && (open || *w->at != r->separator); w->at++) {
        if (quoted && *w->at == '"')
            open = !open;
        if (*w->at == r->eol && w->at + 1 < end) {
            w->line++;
            w->start = w->at + 1;
        }
    }
    w->at += w->at < end;
}

void fw_rows_places(const fw_rows *r, size_t n, int *line, int *column)
{
    walk w = walk_of(r);
    for (size_t i = 0; i < n; i++)
        step(r, &w, &line[i], &column[i]);
}

void fw_rows_place(const fw_rows *r, size_t field, int *line, int *column)
{
    walk w = walk_of(r);
    do
        step(r, &w, line, column);
    while (field-- > 0 && w.at < record_of(r) + r->record);
}

void fw_rows_fault(fw_rows *r, size_t field, const char *text)
{
    int line, column;
    fw_rows_place(r, field, &line, &column);
    fw_fault_add(r->faults, r->path, line, column, "%s", text);
}

/* Called by libcsv for each value. */
static void take_value(void *value, size_t length, void *data)
{
    fw_rows *r = data;
    const char *from = value;
    while (length > 0 && is_blank(r, from[length - 1]))
        length--;
    for (; length > 0 && is_blank(r, *from); length--)
        from++;
    if (r->seen < r->nfields) {
        char *to = r->text + r->text_length;
        if (length > 0)
            memcpy(to, from, length);
        to[length] = '\0';
        r->fields[r->seen] = (fw_field){to, length};
        r->text_length += length + 1;
    } else if (length > 0 && r->extra == 0)
        r->extra = r->seen + 1;
    r->seen++;
}

/* Called by libcsv at the end of each row. */
static void end_row(int end, void *data)
{
    (void)end;
    ((fw_rows *)data)->rows++;
}

/* Leaves the rest of a broken row: its second line, if it has one, may begin a good one. */
static void give_up_record(fw_rows *r)
{
    const char *end = memchr(record_of(r), r->eol, r->record);
    if (end)
        r->record = (size_t)(end - record_of(r)) + 1;
    r->record_lines = 1;
}

static void report_quotes(fw_rows *r)
{
    if (r->rows > 1) {
        fw_rows_fault(r, 0, "a bare carriage return stands inside the line");
        return;
    }
    size_t field = r->seen;
    fw_rows_fault(r, field, csv_error(&r->parser) == CSV_EPARSE
                         ? "the value has a quote out of place, expected \"...\" with every "
                           "quote inside doubled"
                         : "the quoted value has no closing quote");
    if (r->record_lines > 1 && ++r->unclosed == UNCLOSED_LIMIT) {
        fw_fault_add(r->faults, r->path, r->line, 0,
                     "too many quoted values without an end, the rest is not read");
        r->stopped = true;
    }
}

/* As many fields as the record can have. */
static fw_status make_fields(fw_rows *r, fw_error *err)
{
    size_t n = 1;
    for (size_t i = 0; i < r->record; i++)
        n += record_of(r)[i] == r->separator;
    if (n <= r->nfields)
        return FW_OK;
    fw_field *fields = fw_resize(r->fields, n, sizeof *fields);
    if (!fields)
        return no_memory(r, err);
    r->fields = fields;
    r->nfields = n;
    return FW_OK;
}

/*
 * A row without quotes is its own text cut at the separators: no parser is needed for it, and most
 * rows are such. False: the row has a carriage return within, which ends a row of its own.
 */
static bool cut_record(fw_rows *r)
{
    size_t length = r->record;
    length -= length > 0 && record_of(r)[length - 1] == '\n';
    length -= length > 0 && record_of(r)[length - 1] == '\r';
    if (memchr(record_of(r), '\r', length))
        return false;
    char *at = r->text, *end = r->text + length;
    memcpy(at, record_of(r), length);
    *end = r->separator;
    for (r->seen = r->extra = 0; at <= end; r->seen++) {
        char *from = at, *to;
        while (*at != r->separator)
            at++;
        to = at++;
        while (to > from && is_blank(r, to[-1]))
            to--;
        while (from < to && is_blank(r, *from))
            from++;
        *to = '\0';
        if (r->seen < r->nfields)
            r->fields[r->seen] = (fw_field){from, (size_t)(to - from)};
        else if (to > from && r->extra == 0)
            r->extra = r->seen + 1;
    }
    return true;
}

fw_status fw_rows_take(fw_rows *r, bool *good, fw_error *err)
{
    const char *text = record_of(r);
    if (!r->fields || r->fit) {
        fw_status status = make_fields(r, err);
        if (status != FW_OK)
            return status;
    }
    *good = !r->has_quote && r->eol == '\n' && cut_record(r);
    if (*good)
        return FW_OK;
    r->seen = r->extra = r->text_length = 0;
    r->rows = 0;
    *good = false;
    size_t taken = csv_parse(&r->parser, text, r->record, take_value, end_row, r);
    if (taken == r->record && r->rows == 0)
        csv_parse(&r->parser, "\n", 1, take_value, end_row, r);
    int fault = csv_error(&r->parser);
    if (fault != CSV_SUCCESS && fault != CSV_EPARSE)
        return no_memory(r, err);
    if (fault == CSV_SUCCESS && r->rows == 1) {
        *good = true;
        return FW_OK;
    }
    report_quotes(r);
    give_up_record(r);
    csv_fini(&r->parser, NULL, NULL, NULL);
    return FW_OK;
}

/* Binary data and lines without an end: nothing behind them can be trusted. */
static bool is_text(fw_rows *r)
{
    const char *nul = r->has_nul ? memchr(record_of(r), '\0', r->record) : NULL;
    if (nul)
        fw_fault_add(r->faults, r->path, r->line, (int)(nul - record_of(r)) + 1,
                     "holds binary data (a 0 byte), expected UTF-8 text");
    else if (r->record > FW_RECORD_LIMIT && r->record_lines == 1)
        fw_fault_add(r->faults, r->path, r->line, 0, "the line is longer than 1 MB");
    else
        return true;
    r->stopped = true;
    return false;
}

fw_row fw_rows_next(fw_rows *r, fw_error *err)
{
    while (!r->stopped) {
        bool good;
        if (find_record(r, err) != FW_OK)
            return FW_ROW_FAILED;
        if (r->record == 0)
            break;
        if (is_skipped(r))
            continue;
        if (!is_text(r))
            break;
        bool quoted_hash = r->record > 1 && memcmp(record_of(r), "\"#", 2) == 0;
        if (r->separator == 0 && quoted_hash)
            continue;
        if (r->separator == 0)
            return FW_ROW;
        if (fw_rows_take(r, &good, err) != FW_OK)
            return FW_ROW_FAILED;
        if (good && !quoted_hash)
            return FW_ROW;
    }
    return FW_ROW_END;
}

static void *csv_grow(void *old, size_t size)
{
    return fw_resize(old, size, 1);
}

static int is_space(unsigned char c)
{
    return c == ' ';
}

/* Encoding and line ends, told from the first bytes. */
static fw_status look_at_start(fw_rows *r, fw_error *err)
{
    fw_status status = fill(r, err);
    if (status != FW_OK)
        return status;
    const char *text = r->buffer;
    if (r->end >= 2 && (memcmp(text, "\xFF\xFE", 2) == 0 || memcmp(text, "\xFE\xFF", 2) == 0)) {
        fw_fault_add(r->faults, r->path, 1, 0, "is UTF-16 text, expected UTF-8");
        r->stopped = true;
        return FW_OK;
    }
    r->start = r->end >= 3 && memcmp(text, "\xEF\xBB\xBF", 3) == 0 ? 3 : 0;
    r->eol = !memchr(text, '\n', r->end) && memchr(text, '\r', r->end) ? '\r' : '\n';
    return FW_OK;
}

fw_status fw_rows_open(fw_rows *r, const char *path, bool fit, bool *missing, fw_faults *faults,
                       fw_error *err)
{
    fw_error why;
    *r = (fw_rows){.path = path, .faults = faults, .fd = -1, .line = 1, .fit = fit};
    csv_init(&r->parser, CSV_STRICT);
    csv_set_realloc_func(&r->parser, csv_grow);
    csv_set_free_func(&r->parser, fw_free);
    csv_set_blk_size(&r->parser, 1 << 16);
    fw_status status = fw_open_input(path, &r->fd, missing, &why);
    if (status == FW_INPUT) {
        r->stopped = true;
        if (!*missing)
            fw_fault_add(faults, path, 0, 0, "%s", why.text);
        return FW_OK;
    }
    return status == FW_OK ? look_at_start(r, err) : fw_fail(err, status, "'%s' %s", path, why.text);
}

void fw_rows_separate(fw_rows *r, char separator)
{
    r->separator = separator;
    csv_set_delim(&r->parser, (unsigned char)separator);
    if (separator == '\t') /* libcsv takes tabs for blanks otherwise */
        csv_set_space_func(&r->parser, is_space);
}

void fw_rows_close(fw_rows *r)
{
    csv_free(&r->parser);
    fw_free(r->text);
    fw_free(r->buffer);
    fw_free(r->fields);
    if (r->fd >= 0)
        close(r->fd);
    *r = (fw_rows){.fd = -1, .stopped = true};
}
