/* fake_result.h - solved jobs made by hand, all numbers invented. */
#ifndef TESTS_FAKE_RESULT_H
#define TESTS_FAKE_RESULT_H

#include <stdio.h>

#include "flatwright/result.h"

/* A job and its result in one piece. Release with fake_free, never with the library's calls. */
typedef struct fake_set {
    fw_job job;
    fw_result result;
} fake_set;

/*
 * A set of flats A, B, C, ... of 250 mm, 240 mm clear, read along n diameters at equal stations
 * from -120 to 120 mm, everything determined with u = 1.4 nm. Figures: flat 0 is within 10 nm, flat
 * 1 outside, flat 2 undecided, then in turn again.
 */
fake_set *fake_new(int nflats, int ndiameters, int nstations);

/* Makes one diameter of a flat's present state undetermined, or all of them (-1). */
void fake_undetermine(fake_set *fake, int flat, int diameter);

/* Work after round 1: the read state becomes an earlier one, today's was never read. */
void fake_work(fake_set *fake, int flat);

/* Today's state was read after all: half the earlier heights, and the removal between. */
void fake_reread(fake_set *fake, int flat);

void fake_unknown(fake_set *fake, const char *text);
void fake_suspect(fake_set *fake, int line, bool tied);
void fake_note(fake_set *fake, const char *text);

/* Replaces the name of a flat. */
void fake_rename(fake_set *fake, int flat, const char *name);

void fake_free(fake_set *fake);

/* All that `print` writes, as a text the caller frees. */
char *fake_printed(void (*print)(FILE *out, const fw_result *result), const fw_result *result);

#endif
