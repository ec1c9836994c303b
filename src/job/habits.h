/* habits.h - how a person's readings.csv is written, so that a new row looks like its neighbours. */
#ifndef JOB_HABITS_H
#define JOB_HABITS_H

#include <stdbool.h>
#include <stddef.h>

#include "flatwright/notebook.h"
#include "job/readings.h"

#define FW_STATIONS_LIMIT 1000

typedef struct fw_habits {
    char separator;
    bool comma;      /* decimal commas */
    const char *eol; /* "\n", "\r\n" or "\r" */
    int nfields;     /* of a row */
    int slot[FW_READING_COLUMNS]; /* place of each column; -1: not there */
    size_t nstations;             /* of the last comment that lists them */
    double stations[FW_STATIONS_LIMIT];
    char *skipped; /* comments that leave a place out, each between line ends; NULL: none */
} fw_habits;

/* Learns them by a pass over the file; what they held before is freed. FW_INPUT: it has faults. */
fw_status fw_habits_read(const char *path, fw_habits *habits, fw_error *err);
void fw_habits_release(fw_habits *habits);

/*
 * "# skipped: ROUND BOTTOM TOP TURN DIAMETER POSITION SCAN", by which a place that was left out is
 * not asked for again. Owned by the caller; NULL: no memory.
 */
char *fw_habits_skip_line(const fw_job *job, const fw_entry *entry);
/* Whether the file has that line; and makes it known. FW_SYSTEM: no memory. */
bool fw_habits_has_skip(const fw_habits *habits, const char *line);
fw_status fw_habits_note_skip(fw_habits *habits, const char *line, fw_error *err);

/* Sets add[k] for each column that the entry needs and the file has not. */
void fw_habits_lacking(const fw_habits *habits, const fw_job *job, const fw_entry *entry,
                       bool add[FW_READING_COLUMNS]);
/* The habits of the file once fw_widen has added these behind the others. */
void fw_habits_widen(fw_habits *habits, const bool add[FW_READING_COLUMNS]);

/*
 * The row of an entry, with its line end; owned by the caller (fw_free). NULL, err set: it cannot
 * be written as a row, or no memory.
 */
char *fw_habits_row(const fw_habits *habits, const fw_job *job, const fw_entry *entry,
                    fw_error *err);

#endif
