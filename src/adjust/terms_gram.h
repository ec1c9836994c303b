/* terms_gram.h - the terms of the scans from their normal equations, where these lose nothing. */
#ifndef ADJUST_TERMS_GRAM_H
#define ADJUST_TERMS_GRAM_H

#include <stdbool.h>

#include "linalg.h"
#include "terms.h"

/* Does a block say something of the terms of this half? Of a single range every block does. */
static inline bool terms_sees(const block *k, int half, int nranges)
{
    return nranges == 1 || (half == 0 ? k->pistons : k->tilts);
}

/*
 * With M = I - H G, what a ring's heights leave of its readings, and its terms T = T0 + rho T1,
 *     N = sum over rings of T' M T,   b = sum over rings of T' M y;
 * qr (released with fw_qr_release) <- R, D and P of D N D P = R'R; c (range.count + 1) <- R^-T P'D b.
 * *good: no term is so ill determined that the squares cost more than 1e-12 of a figure; else
 * nothing is made. length (range.count): what terms_lengths says of the range.
 * Cost: the square of a ring's readings, as often as there are classes, and the cube of the terms.
 */
fw_status terms_of_gram(factors *store, int half, int nranges, term_range range,
                        const double *length, fw_qr *qr, double *c, bool *good, fw_error *err);

#endif
