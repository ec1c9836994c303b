/* foresee.h - what a candidate would read of a knot, and what that would leave of every variance. */
#ifndef ADJUST_FORESEE_H
#define ADJUST_FORESEE_H

#include "outlook.h"

/* Weight of nothing given to a new term that no reading of the candidate touches. */
#define FORESEE_RIDGE 1e-13

/* One equation of a candidate on a ring: y = coef[0] x[0] + coef[1] x[1] + its terms + e. */
typedef struct row {
    place at[2];
    int column[2]; /* in the cell; -1: known by the prior alone, and of no account */
    double coef[2];
    int diameter;
    double t0, t1; /* of a piston, and of a tilt at rho = 1 */
} row;

/* How many terms a candidate brings into a knot. */
int foresee_terms(const outlook *o, const knot *s);

/* The candidate's equations on the rings of a cell; their number, 2 ndiameters at most. p NULL: none. */
int foresee_equations(const outlook *o, const cell *c, const setup *p, row *rows);

/*
 * Which of those terms a row has: up to 3 entries c0 + rho c1, as outlook_datum has them; their number.
 */
int foresee_entries(const outlook *o, const knot *s, const row *r, int index[3], double c0[3],
                    double c1[3]);

/* Covariance of what two rows of a cell read besides the places that it has. */
double foresee_apart(const outlook *o, const row *a, const row *b);

#endif
