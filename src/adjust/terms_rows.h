/* terms_rows.h - the terms of the scans from all their equations, whatever their condition. */
#ifndef ADJUST_TERMS_ROWS_H
#define ADJUST_TERMS_ROWS_H

#include "linalg.h"
#include "terms.h"

/*
 * qr (released with fw_qr_release) <- of all equations of a range, the heights eliminated; c
 * (range.count + 1) <- Q' times their right sides. length (range.count): what terms_lengths says of it.
 */
fw_status terms_of_rows(factors *store, int half, int nranges, term_range range,
                        const double *length, fw_qr *qr, double *c, fw_error *err);

#endif
