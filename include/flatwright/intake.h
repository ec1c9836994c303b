/* intake.h - readings from another file: what is in it is told before anything is written. */
#ifndef FLATWRIGHT_INTAKE_H
#define FLATWRIGHT_INTAKE_H

#include <stdbool.h>
#include <stddef.h>

#include "job.h"
#include "notebook.h"
#include "screen.h"

typedef struct fw_intake_options {
    int round;     /* of readings that name none; 0: the round the set is in */
    fw_unit *unit; /* of readings that name none; NULL: the job's */
} fw_intake_options;

/* What was understood of a file. */
typedef struct fw_intake {
    bool sheet;        /* stations down and scans across, in one block or several; else a table */
    int nblocks;       /* of a sheet */
    size_t count;
    fw_entry *entries; /* their texts belong to the intake */
    size_t nskipped;   /* rows with skip = 1, left out */
    size_t nknown;     /* left out by fw_intake_drop_known: they stand in the job */
    size_t ntwice;     /* left out there: they stand in the file before */
    size_t nsecond;    /* kept: readings of a place that has another one */
    int nunread;       /* lines and columns that were taken for no data */
    char (*unread)[100]; /* the first of them */
    size_t ntexts;
    char **texts;
} fw_intake;

#define FW_UNREAD_LISTED 5

/*
 * Takes a file of readings apart; nothing is written. Understood are
 *  - a table: a header line that names columns, a row a reading. Names need not be ours: `lower`,
 *    `rotation`, `angle`, `station (cm)`, `nm`.
 *  - a sheet: lines that begin with bottom, top (or pair), turn, diameter, and if need be round,
 *    scan, unit, with a value over each column; below them lines that begin with a position. Blocks
 *    of that kind may stand one under another; what a block does not say holds from the one above.
 * Separators: tab, semicolon, comma; decimal commas with the first two.
 * path    in   read once; RFC 4180, UTF-8
 * intake  out  owned by the caller (fw_intake_free); NULL on failure
 * faults  out  every fault with line and column (caller releases)
 * Returns FW_OK, FW_INPUT, FW_SYSTEM. Cost: the file in memory. Test: tests/unit/intake.c.
 */
fw_status fw_intake_read(const char *path, const fw_job *job, const fw_intake_options *options,
                         fw_intake **intake, fw_faults *faults, fw_error *err);
void fw_intake_free(fw_intake *intake);

/*
 * Leaves out what the job holds already, and what the file says twice; counts both. The same: round,
 * pairing, turn, scan, place and value, a diameter named by either end (190, 50 mm is 10, -50 mm).
 * Rows of the job with skip = 1 are known as well: readings.csv is read for them. FW_SYSTEM.
 */
fw_status fw_intake_drop_known(fw_intake *intake, const fw_job *job, fw_error *err);

/* Shows what was understood, scan by scan. */
void fw_intake_text(fw_screen *screen, const fw_job *job, const fw_intake *intake);

#endif
