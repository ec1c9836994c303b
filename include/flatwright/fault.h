/* fault.h - the faults of the user's files: where, what was found, what was expected. */
#ifndef FLATWRIGHT_FAULT_H
#define FLATWRIGHT_FAULT_H

#include <stddef.h>

/* One fault of one file. line and column count from 1; 0: the file as a whole. */
typedef struct fw_fault {
    char *file; /* path as the user would type it */
    int line;
    int column; /* byte column of the field's first character */
    char *text; /* one line: what was found, what was expected */
} fw_fault;

/* A growing list of faults. Starts as {0}; release with fw_faults_release. */
typedef struct fw_faults {
    size_t count;  /* faults found, listed or not */
    size_t listed; /* entries in list; at most FW_FAULTS_LISTED */
    fw_fault *list;
    int out_of_memory; /* set when a fault could not be stored */
} fw_faults;

#define FW_FAULTS_LISTED 1000

/* Adds a fault; `format` as printf. Control characters of the text are shown escaped. */
void fw_fault_add(fw_faults *faults, const char *file, int line, int column, const char *format,
                  ...) __attribute__((format(printf, 5, 6)));

/* Orders the list by file (job.ini first, then as added), line and column. */
void fw_faults_sort(fw_faults *faults);

void fw_faults_release(fw_faults *faults);

#endif
