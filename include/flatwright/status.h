/* status.h - how a call ends: a status, and one line of text that the caller holds. */
#ifndef FLATWRIGHT_STATUS_H
#define FLATWRIGHT_STATUS_H

/* The values are the exit statuses of the program. */
typedef enum fw_status {
    FW_OK = 0,     /* done */
    FW_USAGE = 1,  /* wrong usage of the command line */
    FW_INPUT = 2,  /* the job's input is at fault */
    FW_SYSTEM = 3  /* no memory, disk full, no permission, a broken library call */
} fw_status;

/* Filled by the call that fails and passed up unmasked; untouched on success. */
typedef struct fw_error {
    fw_status status;
    char text[512]; /* one line, lower case, no full stop, fault first, subject in quotes */
} fw_error;

/*
 * Writes a formatted line into `err` (cut at its size; NULL: no text is kept) and returns
 * `status`, so that a failing branch reads `return fw_fail(err, FW_INPUT, "...")`.
 */
fw_status fw_fail(fw_error *err, fw_status status, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/* The one word for an allocation that failed; returns FW_SYSTEM. */
fw_status fw_out_of_memory(fw_error *err);

#endif
