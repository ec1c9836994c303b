/* table.c - a table of named columns, read row by row. */
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "flatwright/nearest.h"
#include "flatwright/show.h"
#include "job/table.h"

void fw_table_fault(fw_table *t, int column, const char *format, ...)
{
    char text[512];
    va_list args;
    va_start(args, format);
    vsnprintf(text, sizeof text, format, args);
    va_end(args);
    int slot = t->slot[column];
    if (t->rows.faults->listed == FW_FAULTS_LISTED || slot < 0)
        fw_fault_add(t->rows.faults, t->rows.path, t->rows.line, 0, "%s", text);
    else
        fw_rows_fault(&t->rows, (size_t)slot, text);
}

fw_row fw_table_next(fw_table *t, fw_error *err)
{
    char text[100];
    fw_row row;
    while ((row = fw_rows_next(&t->rows, err)) == FW_ROW) {
        if (t->rows.seen >= t->nfields && t->rows.extra == 0)
            break;
        snprintf(text, sizeof text, "the row has %zu field%s, expected %zu", t->rows.seen,
                 t->rows.seen == 1 ? "" : "s", t->nfields);
        if (t->rows.extra > 0)
            fw_rows_fault(&t->rows, t->rows.extra - 1, text);
        else
            fw_fault_add(t->rows.faults, t->rows.path, t->rows.line, 0, "%s", text);
    }
    return row;
}

/* The separator that the header has more of, outside quotes. */
static bool find_separator(fw_table *t)
{
    size_t commas = 0, semicolons = 0, tabs = 0;
    bool open = false;
    for (size_t i = 0; i < t->rows.record; i++) {
        char c = fw_rows_text(&t->rows)[i];
        open = open != (c == '"');
        commas += !open && c == ',';
        semicolons += !open && c == ';';
        tabs += !open && c == '\t';
    }
    fw_rows_separate(&t->rows, semicolons > commas ? ';' : ',');
    t->comma = t->rows.separator == ';';
    if (tabs == 0 || commas + semicolons > 0)
        return true;
    fw_fault_add(t->rows.faults, t->rows.path, t->rows.line, 0,
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
    const char *name = t->rows.fields[i].text;
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
            fw_rows_fault(&t->rows, i, text);
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
    fw_rows_fault(&t->rows, i, text);
}

static void name_columns(fw_table *t)
{
    char list[300];
    int found = 0, near = 0;
    for (size_t i = 0; i < t->nfields; i++) {
        fw_nearest nearest = fw_nearest_start(t->rows.fields[i].text);
        for (int k = 0; k < t->ncolumns; k++) {
            found += strcmp(t->rows.fields[i].text, t->columns[k].name) == 0;
            fw_nearest_offer(&nearest, t->columns[k].name);
        }
        near += nearest.name != NULL;
    }
    if (found == 0 && near < 2) { /* two that are nearly right are a header, each told by itself */
        list_columns(t, list, sizeof list);
        fw_fault_add(t->rows.faults, t->rows.path, t->rows.line, 0,
                     "the first line is no header with known columns%s", list);
        t->rows.stopped = true;
        return;
    }
    for (size_t i = 0; i < t->nfields; i++)
        name_column(t, i);
    for (int k = 0; k < t->ncolumns; k++)
        if (t->columns[k].required && t->slot[k] < 0)
            fw_fault_add(t->rows.faults, t->rows.path, t->rows.line, 0, "column '%s' is missing",
                         t->columns[k].name);
}

/* Takes the header's record apart. */
static fw_status parse_header(fw_table *t, fw_error *err)
{
    bool good;
    fw_status status = fw_rows_take(&t->rows, &good, err);
    if (status != FW_OK || !good) {
        t->rows.stopped = true;
        return status;
    }
    t->nfields = t->rows.seen;
    while (t->nfields > 0 && t->rows.fields[t->nfields - 1].length == 0)
        t->nfields--;
    t->rows.nfields = t->nfields; /* what stands beyond them must be empty */
    name_columns(t);
    return FW_OK;
}

/* "sep=;" as some spreadsheets write before the header; the header tells the same. */
static bool is_separator_line(const fw_table *t)
{
    return t->rows.record >= 5 && t->rows.record <= 7 &&
           memcmp(fw_rows_text(&t->rows), "sep=", 4) == 0;
}

static fw_status read_header(fw_table *t, fw_error *err)
{
    fw_row row = fw_rows_next(&t->rows, err);
    if (row == FW_ROW && is_separator_line(t))
        row = fw_rows_next(&t->rows, err);
    if (row == FW_ROW_FAILED)
        return FW_SYSTEM;
    if (row == FW_ROW_END && !t->rows.stopped)
        fw_fault_add(t->rows.faults, t->rows.path, 1, 0, "is empty, expected a header line");
    if (row == FW_ROW_END || !find_separator(t)) {
        t->rows.stopped = true;
        return FW_OK;
    }
    return parse_header(t, err);
}

fw_status fw_table_open(fw_table *t, const char *path, const fw_column *columns, int ncolumns,
                        bool optional, fw_faults *faults, fw_error *err)
{
    bool missing;
    *t = (fw_table){.columns = columns, .ncolumns = ncolumns};
    for (int k = 0; k < FW_TABLE_COLUMNS; k++)
        t->slot[k] = -1;
    fw_status status = fw_rows_open(&t->rows, path, false, &missing, faults, err);
    if (status == FW_OK && missing && !optional)
        fw_fault_add(faults, path, 0, 0, "is missing, every job has one");
    return status == FW_OK && !t->rows.stopped ? read_header(t, err) : status;
}

void fw_table_close(fw_table *t)
{
    fw_rows_close(&t->rows);
}
