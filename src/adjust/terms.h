/* terms.h - the pistons and tilts of the scans: what is left when every ring is eliminated. */
#ifndef ADJUST_TERMS_H
#define ADJUST_TERMS_H

#include "factors.h"
#include "terms_part.h"
#include "terms_waves.h"

/* A stretch of the terms that is solved by itself. */
typedef struct term_range {
    int first, count;
} term_range;

/*
 * Of each range the coordinates fall into parts that know nothing of each other; one after the other
 * they make up the rows of its root and the columns of its null. See terms_root.h for products.
 */
typedef struct scan_terms {
    int n, rank, nnull;
    double *t; /* n */
    int nranges;
    term_range range[2], roots[2], nulls[2]; /* which terms; rank and nnull, after those before */
    term_waves *waves[2]; /* the coordinates of a range, a part an order; NULL: the terms, one part */
    int nparts[2];
    term_part *parts[2];
} scan_terms;

/*
 * The ranges that do not meet: pistons and tilts apart when every ring is paired (even parts see
 * only p, odd ones only q); else one range of all. Returns their number, 1 or 2.
 */
int terms_ranges(const fw_net *net, term_range range[2]);

/* Does a block say something of the terms of this half? Of a single range every block does. */
static inline bool terms_sees(const block *k, int half, int nranges)
{
    return nranges == 1 || (half == 0 ? k->pistons : k->tilts);
}

/* length (nterms) <- how much the readings say of each term before the heights take their share. */
void terms_lengths(const fw_net *net, double *length);

/* Solves for the terms. Release with terms_release. */
fw_status terms_solve(factors *store, scan_terms *out, fw_error *err);
void terms_release(scan_terms *t);

#endif
