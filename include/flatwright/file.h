/* file.h - a file replaced whole: written beside its place, and put there only when complete. */
#ifndef FLATWRIGHT_FILE_H
#define FLATWRIGHT_FILE_H

#include <stdio.h>

#include "status.h"

/* A file being written. Starts as {0}; ends with fw_draft_commit or fw_draft_abandon. */
typedef struct fw_draft {
    FILE *out;       /* write here */
    char *target;    /* the place it goes to, symbolic links followed */
    char *temporary; /* its name until then; NULL: target is a device or a pipe, written directly */
} fw_draft;

/*
 * Opens a draft of the file `path`: a new file in the same folder, with the permissions of the
 * file it will replace. A symbolic link stays a link: the file it points to is replaced.
 * path   in   a file that exists or not, in a folder that exists; a device or pipe is opened itself
 * draft  out  owned by the caller; {0} on failure
 * Returns FW_OK; FW_SYSTEM: no such folder, a folder in its place, a link to nothing, no
 * permission. Test: tests/unit/file.c
 */
fw_status fw_draft_open(const char *path, fw_draft *draft, fw_error *err);

/*
 * Flushes, checks, fsyncs, renames. On failure (FW_SYSTEM) the old file is as it was and nothing of
 * the draft is left. In both cases the draft is {0} afterwards. Renaming replaces the name only:
 * other hard links of the old file keep the old text.
 */
fw_status fw_draft_commit(fw_draft *draft, fw_error *err);

/* Throws the draft away; the old file is as it was. A {0} draft is accepted. */
void fw_draft_abandon(fw_draft *draft);

#endif
