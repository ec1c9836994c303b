/* conform.h - is it within the target: probability and verdict after JCGM 106. */
#ifndef FLATWRIGHT_CONFORM_H
#define FLATWRIGHT_CONFORM_H

#include "result.h"

/*
 * Probability that a quantity known as N(y, u^2) lies within lower .. upper:
 *     p = Phi((upper - y) / u) - Phi((lower - y) / u).
 *   y             in  best estimate
 *   u             in  its standard uncertainty, >= 0; 0: p is 0 or 1
 *   lower, upper  in  tolerance limits in the unit of y; -INFINITY or INFINITY: no such limit
 * NAN when u is negative, an argument is NAN, y or u is infinite, or lower > upper.
 * The difference is formed in the tail where both numbers are small, so p keeps its digits there.
 * Source: JCGM 106:2012, 7.2 to 7.6. Tests: tests/unit/conform.c, tests/reference/conform.c.
 */
double fw_conform_probability(double y, double u, double lower, double upper);

/*
 * JCGM 106 decision at a confidence above one half: within when the probability of conformance is
 * at least `confidence`, outside when that of non-conformance is, undecided else. A probability of
 * NAN gives FW_UNDETERMINED.
 * Test: tests/unit/conform.c.
 */
fw_verdict fw_conform_verdict(double probability, double confidence);

#endif
