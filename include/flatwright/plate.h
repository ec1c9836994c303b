/* plate.h - a disc of glass sinks under its own weight: on its rim, a ring or three points. */
#ifndef FLATWRIGHT_PLATE_H
#define FLATWRIGHT_PLATE_H

#include <stdbool.h>

#include "job.h"

/* Angular orders 3, 6, 9, ... reckoned with on three points; the rest is 1e-5 of the whole. */
#define FW_PLATE_MODES 40
/* The best three points, in radii of the plate: Nelson, Lubliner & Mast, SPIE 332 (1982). */
#define FW_PLATE_THREE 0.645

/*
 * A plate of free edges under its own weight, w downward in units of q a^4 / D, by thin-plate theory:
 *     D del^4 w = q,   D = E t^3 / (12 (1 - nu^2)),   q = rho g t,
 * with x = r / a, bore b <= x <= 1, carried at x = beta all round, or at three points there:
 *     w = x^4/64 + A x^2 + C ln x + F x^2 ln x + L g(x / beta) [x > beta] + const
 *         + sum over m = 3, 6, ... of w_m(x) cos m theta,
 *     g(u) = ((u^2 + 1) ln u - u^2 + 1) / 4,  which has a unit step in its third derivative at 1.
 * w_m is the answer of an endless plate to a line load cos m theta at beta, and as much of x^m,
 * x^(m+2), x^-m, x^(2-m) as leaves both edges free of moment and (Kirchhoff's) shear. Every function is
 * scaled by its largest value, so nothing overflows and nothing cancels. w = 0 at the support.
 * Source: Timoshenko & Woinowsky-Krieger, Theory of Plates and Shells, ch. 3 and 9 (from memory);
 * the way of solving is derived. Tests: tests/reference/plates.c, tests/unit/plate.c.
 */
typedef struct fw_plate {
    double poisson, bore, beta; /* bore and beta over a */
    bool points;
    double constant, square, log, square_log, load; /* const, A, C, F, L */
    int nmodes;                                      /* 0 unless on points */
    double mode[FW_PLATE_MODES][4]; /* of x^m, x^(m+2), (b/x)^m, (b/x)^(m-2); of m = 3 (k + 1) */
} fw_plate;

/*
 * The plate with bore ratio `bore` (0: solid) carried at beta, bore <= beta <= 1.
 *   points  in  three points, one of them at theta = 0; else all round
 */
fw_plate fw_plate_of(double poisson, double bore, double beta, bool points);

/* w at x in bore .. 1, theta in radians from one of the points; in q a^4 / D. Cost: 40 orders. */
double fw_plate_sag(const fw_plate *plate, double x, double theta);

/*
 * What shear adds to w, in q a^4 / D: - tau del^2 w of the round part, tau = (t/a)^2 / (5 (1 - nu)),
 * zero where that is zero. Exact for round loads (Mindlin, shear factor 5/6); on points the same
 * ring's is meant. Source: derived.
 *   thin  in  t / a
 */
double fw_plate_shear(const fw_plate *plate, double thin, double x);

/* PV and root mean square about the mean over bore <= x <= clear (clear <= 1), in q a^4 / D. */
void fw_plate_size(const fw_plate *plate, double clear, double *pv, double *rms);

/* The ring, in radii, on which PV over bore <= x <= clear is least; about 0.68 for a solid plate. */
double fw_plate_best_ring(double poisson, double bore, double clear);

/*
 * q a^4 / D of a flat, nm: 12 rho g (1 - nu^2) a^4 / (E t^2); NAN when thickness or glass is not
 * known. g = 9.80665 m/s2.
 */
double fw_plate_unit_nm(const fw_flat *flat);

/* The flat on a support; false, and out untouched, when there is none or the flat is not known. */
bool fw_plate_on(const fw_flat *flat, const fw_support *support, fw_plate *out);

#endif
