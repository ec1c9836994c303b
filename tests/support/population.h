/* population.h - simulated sets of known PV, and how often the verdicts on them are true. Invented. */
#ifndef TESTS_POPULATION_H
#define TESTS_POPULATION_H

#include <stdbool.h>

/* One band of stated probability: flats in it, the mean probability stated, the share truly within. */
typedef struct band {
    int flats, within;
    double stated;
} band;

enum { BANDS = 5 };
extern const double band_edge[BANDS + 1];

typedef struct tally {
    band band[BANDS];
    int flats, covered;   /* true PV within two u of the stated one */
    double error, square; /* sums of (stated - true) PV and of its square */
} tally;

/* What the flats are, and how they are read. */
typedef enum population {
    POPULATION_MIXED,  /* orders 2 to 6 that fall with the order or not, zones dominating in a third */
    POPULATION_FACES,  /* the same, read on 6, 8 or 10 diameters at odd angles, two pairings turned by
                          odd angles, stations that never meet; PV is over the whole face */
    POPULATION_POWER,  /* power and nothing else */
    POPULATION_ZONES,  /* zones of revolution and nothing else */
    POPULATION_COARSE, /* orders 2 and 3 alike, and nothing else */
} population;

/*
 * Simulates `sets` sets of three flats: true PV even between 3 and 25 nm, target 10 nm, reading noise
 * even between 1 and 5 nm; 4, 6 or 8 diameters of 11 or 21 stations, four or five pairings. PV is along
 * the diameters read. bow_nm: standard deviation of the power that warmth adds to every flat, as [bench]
 * then says; 0: the glass is even.
 */
void population_run(int sets, unsigned long seed, double bow_nm, population kind, tally *out);

/* How many binomial standard deviations the share within is off the stated probability. */
double band_z(const band *b);

#endif
