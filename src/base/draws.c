/* draws.c - a source of random draws that says when memory is short. */
#include "base/draws.h"

#include "flatwright/alloc.h"

/* The source and its state are one piece of memory: the state begins where the source ends. */
gsl_rng *draws_new(unsigned long seed)
{
    const gsl_rng_type *type = gsl_rng_mt19937;
    gsl_rng *rng = fw_alloc(1, sizeof *rng + type->size);
    if (!rng)
        return NULL;
    rng->type = type;
    rng->state = rng + 1;
    gsl_rng_set(rng, seed);
    return rng;
}

void draws_free(gsl_rng *rng)
{
    fw_free(rng);
}
