/* snoop.h - readings that do not fit the others, and how large an error could hide in each. */
#ifndef ADJUST_SNOOP_H
#define ADJUST_SNOOP_H

#include "adjustment.h"

/* Readings equally suspect are listed up to this number. */
enum { SNOOP_TIES = 24 };

/* One reading's test. */
typedef struct snoop_hit {
    size_t reading;      /* index into job->readings */
    double standardised; /* |v| / (sigma sqrt r): w; or tau where sigma is estimated */
    double error_nm;     /* v / r: the error that would explain it */
    double mdb_nm;
} snoop_hit;

typedef struct snoop {
    double critical;     /* NAN: nothing can be tested */
    double shift;        /* delta of the minimal detectable bias */
    size_t checked, unchecked; /* readings with and without redundancy */
    double worst_mdb_nm; /* over the checked ones; NAN: none */
    int nhits;
    size_t ntied;        /* readings equally suspect, listed or not */
    snoop_hit hits[SNOOP_TIES]; /* the largest, with those the readings cannot tell from it */
} snoop;

/*
 * Data snooping (Baarda 1968; Pope 1976 where sigma is estimated): v = y - fit, r its redundancy
 * number. The level is 0.1 % for one reading and never more than 5 % for all of them (Bonferroni).
 * Minimal detectable bias at a power of 80 %: delta sigma / sqrt(r), delta = critical + 0.84. Where
 * sigma is estimated an error makes its own measure larger: tau > critical is the same as t > c for
 * Student's t of f - 1 degrees, f the redundancy, which is non-central by delta then:
 *     delta = c (1 - 1 / (4 (f - 1))) + 0.84 sqrt(1 + c^2 / (2 (f - 1))),
 * the usual normal approximation (Abramowitz & Stegun 26.7.10, from memory).
 * Test: tests/unit/suspects.c.
 */
fw_status snoop_all(adjustment *a, snoop *out, fw_error *err);

/*
 * Its pieces, for another model: start gives the standard deviation of unit weight, take one reading
 * with redundancy number `red` and residual times weight, end.
 */
double snoop_start(const adjustment *a, snoop *s);
void snoop_take(snoop *s, size_t reading, double red, double residual, double weight, double sd);
void snoop_end(snoop *s);

#endif
