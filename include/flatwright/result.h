/* result.h - what a solved job says: fit, flats, removal, what is undetermined, suspects. */
#ifndef FLATWRIGHT_RESULT_H
#define FLATWRIGHT_RESULT_H

#include <stdbool.h>
#include <stddef.h>

#include "bench.h"
#include "job.h"

/* A height on the datum. NAN where it is not determined or has no known uncertainty. */
typedef struct fw_point {
    double position_mm; /* signed, on the diameter's own angle */
    double height_nm, u_nm;
    bool determined;
    bool clear; /* inside the clear aperture */
} fw_point;

typedef struct fw_diameter {
    double angle_deg; /* the flat's own angle, in [0, 180) */
    bool determined;  /* every point is */
    size_t npoints;
    fw_point *points; /* from - to + */
} fw_diameter;

/* The heights of one flat in one state (or of a removal: state `from` minus state `to`). */
typedef struct fw_profile {
    bool determined; /* it was read, and every diameter is determined */
    int ndiameters;
    fw_diameter *diameters; /* by angle */
    bool tied;              /* all diameters share one zero; false: each has its own */
} fw_profile;

/* A figure's number with its standard uncertainty; NAN: not determined, or not known. */
typedef struct fw_quantity {
    double value_nm, u_nm;
} fw_quantity;

typedef enum fw_verdict { FW_WITHIN, FW_OUTSIDE, FW_UNDECIDED, FW_UNDETERMINED } fw_verdict;

/*
 * A term of a smooth figure: the circle polynomial of rms 1 (fw_zernike, n and m as there); on a
 * line Legendre's P_n, m = 0.
 */
typedef struct fw_figure_term {
    int n, m;
    double value_nm, u_nm; /* u NAN: not known */
} fw_figure_term;

/*
 * The smooth figure of a flat over its clear aperture: profile model, along the diameters read;
 * surface model, over the whole face.
 */
typedef struct fw_figure {
    int order; /* of the best smooth fit */
    fw_quantity pv, rms;
    fw_quantity power;        /* sagitta of the best-fit sphere over the clear aperture, + convex */
    fw_quantity irregularity; /* PV of what the sphere leaves */
    fw_quantity symmetric;    /* PV of the rotationally symmetric part of the irregularity */
    double pv_raw_nm;         /* of the heights themselves: noise included */
    double probability_within;
    fw_verdict verdict;
    double finer_p;      /* probability of so much structure finer than the order by chance */
    double finer_rms_nm; /* its rms estimate; 0 when not significant */
    bool finer;          /* significant at 1 % */

    /* h(rho, theta) = sum of its terms, orders 2 to 8, to 12 where `finer`; without what is finer still */
    bool line;        /* read on one diameter only */
    double radius_mm; /* where rho is 1 */
    int nterms;       /* 0: the shape is not determined */
    fw_figure_term *terms;
} fw_figure;

/* What makes a flat's numbers uncertain. */
typedef enum fw_source {
    FW_SOURCE_NOISE,        /* of the readings: sigma as given, or as the residuals show it */
    FW_SOURCE_SPREAD,       /* what the residuals show beyond the sigma given (Birge ratio) */
    FW_SOURCE_BENDING,      /* plate theory's uncertainty, or that of the bending solved for */
    FW_SOURCE_WARMTH,       /* the front-to-back temperature difference */
    FW_SOURCE_VIEW,         /* the gap and the eye's distance */
    FW_SOURCE_UNDETERMINED, /* what no reading shows: not bounded where a quantity hangs on it */
    FW_SOURCES
} fw_source;

/* Standard uncertainty that one source brings; NAN: not bounded, or not known. */
typedef struct fw_share {
    fw_source source;
    double power_nm, irregularity_nm, pv_nm;
    char remedy[240]; /* the cheapest way to make it smaller, a sentence; "" where none is needed */
} fw_share;

/*
 * Where a flat's uncertainty comes from. The sources are independent: the squares of the shares add
 * up to the square of the total. Of the least-squares figure, that is before what is believed of
 * flats beforehand makes the uncertainties of fw_figure smaller: power is exact, PV and irregularity
 * (which are not linear) are the root mean square over the figures that the readings allow.
 */
typedef struct fw_budget {
    int nshares;                 /* 0: nothing can be told of this flat */
    fw_share shares[FW_SOURCES]; /* largest first, by what the job's measure judges */
    fw_share total;              /* its source and remedy mean nothing */
    double bench_nm;             /* what the bench makes uncertain of the heights: rms over stations */
} fw_budget;

/*
 * Height of the smooth figure, nm; NAN when its shape is not determined.
 *   rho, theta  in  over radius_mm; rad. On a line rho is signed and theta 0.
 * Test: tests/unit/judge.c.
 */
double fw_figure_height(const fw_figure *figure, double rho, double theta);

/* A circle polynomial of rms 1 on the unit disc and its coefficient; NAN: not determined. */
typedef struct fw_surface_term {
    int n, m; /* m < 0: sine */
    double nm, u_nm;
    bool determined;
} fw_surface_term;

/*
 * A face of the surface model: h = sum of nm Z(n, m)(r / radius_mm, theta). Its datum is one plane
 * over the clear aperture: of a solid flat the terms n = 0 and n = 1 are none; of a bored one they
 * put the mean and the tilts over the annulus to 0.
 */
typedef struct fw_surface {
    double radius_mm;
    int nterms;
    fw_surface_term *terms; /* by n, |m|, cosine first; NULL: profile model */
} fw_surface;

/* One state of one flat that was read. */
typedef struct fw_face {
    int flat, state;
    int first_round, last_round; /* rounds whose readings speak of it; 0, 0: never read */
    fw_profile profile;
    fw_figure figure;
    fw_budget budget;
    fw_surface surface; /* surface model only */
} fw_face;

/* What the work between two read states took off. */
typedef struct fw_removal {
    int flat, from_state, to_state;
    int nwork;
    size_t *work;       /* indices into job->work of the spells between */
    double hours;       /* their sum */
    fw_profile profile; /* + where glass went, on the datum (mean and tilt are not seen) */
    fw_quantity rms;    /* of the profile's determined points, noise taken off */
} fw_removal;

typedef struct fw_fit {
    size_t readings, unknowns, rank, redundancy;
    bool sigma_known; /* given by the user, or estimated here */
    double
        sigma0; /* a-posteriori sd of unit weight, or estimated sigma in nm; NAN: no redundancy */
    double chi_square; /* NAN when sigma is estimated, or nothing is redundant */
    double p_value;    /* of a chi_square at least as large; NAN as above */
    double birge;      /* factor that is in every u; 1 unless the test fails at 1 % */
} fw_fit;

/* Something the readings do not carry, in the trade's words. */
typedef struct fw_unknown {
    int nflats;
    int *flats;
    int ndiameters;
    double *diameters_deg; /* in the flats' own angles */
    char text[480];        /* one sentence, with the pairing that would show it */
} fw_unknown;

typedef struct fw_suspect {
    int line;    /* of readings.csv */
    size_t scan; /* index into job->scans */
    double position_mm;
    double standardised; /* |w| or tau */
    double critical;     /* the value it exceeds */
    double error_nm;     /* the error that would explain it */
    double mdb_nm;       /* minimal detectable bias of this reading: 80 % power */
    bool tied;           /* another reading explains the misfit as well */
} fw_suspect;

/* The condition odd(AB) - odd(AC) + odd(BC) = 0 on one mirrored pair of diameters. */
typedef struct fw_closure {
    int a, b, c; /* flats */
    double diameter_deg;
    int redundancy;
    double rms_nm;      /* of the misclosure, pistons and tilts taken off */
    double expected_nm; /* from the stated sigma; NAN: sigma not given */
} fw_closure;

typedef struct fw_result {
    const fw_job *job; /* borrowed */
    int round;         /* the round the set is in now */
    fw_model model;    /* profile or surface: the one that was used */
    char why[240];     /* why this one, a clause; "" when it was asked for */
    fw_fit fit;

    int nfaces;
    fw_face *faces; /* every state that was read, and today's states, by flat then state */
    int *today;     /* nflats entries: the index in faces of each flat's present state */

    int nremovals;
    fw_removal *removals;

    int nunknowns;
    fw_unknown *unknowns; /* of today's surfaces */

    int nsuspects;
    fw_suspect *suspects; /* each found after the ones before it were set aside */
    double
        worst_mdb_nm; /* the largest error that could hide in any one checked reading; NAN: none */
    size_t unchecked; /* readings that no other reading checks */

    int nclosures;
    fw_closure *closures;

    fw_bench bench; /* what the bench does to every flat */

    struct adjustment *adjustment; /* private: the solved equations, for the advice */

    char unread[200]; /* a rim that no station reached, in words, where it is wide; "": none */
    int nnotes;
    char (*notes)[240]; /* what the user should know: ignored bench keys, sigma test, ... */
} fw_result;

typedef struct fw_solve_options {
    fw_model model; /* FW_MODEL_AUTO: as the job says */
    int order;      /* of the surface model; 0: as the job says */
} fw_solve_options;

/*
 * Separates and judges the flats of a job.
 * job      in   borrowed, must outlive the result
 * options  in   NULL: all as the job says
 * result   out  owned by the caller (fw_result_free); NULL on failure
 * Returns FW_OK (also when much is undetermined), FW_INPUT, FW_SYSTEM.
 * Cost: linear in the readings; dense work is bounded by one ring of stations.
 */
fw_status fw_solve(const fw_job *job, const fw_solve_options *options, fw_result **result,
                   fw_error *err);

void fw_result_free(fw_result *result);

/*
 * The figure of one state of a flat at any of its points, with its uncertainty: surface model, the
 * terms; profile model, the smooth figure as it is believed, of which a flat that was read on one
 * diameter has none off it.
 *   face       in   index into result->faces
 *   n          in   number of points
 *   r_mm       in   n: inside the clear aperture (not checked)
 *   theta_rad  in   n: in the flat's own angles; points of one angle together are quicker
 *   height_nm  out  n: on the datum (one plane over the area); NAN where it cannot be told
 *   u_nm       out  n: standard uncertainty; NAN where it cannot be told
 * Returns FW_OK, FW_SYSTEM. Cost: per point and term some ten products, or 400 drawn figures.
 * Test: tests/unit/grid_csv.c.
 */
fw_status fw_face_heights(const fw_result *result, int face, int n, const double *r_mm,
                          const double *theta_rad, double *height_nm, double *u_nm, fw_error *err);

/* "within", "outside", "undecided", "undetermined". */
const char *fw_verdict_name(fw_verdict verdict);

/* "noise", "spread", "bending", "warmth", "view", "undetermined". */
const char *fw_source_name(fw_source source);

#endif
