/* table.h - a table of named columns read row by row, whatever its size. */
#ifndef JOB_TABLE_H
#define JOB_TABLE_H

#include <stdbool.h>
#include <stddef.h>

#include "job/rows.h"

#define FW_TABLE_COLUMNS 16             /* known ones, at most */

typedef struct fw_column {
    const char *name;
    bool required;
} fw_column;

/* A table being read. Everything is private but `comma` and the rows' line, faults and path. */
typedef struct fw_table {
    fw_rows rows;
    bool comma; /* decimal commas are taken: the separator is a semicolon */
    const fw_column *columns;
    int ncolumns;
    int slot[FW_TABLE_COLUMNS]; /* place of each known column in the file; -1: not there */
    size_t nfields;             /* columns of the file */
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
    return slot < 0 || table->rows.fields[slot].length == 0 ? NULL : &table->rows.fields[slot];
}

/* Adds a fault of the current row, at the place of the column's value. */
void fw_table_fault(fw_table *table, int column, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

void fw_table_close(fw_table *table);

#endif
