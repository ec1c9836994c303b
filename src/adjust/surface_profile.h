/* surface_profile.h - heights along the lines a face was read on, and its terms, from the surface. */
#ifndef ADJUST_SURFACE_PROFILE_H
#define ADJUST_SURFACE_PROFILE_H

#include "adjustment.h"
#include "flatwright/result.h"
#include "spread.h"
#include "surface.h"

/*
 * Heights at every station a face was read at, in its own angles, less the plane over its area:
 *     h = L c,  var h = (L R^-1)(L R^-1)',
 * both polynomials of the position on each line, so that a point costs (order + 1)^2 products.
 */
fw_status surface_profile(adjustment *a, contrast what, fw_profile *out, fw_error *err);

/*
 * Heights and their variance for unit weight at any points of one face, as surface_profile's.
 *   r_mm, theta_rad  in   n
 *   height, u2       out  n; NAN where the readings do not determine them
 */
fw_status surface_heights(const adjustment *a, int face, int n, const double *r_mm,
                          const double *theta_rad, double *height, double *u2, fw_error *err);

/* The circle polynomials of a face with their uncertainty; terms is owned by the caller. */
fw_status surface_terms_of(const adjustment *a, int face, fw_surface *out, fw_error *err);

#endif
