/* belief.h - what can be believed of a smooth figure: its joint distribution, noise discounted. */
#ifndef ADJUST_BELIEF_H
#define ADJUST_BELIEF_H

#include <gsl/gsl_rng.h>

#include "smooth.h"

/*
 * Least squares alone makes a figure too large: every coefficient carries its noise into PV, and a
 * choice of order trades that for overconfidence. So each coefficient of a term (n, m) is given a
 * normal prior of mean 0 and standard deviation
 *     tau (n / 2)^-decay (m = 0: 1, else `ratio`) (n <= 3: 1, else `fine`),
 * and all four are averaged over a grid by their evidence: sizes tau spaced in logarithm and
 * believed in proportion to their square, rough figures more readily than smooth ones, since to
 * call a flat good is to take more convincing. A ratio of a hundredth is a flat of zones of
 * revolution and nothing else, `fine` of a tenth one of power, saddle, coma and trefoil: without
 * them what is there made the prior of what is not too large, and its noise was believed. Where the
 * readings speak clearly the prior weighs nothing and the least-squares fit stands.
 *     log evidence = -1/2 log det K - 1/2 z'K^-1 z / s^2,  K = I + tau^2 R G G R' / s^2,
 * G the prior's standard deviations at tau = 1. Source: derived; MacKay, Neural Computation 4, 415
 * (1992), from memory, for the evidence. Test: tests/slow/verdicts.c: stated probabilities agree with
 * the frequencies in five bands, which a choice of order by Akaike's criterion did not (of flats
 * given 0.95 or more 90 % were within).
 */

typedef struct belief belief;

/*
 * What is believed, to be drawn from. Release with belief_free; s is borrowed.
 *   s         in   the smooth fit
 *   variance  in   s^2, of unit weight
 *   least_nm  in   smallest rms a figure is believed to have beforehand, > 0
 */
fw_status belief_new(const smooth *s, double variance, double least_nm, belief **out,
                     fw_error *err);
void belief_free(belief *b);

/*
 * Draws coefficient vectors.
 *   dof    in   degrees of freedom of an estimated s; 0: s is known
 *   count  in   number of draws
 *   c      out  s->basis->nterms x count, 0 in terms that are not used
 */
fw_status belief_take(const belief *b, double dof, int count, gsl_rng *rng, double *c,
                      fw_error *err);

/* All of that at once. */
fw_status belief_draw(const smooth *s, double variance, double dof, double least_nm, int count,
                      gsl_rng *rng, double *c, fw_error *err);

#endif
