/* whole.h - a file read whole, changed in memory, replaced whole. */
#ifndef JOB_WHOLE_H
#define JOB_WHOLE_H

#include <stddef.h>

#include "flatwright/status.h"

/*
 * All bytes of a file.
 * text    out  owned by the caller (fw_free), also on failure
 * length  out  of the text
 * Returns FW_OK; FW_INPUT: no regular file; FW_SYSTEM.
 */
fw_status fw_whole_read(const char *path, char **text, size_t *length, fw_error *err);

/* Puts the text in the place of the file, links followed. FW_SYSTEM: the file is as it was. */
fw_status fw_whole_replace(const char *path, const char *text, size_t length, fw_error *err);

#endif
