/* next.h - which pairing to read next, which readings are stale, and whether it is enough. */
#ifndef FLATWRIGHT_NEXT_H
#define FLATWRIGHT_NEXT_H

#include <stdbool.h>
#include <stddef.h>

#include "result.h"
#include "slips.h"

/* Uncertainty aimed at: the target over this. */
#define FW_ENOUGH_PART 3.0
/* A pairing repeated more often than this counts as 'no number of repeats will'. */
#define FW_REPEATS_MAX 1000

/*
 * A flat's uncertainty here is the root of the mean over its stations of the variance of the height
 * on the datum, all of them on the prior: a station or flat that was never read has prior_nm. On the
 * heights that are determined it agrees with u_nm of fw_point as the prior grows.
 */
typedef struct fw_candidate {
    int bottom, top; /* indices into flats */
    double turn_deg; /* in [0, 360) */
    bool
        either_way; /* the same readings with bottom and top exchanged at the same turn: shown once */
    double score_before_nm2, score_after_nm2; /* mean variance over all flats' stations */
    int worst_flat; /* the flat with the largest uncertainty now; the same in every candidate */
    double worst_u_before_nm, worst_u_after_nm; /* that flat's */
    double *u_after_nm;                         /* nflats: of every flat after it */
} fw_candidate;

/* A pairing that was read: all scans of one round, bottom, top and turn. */
typedef struct fw_pairing {
    int round, bottom, top;
    double turn_deg;                  /* as typed */
    bool bottom_changed, top_changed; /* worked since: stale when one is */
    size_t nscans;
} fw_pairing;

typedef struct fw_repeat {
    int candidate; /* index into candidates */
    int times;
} fw_repeat;

typedef struct fw_enough {
    double limit_nm;    /* flatness / FW_ENOUGH_PART */
    bool already;       /* every flat's uncertainty is at or below it */
    bool possible;      /* it is, or some number of repeats brings it there; not when bench_limits */
    int nrepeats;       /* 0 when already or not possible */
    fw_repeat *repeats; /* enough together; no proof that fewer would not do */
    double *u_nm;       /* nflats: when possible, after these repeats (already: now) */
    double *floor_nm; /* nflats: what stays when pairing after pairing is read FW_REPEATS_MAX times;
                           what no candidate shows stays near prior_nm. NAN when that was not needed */
} fw_enough;

typedef enum fw_sigma_source {
    FW_SIGMA_GIVEN,     /* the user's, enlarged by the Birge ratio where the test fails */
    FW_SIGMA_ESTIMATED, /* from the residuals */
    FW_SIGMA_UNKNOWN /* neither: 1 nm was put in its place, so only the ranking means something */
} fw_sigma_source;

typedef struct fw_next {
    const fw_result *result; /* borrowed */
    double prior_nm;
    fw_sigma_source sigma_source;
    double sigma_nm; /* of a candidate's readings: the median of those before */
    int ndiameters;
    double *diameters_deg; /* ascending, in [0, 180): read by every candidate */
    int nstations;
    double *stations_mm; /* ascending: on every diameter, where both flats have glass */

    double score_nm2; /* now */
    double *u_nm;     /* nflats: now */
    int worst_flat;
    int ncandidates;          /* 0 when nothing was read yet: no diameters are known */
    fw_candidate *candidates; /* best first; ties by bottom, top, turn as listed */

    int nstale, ngood;
    fw_pairing *stale, *good; /* by round, in the order of the file */

    size_t nslips;
    fw_slip *slips; /* scans that look mistyped: the ranking takes them at their word */

    fw_enough enough;

    /* The bench: counted in `enough`, not in the scores, which no pairing changes. */
    double *bench_nm;  /* nflats: what it makes uncertain of the heights, rms over the stations */
    bool bench_limits; /* that alone is above enough.limit_nm for a flat: no repeats will do */
    int exchange;      /* index into good: bending is what limits a flat of this pairing most, and it
                          has not been read with bottom and top exchanged; -1: none such */
} fw_next;

/*
 * Ranks every pairing by what it would add to the knowledge of today's surfaces. With x the heights
 * (prior: independent, mean 0, standard deviation prior_nm), t the free pistons and tilts of the
 * scans, y = H x + T t + e the readings of the job and the candidate's added to them, Q the
 * covariance of x and P_f the projector of a flat's stations off its datum,
 *     score = sum over flats f of tr(P_f Q) / number of stations of all flats,
 *     u_f^2 = tr(P_f Q) / number of stations of f.
 * Stations of a flat: where its present state was read, inside the clear aperture and outside the
 * bore; and those of a candidate's scan on every diameter of the job that was never read on it.
 * Candidates: every ordered pair at every turn of job->turns_deg (none: multiples of the gap between
 * the job's diameters; where they are not even, at most 90 turns that lay most of them on lines that
 * are read), one scan on each diameter of the job, each with the stations of the densest scan so far
 * that lie on both flats (and their mirror images that another scan has: a lost reading is made good),
 * sigma the median so far. (b, t, phi) and (t, b, phi)
 * are the same readings when the fan is closed under theta -> phi - theta, for b's point (r, theta)
 * meets t's point (r, phi - theta) both times; then they are one candidate.
 * result  in   of fw_solve, borrowed, must outlive next; its equations are used, not changed in meaning
 * next    out  owned by the caller (fw_next_free); unchanged on failure
 * Returns FW_OK, FW_SYSTEM.
 * Ratios prior / sigma above 1e5 are taken as 1e5.
 * Cost: linear in the stations; per candidate a few products of matrices of about flats * diameters
 * rows for each kind of ring (rings read alike are one kind).
 * Source: A-optimality, Pukelsheim, Optimal Design of Experiments, ch. 6 (from memory); the update is
 * that of Sherman, Morrison and Woodbury. Tests: tests/unit/next.c, tests/unit/enough.c,
 * tests/unit/next_surface.c, tests/unit/next_surface_sets.c, tests/reference/design.c.
 */
fw_status fw_next_pairing(const fw_result *result, fw_next **next, fw_error *err);

void fw_next_free(fw_next *next);

#endif
