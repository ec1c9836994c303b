/* rehearsal.c - what a measuring plan would tell, in words and as JSON. */
#include <math.h>

#include "figure/madeup.h"
#include "flatwright/json.h"
#include "flatwright/rehearse.h"

#include "report/words.h"

/* "flatwright-rehearsal/1": the model, the plan, a row a pairing; what is expected of each flat; enough. */
void fw_rehearsal_json(FILE *out, const fw_rehearsal *r)
{
    const fw_scheme *plan = &r->scheme;
    fw_json json = {.out = out};
    fw_json_object(&json, NULL, FW_JSON_LINES);
    fw_json_text(&json, "format", "flatwright-rehearsal/1");
    fw_json_text(&json, "model", r->model == FW_MODEL_SURFACE ? "surface" : "profile");
    fw_json_array(&json, "plan", FW_JSON_LINES);
    for (int m = 0; m < plan->nmates; m++) {
        fw_json_object(&json, NULL, FW_JSON_INLINE);
        fw_json_text(&json, "bottom", r->job->flats[plan->mates[m].bottom].name);
        fw_json_text(&json, "top", r->job->flats[plan->mates[m].top].name);
        fw_json_number(&json, "turn_deg", plan->mates[m].turn_deg);
        fw_json_array(&json, "diameters_deg", FW_JSON_INLINE);
        for (int d = 0; d < plan->ndiameters; d++)
            fw_json_number(&json, NULL, plan->diameters_deg[d]);
        fw_json_close(&json);
        fw_json_close(&json);
    }
    fw_json_close(&json);
    fw_json_array(&json, "expected", FW_JSON_LINES);
    for (int f = 0; f < r->job->nflats; f++) {
        const fw_expected *e = &r->expected[f];
        fw_json_object(&json, NULL, FW_JSON_INLINE);
        fw_json_text(&json, "flat", r->job->flats[f].name);
        fw_json_bool(&json, "determined", e->determined);
        fw_json_number(&json, "mean_u_nm", e->mean_u_nm);
        fw_json_number(&json, "worst_u_nm", e->worst_u_nm);
        fw_json_number(&json, "pv_u_nm", e->pv_u_nm);
        fw_json_close(&json);
    }
    fw_json_close(&json);
    fw_json_bool(&json, "enough", r->enough);
    fw_json_close(&json);
}

static void put_flat(fw_screen *screen, const fw_rehearsal *r, int flat)
{
    fw_screen_text(screen, r->job->flats[flat].name);
}

static void say_heading(fw_screen *screen, const fw_rehearsal *r)
{
    char text[WORDS_SIZE];
    fw_screen_begin(screen, 0, 0);
    fw_screen_put(screen, FW_BOLD "Rehearsal");
    if (*r->job->title) {
        fw_screen_put(screen, " of ");
        fw_screen_text(screen, r->job->title);
    }
    fw_screen_put(screen, FW_PLAIN ": nothing was read, this is what readings to %s would tell. ",
                  words_nm(r->scheme.sigma_nm, false, text));
    fw_screen_put(screen, "Target %s %s at confidence %g.", words_measure(r->job->measure),
                  words_nm(r->job->flatness_nm, false, text), r->job->confidence);
    fw_screen_end(screen);
}

static void put_numbers(fw_screen *screen, int n, const double *list)
{
    for (int i = 0; i < n; i++)
        fw_screen_put(screen, i ? ", %.4g" : "%.4g", list[i]);
}

static void say_plan(fw_screen *screen, const fw_rehearsal *r)
{
    const fw_scheme *plan = &r->scheme;
    fw_screen_begin(screen, 0, 2);
    fw_screen_put(screen, FW_BOLD "%s" FW_PLAIN " ",
                  !r->searched ? "Plan:" : r->enough ? "Smallest plan found that is enough:"
                                                     : "The surest plan tried:");
    fw_screen_put(screen, "%d pairing%s, %d diameter%s (", plan->nmates,
                  plan->nmates == 1 ? "" : "s", plan->ndiameters, plan->ndiameters == 1 ? "" : "s");
    put_numbers(screen, plan->ndiameters, plan->diameters_deg);
    fw_screen_put(screen, FW_BLANK "deg), %d station%s on each; %zu scan%s, %zu reading%s in all.",
                  plan->nstations, plan->nstations == 1 ? "" : "s", r->nscans,
                  r->nscans == 1 ? "" : "s", r->nreadings, r->nreadings == 1 ? "" : "s");
    fw_screen_end(screen);
    for (int m = 0; m < plan->nmates; m++) {
        fw_screen_begin(screen, 2, 5);
        fw_screen_put(screen, "%d." FW_BLANK, m + 1);
        put_flat(screen, r, plan->mates[m].top);
        fw_screen_put(screen, " on ");
        put_flat(screen, r, plan->mates[m].bottom);
        if (plan->mates[m].turn_deg == 0)
            fw_screen_put(screen, ", marks together.");
        else
            fw_screen_put(screen, ", turned %g" FW_BLANK "deg.", plan->mates[m].turn_deg);
        fw_screen_end(screen);
    }
    fw_screen_begin(screen, 2, 2);
    fw_screen_put(screen, "Stations, in mm from the centre: ");
    put_numbers(screen, plan->nstations, plan->stations_mm);
    fw_screen_put(screen, ".");
    fw_screen_end(screen);
}

static void say_expected(fw_screen *screen, const fw_rehearsal *r)
{
    char mean[WORDS_SIZE], worst[WORDS_SIZE], pv[WORDS_SIZE];
    fw_screen_begin(screen, 0, 2);
    fw_screen_put(screen, FW_BOLD "Expected standard uncertainty" FW_PLAIN);
    if (r->model == FW_MODEL_SURFACE)
        fw_screen_put(screen, ", each flat taken as smooth, as circle polynomials up to order %d:",
                      r->order);
    else
        fw_screen_put(screen, FW_BOLD ":" FW_PLAIN);
    fw_screen_end(screen);
    for (int f = 0; f < r->job->nflats; f++) {
        const fw_expected *e = &r->expected[f];
        fw_screen_begin(screen, 2, 4);
        put_flat(screen, r, f);
        if (!e->determined)
            fw_screen_put(screen, ": not determined by this plan.");
        else if (isnan(e->pv_u_nm))
            fw_screen_put(screen, ": heights %s, %s at worst.", words_nm(e->mean_u_nm, false, mean),
                          words_nm(e->worst_u_nm, false, worst));
        else
            fw_screen_put(screen, ": heights %s, %s at worst; PV of a good flat %s.",
                          words_nm(e->mean_u_nm, false, mean),
                          words_nm(e->worst_u_nm, false, worst), words_nm(e->pv_u_nm, false, pv));
        fw_screen_end(screen);
    }
}

/* The counts of the flat that fares worst, and what is lacking. */
static void say_counts(fw_screen *screen, const fw_rehearsal *r)
{
    int good = FW_TRIALS, poor = 0;
    char text[WORDS_SIZE], more[WORDS_SIZE];
    for (int f = 0; f < r->job->nflats; f++) {
        good = r->expected[f].good_within < good ? r->expected[f].good_within : good;
        poor = r->expected[f].poor_within > poor ? r->expected[f].poor_within : poor;
    }
    fw_screen_put(screen, "Of %d made-up flats each, of %s over the whole face and read by this "
                          "plan, at least %d would be judged within; of those of %s, which are "
                          "not, at most %d (asked: %d or more, %d or fewer). ",
                  FW_TRIALS, words_nm(FW_GOOD_PART * r->job->flatness_nm, false, text), good,
                  words_nm(FW_POOR_PART * r->job->flatness_nm, false, more), poor, FW_GOOD_LEAST,
                  FW_POOR_MOST);
    if (poor > FW_POOR_MOST)
        fw_screen_put(screen, "It is more diameters that show what lies between these. ");
    if (good < FW_GOOD_LEAST)
        fw_screen_put(screen, "It is more stations or pairings, or a smaller sigma, that make it "
                              "surer. ");
    if (!r->enough && r->model == FW_MODEL_SURFACE && r->order < MADEUP_ORDER)
        fw_screen_put(screen, "The made-up flats have orders up to %d: it is more diameters, and "
                              "other turns, that carry them. ", MADEUP_ORDER);
}

/* What is open, and what would close it. */
static void say_open(fw_screen *screen, const fw_rehearsal *r)
{
    if (r->job->nflats < 3)
        fw_screen_put(screen, "Two flats show only their sum: it takes three.");
    else if (r->model == FW_MODEL_SURFACE)
        fw_screen_put(screen, "Some heights stay undetermined: it takes every flat with every "
                              "other, and a pair turned by an angle of which no multiple up to "
                              "the order is a whole turn.");
    else
        fw_screen_put(screen, "Some heights stay undetermined: it takes every flat with every "
                              "other, and on more than one diameter a pair turned by the "
                              "diameters' spacing; a station opposite a bore tells nothing.");
}

static void say_enough(fw_screen *screen, const fw_rehearsal *r)
{
    bool determined = true;
    for (int f = 0; f < r->job->nflats; f++)
        determined = determined && r->expected[f].determined;
    fw_screen_begin(screen, 0, 2);
    fw_screen_put(screen, FW_BOLD "Enough: %s." FW_PLAIN " ", r->enough ? "yes" : "no");
    if (!determined)
        say_open(screen, r);
    else
        say_counts(screen, r);
    if (!r->enough && !r->searched && r->job->nflats > 2)
        fw_screen_put(screen, " Without --pair the program looks for a plan that is enough.");
    fw_screen_end(screen);
    fw_screen_say(screen, 0, 2, r->model == FW_MODEL_SURFACE
                                    ? "Not counted: warmth, bending, and structure finer than the "
                                      "order."
                                    : "Not counted: warmth, bending, and structure finer than the "
                                      "stations.");
}

void fw_rehearsal_text(fw_screen *screen, const fw_rehearsal *r)
{
    say_heading(screen, r);
    say_plan(screen, r);
    say_expected(screen, r);
    say_enough(screen, r);
}
