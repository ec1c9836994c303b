/* open.h - a file of the user's, opened for reading with care. */
#ifndef BASE_OPEN_H
#define BASE_OPEN_H

#include <stddef.h>
#include <stdbool.h>

#include "flatwright/status.h"

/*
 * Opens a regular file. A pipe, device or folder is refused at once, never waited for.
 * path     in
 * fd       out  the descriptor, closed by the caller; unchanged on failure
 * missing  out  whether there is no such file
 * Returns FW_OK; FW_INPUT: missing, or no regular file; FW_SYSTEM: no permission and the like.
 * err->text does not repeat the path. Test: tests/unit/table.c, tests/cli/cases/places.sh
 */
fw_status fw_open_input(const char *path, int *fd, bool *missing, fw_error *err);

/*
 * Reads on until `size` bytes are there or the file ends, whatever pieces the system gives.
 * got  out  bytes read; less than size: the file ended
 * Returns FW_OK or FW_SYSTEM.
 */
fw_status fw_read_input(int fd, char *buffer, size_t size, size_t *got, fw_error *err);

#endif
