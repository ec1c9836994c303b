/* versus_surface.h - a job solved as circle polynomials, and as one dense system. */
#ifndef TESTS_VERSUS_SURFACE_H
#define TESTS_VERSUS_SURFACE_H

#include "flatwright/job.h"

/* What has been compared so far. */
typedef struct surface_tally {
    int jobs, lacking; /* of them not of full rank */
    int near;          /* left out: singular values of 1e-9 to 1e-5, rank is a matter of tolerance */
    int terms, open;   /* coefficients told by both, and by neither */
    int orders[11];    /* jobs by the order that was solved */
} surface_tally;

/*
 * order: asked for; 0: chosen. Which terms count is the program's choice. Fails the test unless
 * rank, chi-square, every coefficient and its uncertainty agree, and both say the same of what is
 * undetermined; adds to the tally.
 */
void versus_surface(const fw_job *job, int order, surface_tally *t);

#endif
