/* response.h - what the bench does to everything that is solved: the same equations, other readings. */
#ifndef ADJUST_RESPONSE_H
#define ADJUST_RESPONSE_H

#include "adjustment.h"
#include "flatwright/result.h"
#include "spread.h"

/*
 * An adjustment is linear: what a cause adds to the readings, c, it adds to the heights as h(c), the same
 * equations solved with c in place of the readings. A known cause is taken off the readings before.
 * One with a standard uncertainty u leaves u h(c), the same for all heights at once:
 *     covariance += u^2 h(c) h(c)'.
 * One with an unknown size b (a flat's bending, where bottom and top were exchanged) is solved by
 * what the equations leave of it, e = M W^1/2 c, M the maker of residuals (Frisch & Waugh 1933, Lovell
 * 1963, from memory):
 *     b = (E'E)^+ E' W^1/2 y,  Cov(b) = (E'E)^+ s^2,
 * and every other cause counts with what b does not take up of it, c - C (E'E)^+ E' W^1/2 c. Directions
 * of b that E does not show stay as plate theory has them, with its uncertainty.
 */
typedef struct response {
    fw_source source;
    int flat;      /* -1: no single one */
    adjustment *a; /* solved with u c: heights and figures are one standard uncertainty */
} response;

/*
 * Adjusts a job by a model (of surfaces: up to order, 0: chosen) with all that its [bench] says. The readings that the adjustment sees are a copy, without
 * what is known; told gets the flats on the bench and the bending solved for (flats: caller's).
 */
fw_status response_adjust(const fw_job *job, const struct adjust_model *model, int order,
                          fw_bench *told, adjustment **out, fw_error *err);

/*
 * Adds the responses to the uncertainties of a profile of `what`. *rms_nm <- what they alone make
 * uncertain, root mean square over the clear points that are told.
 */
fw_status response_widen(adjustment *a, contrast what, fw_profile *profile, double *rms_nm,
                         fw_error *err);

#endif
