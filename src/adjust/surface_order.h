/* surface_order.h - which order the readings carry, and which they ask for. */
#ifndef ADJUST_SURFACE_ORDER_H
#define ADJUST_SURFACE_ORDER_H

#include "surface.h"

/*
 * cap <- per face the highest order that its own stations tell apart from the scans' pistons and
 * tilts, were all other flats known; never below 2.
 */
fw_status surface_caps(surface *s, int ngroups, const surface_group *groups,
                       const surface_rows *rows, fw_error *err);

/*
 * highest <- the highest order whose condition number is at most SURFACE_CONDITION_MAX and that
 * leaves readings to spare. order <- the one with the least corrected Akaike criterion,
 *     chi^2 / s^2 + 2 p + 2 p (p + 1) / (n - p - 1),
 * n readings, p their rank; s is the stated sigma where the highest order bears it out, else what the
 * residuals of the highest order say; n log(chi^2 / n) for the first summand where sigma is not given.
 * fixed > 0 takes that order, or the nearest below that is carried.
 * Source: Burnham & Anderson, Model Selection and Multimodel Inference, from memory.
 * Test: tests/unit/surface.c, 200 noisy sets.
 */
fw_status surface_choose(surface *s, int fixed, fw_error *err);

/* Condition number of the leading triangle r (n x n) by power iteration up and down. */
fw_status surface_condition(int n, const double *r, int ldr, double *out, fw_error *err);

#endif
