/* widen.h - readings.csv gets the columns that a reading needs, and loses nothing. */
#ifndef JOB_WIDEN_H
#define JOB_WIDEN_H

#include <stdbool.h>

#include "flatwright/status.h"
#include "job/readings.h"

/*
 * Adds columns behind those that are there: their names in the header, empty fields in every row;
 * and rows at the end that fill them. Comments, line ends, quotes and blanks stay as they are; empty
 * fields beyond the header go. The file is replaced whole.
 * path  in  a table without faults
 * add   in  the columns; those that are there already are not asked for
 * rows  in  `length` bytes, behind a line end `eol` when the last line has none
 * Returns FW_OK, FW_INPUT (it has faults) or FW_SYSTEM; on failure the file is as it was. Cost: the
 * file in memory twice. Test: tests/unit/notebook.c.
 */
fw_status fw_widen(const char *path, const bool add[FW_READING_COLUMNS], const char *rows,
                   size_t length, const char *eol, fw_error *err);

#endif
