/* belief.h - what can be believed of a smooth figure: its joint distribution, noise discounted. */
#ifndef ADJUST_BELIEF_H
#define ADJUST_BELIEF_H

#include <gsl/gsl_rng.h>

#include "smooth.h"

/*
 * Least squares alone makes a figure too large: every coefficient carries its noise into PV, and a
 * choice of order trades that for overconfidence. So each coefficient of a term (n, m) is given a
 * normal prior of mean 0 and standard deviation
 *     tau (n / 2)^-decay (m = 0: 1, else `ratio`),
 * and tau, decay and ratio are averaged over a grid by their evidence, tau log-uniform. Where the
 * readings speak clearly the prior weighs nothing and the least-squares fit stands.
 *     log evidence = -1/2 sum log(1 + tau^2 l_i) + 1/2 sum tau^2 b_i^2 / (1 + tau^2 l_i),
 * l_i, b_i: eigenvalues of G R'R G / s^2 and projections of G R'z / s^2, G the prior at tau = 1.
 */

/*
 * Draws coefficient vectors.
 *   s         in   the smooth fit
 *   variance  in   s^2, of unit weight
 *   dof       in   degrees of freedom of an estimated s; 0: s is known
 *   least_nm  in   smallest rms a figure is believed to have beforehand, > 0
 *   count     in   number of draws
 *   c         out  s->basis->nterms x count, 0 in terms that are not used
 */
fw_status belief_draw(const smooth *s, double variance, double dof, double least_nm, int count, gsl_rng *rng,
                      double *c, fw_error *err);

#endif
