/* rows.h - the rows of a table: found by line, taken apart, whatever the size. */
#ifndef JOB_ROWS_H
#define JOB_ROWS_H

#include <csv.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

#include "flatwright/fault.h"
#include "flatwright/status.h"

#define FW_RECORD_LIMIT ((size_t)1 << 20) /* bytes of one row */

/* A value of the current row, without blanks at its ends, ending in 0. Good until the next row. */
typedef struct fw_field {
    char *text;
    size_t length;
} fw_field;

typedef enum fw_row { FW_ROW, FW_ROW_END, FW_ROW_FAILED } fw_row;

/* A table being read. */
typedef struct fw_rows {
    const char *path;
    fw_faults *faults;
    int line;       /* of the current row's first line */
    char separator; /* 0: not yet known */
    fw_field *fields;
    size_t nfields; /* room for so many; those beyond are not kept */
    size_t seen;    /* values in the row */
    size_t extra;   /* first filled value beyond the room, from 1; 0: none */
    bool stopped;   /* there is no more, or it cannot be trusted */

    int fd;
    bool fit;     /* the room grows to what a row has */
    char *buffer; /* bytes start..end are not yet consumed */
    size_t room, start, end;
    bool file_ended;
    bool has_nul, has_quote; /* somewhere in the bytes met so far */
    char eol;
    size_t record;    /* length of the current row's text, from buffer + start */
    int record_lines;
    struct csv_parser parser;
    char *text; /* the row's values, each ending in 0 */
    size_t text_length;
    int rows;     /* ends of rows met in the row's text */
    int unclosed; /* rows passed because a quoted value has no end */
} fw_rows;

/*
 * Opens a file and looks at its encoding and line ends. fit: rows may differ in length; else the
 * first one that is taken apart sets the room. A file that is missing is no fault here.
 * Returns FW_OK, also with faults, or FW_SYSTEM. fw_rows_close in every case.
 */
fw_status fw_rows_open(fw_rows *rows, const char *path, bool fit, bool *missing, fw_faults *faults,
                       fw_error *err);

/* The next row that is no comment and not empty, taken apart where the separator is known. */
fw_row fw_rows_next(fw_rows *rows, fw_error *err);

void fw_rows_separate(fw_rows *rows, char separator);

/* Takes the row apart that fw_rows_next found before the separator was known. */
fw_status fw_rows_take(fw_rows *rows, bool *good, fw_error *err);

/* Where value number `field` of the row begins: its line, and its column there. */
void fw_rows_places(const fw_rows *rows, size_t n, int *line, int *column); /* of the first n */
void fw_rows_place(const fw_rows *rows, size_t field, int *line, int *column);
void fw_rows_fault(fw_rows *rows, size_t field, const char *text);

/* The row's own text, record bytes of it. */
static inline const char *fw_rows_text(const fw_rows *rows)
{
    return rows->buffer + rows->start;
}

void fw_rows_close(fw_rows *rows);

#endif
