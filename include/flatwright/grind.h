/* grind.h - advice while grinding: powers from the spherometer, which two next, which on top. */
#ifndef FLATWRIGHT_GRIND_H
#define FLATWRIGHT_GRIND_H

#include <stdbool.h>
#include <stddef.h>

#include "job.h"
#include "json.h"
#include "result.h"
#include "screen.h"

/* A flat is true enough to polish when the power over its clear aperture is within this. */
#define FW_GRIND_TRUE_NM 1000.0

#define FW_GRIND_TEXT 512

typedef enum fw_grind_decision {
    FW_GRIND_READ,   /* a flat has no sag since it was last worked, or no sigma is known */
    FW_GRIND_REPEAT, /* no departure is significant, yet not all are true with confidence */
    FW_GRIND_WORK,   /* grind the first of `pairings` */
    FW_GRIND_POLISH  /* all are true to a micrometre with the job's confidence */
} fw_grind_decision;

/* The power of one state of one flat, from all sags read of it. */
typedef struct fw_grind_power {
    int flat, state;
    int first_round, last_round; /* of its sags */
    size_t nsags;
    fw_quantity power;       /* sagitta over the clear aperture, + convex; u NAN: not known */
    double dof;              /* of u; INFINITY where sigma was given */
    double probability_true; /* that |power| <= FW_GRIND_TRUE_NM; NAN: u not known */
    fw_verdict verdict;      /* of that at the job's confidence */
} fw_grind_power;

/* Two flats ground together. */
typedef struct fw_grind_pairing {
    int bottom, top;
    double top_less_nm;    /* power the top is to lose; negative: it is to gain */
    double bottom_more_nm; /* power the bottom is to gain; negative: it is to lose */
    double gain_nm;        /* squares of the significant powers over the larger power */
} fw_grind_pairing;

/* One step of the sequence that turns a twist out. */
typedef struct fw_grind_step {
    int bottom, top;
    double turn_deg; /* from the bottom's mark to the top's, counter-clockwise from above */
} fw_grind_step;

typedef struct fw_grind {
    const fw_job *job; /* borrowed */
    int round;         /* the last round of readings, sags, or the one after the last work */
    bool due;          /* the sags are later than every fringe reading: the set is being ground */
    fw_grind_decision decision;
    int npowers;
    fw_grind_power *powers; /* every state read, by flat then state */
    int *today;             /* nflats entries: index in powers of today's state; -1: not read */
    int npairings;
    fw_grind_pairing *pairings; /* best first; empty unless the decision is WORK */
    int nsteps;
    fw_grind_step *steps; /* all pairs at each of 0, 90, 45, 135 degrees */
    int mated[2];         /* the two flats last ground together and read since; -1, -1: not known */
    fw_quantity zero;     /* the spherometer's zero error that they show, as power; NAN: none */
} fw_grind;

/*
 * What the sags of a job say.
 *
 * Power of a state: the mean of its sags, each turned into power by fw_sag_sphere, weighted by
 * 1 / u^2. Where no row of the job gives sigma_um, one sigma of a sag is estimated from repeats of
 * the same flat, state and ring (pooled, Student's t after); rows without sigma in a job where
 * others have it take that estimate, too. True: P(|power| <= 1 um) at the job's confidence
 * (JCGM 106).
 *
 * Which two: two plates wear until they mate, which takes (P_i + P_j) / 2 off both; the stroke
 * meanwhile wears the upper one hollow and the lower one toward a hump, t from the upper to the
 * lower:
 *     P_top -> (P_top - P_bottom) / 2 - t,   P_bottom -> -(P_top - P_bottom) / 2 + t.
 * So the more convex one goes on top and both can come to 0 at once, whatever their signs; the
 * work this takes goes with the larger |P|, and the pairs are ranked by
 *     gain = (S_i + S_j) / max(|P_i|, |P_j|),   S = max(P^2 - u^2, 0).
 * Where pairs are equal, the one that is nearer to mating already is first. Without a known
 * uncertainty every departure counts as it stands.
 *
 * Twist: with the marks always at one turn, three plates can share a pattern c sin(k theta) that
 * mates with itself in every pair; at turn phi the misfit is 2 |sin(k phi / 2)| c. A spherometer on
 * three feet reads nothing of c r^2 sin(2 theta). The steps take every pair to 0, 90, 45 and 135
 * degrees, each flat on top as often as below in a set of three. Plates that mate after each step
 * keep of a common pattern of one unit: k = 2: 0.11, 3: 0.41, 4: 0.19 (three plates).
 *
 *   job  in   must outlive the advice
 *   out  out  owned by the caller (fw_grind_free); untouched on failure
 * Returns FW_OK (also for a job without sags: decision READ), FW_INPUT when a sag cannot be a
 * sphere over the clear aperture (with file and line), FW_SYSTEM.
 * Cost: sags x states, and the square of the number of flats.
 * Source: three plates, common practice; formulas derived. Test: tests/unit/grind.c.
 */
fw_status fw_grind_new(const fw_job *job, fw_grind **out, fw_error *err);

void fw_grind_free(fw_grind *grind);

/*
 * How much of a pattern sin(k theta) common to both plates a turn shows: |sin(k phi / 2)|, 0 .. 1.
 * Source: Evans & Kestner, Appl. Opt. 35, 1015 (1996), abstract, for the orders a turn is blind to.
 */
double fw_grind_shown(int order, double turn_deg);

/*
 * The decision in one sentence, plain text (names made harmless): "grind A on top of C: ...".
 * text  out  begins small, ends without a full stop
 */
void fw_grind_sentence(const fw_grind *grind, char text[FW_GRIND_TEXT]);

/* "read", "repeat", "grind", "polish". */
const char *fw_grind_decision_name(fw_grind_decision decision);

/*
 * The screen: decision, powers, why, the twist and its cure, cautions; the powers only where the
 * advice is not due. Test: tests/unit/track_text.c.
 */
void fw_grind_text(fw_screen *screen, const fw_grind *grind);

/* The same as a JSON object under `key` (NULL: at the top). Test: tests/unit/track_json.c. */
void fw_grind_json(fw_json *json, const char *key, const fw_grind *grind);

#endif
