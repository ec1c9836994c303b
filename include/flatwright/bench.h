/* bench.h - what support, warmth and view do to the flats of a job, in nm. */
#ifndef FLATWRIGHT_BENCH_H
#define FLATWRIGHT_BENCH_H

#include <stdbool.h>

#include "job.h"

/*
 * Signs. w > 0 is glass that has sunk. The bottom lies face up: where it sinks its face goes away
 * from the gap, a height of -w. The top lies face down: where it sinks its face comes into the gap, a
 * height of +w. So a reading shows h_bottom + h_top - w_bottom + w_top, and two flats alike in
 * glass, thickness and support show nothing of it. The top is carried through its back or its rim;
 * its weight is not on the bottom.
 */

/* Relative standard uncertainty of a plate's deflection: elastic constants, radius of the support. */
#define FW_PLATE_RELATIVE 0.05
/* Thickness over diameter above which thin-plate theory is cautioned about. */
#define FW_PLATE_THIN 0.125
/* Relative standard uncertainty of the false rise: gap and eye are estimated, not measured. */
#define FW_VIEW_RELATIVE 0.2

/* One flat on the bench. NAN: not given, or not to be told without thickness and glass. */
typedef struct fw_bench_flat {
    double sag_nm[2];     /* PV over the clear aperture of its deflection as bottom, as top */
    double ring_nm;       /* the same on the best ring, */
    double ring_mm;       /* whose radius this is, */
    double points_nm;     /* and on the best three points, */
    double points_mm;     /* whose radius this is */
    double shear_nm;      /* PV that shear adds at most: counted as uncertainty */
    bool thick;           /* t / D above FW_PLATE_THIN */
    bool counted;         /* its bending is taken off, or solved for */
    bool solved;          /* bending = solve, and the readings tell it (in part or whole) */
    double factor;        /* its bending in parts of plate theory, */
    double factor_u;      /* with standard uncertainty; 1 and FW_PLATE_RELATIVE where not solved */
    double bow_nm;        /* standard uncertainty of its power by warmth, over the clear aperture */
    double allowed_k;     /* difference front to back that bows it by a third of the target */
    double across_s;      /* time constant in which such a difference evens out inside */
    double wait_s;        /* until `gradient` has fallen to allowed_k that way; 0: now */
} fw_bench_flat;

typedef struct fw_bench {
    bool any;             /* the job says something of support, warmth or view */
    fw_bench_flat *flats; /* nflats */
    double rise_nm;       /* the false rise at the widest clear aperture; NAN: no gap and eye */
    double contrast_um;   /* gap at which the lamp's fringes have lost their contrast; NAN: unknown */
} fw_bench;

#endif
