/* place.h - a job folder that the fuzzing targets write their bytes into. */
#ifndef TESTS_FUZZ_PLACE_H
#define TESTS_FUZZ_PLACE_H

#include <stddef.h>
#include <stdint.h>

#include "flatwright/job.h"

#define PLACE_INI "[set]\nflats = A B C\ndiameter = 200 mm\n[light]\nsource = mercury-green\n"
#define PLACE_READINGS                                        \
    "bottom,top,turn_deg,diameter_deg,position_mm,deviation\n" \
    "A,B,0,0,-50,1\nA,B,0,0,0,2\nA,B,0,0,50,3\nB,C,0,0,-50,1\nB,C,0,0,0,2\nB,C,0,0,50,2\n"

/* The folder of this process, made at the first call and removed at its end. */
const char *place_folder(void);

/* Removes all that is in it. */
void place_empty(void);

/* Writes a file of it; NULL removes it. */
void place_put(const char *name, const void *bytes, size_t size);

/* All four files: job.ini and readings.csv are good ones unless `name` is theirs. */
void place_one(const char *name, const uint8_t *bytes, size_t size);

/* Reads the folder; a fault has a place, a failure a text, or the target ends. NULL: refused. */
fw_job *place_read(void);

#endif
