/* dialog.h - readings asked for at the bench: a line in, words and the next prompt out. */
#ifndef FLATWRIGHT_DIALOG_H
#define FLATWRIGHT_DIALOG_H

#include <stdbool.h>

#include "job.h"
#include "notebook.h"
#include "screen.h"

typedef struct fw_dialog fw_dialog;

typedef struct fw_dialog_options {
    int round;    /* 0: the round the set is in */
    bool picture; /* draw: a person is looking; false: words only */
} fw_dialog_options;

/*
 * Begins a talk that ends in readings: pairing, turn, diameter, the sign, then station by station.
 * It knows no terminal: what it says goes to `screen`, the prompt last and without a line end, and
 * it goes on when a line is given to it. Every reading is on disk (fw_notebook_add) before the
 * next prompt. Readings that do not fit what is known are pointed out and kept.
 * job, notebook, screen  in   borrowed until the end
 * dialog                 out  owned by the caller (fw_dialog_free); NULL on failure
 * Returns FW_OK; FW_INPUT: the readings have each a sigma of their own, and those typed would have
 * none; FW_SYSTEM. Cost: the job is read and solved at the start and after each scan.
 * Tests: tests/unit/dialog.c, tests/python/bench.py
 */
fw_status fw_dialog_new(const fw_job *job, fw_notebook *notebook, fw_screen *screen,
                        const fw_dialog_options *options, fw_dialog **dialog, fw_error *err);

/*
 * Takes a line without its end; NULL: there are no more, the talk ends. Returns false when it is
 * over; then nothing is prompted.
 */
bool fw_dialog_line(fw_dialog *dialog, const char *line);

/* How many readings were written, and how the talk stands: FW_OK, or why the last was not. */
size_t fw_dialog_count(const fw_dialog *dialog);
fw_status fw_dialog_status(const fw_dialog *dialog);

void fw_dialog_free(fw_dialog *dialog);

#endif
