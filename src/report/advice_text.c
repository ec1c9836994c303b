/* advice_text.c - what now, in words: the decision, why, what to measure, where to take glass off. */
#include <math.h>
#include <string.h>

#include "flatwright/advice.h"
#include "flatwright/mating.h"
#include "report/words.h"

#define MOST_PAIRINGS 5
/* In simulated months of work the plans were close above this PV and too hopeful below it. */
#define TOO_HOPEFUL_NM 20.0
#define DEGREE 57.295779513082320877

static const char *const doing[] = {[FW_LAP_ON_TOP] = "face up, full lap on top",
                                    [FW_FLAT_ON_TOP] = "face down on the full lap",
                                    [FW_RING] = "face up, small lap in a ring",
                                    [FW_SIDE] = "face up, small lap at one side"};

static void put_name(fw_screen *screen, const fw_advice *advice, int flat)
{
    fw_screen_text(screen, advice->result->job->flats[flat].name);
}

/* "3.4 minutes (about 136 strokes)"; from two hours on in hours. */
static void put_time(fw_screen *screen, double hours)
{
    double strokes = 60 * hours * FW_STROKES_A_MINUTE;
    double unit = strokes < 100 ? 1 : strokes < 1000 ? 10 : 100;
    if (hours < 1.0 / 6)
        fw_screen_put(screen, "%.1f" FW_BLANK "minutes", 60 * hours);
    else if (hours < 2)
        fw_screen_put(screen, "%.0f" FW_BLANK "minutes", 60 * hours);
    else
        fw_screen_put(screen, "%.1f" FW_BLANK "hours", hours);
    fw_screen_put(screen, " (about" FW_BLANK "%.0f strokes)", unit * round(strokes / unit));
}

static void put_turn(fw_screen *screen, double turn_deg)
{
    if (turn_deg == 0)
        fw_screen_put(screen, ", marks together");
    else
        fw_screen_put(screen, ", turned %g" FW_BLANK "deg", turn_deg);
}

static void put_pairing(fw_screen *screen, const fw_advice *advice, const fw_candidate *c)
{
    put_name(screen, advice, c->top);
    fw_screen_put(screen, " on ");
    put_name(screen, advice, c->bottom);
    put_turn(screen, c->turn_deg);
}

static bool ranked(const fw_advice *advice)
{
    return advice->next && advice->next->ncandidates > 0;
}

/* Where the first stroke of a plan goes. */
static void put_zone(fw_screen *screen, const fw_stroke *s)
{
    if (s->method == FW_LAP_ON_TOP || s->method == FW_FLAT_ON_TOP)
        fw_screen_put(screen, "%s, strokes of %.2g" FW_BLANK "diameters", doing[s->method],
                      s->length);
    else
        fw_screen_put(screen, "%s, from %g to %g" FW_BLANK "mm", doing[s->method], s->inner_mm,
                      s->outer_mm);
    if (s->method == FW_SIDE)
        fw_screen_put(screen, ", at %g" FW_BLANK "deg from the mark (%d" FW_BLANK "o'clock)",
                      s->side_deg, fw_clock_of(s->side_deg));
}

static void say_measure(fw_screen *screen, const fw_advice *advice)
{
    switch (advice->reason) {
    case FW_REASON_NO_READINGS:
        fw_screen_put(screen, "read every flat with every other, and write readings.csv.");
        return;
    case FW_REASON_NO_SIGMA:
        fw_screen_put(screen, "measure: give sigma in job.ini or repeat a scan, for no uncertainty "
                              "can be told yet.");
        return;
    case FW_REASON_NOISE:
        fw_screen_put(screen, "measure, do not polish");
        break;
    default:
        fw_screen_put(screen, "measure");
    }
    if (ranked(advice)) {
        fw_screen_put(screen, ": ");
        put_pairing(screen, advice, &advice->next->candidates[0]);
    } else if (advice->flat >= 0) {
        fw_screen_put(screen, " ");
        put_name(screen, advice, advice->flat);
        fw_screen_put(screen, " with the others");
    }
    fw_screen_put(screen, ".");
}

void fw_advice_sentence(fw_screen *screen, const fw_advice *advice)
{
    if (advice->result->nsuspects > 0 && advice->decision != FW_DECIDE_STOP)
        fw_screen_put(screen, "look the suspect up in the notebook first; then ");
    if (advice->decision == FW_DECIDE_STOP)
        fw_screen_put(screen, "stop: every flat is within.");
    else if (advice->decision == FW_DECIDE_MEASURE)
        say_measure(screen, advice);
    else {
        const fw_plan *plan = &advice->plans[0];
        fw_screen_put(screen, "work on ");
        put_name(screen, advice, plan->flat);
        fw_screen_put(screen, plan->warnings & FW_WARN_TRIAL ? ", a short trial: " : ": ");
        put_zone(screen, &plan->rows[0].stroke);
        fw_screen_put(screen, ", ");
        put_time(screen, plan->rows[0].hours);
        if (plan->nrows > 1)
            fw_screen_put(screen, ", and %d more", plan->nrows - 1);
        fw_screen_put(screen, "; let it cool, measure again.");
    }
}

static void say_why(fw_screen *screen, const fw_advice *advice)
{
    fw_screen_begin(screen, 0, 2);
    fw_screen_put(screen, FW_BOLD "Why:" FW_PLAIN " ");
    if (advice->flat >= 0)
        put_name(screen, advice, advice->flat);
    switch (advice->reason) {
    case FW_REASON_NO_READINGS:
        fw_screen_put(screen, "nothing is known yet.");
        break;
    case FW_REASON_UNREAD:
        fw_screen_put(screen, " has no readings of its present surface.");
        break;
    case FW_REASON_UNDETERMINED:
        fw_screen_put(screen, " by itself is not carried by the readings: a pair shows the sum of "
                              "two surfaces. Work now could be done to the wrong flat.");
        break;
    case FW_REASON_NO_SIGMA:
        fw_screen_put(screen, " departs, and nobody can say by how much more than its noise.");
        break;
    case FW_REASON_NOISE:
        fw_screen_put(screen, " is undecided, and no departure is above its uncertainty: polishing "
                              "would polish noise.");
        break;
    case FW_REASON_DEPARTS:
        fw_screen_put(screen,
                      " departs significantly, and working it gains most toward the target "
                      "per hour: %.2g" FW_BLANK "nm an hour, half an hour of setting up "
                      "counted in.",
                      advice->plans[0].gain_nm_per_h);
        break;
    case FW_REASON_WITHIN:
        fw_screen_put(screen, "each flat is within the target with the confidence asked for.");
    }
    fw_screen_end(screen);
}

/* What stands in the way is the bench: where to look, and the pairing that shows the bending. */
static void say_bench(fw_screen *screen, const fw_next *next)
{
    const fw_job *job = next->result->job;
    if (next->bench_limits)
        fw_screen_say(screen, 2, 4, "The bench stands in the way, not the readings: `flatwright solve "
                                    "--budget` says what of it, and what to do.");
    if (next->exchange < 0)
        return;
    const fw_pairing *p = &next->good[next->exchange];
    fw_screen_begin(screen, 2, 4);
    fw_screen_put(screen, "Bending limits most: read ");
    fw_screen_text(screen, job->flats[p->top].name);
    fw_screen_put(screen, " below and ");
    fw_screen_text(screen, job->flats[p->bottom].name);
    fw_screen_put(screen, " on it, exchanged from what was read, at turn %g" FW_BLANK "deg%s.",
                  p->turn_deg, job->bending == FW_BENDING_SOLVE ? ""
                                                                : ", and set bending to solve");
    fw_screen_end(screen);
}

/* How many repeats of what, or that no number of them will do. */
static void say_enough(fw_screen *screen, const fw_advice *advice)
{
    const fw_enough *e = &advice->next->enough;
    char text[WORDS_SIZE];
    if (advice->next->sigma_source == FW_SIGMA_UNKNOWN)
        return;
    fw_screen_begin(screen, 2, 4);
    words_nm(e->limit_nm, false, text);
    if (e->already)
        fw_screen_put(
            screen,
            "Enough is read: every flat's heights are known to %s, a third of the target, "
            "or better.",
            text);
    else if (!e->possible)
        fw_screen_put(
            screen,
            "No number of repeats brings every flat's heights to %s, a third of the target.", text);
    else {
        fw_screen_put(screen, "For every flat's heights to %s, a third of the target, read:", text);
        for (int i = 0; i < e->nrepeats; i++) {
            fw_screen_put(screen, "%s ", i ? ";" : "");
            put_pairing(screen, advice, &advice->next->candidates[e->repeats[i].candidate]);
            if (e->repeats[i].times > 1)
                fw_screen_put(screen, ", %d times", e->repeats[i].times);
        }
        fw_screen_put(screen, ".");
    }
    fw_screen_end(screen);
    say_bench(screen, advice->next);
}

static void say_pairings(fw_screen *screen, const fw_advice *advice)
{
    char before[WORDS_SIZE], after[WORDS_SIZE];
    if (!ranked(advice))
        return;
    const fw_next *next = advice->next;
    fw_screen_line(screen, "");
    fw_screen_say(screen, 0, 2, FW_BOLD "To measure," FW_PLAIN " best first, along %d diameter%s:",
                  next->ndiameters, next->ndiameters == 1 ? "" : "s");
    for (int i = 0; i < next->ncandidates && i < MOST_PAIRINGS; i++) {
        const fw_candidate *c = &next->candidates[i];
        fw_screen_begin(screen, 2, 4);
        fw_screen_put(screen, "%d. ", i + 1);
        put_pairing(screen, advice, c);
        fw_screen_put(screen, ": uncertainty of ");
        put_name(screen, advice, c->worst_flat);
        fw_screen_put(screen, " from %s to %s.", words_nm(c->worst_u_before_nm, false, before),
                      words_nm(c->worst_u_after_nm, false, after));
        fw_screen_end(screen);
    }
    say_enough(screen, advice);
    for (int i = 0; i < next->nstale; i++) {
        const fw_pairing *p = &next->stale[i];
        fw_screen_begin(screen, 2, 4);
        fw_screen_put(screen, "Stale: ");
        put_name(screen, advice, p->top);
        fw_screen_put(screen, " on ");
        put_name(screen, advice, p->bottom);
        put_turn(screen, p->turn_deg);
        fw_screen_put(screen, ", round %d: speaks of a surface that is gone.", p->round);
        fw_screen_end(screen);
    }
}

static void say_warnings(fw_screen *screen, const fw_plan *plan)
{
    static const struct {
        unsigned bit;
        const char *text;
    } notes[] = {
        {FW_WARN_TRIAL, "No rate is known for this stroke yet: a short trial only, from whose "
                        "removal the rate is learned. It is not meant to bring the flat home."},
        {FW_WARN_WAVE, "It departs by over a wave: back to the grinder is quicker."},
        {FW_WARN_BORE, "The high place is the rim of the bore: it may have risen when the middle "
                       "was cut. Look at it as a zone of its own, with a small lap."},
        {FW_WARN_EDGE,
         "The high place is the outermost edge. The last twentieth of the radius turns "
         "down in practice, which no reckoning here shows: stop early."},
        {FW_WARN_LINE, "It was read on one diameter only: what differs from side to side is not "
                       "seen."}};
    for (size_t i = 0; i < sizeof notes / sizeof notes[0]; i++)
        if (plan->warnings & notes[i].bit)
            fw_screen_say(screen, 4, 4, "%s", notes[i].text);
    if (!(plan->warnings & FW_WARN_TRIAL) && plan->pv_after_nm < TOO_HOPEFUL_NM)
        fw_screen_say(screen, 4, 4,
                      "Below some %.0f" FW_BLANK "nm such a reckoning has proved too hopeful on "
                      "simulated sets: work, measure, and go again.",
                      TOO_HOPEFUL_NM);
    if (plan->warnings & FW_WARN_GOOD)
        fw_screen_say(screen, 4, 4,
                      "It cuts into what is already good between %.0f and" FW_BLANK "%.0f" FW_BLANK
                      "mm: watch that zone.",
                      plan->good_from_mm, plan->good_to_mm);
}

static void say_plan(fw_screen *screen, const fw_advice *advice, int i)
{
    const fw_plan *plan = &advice->plans[i];
    const fw_flat *flat = &advice->result->job->flats[plan->flat];
    char text[WORDS_SIZE], other[WORDS_SIZE];
    double high = fmod(plan->high_rad * DEGREE + 360, 360);
    fw_screen_begin(screen, 2, 4);
    fw_screen_put(screen, "%d. ", i + 1);
    put_name(screen, advice, plan->flat);
    fw_screen_put(
        screen,
        ": PV %s, highest %.0f" FW_BLANK "mm out at %.0f" FW_BLANK "deg (%d" FW_BLANK
        "o'clock); after this %s. ",
        words_nm(plan->pv_before_nm, false, text), plan->high_mm, high, fw_clock_of(high),
        words_quantity((fw_quantity){plan->pv_after_nm, plan->pv_after_u_nm}, false, other));
    put_time(screen, plan->hours);
    fw_screen_put(screen, " in all, %.0f" FW_BLANK "%% of what was reckoned", 100 * plan->fraction);
    if (plan->spells > 1)
        fw_screen_put(screen,
                      ", in %d spells of an hour at most with the lap's channels opened "
                      "between",
                      plan->spells);
    fw_screen_put(screen, ".");
    fw_screen_end(screen);
    for (int r = 0; r < plan->nrows; r++) {
        const fw_stroke *s = &plan->rows[r].stroke;
        fw_disc disc = {flat->diameter_mm / 2, flat->bore_mm / 2};
        fw_travel travel;
        fw_screen_begin(screen, 4, 6);
        fw_screen_put(screen, "- ");
        put_zone(screen, s);
        if ((s->method == FW_RING || s->method == FW_SIDE) &&
            fw_stroke_travel(s, &disc, &travel, NULL) == FW_OK)
            fw_screen_put(screen, ", lap of %.0f" FW_BLANK "mm radius", travel.lap_mm);
        fw_screen_put(screen, ": ");
        put_time(screen, plan->rows[r].hours);
        fw_screen_put(screen, ".");
        fw_screen_end(screen);
    }
    say_warnings(screen, plan);
}

/* After work: how long before the glass tells the truth again. */
static void say_wait(fw_screen *screen, const fw_advice *advice)
{
    if (isnan(advice->wait_both_s)) {
        fw_screen_say(screen, 2, 4,
                      "Wait before measuring: glass and thickness in job.ini would "
                      "tell how long; worked glass is warm through its thickness, and bent.");
        return;
    }
    fw_screen_say(screen, 2, 4,
                  "Wait before measuring: %.0f" FW_BLANK "minutes with air at both "
                  "faces, %.0f with the back lying on something (taken: 1" FW_BLANK "K warmer in "
                  "front, 2" FW_BLANK "K above the room).",
                  ceil(advice->wait_both_s / 300) * 5, ceil(advice->wait_one_s / 300) * 5);
}

static void say_work(fw_screen *screen, const fw_advice *advice)
{
    if (advice->nplans > 0) {
        fw_screen_line(screen, "");
        fw_screen_say(screen, 0, 2, FW_BOLD "To work," FW_PLAIN " best first:");
    }
    for (int i = 0; i < advice->nplans; i++)
        say_plan(screen, advice, i);
    for (int i = 0; i < advice->nidle; i++) {
        const fw_plan *plan = &advice->idle[i];
        fw_screen_begin(screen, 2, 4);
        fw_screen_put(screen, "Not ");
        put_name(screen, advice, plan->flat);
        fw_screen_put(screen, plan->warnings & FW_WARN_NOISE
                                  ? ": its departure is not above its uncertainty."
                                  : ": no stroke of the menu makes it better.");
        fw_screen_end(screen);
    }
    if (advice->nplans == 0)
        return;
    say_wait(screen, advice);
    fw_screen_say(screen, 2, 4,
                  "Keep slurry and glass dust wet, no dry sweeping, a respirator for "
                  "dry powder. Glass is heavy and its edges are sharp: two hands, bevel first. No "
                  "acids.");
}

void fw_advice_text(fw_screen *screen, const fw_advice *advice)
{
    fw_screen_begin(screen, 0, 2);
    fw_screen_put(screen, FW_BOLD "Next:" FW_PLAIN " ");
    fw_advice_sentence(screen, advice);
    fw_screen_end(screen);
    say_why(screen, advice);
    if (advice->decision == FW_DECIDE_MEASURE) {
        say_pairings(screen, advice);
        say_work(screen, advice);
    } else {
        say_work(screen, advice);
        say_pairings(screen, advice);
    }
}
