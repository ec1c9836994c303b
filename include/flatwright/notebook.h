/* notebook.h - readings written into readings.csv: each on disk, whole or not at all. */
#ifndef FLATWRIGHT_NOTEBOOK_H
#define FLATWRIGHT_NOTEBOOK_H

#include <stdbool.h>
#include <stddef.h>

#include "job.h"

/* One reading as it goes into the file. Texts are borrowed. */
typedef struct fw_entry {
    int round;
    int bottom, top; /* indices into the job's flats */
    double turn_deg, diameter_deg, position_mm;
    double deviation; /* in `unit` */
    fw_unit unit;
    double sigma;      /* in the same unit; NAN: none of its own */
    const char *label; /* column `scan`, "" for none */
    const char *note;  /* "" for none */
} fw_entry;

/* readings.csv of a job, open for writing; between the calls the file is free for others. */
typedef struct fw_notebook fw_notebook;

/*
 * Learns how the file is written (columns and their order, separator, decimal comma, line ends), and
 * completes what an earlier program did not get to the end of.
 * job       in   borrowed until the end
 * notebook  out  owned by the caller (fw_notebook_close); NULL on failure
 * Returns FW_OK; FW_INPUT: no regular file, or one without its header; FW_SYSTEM: no permission, no
 * memory, disk full, another program holds the file for 10 s.
 *
 * Every call that writes holds a lock, `.readings.csv.adding` in the job's folder, which also keeps
 * what is about to be written until it is: cut off at any moment, the next call completes the line
 * or, when not even the intention was whole, leaves the file as it was. The rest of the file is
 * never touched. Tests: tests/unit/notebook.c, tests/python/bench.py, tests/python/killed.py.
 */
fw_status fw_notebook_open(const fw_job *job, fw_notebook **notebook, fw_error *err);
void fw_notebook_close(fw_notebook *nb);

/*
 * Completes what a program that was cut off had begun to write, before the job is read. Nothing
 * happens where nothing was begun, or where it cannot be done: reading the job then tells.
 */
void fw_notebook_mend(const char *folder);

/*
 * Columns that fw_notebook_add would give readings.csv for these readings: those that it lacks of
 * round, scan, unit, sigma, note.
 * names  out  static texts. Returns how many.
 */
#define FW_NOTEBOOK_LACKS 5
size_t fw_notebook_lacks(const fw_notebook *nb, const fw_entry *entries, size_t n,
                         const char *names[FW_NOTEBOOK_LACKS]);

/*
 * Whether the file is still the one that was opened: false when another program, or an editor, has
 * written it since, and the job should be read anew.
 */
bool fw_notebook_is_current(const fw_notebook *nb);

/*
 * Appends n readings, all or none; they are on disk (fsync) when the call returns FW_OK. A column
 * that the file lacks and an entry needs (a round other than 1, a label, a unit other than the job's,
 * a sigma, a note) is added before, behind the others, empty in the rows that are there. FW_INPUT: some readings would have a sigma and others none.
 *   only_if_current  in  FW_INPUT and nothing written unless fw_notebook_is_current
 * FW_SYSTEM: disk full and the like; the file is then as it was.
 */
fw_status fw_notebook_add(fw_notebook *nb, const fw_entry *entries, size_t n,
                          bool only_if_current, fw_error *err);

/* Whether fw_notebook_add could write these: FW_OK or FW_INPUT; nothing is written. */
fw_status fw_notebook_try(const fw_notebook *nb, const fw_entry *entries, size_t n,
                          fw_error *err);

/*
 * Corrects readings that fw_notebook_add wrote: each line of `old` becomes that of `new`; the file is
 * replaced whole. FW_INPUT when one of them does not stand there as it was written; then nothing is
 * changed.
 */
fw_status fw_notebook_correct(fw_notebook *nb, const fw_entry *old, const fw_entry *new_ones,
                              size_t n, fw_error *err);

/*
 * Appends a comment "# stations: -90 -45 0 45 90", by which a scan that was left is gone on with.
 * fw_notebook_stations gives the last of them, ascending; NULL when there is none.
 */
fw_status fw_notebook_set_stations(fw_notebook *nb, const double *position_mm, size_t n,
                                   fw_error *err);
const double *fw_notebook_stations(const fw_notebook *nb, size_t *n);

/*
 * Appends a comment "# skipped: 1 A B 0 45 -80" (round, bottom, top, turn, diameter, position, and
 * the scan's mark if it has one): the place was left out on purpose and is not asked for again. Of
 * the entry its values do not count. Errors as fw_notebook_add.
 */
fw_status fw_notebook_skip(fw_notebook *nb, const fw_entry *place, fw_error *err);
bool fw_notebook_is_skipped(const fw_notebook *nb, const fw_entry *place);

#endif
