/* foresee.h - what a candidate would read of a knot, and what that would leave of every variance. */
#ifndef ADJUST_FORESEE_H
#define ADJUST_FORESEE_H

#include "outlook.h"

/* Weight of nothing given to a new term that no reading of the candidate touches. */
#define FORESEE_RIDGE 1e-13

/* One equation of a candidate on a ring: y = coef[0] x[0] + coef[1] x[1] + its terms + e. */
typedef struct equation {
    place at[2];
    int column[2]; /* in the cell; -1: known by the prior alone, and of no account */
    double coef[2];
    int diameter;
    double t0, t1; /* of a piston, and of a tilt at rho = 1 */
} equation;

/* How many terms a candidate brings into a knot. */
int foresee_terms(const outlook *o, const knot *s);

/* The candidate's equations on the rings of a cell; their number, 2 ndiameters at most. p NULL: none. */
int foresee_equations(const outlook *o, const cell *c, const setup *p, equation *rows);

/*
 * Which of those terms a row has: up to 3 entries c0 + rho c1, as outlook_datum has them; their number.
 */
int foresee_entries(const outlook *o, const knot *s, const equation *r, int index[3], double c0[3],
                    double c1[3]);

/* Covariance of what two rows of a cell read besides the places that it has. */
double foresee_apart(const outlook *o, const equation *a, const equation *b);

/*
 * sum (nflats) += per flat the sum over its stations of the variance on the datum, as far as the knot
 * tells it, with `times` repeats of p read besides; p NULL: as it is. Goes through the heights and terms
 * of all cells.
 */
fw_status foresee_by_terms(const outlook *o, knot *s, const setup *p, double times, double *sum,
                           fw_error *err);

/*
 * sum (nflats) -= what that reading takes off, from the covariance of what is read. What is the same for
 * all candidates is kept with the knot until foresee_forget, which comes when the knot changes.
 * The same numbers but for rounding: tests/unit/foresee.c.
 */
fw_status foresee_by_rows(const outlook *o, knot *s, const setup *p, double times, double *sum,
                          fw_error *err);
void foresee_forget(knot *s);

/* Has the second way fewer products to form? */
bool foresee_rows_cheaper(const outlook *o, const knot *s);

#endif
