/* turn.h - one program at a time: the lock on readings.csv, and what is about to be written. */
#ifndef JOB_TURN_H
#define JOB_TURN_H

#include <stdbool.h>
#include <stddef.h>
#include <sys/types.h>

#include "flatwright/status.h"

/*
 * While a program adds to FOLDER/readings.csv it holds FOLDER/.readings.csv.adding under a lock, and
 * keeps there, before it touches readings.csv, where it will write and what:
 *
 *     flatwright adds LENGTH bytes at OFFSET
 *     (the bytes)
 *
 * A program that is killed loses the lock and leaves the file. Whoever comes next finds how far
 * the bytes got: none, a part, all. With the intention whole, it writes the rest; with only a part
 * of the intention, readings.csv was not touched yet.
 */
typedef struct fw_turn {
    char *path; /* of the side file */
    int fd;     /* -1: not held */
    bool owes;  /* what is kept there is still to be completed: the side file stays */
} fw_turn;

/*
 * Waits for the turn, at most 10 s, and completes what an earlier program left of readings.csv.
 * readings  in   path of readings.csv
 * turn      out  held until fw_turn_end, which is to be called in every case
 * Returns FW_OK, FW_INPUT (something that is no file stands in the way) or FW_SYSTEM.
 */
fw_status fw_turn_begin(const char *folder, const char *readings, fw_turn *turn, fw_error *err);
void fw_turn_end(fw_turn *turn);

/*
 * Appends `length` bytes to the regular file `readings`, after a line end of its own when the last
 * line has none. On failure the file is as it was.
 */
fw_status fw_turn_append(fw_turn *turn, const char *readings, const char *bytes, size_t length,
                         const char *eol, fw_error *err);

/* True when a line of readings.csv was left half written: the side file holds its rest. */
bool fw_turn_is_pending(const char *folder);

#endif
