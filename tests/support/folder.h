/* folder.h - a job folder made for one test, and what reading it says. */
#ifndef TESTS_FOLDER_H
#define TESTS_FOLDER_H

#include <stddef.h>

#include "flatwright/job.h"

typedef struct folder {
    char path[40];
} folder;

/* A fresh empty folder; folder_remove takes it away with what is in it. */
folder folder_make(void);
void folder_remove(const folder *at);

/* Writes a file of the folder; a NULL text removes it. folder_write_bytes takes any bytes. */
void folder_write(const folder *at, const char *name, const char *text);
void folder_write_bytes(const folder *at, const char *name, const void *bytes, size_t size);

/*
 * All faults of the folder, a line each as "file:line:column: text" without the folder's own path;
 * "" when there is none. Good until the next call. Fails the test unless status, job and list agree.
 */
const char *folder_faults(const folder *at);

/* The job of a folder without faults; the test fails, and prints them, when there are any. */
fw_job *folder_job(const folder *at);

/* Lays job.ini (a plain set A B C of 200 mm when NULL) and readings.csv, and compares the faults. */
void assert_faults(const char *ini, const char *readings, const char *expected);

#define PLAIN_INI "[set]\nflats = A B C\ndiameter = 200 mm\n"
#define PLAIN_HEADER "bottom,top,turn_deg,diameter_deg,position_mm,deviation\n"

#endif
