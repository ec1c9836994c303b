/* table.h - a table of named columns read row by row, whatever its size. */
#ifndef JOB_TABLE_H
#define JOB_TABLE_H

#include <csv.h>
#include <stdbool.h>
#include <stddef.h>

#include "flatwright/fault.h"
#include "flatwright/status.h"

#define FW_TABLE_COLUMNS 16             /* known ones, at most */
#define FW_RECORD_LIMIT ((size_t)1 << 20) /* bytes of one row */

typedef struct fw_column {
    const char *name;
    bool required;
} fw_column;

/* A value of the current row, without blanks at its ends, ending in 0. Good until the next row. */
typedef struct fw_field {
    char *text;
    size_t length;
} fw_field;

typedef enum fw_row { FW_ROW, FW_ROW_END, FW_ROW_FAILED } fw_row;

/* A table being read. Everything is private but `line`, `comma`, `faults` and `path`. */
typedef struct fw_table {
    const char *path;
    fw_faults *faults;
    int line;       /* of the current row's first line */
    bool comma;     /* decimal commas are taken: the separator is a semicolon */
    const fw_column *columns;
    int ncolumns;
    int slot[FW_TABLE_COLUMNS]; /* place of each known column in the file; -1: not there */

    int fd;
    char *buffer; /* bytes start..end are not yet consumed */
    size_t room, start, end;
    bool file_ended, stopped;
    bool has_nul, has_quote; /* somewhere in the bytes met so far */
    char eol, separator;
    size_t record;    /* length of the current row's text, from buffer + start */
    int record_lines;

    struct csv_parser parser;
    char *text; /* the row's values, each ending in 0 */
    size_t text_length;
    fw_field *fields;
    size_t nfields; /* columns of the file */
    size_t seen;    /* values in the row so far */
    size_t extra;   /* first filled value beyond the columns, from 1; 0: none */
    int rows;       /* ends of rows met in the row's text */
    int unclosed;   /* rows passed because a quoted value has no end */
} fw_table;

/*
 * Opens the table and reads its header.
 * path      in   borrowed until the end
 * columns   in   borrowed; at most FW_TABLE_COLUMNS
 * optional  in   no fault when there is no such file: the table is then empty
 * Returns FW_OK (faults may have been added; then what can be read is read) or FW_SYSTEM.
 * The caller calls fw_table_close in every case. Memory: a few hundred kB, at most twice the
 * longest row. Format: RFC 4180, with the spreadsheets' habits. Test: tests/unit/table.c
 */
fw_status fw_table_open(fw_table *table, const char *path, const fw_column *columns, int ncolumns,
                        bool optional, fw_faults *faults, fw_error *err);

/*
 * Goes to the next row that has as many fields as the header; others are reported and passed.
 * FW_ROW_FAILED: the file could not be read, err says why.
 */
fw_row fw_table_next(fw_table *table, fw_error *err);

/* The row's value in a known column; NULL when the file has no such column, or it is empty. */
static inline const fw_field *fw_table_field(const fw_table *table, int column)
{
    int slot = table->slot[column];
    return slot < 0 || table->fields[slot].length == 0 ? NULL : &table->fields[slot];
}

/* Adds a fault of the current row, at the place of the column's value. */
void fw_table_fault(fw_table *table, int column, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

void fw_table_close(fw_table *table);

#endif
