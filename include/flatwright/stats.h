/* stats.h - the distributions behind the tests: normal, Student, chi-square, tau, Baarda. */
#ifndef FLATWRIGHT_STATS_H
#define FLATWRIGHT_STATS_H

/*
 * All of them give NAN on impossible arguments (NAN itself, a probability outside 0 .. 1, degrees
 * of freedom below 1) and never end the program. Degrees of freedom are real numbers; INFINITY is
 * allowed for Student. A quantile x at p has P(X <= x) = p; at p = 0 and 1 it is the end of the
 * support. A tail is the probability of a larger value, P(X > x), and keeps its digits where it is
 * small. Tests: tests/unit/stats.c, tests/reference/stats.c.
 */

/* Standard normal. */
double fw_normal_quantile(double p);
double fw_normal_tail(double z);

/*
 * Student's t. Measured error of the quantiles, as a part of p: 1e-13 from p = 1e-15; at one degree
 * of freedom 1e-17 / p. Table: GUM, Table G.2.
 */
double fw_student_quantile(double p, double dof);
double fw_student_tail(double t, double dof);

/*
 * Chi-square. Up to 1e4 degrees of freedom the incomplete gamma function of GSL, whose series are
 * cut short beyond; above, two terms of Temme's uniform expansion,
 *     Q = erfc(eta sqrt(a / 2)) / 2 + exp(-a eta^2 / 2) / sqrt(2 pi a) (c0 + c1 / a),
 *     a = dof / 2, mu = x / dof - 1, eta^2 / 2 = mu - ln(1 + mu), signs of eta and mu alike,
 *     c0 = 1 / mu - 1 / eta, c1 = 1 / eta^3 - 1 / mu^3 - 1 / mu^2 - 1 / (12 mu)
 * (DLMF 8.12.3 to 8.12.10, from memory); measured to 1e-10 of the tail within ten standard
 * deviations. Quantiles by bisection of the smaller tail: about 60 evaluations.
 */
double fw_chi_square_quantile(double p, double dof);
double fw_chi_square_tail(double x, double dof);

/*
 * Critical value of Pope's tau, the largest |residual| over its own estimated standard deviation:
 *     tau = sqrt(f) t / sqrt(f - 1 + t^2), t = Student quantile of f - 1 degrees at 1 - alpha / 2.
 *   alpha  in  two-sided level of one test, above 0 and below 1
 *   f      in  redundancy; below 2 nothing can be tested: NAN
 * Source: Pope, NOAA Technical Report NOS 65 NGS 1 (1976), from memory.
 */
double fw_tau_critical(double alpha, double f);

/*
 * Baarda's data snooping: critical value k of the two-sided w-test, and the shift delta0 of w that
 * the test finds with the given power. A reading of standard deviation s and redundancy number r
 * can hide an error of delta0 s / sqrt(r).
 *     k = z(1 - alpha / 2),  delta0 = k + z(power),  z the normal quantile
 * (the far tail is neglected, as usual). alpha 0.001 and power 0.80: 3.2905 and 4.1321.
 * Source: Baarda, Neth. Geod. Comm., Publ. on Geodesy 2 (5), 1968, from memory.
 */
double fw_baarda_critical(double alpha);
double fw_baarda_shift(double alpha, double power);

#endif
