/* rehearse.h - a measuring plan before any reading: how sure would it be, and is it enough? */
#ifndef FLATWRIGHT_REHEARSE_H
#define FLATWRIGHT_REHEARSE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

#include "job.h"
#include "screen.h"

/* A pairing to be read: bottom, top and turn. */
typedef struct fw_mate {
    int bottom, top; /* indices into flats */
    double turn_deg;
} fw_mate;

/* What to read: every pairing on every diameter at every station where both flats have glass. */
typedef struct fw_scheme {
    int nmates;
    fw_mate *mates; /* the same pairing twice is read twice */
    int ndiameters;
    double *diameters_deg; /* by the bottom's angle */
    int nstations;
    double *stations_mm; /* signed, on every diameter */
    double sigma_nm;     /* standard uncertainty of a reading, > 0 */
    fw_model model;      /* by which they will be solved; FW_MODEL_AUTO: as the job says */
} fw_scheme;

/* What a good and a poor flat are here, in targets, and what is asked of the verdicts on them. */
#define FW_GOOD_PART 0.5
#define FW_POOR_PART 1.5
#define FW_TRIALS 20 /* made-up flats of each kind, for every flat of the set */
#define FW_GOOD_LEAST 18
#define FW_POOR_MOST 1

/* What a scheme would tell of a flat. NAN: not determined. */
typedef struct fw_expected {
    bool determined;                /* every height on every diameter read */
    double mean_u_nm, worst_u_nm;   /* of the heights on the datum inside the clear aperture */
    double pv_u_nm;                 /* of the PV of a good flat: root mean square over the trials */
    int good_within, poor_within;   /* of FW_TRIALS each, judged within */
} fw_expected;

typedef struct fw_rehearsal {
    const fw_job *job; /* borrowed */
    fw_scheme scheme;  /* owned */
    size_t nscans, nreadings;
    fw_model model;        /* profile or surface: the one that readings of the plan are solved by */
    int order;             /* of the surface model; else 0 */
    fw_expected *expected; /* per flat */
    bool enough;
    bool searched; /* the scheme is the search's */
} fw_rehearsal;

/*
 * Rehearses a scheme: the covariance of the heights as fw_solve would state it, which needs no
 * readings, and the verdicts on made-up flats read by it.
 *     enough: every flat is determined, and for every flat of the set at least FW_GOOD_LEAST of
 *     FW_TRIALS made-up flats at FW_GOOD_PART of the target are judged within, and at most
 *     FW_POOR_MOST of FW_TRIALS at FW_POOR_PART of it. The size of a made-up flat is over its whole
 *     face, so a scheme with too few diameters fails on the poor ones.
 * Made-up flats are sums of circle polynomials of the orders 2 to 6, of three families (rough,
 * smooth, zones of revolution); their readings have normal errors of standard deviation sigma.
 * Model: as fw_solve chooses it. Which order surfaces will have only readings can tell, and the
 * uncertainty hangs on it: expected is that of the job's order or, where it has none, of the order
 * 6 that the made-up flats have, less where the plan carries less. Verdicts are those of fw_solve.
 *   job        in   its flats, target, levelling and model; its readings and work are not looked at
 *   scheme     in   copied; mates name flats of the job, angles and positions finite, sigma > 0
 *   rehearsal  out  owned by the caller (fw_rehearsal_free); unchanged on failure
 * Returns FW_OK (also when it is not enough), FW_INPUT (a scheme without readings, a flat on
 * itself), FW_SYSTEM. The same arguments always give the same answer.
 * Cost: 2 FW_TRIALS adjustments and judgements.
 * Source: derived; the verdict is that of JCGM 106.
 * Tests: tests/unit/rehearse.c, tests/unit/rehearse_surface.c.
 */
fw_status fw_rehearse(const fw_job *job, const fw_scheme *scheme, fw_rehearsal **rehearsal,
                      fw_error *err);

/* What a search may not choose: 0 and NULL where it may. */
typedef struct fw_wish {
    double sigma_nm; /* > 0 */
    int ndiameters;
    const double *diameters_deg;
    int nstations;
    const double *stations_mm;
    fw_model model;
    /* Called now and then, when not NULL: how many schemes were tried, and the scans of the next. */
    void (*progress)(void *context, int tried, size_t scans);
    void *context;
} fw_wish;

/* The search goes up to so many scans, diameters, and stations on one. */
#define FW_SCANS_MAX 60
#define FW_DIAMETERS_LEAST 3 /* two cannot show power and astigmatism either way */
#define FW_DIAMETERS_MAX 12
#define FW_STATIONS_MAX 15
#define FW_STATIONS_LEAST 7

/*
 * The smallest scheme that is enough, in the sense of fw_rehearse: fewest scans, of these fewest
 * readings. Tried are fans of FW_DIAMETERS_LEAST to FW_DIAMETERS_MAX diameters and
 * FW_STATIONS_LEAST to FW_STATIONS_MAX stations (odd numbers, evenly over the clear aperture), and for each fan the three pairs (for more flats
 * each further one on the first), then one pairing more after the other, each the one that leaves
 * the least uncertainty (fw_next_pairing; repeats are among them). A fan that is not enough at the
 * most stations is not tried at fewer. Fewer scans of that kind were all tried and are not enough;
 * that no other choice of pairings would do with fewer is not proved.
 *   rehearsal  out  enough is false when no scheme up to FW_SCANS_MAX is: then the best tried
 * Returns as fw_rehearse. Cost: some hundred rehearsals that mostly end early.
 * Test: tests/unit/rehearse.c.
 */
fw_status fw_rehearse_search(const fw_job *job, const fw_wish *wish, fw_rehearsal **rehearsal,
                             fw_error *err);

void fw_rehearsal_free(fw_rehearsal *rehearsal);

/*
 * Lays at most n stations evenly over the widest clear aperture of the set, none in its widest bore:
 * what lies opposite a bore is read in one pair only, and cannot be shared out between its flats.
 * Returns their number. stations_mm: room for n.
 */
int fw_stations(const fw_job *job, int n, double *stations_mm);

/* What fw_practice has done. */
typedef struct fw_practised {
    bool went_on; /* readings were added to those of an earlier call */
    int round;    /* of the readings */
    size_t nreadings;
} fw_practised;

/*
 * Makes up flats and their readings by the rehearsed plan, to practise on: job.ini (of r->job's
 * folder, its title marked), readings.csv in nm with a note `invented` on every row, and truth.csv,
 * the true heights at the stations on the datum of fw_solve, to be looked at afterwards. A model
 * that the scheme asks for goes into job.ini. Each flat's PV (rms, irregularity) over its whole face is drawn between half a target and fifteen.
 * Called again for a job that it has laid, it adds readings of the round the job is in by then, of the
 * flats as they are after the rows of work.csv, and renews truth.csv: so a set can be worked in
 * practice until it is finished. What a stroke takes off is what it computes to, times the rate of a
 * made-up hand, with that hand's own shape (0.15 rms) and a spread from spell to spell (0.05).
 *   seed    in   the same seed, plan and work always give the same readings
 *   folder  in   a new folder, or one without a job in it; NULL or r->job's own: that job, which has
 *                neither readings nor work, or was laid by the same seed for the same set and target
 *   done    out  unchanged on failure; NULL: not wanted
 * Returns FW_OK; FW_INPUT: there is a job, or readings, or the job's files are at fault, or work of
 * which nobody knows what it takes off (grind, other); FW_SYSTEM. On failure the files of a job that
 * was there are as they were, unless the disk failed between two of them. Test: tests/unit/practice.c.
 */
fw_status fw_practice(const fw_rehearsal *r, unsigned long seed, const char *folder,
                      fw_practised *done, fw_error *err);

/* "flatwright-rehearsal/1"; and the screen of `rehearse`. Tests: tests/unit/rehearsal.c. */
void fw_rehearsal_json(FILE *out, const fw_rehearsal *rehearsal);
void fw_rehearsal_text(fw_screen *screen, const fw_rehearsal *rehearsal);

#endif
