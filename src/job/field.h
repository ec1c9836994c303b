/* field.h - values of a table's row: converted, checked, reported where they are wrong. */
#ifndef JOB_FIELD_H
#define JOB_FIELD_H

#include <stdbool.h>

#include "flatwright/job.h"
#include "job/table.h"

/* What a number must be: from low to high; `above`: low itself is not taken. */
typedef struct fw_range {
    double low, high;
    bool above;
    const char *expected; /* "a length from 0 to the flat's radius, in mm" */
} fw_range;

/*
 * Each takes the row's value in `column`, and returns true when it is good. An empty value is
 * reported, but not by fw_field_number_or, nor where the column is optional; then *value stays.
 */
bool fw_field_number(fw_table *table, int column, const fw_range *range, double *value);
bool fw_field_number_or(fw_table *table, int column, const fw_range *range, double *value);
bool fw_field_round(fw_table *table, int column, int *value);

/* A flat's name, required. *flat -1: not known; not reported when the job's flats are not. */
bool fw_field_flat(fw_table *table, int column, const fw_job *job, int *flat);

/* A copy of the text, "" when empty. NULL: no memory. Text that is not UTF-8 is reported. */
char *fw_field_text(fw_table *table, int column, bool *good);

/* One of `count` words of a column, reported with the nearest; *value: its place. */
bool fw_field_word(fw_table *table, int column, const char *const *words, int count, int *value);

#define FW_ROUND_LIMIT 9999 /* the last round that is taken */

#endif
