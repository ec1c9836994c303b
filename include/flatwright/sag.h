/* sag.h - the spherometer: sag over a ring becomes radius and power. */
#ifndef FLATWRIGHT_SAG_H
#define FLATWRIGHT_SAG_H

#include "status.h"

/*
 * What a spherometer reading says of a flat.
 * sag_um is the height of the middle over the circle of the feet, + convex (as in fw_sag).
 */
typedef struct fw_sphere {
    double radius_mm;          /* + convex; infinite for sag 0 */
    double u_radius_mm;        /* NAN: sag 0, or sigma not known */
    double power_nm;           /* sagitta over the clear aperture, + convex */
    double u_power_nm;         /* NAN: sigma not known */
} fw_sphere;

/*
 * Radius R and power P of a sphere from its sag s over a ring of radius r:
 *     R = (r^2 + s^2) / (2 s)
 *     P = R - sqrt(R^2 - a^2) = k a^2 / (1 + sqrt(1 - k^2 a^2)),  k = 1 / R
 * a the clear radius; the second form also serves for s = 0. Uncertainty of first order:
 *     u^2(k) = (dk/ds)^2 u^2(s) + (dk/dr)^2 u^2(r),  k = 2 s / (r^2 + s^2).
 *   ring_mm       in   radius of the circle on which the feet touch, > 0
 *   u_ring_mm     in   its standard uncertainty; 0: exact
 *   sag_um        in   reading, the zero on a plane taken off
 *   sigma_um      in   its standard uncertainty; NAN: not known
 *   clear_mm      in   clear aperture, a diameter, > 0
 *   sphere        out  unchanged on failure
 * Feet that are balls touch at a circle that moves with the sphere; for a flat this is nothing.
 * Returns FW_OK; FW_INPUT when a length is out of range, the sag is not below the ring's radius, or
 * the sphere is smaller than the clear aperture.
 * Source: common practice; uncertainty JCGM 100:2008, 5.1.2. Test: tests/unit/sag.c.
 */
fw_status fw_sag_sphere(double ring_mm, double u_ring_mm, double sag_um, double sigma_um,
                        double clear_mm, fw_sphere *sphere, fw_error *err);

/*
 * The same for small sags: P = s (a / r)^2. Returns nm. The error is a part (a^2 - r^2) / (4 R^2)
 * of P: nothing for a flat. Source: derived. Test: tests/unit/sag.c.
 */
double fw_sag_power_nm(double ring_mm, double sag_um, double clear_mm);

#endif
