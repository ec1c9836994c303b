/* ini.h - job.ini taken apart: sections, keys and values with their places. */
#ifndef JOB_INI_H
#define JOB_INI_H

#include <stddef.h>

#include "flatwright/fault.h"
#include "flatwright/status.h"

/* [name argument]; argument "" when there is none. */
typedef struct fw_ini_section {
    const char *name, *argument;
    int line, column; /* of the name */
} fw_ini_section;

/* One line `key = value`. */
typedef struct fw_ini_entry {
    size_t section; /* index into sections */
    const char *key, *value;
    int line, key_column, column; /* column: of the value's first character */
} fw_ini_entry;

typedef struct fw_ini {
    char *text; /* owns every string */
    size_t nsections, nentries;
    fw_ini_section *sections;
    fw_ini_entry *entries;
} fw_ini;

/*
 * Reads and takes apart the file `path`. Faults of form are added to `faults`, and what can be
 * read is still returned. ini: out, released by the caller in every case.
 * Returns FW_OK (also with faults) or FW_SYSTEM. Test: tests/unit/ini.c
 */
fw_status fw_ini_read(const char *path, fw_ini *ini, fw_faults *faults, fw_error *err);

/* As fw_ini_read, of `length` bytes in memory that the ini takes over; text[length] is writable. */
fw_status fw_ini_parse(char *text, size_t length, const char *path, fw_ini *ini,
                       fw_faults *faults, fw_error *err);

void fw_ini_release(fw_ini *ini);

#endif
