/* terms_gram.h - the normal equations of the terms of the scans. */
#ifndef ADJUST_TERMS_GRAM_H
#define ADJUST_TERMS_GRAM_H

#include "terms.h"

/*
 * With M = I - H G, what a ring's heights leave of its readings, and its terms T = T0 + rho T1:
 *     n (count x count) += sum over rings of T' M T,   b (count) += sum over rings of T' M y,
 * of the terms of a range that are solved by themselves; n is packed. Cost: the square of a ring's
 * readings, as often as there are classes.
 */
fw_status terms_gram(factors *store, int half, int nranges, term_range range, double *n, double *b,
                     fw_error *err);

#endif
