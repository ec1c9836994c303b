/* track_text.c - the screen of `track`: am I getting there? */
#include <math.h>

#include "flatwright/track.h"
#include "job/parts.h"
#include "report/track_chart.h"
#include "report/words.h"

#define MOST_ROUNDS 12 /* said in full; --json has them all */
#define MOST_SPELLS 12
#define MINUTES_BELOW 2.0 /* hours; below, people count minutes */

/* "none", "under 1 min", "40 min", "2.5 h", "14 h". */
static char *words_time(double hours, char buffer[WORDS_SIZE])
{
    if (hours <= 0)
        snprintf(buffer, WORDS_SIZE, "none");
    else if (60 * hours < 0.95)
        snprintf(buffer, WORDS_SIZE, "under 1" FW_BLANK "min");
    else if (hours < MINUTES_BELOW)
        snprintf(buffer, WORDS_SIZE, "%.0f" FW_BLANK "min", 60 * hours);
    else if (hours < 1e5)
        snprintf(buffer, WORDS_SIZE, hours < 10 ? "%.1f" FW_BLANK "h" : "%.0f" FW_BLANK "h", hours);
    else
        snprintf(buffer, WORDS_SIZE, "%.2g" FW_BLANK "h", hours);
    return buffer;
}

static void put_name(fw_screen *screen, const fw_track *t, int flat)
{
    fw_screen_text(screen, t->result->job->flats[flat].name);
}

static void say_round(fw_screen *screen, const fw_track *t, int round)
{
    static const char *const marks[] = {[FW_WITHIN] = FW_GOOD,
                                        [FW_OUTSIDE] = FW_BAD,
                                        [FW_UNDECIDED] = FW_DOUBT,
                                        [FW_UNDETERMINED] = FW_DOUBT};
    const fw_job *job = t->result->job;
    char text[WORDS_SIZE];
    fw_screen_begin(screen, 0, 2);
    fw_screen_put(screen, "Round" FW_BLANK "%d: ", t->rounds[round]);
    for (int f = 0; f < job->nflats; f++) {
        int at = t->faces[f + round * job->nflats];
        const fw_figure *figure = at < 0 ? NULL : &t->result->faces[at].figure;
        fw_screen_put(screen, f ? "; " : "");
        put_name(screen, t, f);
        if (!figure) {
            fw_screen_put(screen, " not read");
            continue;
        }
        fw_quantity q = fw_track_judged(job, figure);
        if (isfinite(q.value_nm))
            fw_screen_put(screen, FW_BLANK "%s,", words_quantity(q, false, text));
        fw_screen_put(screen, " %s%s" FW_PLAIN, marks[figure->verdict],
                      fw_verdict_name(figure->verdict));
    }
    fw_screen_put(screen, ".");
    fw_screen_end(screen);
}

static void say_rounds(fw_screen *screen, const fw_track *t)
{
    int first = t->nrounds > MOST_ROUNDS ? t->nrounds - MOST_ROUNDS : 0;
    if (first > 0)
        fw_screen_say(screen, 0, 2, "%d earlier rounds are in --json.", first);
    for (int r = first; r < t->nrounds; r++)
        say_round(screen, t, r);
}

/* Spells that are told together: of one removal, or of one flat and round and never read. */
static bool same_removal(const fw_track *t, size_t i, size_t k)
{
    const fw_track_spell *a = &t->spells[i], *b = &t->spells[k];
    const fw_work *v = &t->result->job->work[a->work], *w = &t->result->job->work[b->work];
    return a->removal == b->removal && v->flat == w->flat &&
           (a->removal >= 0 || v->round == w->round);
}

static bool is_first(const fw_track *t, size_t i)
{
    for (size_t k = i; k-- > 0;)
        if (same_removal(t, k, i))
            return false;
    return true;
}

enum { METHODS = FW_OTHER + 1 };

/* What was done until a flat was read again. */
typedef struct bout {
    int n, kinds, last_round;
    double all, hours[METHODS];
    bool used[METHODS];
} bout;

static bout sum_up(const fw_track *t, size_t first)
{
    bout b = {0};
    for (size_t i = first; i < t->nspells; i++) {
        const fw_work *work = &t->result->job->work[t->spells[i].work];
        if (!same_removal(t, first, i))
            continue;
        b.kinds += !b.used[work->method];
        b.used[work->method] = true;
        b.hours[work->method] += work->hours;
        b.all += work->hours;
        b.last_round = work->round;
        b.n++;
    }
    return b;
}

/* "ring 40 min", or "47 rows, 40 min (flat-on-top 3 min, ring 37 min)". */
static void put_bout(fw_screen *screen, const bout *b)
{
    char text[WORDS_SIZE];
    int said = 0;
    if (b->n > 1)
        fw_screen_put(screen, "%d rows, ", b->n);
    if (b->kinds > 1)
        fw_screen_put(screen, "%s (", words_time(b->all, text));
    for (int m = 0; m < METHODS; m++)
        if (b->used[m])
            fw_screen_put(screen, "%s%s %s", said++ ? ", " : "", fw_method_names[m],
                          words_time(b->hours[m], text));
    fw_screen_put(screen, b->kinds > 1 ? ")" : "");
}

static void say_spell(fw_screen *screen, const fw_track *t, size_t first)
{
    const fw_track_spell *spell = &t->spells[first];
    const fw_work *work = &t->result->job->work[spell->work];
    bout b = sum_up(t, first);
    char text[WORDS_SIZE];
    fw_screen_begin(screen, 2, 4);
    if (b.last_round > work->round)
        fw_screen_put(screen, "Rounds" FW_BLANK "%d to %d, ", work->round, b.last_round);
    else
        fw_screen_put(screen, "Round" FW_BLANK "%d, ", work->round);
    put_name(screen, t, work->flat);
    fw_screen_put(screen, ": ");
    put_bout(screen, &b);
    if (!isfinite(spell->rms.value_nm)) {
        fw_screen_put(screen, "; what it took off is not known.");
        fw_screen_end(screen);
        return;
    }
    if (spell->rms.value_nm <= spell->rms.u_nm) {
        fw_screen_put(screen, "; less figure off than the readings show, %s (rms).",
                      words_nm(spell->rms.u_nm, false, text));
        fw_screen_end(screen);
        return;
    }
    fw_screen_put(screen, ": %s of figure off (rms)", words_quantity(spell->rms, false, text));
    if (isfinite(spell->rate.value_nm))
        fw_screen_put(screen, ", %s an hour", words_quantity(spell->rate, false, text));
    fw_screen_put(screen, ".");
    fw_screen_end(screen);
}

static void say_spells(fw_screen *screen, const fw_track *t)
{
    size_t first = t->nspells;
    int n = 0;
    if (t->nspells == 0)
        return;
    while (first > 0 && n < MOST_SPELLS)
        n += is_first(t, --first);
    fw_screen_say(screen, 0, 2, FW_BOLD "Removed" FW_PLAIN " (the mean is not seen by fringes)%s:",
                  first > 0 ? ", the last spells" : "");
    for (; first < t->nspells; first++)
        if (is_first(t, first))
            say_spell(screen, t, first);
}

static void put_to_go(fw_screen *screen, const fw_track_flat *flat, fw_verdict verdict)
{
    char hours[WORDS_SIZE], low[WORDS_SIZE], high[WORDS_SIZE];
    if (verdict == FW_WITHIN) {
        fw_screen_put(screen, "within, nothing to go");
        return;
    }
    if (verdict == FW_UNDECIDED)
        fw_screen_put(screen, "undecided, so measure first; ");
    if (isnan(flat->to_go.hours)) {
        fw_screen_put(screen, "%s",
                      flat->nread < 1 ? "time to go not known: its figure was not read"
                      : isnan(flat->fall_per_h)
                          ? "time to go not known before a spell has been measured"
                          : "no end in sight: its figure has not fallen with the hours");
        return;
    }
    fw_screen_put(screen, "about %s to go%s", words_time(flat->to_go.hours, hours),
                  flat->own ? "" : " if it falls like the others");
    if (flat->to_go.low > 0)
        fw_screen_put(screen, ", at least %s", words_time(flat->to_go.low, low));
    if (isfinite(flat->to_go.high))
        fw_screen_put(screen, ", at most %s", words_time(flat->to_go.high, high));
    else
        fw_screen_put(screen, "; the most cannot be told yet");
}

static void say_hours(fw_screen *screen, const fw_track *t)
{
    const fw_result *result = t->result;
    char text[WORDS_SIZE];
    bool read = result->fit.readings > 0; /* else there is no figure to look forward with */
    fw_screen_say(screen, 0, 2, FW_BOLD "Hours" FW_PLAIN " on the lap%s:",
                  read ? ", and to go (nine in ten lie between the limits)" : "");
    for (int f = 0; f < result->job->nflats; f++) {
        const fw_track_flat *flat = &t->flats[f];
        fw_screen_begin(screen, 2, 4);
        put_name(screen, t, f);
        fw_screen_put(screen, ": %s",
                      flat->polished_h > 0 ? words_time(flat->polished_h, text)
                                           : "no polishing yet");
        if (flat->ground_h > 0)
            fw_screen_put(screen, " after %s of grinding", words_time(flat->ground_h, text));
        if (flat->own && flat->fall_per_h > 0)
            fw_screen_put(screen, ", halved every %s", words_time(log(2) / flat->fall_per_h, text));
        if (read) {
            fw_screen_put(screen, "; ");
            put_to_go(screen, flat, result->faces[result->today[f]].figure.verdict);
        }
        fw_screen_put(screen, ".");
        fw_screen_end(screen);
    }
}

static void say_reckoning(fw_screen *screen, const fw_track *t)
{
    char usual[WORDS_SIZE], fast[WORDS_SIZE], own[WORDS_SIZE];
    fw_screen_begin(screen, 0, 2);
    fw_screen_put(screen,
                  FW_BOLD "Polishing out:" FW_PLAIN " two hours per inch of diameter would "
                          "be %s a flat, a sixth with a fast compound %s.",
                  words_time(t->usual_h, usual), words_time(t->fast_h, fast));
    if (t->own_flat >= 0) {
        fw_screen_put(screen, " Your own first flat tells better: ");
        put_name(screen, t, t->own_flat);
        fw_screen_put(screen, " had %s when it could first be read.", words_time(t->own_h, own));
    }
    fw_screen_put(screen, " Clear after an hour is not polished out: look for grey with a bright "
                          "light grazing it.");
    fw_screen_end(screen);
}

static void say_breaks(fw_screen *screen, unsigned breaks)
{
    static const char *const cures[] = {
        "measure more before the next spell: repeat the pairings, or add a turn, for the "
        "uncertainty hides what a spell gains",
        "work shorter spells: they take off more than there was to mend",
        "work longer: the spells took off next to nothing",
        "change the method or the stroke: it was the same all the time",
        "work the high side: the figure is not of revolution, and strokes that go round cannot "
        "mend it; look at what it rests on, too",
        "work the worst flat: it was left alone"};
    int said = 0;
    fw_screen_begin(screen, 2, 4);
    fw_screen_put(screen, "What would break it: ");
    for (unsigned i = 0; i < sizeof cures / sizeof cures[0]; i++)
        if (breaks & 1u << i)
            fw_screen_put(screen, "%s%s", said++ ? "; " : "", cures[i]);
    if (said == 0)
        fw_screen_put(screen, "another flat, or another stroke; and a longer wait before it is "
                              "read, warm glass is bent");
    fw_screen_put(screen, ".");
    fw_screen_end(screen);
}

static void say_circle(fw_screen *screen, const fw_track *t)
{
    const fw_track_circle *c = &t->circle;
    char gain[WORDS_SIZE];
    if (!c->known)
        return;
    words_quantity(c->gain, true, gain);
    if (c->round)
        fw_screen_say(screen, 0, 2,
                      FW_BAD "Going round in circles:" FW_PLAIN " from round" FW_BLANK
                             "%d to %d the set gained %s, which is not significant.",
                      c->from_round, c->to_round, gain);
    else
        fw_screen_say(screen, 0, 2,
                      "From round" FW_BLANK "%d to %d the set gained %s (root mean "
                      "square of its flats).",
                      c->from_round, c->to_round, gain);
    if (c->round)
        say_breaks(screen, c->breaks);
}

static bool all_within(const fw_result *result)
{
    for (int f = 0; f < result->job->nflats; f++)
        if (result->faces[result->today[f]].figure.verdict != FW_WITHIN)
            return false;
    return true;
}

void fw_track_text(fw_screen *screen, const fw_track *t)
{
    words_heading(screen, t->result);
    if (t->grind && t->grind->due)
        fw_grind_text(screen, t->grind);
    if (t->result->fit.readings > 0) {
        say_rounds(screen, t);
        track_chart(screen, t);
        say_spells(screen, t);
    } else if (!t->grind || !t->grind->due)
        fw_screen_say(screen, 0, 2, "No fringes have been read yet: there is nothing to follow.");
    say_hours(screen, t);
    say_circle(screen, t);
    if (!all_within(t->result)) /* else nothing is to be polished */
        say_reckoning(screen, t);
    if (t->grind && !t->grind->due)
        fw_grind_text(screen, t->grind);
}
