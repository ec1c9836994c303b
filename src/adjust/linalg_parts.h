/* linalg_parts.h - what the files of the dense kernels share; for these alone. */
#ifndef ADJUST_LINALG_PARTS_H
#define ADJUST_LINALG_PARTS_H

#include <stdbool.h>
#include <stddef.h>

#include "flatwright/status.h"

/*
 * What a routine of LAPACK returned, as a status: FW_SYSTEM names it. The work-array interface is
 * used throughout: the other one prints on stdout when it fails.
 */
fw_status linalg_status(int info, const char *routine, fw_error *err);

/* No nan, no infinity among the `count` numbers: LAPACK wants to be asked first. */
bool linalg_finite(size_t count, const double *x);

/* Threads cost more than they give on blocks of this size; results must not depend on them. */
void linalg_one_thread(void);

/* The lower triangle of a (n x n) <- the upper one. */
void linalg_mirror(int n, double *a);

#endif
