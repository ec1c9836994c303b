/* terms_waves.h - even diameters: what goes round the flats at one frequency is solved by itself. */
#ifndef ADJUST_TERMS_WAVES_H
#define ADJUST_TERMS_WAVES_H

#include <stdbool.h>

#include "linalg.h"
#include "net.h"

/*
 * N diameters, and scans in groups of N, one on each: the same flats at the same turn. The sums
 *     sqrt(2/N) sum over k of x_k cos(pi m k / N), and of sin,  k the bottom's line, m of one parity,
 * even for pistons and odd for tilts, which change sign where a line is read backwards, are N
 * orthonormal coordinates of a group; of m = 0 and m = N there is sqrt(1/N) and no sin. Where all was
 * read alike turned by one diameter, those of different m know nothing of each other, on the bottom
 * and, since a reading joins lines k and c - k, on the top. Whether it was so, the normal equations
 * themselves tell.
 * Coordinates of all groups stand order by order: those of order o from ngroups first[o] on, group by
 * group, cosine before sine.
 */
typedef struct term_waves {
    int n, ngroups;
    int *term;    /* ngroups x n, by line: which of the range */
    double *sign; /* ngroups x n: of the scan's sense on the bottom */
    int *place;   /* per term: its group times n, and its line */
    double *wave; /* n x n, columns orthonormal: line k's part in every coordinate of a group */
    int norders;
    int *first; /* norders + 1: columns of wave that begin an order */
} term_waves;

/*
 * *out <- the waves of the `count` pistons (half 0) or tilts (1); NULL where their scans do not fall
 * into groups. Release with terms_waves_free.
 */
fw_status terms_waves_new(const fw_net *net, int half, int count, term_waves **out, fw_error *err);
void terms_waves_free(term_waves *w);

/* How many coordinates an order has of each group: 1 or 2. */
static inline int terms_waves_phases(const term_waves *w, int order)
{
    return w->first[order + 1] - w->first[order];
}

/* The part that a term has in a column of wave, of its own group. */
static inline double terms_waves_share(const term_waves *w, int term, int column)
{
    int at = w->place[term];
    return w->sign[at] * w->wave[at % w->n + (size_t)column * w->n];
}

/* out (nrows x count) <- b (nrows x count) by coordinates: a unit of each in place of each term. */
fw_status terms_waves_turn(const term_waves *w, int nrows, const double *b, double *out,
                           fw_error *err);

/* x (count) <- the terms whose coordinates are c. */
void terms_waves_back(const term_waves *w, const double *c, double *x);

/*
 * block, one order after the other <- the normal equations gram (count x count), all of them packed, by
 * coordinates; *even: between orders they hold nothing but rounding, else they are not finished.
 * length (count): of the terms before heights took their share; one for each group.
 */
fw_status terms_waves_split(const term_waves *w, const double *gram, const double *length,
                            double *block, bool *even, fw_error *err);

#endif
