/* advice.h - what now: measure, work or stop; where to take glass off, how long, how sure. */
#ifndef FLATWRIGHT_ADVICE_H
#define FLATWRIGHT_ADVICE_H

#include "json.h"
#include "next.h"
#include "result.h"
#include "screen.h"
#include "stroke.h"

/* Methods whose removal is known: FW_LAP_ON_TOP, FW_FLAT_ON_TOP, FW_RING, FW_SIDE. */
#define FW_HABIT_METHODS 4
#define FW_HABIT_MODES 8
#define FW_HABIT_SIZE (FW_HABIT_METHODS * FW_HABIT_MODES)

/*
 * What is known of this person's strokes. A method m that computes to a profile p(r) takes off
 *     (b_m0 + sum_q b_mq T_q(r)) p(r)   nm an hour,
 * b_m0 its rate at unit profile, T_q modes of rms one over the radius and, for a ring or a side,
 * across its zone. The joint distribution of all b is normal.
 */
typedef struct fw_habit {
    double seen[FW_HABIT_SIZE * FW_HABIT_SIZE]; /* information of the removals, (nm/h)^-2 */
    double pull[FW_HABIT_SIZE];                 /* information times value */
    double mean[FW_HABIT_SIZE];                 /* nm/h; method by method */
    double cov[FW_HABIT_SIZE * FW_HABIT_SIZE];  /* (nm/h)^2 */
    int spells[FW_HABIT_METHODS];
    double hours[FW_HABIT_METHODS];
    int untold; /* removals left out: a stroke among them cannot be reckoned */
} fw_habit;

/*
 * What is believed before any evidence: rates of 200 +- 250 nm an hour for full strokes (a disc's
 * own weight at 0.1 m/s takes 1 to 10 nm a minute), three times that for a small lap, which is
 * pressed by hand (assumed); methods of one person alike to 0.35 of that, shapes to 0.18, and 0.08
 * of the removal that no learning takes away: 0.2 in all.
 * Test: tests/unit/learn.c.
 */
void fw_habit_start(fw_habit *habit);

/*
 * Adds a removal between two states; several spells between them are taken together. A removal
 * with a spell of unknown effect (grind, other) or of which nothing is determined says nothing. What
 * a stroke may err without being learned, and that the hand may be steadier than reckoned, counts
 * as an error of the removal.
 *   job      in      the job of the removal
 *   removal  in      its profile, levelled here diameter by diameter
 *   habit    in/out  unchanged on failure; read it after fw_habit_settle
 * Returns FW_OK, FW_SYSTEM (memory). Cost: a profile of every spell at the stations.
 * Test: tests/unit/learn.c.
 */
fw_status fw_habit_add(fw_habit *habit, const fw_job *job, const fw_removal *removal,
                       fw_error *err);

/*
 * mean, cov <- what is believed before and what was seen, weighted by their precisions: the
 * observed profile takes over from the computed one as the evidence grows, without a switch.
 * Source: linear Bayesian update (JCGM 101, from memory). Returns FW_OK, FW_SYSTEM.
 */
fw_status fw_habit_settle(fw_habit *habit, fw_error *err);

/* All removals of a solved job. As the three calls above. */
fw_status fw_habit_learn(const fw_result *result, fw_habit *habit, fw_error *err);

/* Rate at unit profile and its standard uncertainty, nm an hour. */
fw_quantity fw_habit_rate(const fw_habit *habit, fw_method method);

/* Is the rate known to better than half of itself, from removals that were measured? */
bool fw_habit_knows(const fw_habit *habit, fw_method method);

/* Factor of the computed profile at radius r, nm an hour: its modes T (FW_HABIT_MODES). */
void fw_habit_modes(const fw_stroke *stroke, const fw_disc *flat, double r_mm, double *t);

/*
 * The strokes of the menu over a clear aperture, each tabulated when a plan first may use it, so that
 * two threads may not plan by one menu at a time; opaque.
 */
typedef struct fw_menu fw_menu;

/*
 *   flat      in   radii of the flat
 *   clear_mm  in   radius of the clear aperture, not above the flat's
 *   line      in   figures on one diameter: no sides
 *   out       out  owned by the caller (fw_menu_free); untouched on failure
 * Returns FW_OK, FW_SYSTEM. The first plan by it costs up to 40 ms more.
 */
fw_status fw_menu_new(const fw_disc *flat, double clear_mm, bool line, fw_menu **out,
                      fw_error *err);
void fw_menu_free(fw_menu *menu);

/* No more ways of work than a person sets up in a round. */
#define FW_PLAN_ROWS 16

/* What a person should know before starting. */
enum {
    FW_WARN_TRIAL = 1,    /* no rate is known yet: a short trial spell only */
    FW_WARN_NOISE = 2,    /* the departure is not above its uncertainty: do not polish */
    FW_WARN_GOOD = 4,     /* cuts into what is already good, from good_from to good_to */
    FW_WARN_WAVE = 8,     /* over a wave: back to grinding */
    FW_WARN_BORE = 16,    /* the high place is the rim of the bore */
    FW_WARN_EDGE = 32,    /* the high place is the outermost edge */
    FW_WARN_LINE = 64,    /* read on one diameter only */
    FW_WARN_NO_GAIN = 128 /* no stroke of the menu makes it better */
};

/* One stroke of a plan, in the order of what they do. PV before and after this row. */
typedef struct fw_plan_row {
    fw_stroke stroke;
    double hours;
    double pv_before_nm, pv_after_nm, pv_after_u_nm;
} fw_plan_row;

/* What to do to one flat before it is measured again. */
typedef struct fw_plan {
    int flat;
    int nrows;
    fw_plan_row rows[FW_PLAN_ROWS];
    double hours; /* sum of the rows: `fraction` of the computed times */
    int spells;   /* of at most an hour */
    double fraction;
    double pv_before_nm, pv_after_nm, pv_after_u_nm;
    double removed_nm;        /* mean of the glass taken off over the clear aperture */
    double z;                 /* what the plan takes away, over its standard uncertainty */
    bool significant;         /* z above 2: worth polishing */
    double gain_nm_per_h;     /* toward the target, half an hour of setting up counted in */
    double high_mm, high_rad; /* where the figure is highest */
    double good_from_mm, good_to_mm;
    unsigned warnings;
} fw_plan;

/*
 * Times t >= 0 over the menu, piston and tilt free, that minimise the expected square of what is
 * left over the clear aperture,
 *     | h - P t |^2 + sum_j q_j t_j^2 + sum_j (c + g m_j) t_j,
 * h the believed figure, P the believed removal, q_j the mean square, on the datum, of stroke j's own
 * error (rate, shape, and what cannot be learned, each stroke's by itself), c what an hour is worth,
 * m_j the mean removal of an hour and g what a nanometre of glass is worth; then `fraction` of the
 * times. Weights grow where what is left sticks out, and all is chosen again. Hours become dearer
 * until a round takes four at most; strokes with the least effect are left out until there are no
 * more than FW_PLAN_ROWS. What runs up to a quarter over whole hours is cut to them: no spell for
 * a few minutes.
 *   result    in   a solved job
 *   flat      in   whose present figure is determined
 *   habit     in   from fw_habit_learn
 *   menu    in/out made for this flat (and line if it was read on one diameter)
 *   fraction  in   0 < fraction <= 1; the plan's own is smaller where hours were cut
 *   plan      out  unchanged on failure
 * Returns FW_OK; FW_INPUT as fw_stroke_at, and when the flat's figure is not determined or has no
 * uncertainty; FW_SYSTEM.
 * Strokes finer than the stations or diameters would show are left out; places that would stick out
 * weigh more, since PV is decided there. Source: Lawson & Hanson (1974), ch. 23, for t >= 0.
 * Test: tests/unit/plan.c, tests/slow/months.c.
 */
fw_status fw_plan_flat(const fw_result *result, int flat, const fw_habit *habit,
                       fw_menu *menu, double fraction, fw_plan *plan, fw_error *err);

typedef enum fw_decision { FW_DECIDE_MEASURE, FW_DECIDE_WORK, FW_DECIDE_STOP } fw_decision;

/* Why, beside the decision. */
typedef enum fw_reason {
    FW_REASON_NO_READINGS,
    FW_REASON_UNREAD,       /* a flat was not read since it was worked */
    FW_REASON_UNDETERMINED, /* the readings do not carry a flat's figure */
    FW_REASON_NO_SIGMA,     /* no uncertainty can be told */
    FW_REASON_NOISE,        /* departures not above their uncertainty, and not all within */
    FW_REASON_NO_GAIN,      /* a departure is, but no stroke of the menu makes it better */
    FW_REASON_DEPARTS,      /* significant departures */
    FW_REASON_WITHIN        /* all within with confidence */
} fw_reason;

typedef struct fw_advice {
    const fw_result *result; /* borrowed */
    fw_decision decision;
    fw_reason reason;
    int flat; /* whom the reason is about; -1: all */
    int nplans;
    fw_plan *plans; /* significant ones, best first */
    int nidle;
    fw_plan *idle; /* of flats not within that are not worth polishing */
    fw_habit habit;
    fw_next *next;                  /* ranked pairings; NULL: not asked for */
    double wait_both_s, wait_one_s; /* before measuring, air at both faces or one; NAN: not known */
} fw_advice;

typedef struct fw_advise_options {
    double fraction;       /* 0: 0.6 */
    bool unranked;         /* leave the pairings out: next is NULL */
    const fw_habit *habit; /* NULL: learned from the job's own removals */
    fw_menu *menu;         /* NULL: made here; else it must fit every flat of the set */
} fw_advise_options;

/*
 * The decision:
 *   stop     every flat is within with the job's confidence;
 *   measure  a flat was not read, or its figure is not determined, or none departs significantly;
 *   work     else: flats that depart significantly, by gain per hour. A plan is chosen to fit, so
 *            its pattern must stand above three times its uncertainty here.
 *   result   in   borrowed by the advice
 *   options  in   NULL: as said there
 *   advice   out  owned by the caller (fw_advice_free); NULL on failure
 * Returns FW_OK, FW_INPUT, FW_SYSTEM. Test: tests/unit/decide.c, tests/slow/months.c.
 */
fw_status fw_advise(const fw_result *result, const fw_advise_options *options, fw_advice **advice,
                    fw_error *err);
void fw_advice_free(fw_advice *advice);

/* "measure", "work", "stop". */
const char *fw_decision_name(fw_decision decision);

/* There and back, as people count them; only to turn minutes into strokes. */
#define FW_STROKES_A_MINUTE 40.0

/* The hour on a clock face whose twelve is the mark, looking at the polished face: 1 to 12. */
int fw_clock_of(double angle_deg);

/* The decision in one sentence, added to the screen's paragraph. Test: tests/unit/advice.c. */
void fw_advice_sentence(fw_screen *screen, const fw_advice *advice);

/* The screen of `next`. Test: tests/unit/advice.c. */
void fw_advice_text(fw_screen *screen, const fw_advice *advice);

/*
 * The work as rows of work.csv, to be put there once it was done: `#` and the columns, then a row a
 * stroke, hours as planned, flats best first, strokes as on the screen. A stroke that no row can
 * name is a comment; a flat that is over a wave has no rows. Columns sweep and lap_mm only where a stroke has one. Test: tests/unit/worked.c.
 */
void fw_advice_rows(FILE *out, const fw_advice *advice);

/* "flatwright-advice/1"; a flat that is over a wave has one row, of method grind. Test: tests/unit/advice.c. */
void fw_advice_json(FILE *out, const fw_advice *advice);

/* The one screen of `flatwright JOB`, its last line the advice's sentence. */
void fw_summary_advised(fw_screen *screen, const fw_result *result, const fw_advice *advice);

#endif
