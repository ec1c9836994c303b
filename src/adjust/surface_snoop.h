/* surface_snoop.h - readings that do not fit the surfaces, as snoop.h tells them. */
#ifndef ADJUST_SURFACE_SNOOP_H
#define ADJUST_SURFACE_SNOOP_H

#include "snoop.h"

/*
 * Redundancy numbers of readings d = t + L c, t the terms of their scan: with [t | L] a reading's row,
 * r = 1 - |t T^-1|^2 - |(L - t T^-1 A) R^-1|^2, T and A the eliminated rows of its group.
 * Readings outside a clear aperture are not in the fit and count as unchecked.
 */
fw_status surface_snoop(adjustment *a, snoop *out, fw_error *err);

/* out (net->nreadings) <- the weighted residuals in the order of the net; 0 where not in the fit. */
fw_status surface_residuals(adjustment *a, double *out, fw_error *err);

#endif
