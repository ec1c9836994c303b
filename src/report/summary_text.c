/* summary_text.c - the one screen of `flatwright JOB`: what have I got, and what comes next. */
#include <math.h>

#include "flatwright/advice.h"
#include "flatwright/show.h"

#include "report/words.h"

#define SCREEN_LINES 24
#define CHART_ROWS 5
#define CHART_FRAME 4 /* titles, positions, a blank line on either side */
#define CHART_ROOM 72
#define WIDEST_PANEL 30
#define NAME_ROOM 8 /* least that fw_show takes */
#define MOST_SUSPECTS 2
#define MANY_FLATS 6 /* more have to do with a line each */

static void say_fit(fw_screen *screen, const fw_result *result)
{
    const fw_fit *fit = &result->fit;
    char text[WORDS_SIZE];
    fw_screen_begin(screen, 0, 2);
    fw_screen_put(screen, FW_BOLD "Fit:" FW_PLAIN " %zu readings, redundancy %zu; ", fit->readings,
                  fit->redundancy);
    if (fit->readings == 0)
        fw_screen_put(screen, "nothing is known yet.");
    else if (fit->redundancy == 0)
        fw_screen_put(screen, "no reading checks another.");
    else if (!fit->sigma_known)
        fw_screen_put(screen, "sigma estimated: %s.", words_nm(fit->sigma0, false, text));
    else if (fit->birge > 1)
        fw_screen_put(screen, "sigma as given is too small: uncertainties enlarged %.2f times.",
                      fit->birge);
    else
        fw_screen_put(screen, "sigma as given agrees (p" FW_BLANK "%s).",
                      words_probability(fit->p_value, text));
    fw_screen_end(screen);
}

static void say_unknown(fw_screen *screen, const fw_result *result)
{
    if (result->nunknowns == 0)
        return;
    fw_screen_begin(screen, 0, 2);
    fw_screen_put(screen, FW_BOLD "Undetermined:" FW_PLAIN " ");
    fw_screen_text(screen, result->unknowns[0].text);
    if (result->nunknowns > 1)
        fw_screen_put(screen, " And %d more.", result->nunknowns - 1);
    fw_screen_end(screen);
}

static void say_unread(fw_screen *screen, const fw_result *result)
{
    if (!result->unread[0])
        return;
    fw_screen_begin(screen, 0, 2);
    fw_screen_put(screen, FW_BOLD "Unread:" FW_PLAIN " ");
    fw_screen_text(screen, result->unread);
    fw_screen_put(screen, ".");
    fw_screen_end(screen);
}

static void say_suspects(fw_screen *screen, const fw_result *result)
{
    char text[WORDS_SIZE];
    int said = result->nsuspects < MOST_SUSPECTS ? result->nsuspects : MOST_SUSPECTS;
    for (int i = 0; i < said; i++) {
        fw_screen_begin(screen, 0, 2);
        fw_screen_put(screen, FW_BOLD "Suspect:" FW_PLAIN " ");
        words_place(screen, result->job, "readings.csv", result->suspects[i].line);
        fw_screen_put(screen, " looks off by %s",
                      words_nm(result->suspects[i].error_nm, true, text));
        if (result->suspects[i].tied)
            fw_screen_put(screen, ", or another reading does");
        if (i == said - 1 && said < result->nsuspects)
            fw_screen_put(screen, ", and %d more", result->nsuspects - said);
        fw_screen_put(screen, ".");
        fw_screen_end(screen);
    }
}

/* The first flat with that verdict, of those outside the farthest from the target; -1: none. */
static int find(const fw_result *result, fw_verdict verdict)
{
    int found = -1;
    for (int f = 0; f < result->job->nflats; f++) {
        if (words_today(result, f)->figure.verdict != verdict)
            continue;
        if (found < 0 || words_judged(result, f).value_nm > words_judged(result, found).value_nm)
            found = f;
    }
    return found;
}

static int count(const fw_result *result, fw_verdict verdict)
{
    int n = 0;
    for (int f = 0; f < result->job->nflats; f++)
        n += words_today(result, f)->figure.verdict == verdict;
    return n;
}

/* What comes first: doubt, then measuring, then work; stop when all are within. */
static void say_next(fw_screen *screen, const fw_result *result)
{
    int open = find(result, FW_UNDETERMINED), unsure = find(result, FW_UNDECIDED);
    int outside = find(result, FW_OUTSIDE);
    const fw_flat *flats = result->job->flats;
    fw_screen_begin(screen, 0, 2);
    fw_screen_put(screen, FW_BOLD "Next:" FW_PLAIN " ");
    if (result->fit.readings == 0)
        fw_screen_put(screen, "read every flat with every other, and write readings.csv.");
    else if (result->nsuspects > 0)
        fw_screen_put(screen, result->nsuspects == 1
                                  ? "look the suspect up in the notebook; correct it, or set its "
                                    "skip to" FW_BLANK "1."
                                  : "look the suspects up in the notebook; correct what is wrong, "
                                    "or set its skip to" FW_BLANK "1.");
    else if (open >= 0 && words_today(result, open)->last_round == 0) {
        fw_screen_put(screen, "measure ");
        fw_screen_text(screen, flats[open].name);
        fw_screen_put(screen, " with the others.");
    } else if (open >= 0 && result->nunknowns > 0)
        fw_screen_put(screen, "measure what is undetermined.");
    else if (open >= 0)
        fw_screen_put(screen, "measure again: more readings, or a sigma in job.ini.");
    else if (unsure >= 0) {
        fw_screen_put(screen, "measure, do not polish: ");
        fw_screen_text(screen, flats[unsure].name);
        fw_screen_put(screen, " is undecided; repeat its pairings, or another turn.");
    } else if (outside >= 0) {
        fw_screen_put(screen, "work on ");
        fw_screen_text(screen, flats[outside].name);
        if (count(result, FW_OUTSIDE) > 1)
            fw_screen_put(screen, ", the farthest from the target");
        fw_screen_put(screen, "; stop short of the time reckoned, let it cool, measure again.");
    } else
        fw_screen_put(screen, "stop: every flat is within.");
    fw_screen_end(screen);
}

/* The advice in one sentence; without one, what the verdicts alone say. */
static void say_advice(fw_screen *screen, const fw_result *result, const fw_advice *advice)
{
    if (!advice) {
        say_next(screen, result);
        return;
    }
    fw_screen_begin(screen, 0, 2);
    fw_screen_put(screen, FW_BOLD "Next:" FW_PLAIN " ");
    fw_advice_sentence(screen, advice);
    fw_screen_end(screen);
}

static void say_slips(fw_screen *screen, const fw_advice *advice)
{
    if (!advice || !advice->next || advice->next->nslips == 0)
        return;
    fw_screen_begin(screen, 0, 2);
    fw_screen_put(screen, FW_BOLD "Worth a look:" FW_PLAIN " ");
    words_slip(screen, advice->result->job, &advice->next->slips[0]);
    if (advice->next->nslips > 1)
        fw_screen_put(screen, " And %zu more.", advice->next->nslips - 1);
    fw_screen_end(screen);
}

static void say_words(fw_screen *screen, const fw_result *result, const fw_advice *advice)
{
    say_fit(screen, result);
    say_unknown(screen, result);
    say_unread(screen, result);
    say_suspects(screen, result);
    say_slips(screen, advice);
    say_advice(screen, result, advice);
}

/* The diameter with the largest departure; NULL when no height of the flat can be told. */
static const fw_diameter *worst_diameter(const fw_profile *profile)
{
    const fw_diameter *worst = NULL;
    double most = -1;
    for (int d = 0; d < profile->ndiameters; d++) {
        double low = INFINITY, high = -INFINITY;
        for (size_t i = 0; i < profile->diameters[d].npoints; i++) {
            const fw_point *point = &profile->diameters[d].points[i];
            low = point->determined ? fmin(low, point->height_nm) : low;
            high = point->determined ? fmax(high, point->height_nm) : high;
        }
        if (high - low > most) {
            most = high - low;
            worst = &profile->diameters[d];
        }
    }
    return worst;
}

/* A panel a flat: the diameter where it departs most. */
static void draw(fw_screen *screen, const fw_result *result)
{
    fw_chart_panel panels[FW_CHART_PANELS];
    char titles[FW_CHART_PANELS][64], name[WIDEST_PANEL];
    int n = 0, columns = CHART_ROOM / result->job->nflats - 1;
    fw_chart_scale scale = fw_chart_scale_of(CHART_ROWS, words_largest_height(result));
    columns = columns < WIDEST_PANEL ? columns : WIDEST_PANEL;
    for (int f = 0; f < result->job->nflats; f++) {
        const fw_diameter *diameter = worst_diameter(&words_today(result, f)->profile);
        const fw_flat *flat = &result->job->flats[f];
        if (!diameter)
            continue;
        fw_show(name, (size_t)(columns > NAME_ROOM + 10 ? columns - 10 : NAME_ROOM), flat->name);
        snprintf(titles[n], sizeof titles[n], "%s %g deg", name, diameter->angle_deg);
        panels[n] = words_panel(flat, diameter, titles[n], columns);
        n++;
    }
    if (n == 0)
        return;
    fw_screen_line(screen, "");
    fw_chart_draw(screen, scale, n, panels, "mm", "nm", "undetermined");
    fw_screen_line(screen, "");
}

void fw_summary_text(fw_screen *screen, const fw_result *result)
{
    fw_summary_advised(screen, result, NULL);
}

void fw_summary_advised(fw_screen *screen, const fw_result *result, const fw_advice *advice)
{
    words_detail detail = result->job->nflats > MANY_FLATS ? WORDS_LINE : WORDS_BRIEF;
    fw_screen rest = *screen; /* counts the lines that are still to come */
    rest.out = NULL;
    words_heading(screen, result);
    for (int f = 0; f < result->job->nflats; f++)
        words_verdict(screen, result, f, detail);
    rest.lines = screen->lines;
    say_words(&rest, result, advice);
    if (!screen->spoken && result->job->nflats <= FW_CHART_PANELS &&
        rest.lines + CHART_ROWS + CHART_FRAME <= SCREEN_LINES)
        draw(screen, result);
    say_words(screen, result, advice);
}
