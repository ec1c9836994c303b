/* whiten.h - one flat's heights on a class of rings, freed of what correlates them in a ring. */
#ifndef ADJUST_WHITEN_H
#define ADJUST_WHITEN_H

#include "spread.h"

/* All heights of a face on a ring; or, where rings are paired, (h+ + h-)/sqrt 2 and (h+ - h-)/sqrt 2. */
typedef enum whiten_part { WHITEN_ALL, WHITEN_EVEN, WHITEN_ODD } whiten_part;

/*
 * With x the part of the heights of one ring at rho given the terms, covariance K, of which P spans
 * what the ring determines,
 *     w = R^-T P',  R'R = P'KP,   so that w x has unit covariance;
 * the terms' change by tau moves it by (b0 + rho b1) tau.
 */
typedef struct whiten {
    whiten_part part;
    int n, d;        /* heights of the part, determined combinations */
    double *w;       /* d x n */
    double *b0, *b1;    /* d x coordinates of the terms; of one ring alone b0 has both, b1 is NULL */
    term_range seen[2]; /* columns of b0 and of b1 that are not zero */
    double *weight2; /* n: sum of the squared weights of the readings that touch a height */
} whiten;

/* s  in  the spread of a class and a face, with contrasts; all that was made is released on failure. */
fw_status whiten_new(const adjustment *a, int class, const class_spread *s, whiten_part part,
                     whiten *out, fw_error *err);
void whiten_release(whiten *w);

/* Heights come in pairs +, - where the part is even or odd: the + one of height i. */
static inline int whiten_first(whiten_part part, int i)
{
    return part == WHITEN_ALL ? i : 2 * i;
}

/* to (n) <- the part of `from` (stride apart), one number a contrast. */
void whiten_take(whiten_part part, int n, const double *from, int stride, double *to);

#endif
