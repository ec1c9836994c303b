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
} fw_habits;

/* Learns them by a pass over the file. FW_INPUT: it has faults. */
fw_status fw_habits_read(const char *path, fw_habits *habits, fw_error *err);

/*
 * The row of an entry, with its line end; owned by the caller (fw_free). NULL, err set: a column is
 * lacking, or no memory.
 */
char *fw_habits_row(const fw_habits *habits, const fw_job *job, const fw_entry *entry,
                    fw_error *err);

#endif
