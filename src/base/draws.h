/* draws.h - a source of random draws that says when memory is short. */
#ifndef BASE_DRAWS_H
#define BASE_DRAWS_H

#include <gsl/gsl_rng.h>

/*
 * The Mersenne twister MT19937, seeded; NULL when memory is short. gsl_rng_alloc ends the program
 * then. Free with draws_free. Test: tests/unit/draws.c
 */
gsl_rng *draws_new(unsigned long seed);

/* Accepts NULL. */
void draws_free(gsl_rng *rng);

#endif
