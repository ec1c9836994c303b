/* compare.h - do profiles and surfaces say the same of readings that both explain? */
#ifndef ADJUST_COMPARE_H
#define ADJUST_COMPARE_H

#include "adjustment.h"

/*
 * Where stations meet, the ring-by-ring fit says what the readings scatter by themselves, whatever
 * the shape. What the surfaces leave beyond it is structure finer than their order, or a bad scan:
 *     excess = chi^2(surface) - chi^2(rings), dof = the difference of their redundancies;
 * chi-square where the stated sigma bears out, else F against the rings' misfit.
 */
typedef struct comparison {
    bool made;       /* the two can be compared */
    double p;        /* chance of so much excess; NAN: not made */
    double rms_nm;   /* a flat's structure that would make the excess */
    int worst_scan;  /* index into job->scans that holds more than half of what surfaces leave; -1 */
} comparison;

fw_status compare_models(const adjustment *rings, const adjustment *surfaces, comparison *out,
                         fw_error *err);

/* The readings outside a clear aperture, which surfaces do not count: ascending, caller frees. */
fw_status compare_beyond(const adjustment *surfaces, size_t **list, size_t *n, fw_error *err);

#endif
