/* spread.h - what a class of rings says about the heights of one flat, or about a removal. */
#ifndef ADJUST_SPREAD_H
#define ADJUST_SPREAD_H

#include "adjustment.h"

/* Heights of interest: face `plus`, less face `minus` (-1: none), wherever both were read. */
typedef struct contrast {
    int plus, minus;
} contrast;

/* How much of a spread there is: which contrasts there are; all but k; all. */
typedef enum spread_depth { SPREAD_PLACES, SPREAD_TERMS, SPREAD_COVARIANCE } spread_depth;

/*
 * The n contrasts of one class at distance rho (in units of rmax), for readings of unit variance:
 *     covariance = k + (b0 + rho b1) C (b0 + rho b1)',   C that of the terms, by coordinates;
 * k lies within a ring, the rest binds all rings.
 */
typedef struct class_spread {
    spread_depth depth;
    int n;
    int *column[2];    /* of the class; column[1][i] -1 without minus */
    int *angle, *sign; /* -1, 0 at the centre */
    double *k;         /* n x n */
    double *b0, *b1;    /* n x coordinates of the terms; of one ring alone b0 has both, b1 is NULL */
    term_range seen[2]; /* columns of b0 and of b1 that are not zero */
    int nnull;
    double *null; /* n x nnull: what a ring by itself leaves undetermined */
    bool *loose;  /* n: it touches this one */
} class_spread;

/* Is a column of the class one of the contrasts? */
bool spread_contrasts(const net_class *class, int column, contrast what);

/* What is deeper than wanted is not to be read. Release with class_spread_release. */
fw_status class_spread_new(adjustment *a, int class, contrast what, spread_depth depth,
                           class_spread *out, fw_error *err);
void class_spread_release(class_spread *s);

/* The spreads of all classes, made when asked for; the whole ones are kept while they fit. */
typedef struct spreads {
    adjustment *a;
    contrast what;
    class_spread **kept; /* one a class, NULL: not kept */
    size_t bytes;
} spreads;

/* Bytes kept, of one flat at a time. */
#define FW_SPREADS_KEPT ((size_t)16 << 20)

fw_status spreads_init(spreads *store, adjustment *a, contrast what, fw_error *err);
void spreads_release(spreads *store);
/* Borrow the spread of a class, and give it back before the next. */
fw_status spreads_get(spreads *store, int class, spread_depth depth, class_spread **s,
                      fw_error *err);
void spreads_put(spreads *store, int class, class_spread *s);

#endif
