/* grid.h - a sheet in memory: cells by row, each with its place in the file. */
#ifndef JOB_GRID_H
#define JOB_GRID_H

#include <stdbool.h>
#include <stddef.h>

#include "flatwright/fault.h"
#include "flatwright/status.h"

typedef struct fw_cell {
    size_t text; /* offset into the grid's texts */
    int line, column;
} fw_cell;

typedef struct fw_grid_row {
    size_t first, count; /* its cells */
    int line;
} fw_grid_row;

/* Starts as {0}; release with fw_grid_release. */
typedef struct fw_grid {
    const char *path;
    fw_faults *faults;
    bool comma; /* decimal commas are taken */
    size_t nrows, rows_room, ncells, cells_room, used, room;
    fw_grid_row *rows;
    fw_cell *cells;
    char *texts;
} fw_grid;

/* Reads all rows that are no comments and not empty. FW_OK (also with faults) or FW_SYSTEM. */
fw_status fw_grid_read(const char *path, fw_grid *grid, fw_faults *faults, fw_error *err);
void fw_grid_release(fw_grid *grid);

/* The text of a cell, "" beyond the row's end. */
static inline const char *fw_grid_text(const fw_grid *grid, size_t row, size_t i)
{
    const fw_grid_row *r = &grid->rows[row];
    return i < r->count ? grid->texts + grid->cells[r->first + i].text : "";
}

/* Adds a fault at a cell; the first of a cell only. */
void fw_grid_fault(const fw_grid *grid, size_t row, size_t i, const char *format, ...)
    __attribute__((format(printf, 4, 5)));

#endif
