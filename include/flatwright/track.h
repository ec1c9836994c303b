/* track.h - am I getting there: rounds, removal, hours, time to go, going round in circles. */
#ifndef FLATWRIGHT_TRACK_H
#define FLATWRIGHT_TRACK_H

#include <stdbool.h>
#include <stdio.h>

#include "grind.h"
#include "result.h"
#include "screen.h"

/* A spell, with what it took off. */
typedef struct fw_track_spell {
    size_t work;        /* index into job->work */
    int removal;        /* index into result->removals; -1: not read before and after */
    int together;       /* spells that this removal sums up; 0 without one */
    fw_quantity rms;    /* of the figure removed, by all of them together; NAN: not known */
    fw_quantity rate;   /* rms over their hours, nm/h; NAN: not known */
} fw_track_spell;

/* Hours with their limits; NAN: cannot be told. */
typedef struct fw_track_hours {
    double hours, low, high; /* low to high: nine in ten */
} fw_track_hours;

/* Where one flat stands. */
typedef struct fw_track_flat {
    double polished_h, ground_h; /* hours so far; polished: since it was last ground */
    int nread;             /* states read since then whose figure is known */
    double fall_per_h;     /* b of ln(figure) = a - b hours; NAN: not known */
    double u_fall;
    bool own;              /* the flat itself has shown a fall or rise, b is not only the others' */
    fw_track_hours to_go;
} fw_track_flat;

/* What could break the circle, as bits; set only where the numbers point to it. */
enum {
    FW_BREAK_MEASURE = 1, /* the uncertainty hides what a spell gains, or even the worst flat's verdict */
    FW_BREAK_LESS = 2,    /* spells take off more than there was to mend: shorter ones */
    FW_BREAK_MORE = 4,    /* spells take off next to nothing: longer ones */
    FW_BREAK_METHOD = 8,  /* one method all the time */
    FW_BREAK_SIDE = 16,   /* not of revolution: strokes that go round cannot mend it */
    FW_BREAK_FLAT = 32    /* the worst flat was left alone */
};

/* Did the set gain over its last two rounds of polishing? */
typedef struct fw_track_circle {
    bool known; /* two rounds of polishing with figures known before and after */
    bool round; /* going round: no significant gain, and not all within */
    int from_round, to_round;
    fw_quantity gain; /* of the root mean square of the flats' figures; u as if independent */
    unsigned breaks;
} fw_track_circle;

typedef struct fw_track {
    const fw_result *result; /* borrowed */
    int nrounds;
    int *rounds; /* those with readings or work, and the present one; ascending */
    int *faces;  /* nflats x nrounds: index in result->faces of the state then; -1: never read */
    size_t nspells;
    fw_track_spell *spells; /* by round, then as in work.csv */
    fw_track_flat *flats;
    fw_track_circle circle;
    double usual_h, fast_h; /* polishing out the largest flat, by common practice */
    double own_h;           /* what the set's own first flat took until it could be read; NAN */
    int own_flat;           /* that flat; -1: none */
    fw_grind *grind;        /* NULL: no sags */
} fw_track;

/*
 * Looks back over a solved job.
 *
 * Time to go: the quantity y that the job judges falls, state by state, as
 *     ln y_j = a - b x_j,   x_j: hours of polishing since the last grinding,
 * by least squares with weights 1 / ((u_j / y_j)^2 + 0.25^2): a spell repeats to about a quarter
 * (assumed; it counts as four observations of the scatter, so that the set's own scatter takes
 * over, and Student's t has n + 2 degrees of freedom). The goal is the target less the
 * uncertainty at the job's confidence, at least half the target. The interval is Fieller's: the
 * hours h with |a - b (x + h) - ln goal| <= t s(h). Its upper end is NAN where the fall is not
 * significant; all is NAN where nothing falls. A flat with fewer than two states read takes the
 * mean fall of the others, known to no better than a quarter; with two, its own and theirs weighted
 * by their variances; from three on its own. Within: 0, 0, 0.
 *
 * Circle: root mean square of y over the flats known at both ends, before the last but one round of
 * polishing and after the last; no gain above 1.645 u is going round.
 *
 * Polishing out: two hours per inch of diameter, a sixth of it with a fast compound (common
 * practice).
 *
 *   result  in   must outlive the track
 *   out     out  owned by the caller (fw_track_free); untouched on failure
 * Returns FW_OK, FW_INPUT (a sag that is no sphere), FW_SYSTEM.
 * Cost: rounds x flats x states. Source: Fieller, J. R. Stat. Soc. B 16, 175 (1954), from memory.
 * Test: tests/unit/track.c, to_go.c, circle.c.
 */
fw_status fw_track_new(const fw_result *result, fw_track **out, fw_error *err);

void fw_track_free(fw_track *track);

/* The quantity of a figure that the job's measure judges. */
fw_quantity fw_track_judged(const fw_job *job, const fw_figure *figure);

/* The screen of `track`. Test: tests/unit/track_text.c. */
void fw_track_text(fw_screen *screen, const fw_track *track);

/* "flatwright-track/1". Test: tests/unit/track_json.c. */
void fw_track_json(FILE *out, const fw_track *track);

#endif
