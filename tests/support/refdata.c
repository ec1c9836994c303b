/* refdata.c - the published tables of tests/reference/data. */
#include "refdata.h"

#include <ctype.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "close.h"
#include "flatwright/alloc.h"

#define NAMES_MAX 128

/* Lines and fields are pieces of `text`, cut by zeros. */
struct refdata {
    char *text;
    int nnotes, nrows, ncolumns;
    char **notes;
    char **fields; /* the header, then nrows rows */
};

static _Noreturn void give_up(const char *what, const char *detail)
{
    print_error("reference data: %s '%s'\n", what, detail);
    fail();
    abort(); /* cmocka has left by now; the compiler does not know */
}

static char *read_all(const char *path)
{
    FILE *file = fopen(path, "rb");
    if (!file)
        give_up("no file", path);
    size_t size = 0, room = 1 << 16;
    char *text = fw_alloc(room + 1, 1);
    assert_non_null(text);
    for (size_t got; (got = fread(text + size, 1, room - size, file)) > 0;) {
        size += got;
        if (size == room) {
            text = fw_resize(text, 2 * room + 1, 1);
            assert_non_null(text);
            room *= 2;
        }
    }
    fclose(file);
    text[size] = 0;
    return text;
}

/* Cuts one line into fields; double quotes may enclose one. Returns their number. */
static int cut_fields(char *line, char **fields, int max)
{
    int n = 0;
    for (char *at = line; at && n < max; n++) {
        char *end = *at == '"' ? strchr(at + 1, '"') : NULL;
        char *comma = strchr(end ? end : at, ',');
        if (end) {
            at++;
            *end = 0;
        }
        fields[n] = at;
        if (comma)
            *comma++ = 0;
        at = comma;
    }
    return n;
}

static void add_row(refdata *data, char *line)
{
    char *fields[NAMES_MAX];
    int n = cut_fields(line, fields, NAMES_MAX);
    if (data->ncolumns == 0)
        data->ncolumns = n;
    if (n != data->ncolumns)
        give_up("wrong number of fields in the row of", fields[0]);
    size_t width = (size_t)n, used = data->fields ? width * (size_t)(data->nrows + 1) : 0;
    data->fields = fw_resize(data->fields, used + width, sizeof *data->fields);
    assert_non_null(data->fields);
    memcpy(data->fields + used, fields, width * sizeof *fields);
    data->nrows = used ? data->nrows + 1 : 0;
}

refdata *ref_open(const char *name)
{
    char path[256];
    snprintf(path, sizeof path, "tests/reference/data/%s", name);
    refdata *data = fw_alloc(1, sizeof *data);
    assert_non_null(data);
    data->text = read_all(path);
    for (char *line = data->text, *next; line && *line; line = next) {
        next = strchr(line, '\n');
        if (next)
            *next++ = 0;
        line[strcspn(line, "\r")] = 0;
        if (*line == '#') {
            data->notes = fw_resize(data->notes, (size_t)data->nnotes + 1, sizeof *data->notes);
            assert_non_null(data->notes);
            data->notes[data->nnotes++] = line + 1 + (line[1] == ' ');
        } else if (*line) {
            add_row(data, line);
        }
    }
    if (data->nrows < 1)
        give_up("no rows in", name);
    return data;
}

void ref_close(refdata *data)
{
    fw_free(data->text);
    fw_free(data->notes);
    fw_free(data->fields);
    fw_free(data);
}

int ref_rows(const refdata *data)
{
    return data->nrows;
}

int ref_columns(const refdata *data)
{
    return data->ncolumns;
}

const char *ref_column_name(const refdata *data, int column)
{
    assert_in_range(column, 0, data->ncolumns - 1);
    return data->fields[column];
}

const char *ref_text(const refdata *data, int row, const char *column)
{
    assert_in_range(row, 0, data->nrows - 1);
    for (int j = 0; j < data->ncolumns; j++)
        if (strcmp(data->fields[j], column) == 0)
            return data->fields[(row + 1) * data->ncolumns + j];
    give_up("no column", column);
}

/* A number up to `stop`, a fraction a/b, or either after one word. */
static double number_of(const char *text, char stop)
{
    char *end;
    double value = strtod(text, &end);
    if (end == text) {
        const char *at = text;
        while (isalpha((unsigned char)*at))
            at++;
        value = strtod(at, &end);
        if (end == at)
            give_up("not a number", text);
    }
    if (*end == '/')
        value /= strtod(end + 1, &end);
    if (*end && *end != stop)
        give_up("text after the number", text);
    return value;
}

double ref_number(const refdata *data, int row, const char *column)
{
    return number_of(ref_text(data, row, column), 0);
}

const char *ref_note(const refdata *data, const char *start)
{
    size_t length = strlen(start);
    for (int i = 0; i < data->nnotes; i++) {
        char next = strncmp(data->notes[i], start, length) == 0 ? data->notes[i][length] : 'x';
        if (!isalnum((unsigned char)next) && next != '_')
            return data->notes[i];
    }
    return NULL;
}

double ref_note_number(const refdata *data, const char *start, int field)
{
    const char *at = ref_note(data, start);
    for (int k = 0; at && k < field; k++) {
        at = strchr(at, ',');
        at = at ? at + 1 : NULL;
    }
    if (!at)
        give_up("no note or field", start);
    return number_of(at, ',');
}
