/* advice_text.c - what now, in words: the decision, why, what to measure, what to work. */
#include <math.h>

#include "report/advice_parts.h"
#include "report/words.h"

#define MOST_PAIRINGS 5
#define MOST_READ 8 /* pairings already read */

static void put_turn(fw_screen *screen, double turn_deg)
{
    if (turn_deg == 0)
        fw_screen_put(screen, ", marks together");
    else
        fw_screen_put(screen, ", turned %g" FW_BLANK "deg", turn_deg);
}

static void put_pairing(fw_screen *screen, const fw_advice *advice, const fw_candidate *c)
{
    advice_name(screen, advice, c->top);
    fw_screen_put(screen, " on ");
    advice_name(screen, advice, c->bottom);
    put_turn(screen, c->turn_deg);
}

static bool ranked(const fw_advice *advice)
{
    return advice->next && advice->next->ncandidates > 0;
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
        advice_name(screen, advice, advice->flat);
        fw_screen_put(screen, " with the others");
    }
    fw_screen_put(screen, ".");
}

static void say_first_work(fw_screen *screen, const fw_advice *advice, const fw_plan *plan)
{
    fw_screen_put(screen, "work on ");
    advice_name(screen, advice, plan->flat);
    fw_screen_put(screen, plan->warnings & FW_WARN_TRIAL ? ", a short trial: " : ": ");
    advice_stroke(screen, &advice->result->job->flats[plan->flat], &plan->rows[0].stroke);
    fw_screen_put(screen, ", ");
    advice_time(screen, plan->rows[0].hours);
    if (plan->nrows > 1)
        fw_screen_put(screen, ", and %d more, %.0f" FW_BLANK "minutes in all", plan->nrows - 1,
                      60 * plan->hours);
    fw_screen_put(screen, "; let it cool, measure again.");
}

void fw_advice_sentence(fw_screen *screen, const fw_advice *advice)
{
    if (advice->result->nsuspects > 0 && advice->decision != FW_DECIDE_STOP)
        fw_screen_put(screen, "look the suspect%s up in the notebook first; then ",
                      advice->result->nsuspects == 1 ? "" : "s");
    if (advice->decision == FW_DECIDE_STOP)
        fw_screen_put(screen, "stop: every flat is within.");
    else if (advice->decision == FW_DECIDE_MEASURE)
        say_measure(screen, advice);
    else if (advice->plans[0].warnings & FW_WARN_WAVE) {
        fw_screen_put(screen, "grind ");
        advice_name(screen, advice, advice->plans[0].flat);
        fw_screen_put(screen, " again: it departs by over a wave.");
    } else
        say_first_work(screen, advice, &advice->plans[0]);
}

static fw_verdict verdict_of(const fw_advice *advice)
{
    return words_today(advice->result, advice->flat)->figure.verdict;
}

static void say_why(fw_screen *screen, const fw_advice *advice)
{
    char text[WORDS_SIZE];
    fw_screen_begin(screen, 0, 2);
    fw_screen_put(screen, FW_BOLD "Why:" FW_PLAIN " ");
    if (advice->flat >= 0)
        advice_name(screen, advice, advice->flat);
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
        fw_screen_put(screen,
                      " is %s, and no departure that a stroke could mend stands above its "
                      "uncertainty: polishing would polish noise.",
                      fw_verdict_name(verdict_of(advice)));
        break;
    case FW_REASON_NO_GAIN:
        fw_screen_put(screen, " departs, but no stroke reckoned here would make it better: what is "
                              "left is finer than the laps or than the stations tell, or too close "
                              "to the target.");
        break;
    case FW_REASON_DEPARTS:
        if (advice->plans[0].warnings & FW_WARN_WAVE)
            fw_screen_put(screen, " departs by %s.",
                          words_nm(advice->plans[0].pv_before_nm, false, text));
        else
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
        fw_screen_put(screen,
                      "%s flat's heights are known to %s, a third of the target, or better%s.",
                      advice->reason == FW_REASON_NOISE ? "Every" : "Enough is read: every", text,
                      advice->reason == FW_REASON_NOISE
                          ? "; more readings tell on which side of the target a figure lies"
                          : "");
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

/* Pairings of `list` whose readings still speak, or not, of today's surfaces: one paragraph. */
static void say_read(fw_screen *screen, const fw_advice *advice, int n, const fw_pairing *list,
                     const char *what)
{
    int last = n > 0 ? list[n - 1].round : 0, first = 0;
    if (n == 0)
        return;
    while (n - first > MOST_READ && list[first].round < last)
        first++;
    fw_screen_begin(screen, 2, 4);
    fw_screen_put(screen, "%s: ", what);
    for (int i = first; i < n && i < first + MOST_READ; i++) {
        fw_screen_put(screen, i > first ? "; " : "");
        if (i == first || list[i].round != list[i - 1].round)
            fw_screen_put(screen, "round" FW_BLANK "%d ", list[i].round);
        advice_name(screen, advice, list[i].top);
        fw_screen_put(screen, " on ");
        advice_name(screen, advice, list[i].bottom);
        put_turn(screen, list[i].turn_deg);
    }
    int left = n > first + MOST_READ ? n - MOST_READ : first;
    if (left > 0)
        fw_screen_put(screen, "; and %d more", left);
    fw_screen_put(screen, ".");
    fw_screen_end(screen);
}

static void say_ranking(fw_screen *screen, const fw_advice *advice)
{
    char before[WORDS_SIZE], after[WORDS_SIZE];
    const fw_next *next = advice->next;
    fw_screen_say(screen, 0, 2, FW_BOLD "To measure," FW_PLAIN " best first, along %d diameter%s:",
                  next->ndiameters, next->ndiameters == 1 ? "" : "s");
    for (int i = 0; i < next->ncandidates && i < MOST_PAIRINGS; i++) {
        const fw_candidate *c = &next->candidates[i];
        fw_screen_begin(screen, 2, 4);
        fw_screen_put(screen, "%d. ", i + 1);
        put_pairing(screen, advice, c);
        fw_screen_put(screen, ": uncertainty of ");
        advice_name(screen, advice, c->worst_flat);
        if (c->worst_u_before_nm > next->prior_nm / 2 && c->worst_u_after_nm < next->prior_nm / 50)
            fw_screen_put(screen, " to");
        else
            fw_screen_put(screen, " from %s to", words_nm(c->worst_u_before_nm, false, before));
        fw_screen_put(screen, " %s.", words_nm(c->worst_u_after_nm, false, after));
        fw_screen_end(screen);
    }
}

/* After a stop: what would still be worth knowing, or nothing. */
static void say_rest(fw_screen *screen, const fw_advice *advice)
{
    const fw_result *result = advice->result;
    const fw_next *next = advice->next;
    if (next->sigma_source == FW_SIGMA_UNKNOWN || (next->enough.already && !result->nunknowns))
        return;
    fw_screen_line(screen, "");
    fw_screen_say(screen, 0, 2, FW_BOLD "Worth knowing still:" FW_PLAIN);
    if (result->nunknowns > 0)
        fw_screen_say(screen, 2, 4, "What the readings leave open; `flatwright solve` names it.");
    if (!next->enough.already)
        say_enough(screen, advice);
}

static void say_pairings(fw_screen *screen, const fw_advice *advice)
{
    if (!ranked(advice))
        return;
    if (advice->decision == FW_DECIDE_STOP) {
        say_rest(screen, advice);
        return;
    }
    fw_screen_line(screen, "");
    say_ranking(screen, advice);
    say_enough(screen, advice);
    say_read(screen, advice, advice->next->nstale, advice->next->stale,
             "Stale, of surfaces that are gone");
    if (advice->next->nstale > 0)
        say_read(screen, advice, advice->next->ngood, advice->next->good,
                 "Still good, of today's surfaces");
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

/* Flats that are not within and better left alone: noise, or nothing would help. */
static void say_idle(fw_screen *screen, const fw_advice *advice, bool noise)
{
    int said = 0;
    for (int i = 0; i < advice->nidle; i++) {
        const fw_plan *plan = &advice->idle[i];
        if (((plan->warnings & FW_WARN_NOISE) != 0) != noise)
            continue;
        if (said == 0)
            fw_screen_begin(screen, 2, 4);
        fw_screen_put(screen, said++ ? ", " : "Do not polish ");
        advice_name(screen, advice, plan->flat);
    }
    if (said == 0)
        return;
    fw_screen_put(screen, noise ? ": no departure above its uncertainty."
                                : ": no stroke reckoned here makes it better.");
    fw_screen_end(screen);
}

static void say_work(fw_screen *screen, const fw_advice *advice)
{
    if (advice->nplans > 0) {
        fw_screen_line(screen, "");
        fw_screen_say(screen, 0, 2, FW_BOLD "To work," FW_PLAIN " best first:");
    }
    for (int i = 0; i < advice->nplans; i++)
        advice_plan(screen, advice, i);
    if (advice->habit.untold > 0)
        fw_screen_say(screen, 2, 4,
                      "Nothing was learned of %d removal%s: a stroke of work.csv among it cannot be "
                      "reckoned, it is too long, or its lap too wide for its zone.",
                      advice->habit.untold, advice->habit.untold == 1 ? "" : "s");
    say_idle(screen, advice, true);
    say_idle(screen, advice, false);
    bool fresh = advice->reason == FW_REASON_UNREAD && advice->flat >= 0 &&
                 words_today(advice->result, advice->flat)->state > 0;
    if (advice->nplans > 0 || fresh) /* from the lap: the glass is warm */
        say_wait(screen, advice);
    if (advice->nplans == 0)
        return;
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
    if (advice->next && advice->next->nslips > 0) {
        fw_screen_line(screen, "");
        fw_slips_text(screen, advice->result->job, advice->next->nslips, advice->next->slips);
    }
    if (advice->decision == FW_DECIDE_MEASURE) {
        say_pairings(screen, advice);
        say_work(screen, advice);
    } else {
        say_work(screen, advice);
        say_pairings(screen, advice);
    }
}
