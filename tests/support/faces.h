/* faces.h - sets of flats that are circle polynomials, read at odd angles. Invented. */
#ifndef TESTS_FACES_H
#define TESTS_FACES_H

#include "flatwright/basis.h"
#include "simulate.h"

enum { FACES_CLEAR_MM = 100, FACES_TERMS = 63 };

/* Three flats of terms up to one order; a state is 1.1 times the one before. */
typedef struct faces {
    fw_basis *basis;
    double c[3][FACES_TERMS];
} faces;

/* Every coefficient between half and one and a half times `size`, of either sign. */
void faces_make(faces *f, int order, double size, gsl_rng *rng);

/* A sim_truth; context is a faces. */
double faces_height(void *context, int flat, int state, double x, double y);

/* Three pairs, AB turned by 47 and BC by 111 deg, on five diameters at odd angles; no station of n
 * meets another. */
void faces_read_odd(sim *s, int n);

#endif
