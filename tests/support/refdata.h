/* refdata.h - the published tables of tests/reference/data. */
#ifndef TESTS_REFDATA_H
#define TESTS_REFDATA_H

/*
 * A CSV table and the comment lines above it. Every call fails the running test when what it is
 * asked for is not there, or is not a number.
 */
typedef struct refdata refdata;

/* Reads tests/reference/data/NAME; the caller closes it. */
refdata *ref_open(const char *name);
void ref_close(refdata *data);

int ref_rows(const refdata *data);
int ref_columns(const refdata *data);
const char *ref_column_name(const refdata *data, int column);
const char *ref_text(const refdata *data, int row, const char *column);
double ref_number(const refdata *data, int row, const char *column);

/* The comment line whose first fields are `start` ("certified,B0"); NULL when there is none. */
const char *ref_note(const refdata *data, const char *start);

/* Number in field `field` (from 0) of that line; a leading word is skipped, a/b is a fraction. */
double ref_note_number(const refdata *data, const char *start, int field);

#endif
