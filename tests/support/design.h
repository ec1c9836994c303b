/* design.h - made-up measuring plans of every kind: pairs, turns, stations, rounds of work. */
#ifndef TESTS_DESIGN_H
#define TESTS_DESIGN_H

#include <stdbool.h>

#include "simulate.h"

/* What a plan is like; zero or false: the plainest. */
typedef struct design {
    int nflats, ndiam,
        nstations; /* stations of a scan from rim to rim; an even number misses the centre */
    int rounds;    /* with a flat worked after each but the last */
    int turned;    /* turned fans besides the pairs; the first one opens every diameter */
    int repeats;   /* more fans of the pairs, unturned */
    bool setup;    /* levelling = setup */
    bool bored;    /* the last flat has a hole of 42 mm */
    bool reversed; /* some diameters are named by their other end, or by minus it */
    bool swapped;  /* some pairs lie the other way up */
    bool clear;    /* the clear aperture is smaller than the readings reach */
    bool lossy;    /* a reading in twelve is missing */
    bool weights;  /* every scan has its own sigma, 1 to 3 times sigma_nm */
} design;

/* One at random. */
design design_random(unsigned long seed);

/*
 * Readings of a set of flats of 200 mm by the plan, in s (sim_init comes first, with nflats). The
 * noise is s->sigma_nm; sigma is written beside the readings unless s->stated_nm is NAN.
 */
void design_read(const design *d, sim *s);

/* A set read by three pairs AB, BC, CA and a turned AB: ndiam diameters of n stations to 95 mm. */
void design_plain(sim *s, int ndiam, int n, double sigma_nm, double stated_nm, unsigned long seed);

/*
 * A set at random for the surface model: enough diameters, stations and turns to carry orders up to
 * six, some too few for it; of odd seeds nothing is on a grid of round numbers.
 */
void design_surfaces(sim *s, unsigned long seed);

#endif
