/* solution_text.c - the screen of `solve`: verdicts first, then what they rest on. */
#include <math.h>

#include "flatwright/units.h"

#include "job/parts.h"
#include "report/words.h"

#define UNKNOWNS_SAID 12
#define SUSPECTS_SAID 20
#define FEW_DIAMETERS 2 /* these or fewer do not show astigmatism whichever way it lies */

static void say_blank(fw_screen *screen)
{
    fw_screen_line(screen, "");
}

static void say_whole_face(fw_screen *screen, const fw_result *result)
{
    int order = 0;
    for (int f = 0; f < result->job->nflats; f++)
        order = words_today(result, f)->figure.order > order ? words_today(result, f)->figure.order
                                                             : order;
    if (order)
        fw_screen_say(screen, 0, 0,
                      "PV, rms, power and irregularity are those of the smooth figure over the "
                      "whole face: circle polynomials up to order %d inside the clear aperture. "
                      "Raw PV is of the heights of that order at the stations.",
                      order);
}

void words_meaning(fw_screen *screen, const fw_result *result)
{
    int fewest = 0, most = 0;
    if (result->model == FW_MODEL_SURFACE) {
        say_whole_face(screen, result);
        return;
    }
    for (int f = 0; f < result->job->nflats; f++) {
        int n = words_today(result, f)->profile.ndiameters;
        fewest = n > 0 && (fewest == 0 || n < fewest) ? n : fewest;
        most = n > most ? n : most;
    }
    if (fewest == 0 || !words_any_height(result))
        return;
    fw_screen_begin(screen, 0, 0);
    fw_screen_put(screen, "PV and irregularity are those of the smooth figure along the diameters "
                          "read (");
    if (fewest == most)
        fw_screen_put(screen, "%d on each flat", most);
    else
        fw_screen_put(screen, "%d to %d on each flat", fewest, most);
    fw_screen_put(screen, "), as far out as stations were read in the clear aperture; rms and power "
                          "those over all of it. Raw PV is of the heights as they come, reading "
                          "noise in it.");
    if (fewest <= FEW_DIAMETERS)
        fw_screen_put(screen, " So few diameters may miss astigmatism.");
    fw_screen_end(screen);
}

static void put_sigma(fw_screen *screen, const fw_job *job, const fw_fit *fit)
{
    char text[WORDS_SIZE], chance[WORDS_SIZE];
    if (!fit->sigma_known) {
        if (isfinite(fit->sigma0))
            fw_screen_put(screen, "sigma of one reading is estimated from the residuals: %s "
                                  "(Student's t with %zu degrees of freedom).",
                          words_nm(fit->sigma0, false, text), fit->redundancy);
        else
            fw_screen_put(screen, "sigma is not given and cannot be estimated.");
        return;
    }
    if (isfinite(job->sigma_nm))
        fw_screen_put(screen, "sigma as given, %s,", words_nm(job->sigma_nm, false, text));
    else
        fw_screen_put(screen, "sigma as given with the readings");
    if (fit->redundancy == 0 || !isfinite(fit->p_value))
        fw_screen_put(screen, " is believed; nothing tests it.");
    else if (fit->birge > 1)
        fw_screen_put(screen, " is too small for these readings (chi-square %.1f, expected %zu, "
                              "p" FW_BLANK "%s): every uncertainty here is enlarged %.2f times.",
                      fit->chi_square, fit->redundancy, words_probability(fit->p_value, chance),
                      fit->birge);
    else if (fit->p_value > 0.99)
        fw_screen_put(screen, " is larger than these readings show (chi-square %.1f, expected %zu, "
                              "p" FW_BLANK "%s): the uncertainties err on the safe side.",
                      fit->chi_square, fit->redundancy, words_probability(fit->p_value, chance));
    else
        fw_screen_put(screen, " agrees with the readings (chi-square %.1f, expected %zu, p" FW_BLANK
                              "%s; spread %.2f times sigma).", fit->chi_square, fit->redundancy,
                      words_probability(fit->p_value, chance), fit->sigma0);
}

static void say_fit(fw_screen *screen, const fw_result *result)
{
    const fw_fit *fit = &result->fit;
    if (fit->readings == 0) {
        fw_screen_say(screen, 0, 2, FW_BOLD "Fit." FW_PLAIN " No readings yet.");
        return;
    }
    fw_screen_begin(screen, 0, 2);
    fw_screen_put(screen,
                  FW_BOLD "Fit." FW_PLAIN " %zu readings, %zu unknowns, rank %zu, "
                          "redundancy %zu",
                  fit->readings, fit->unknowns, fit->rank, fit->redundancy);
    if (result->job->nskipped > 0)
        fw_screen_put(screen, ", %zu more skipped", result->job->nskipped);
    fw_screen_put(screen, "; ");
    put_sigma(screen, result->job, fit);
    fw_screen_end(screen);
}

static void say_closures(fw_screen *screen, const fw_result *result)
{
    double sum = 0, expected = 0, weight = 0;
    const fw_closure *worst = NULL;
    char text[WORDS_SIZE];
    for (int i = 0; i < result->nclosures; i++) {
        const fw_closure *closure = &result->closures[i];
        if (closure->redundancy <= 0 || !isfinite(closure->rms_nm))
            continue;
        sum += closure->redundancy * closure->rms_nm * closure->rms_nm;
        expected += closure->redundancy * closure->expected_nm * closure->expected_nm;
        weight += closure->redundancy;
        worst = !worst || closure->rms_nm > worst->rms_nm ? closure : worst;
    }
    if (!worst)
        return;
    fw_screen_begin(screen, 0, 2);
    fw_screen_put(screen, FW_BOLD "Closures." FW_PLAIN " The odd parts of three pairs must cancel: "
                          "rms %s over %d %s", words_nm(sqrt(sum / weight), false, text),
                  result->nclosures, result->nclosures == 1 ? "loop" : "loops");
    if (isfinite(expected))
        fw_screen_put(screen, ", expected %s", words_nm(sqrt(expected / weight), false, text));
    fw_screen_put(screen, "; worst %s, ", words_nm(worst->rms_nm, false, text));
    fw_screen_text(screen, result->job->flats[worst->a].name);
    fw_screen_put(screen, FW_BLANK);
    fw_screen_text(screen, result->job->flats[worst->b].name);
    fw_screen_put(screen, FW_BLANK);
    fw_screen_text(screen, result->job->flats[worst->c].name);
    fw_screen_put(screen, " on %g" FW_BLANK "deg.", worst->diameter_deg);
    fw_screen_end(screen);
}

/* "B, lap-on-top after round 1, 0.5 h: " */
static void put_spells(fw_screen *screen, const fw_result *result, const fw_removal *removal)
{
    fw_screen_text(screen, result->job->flats[removal->flat].name);
    for (int w = 0; w < removal->nwork; w++) {
        const fw_work *work = &result->job->work[removal->work[w]];
        fw_screen_put(screen, "%s %s after round" FW_BLANK "%d", w ? " and" : ",",
                      fw_method_names[work->method], work->round);
    }
    if (isfinite(removal->hours))
        fw_screen_put(screen, ", %g" FW_BLANK "h", removal->hours);
    fw_screen_put(screen, ": ");
}

/* The point where most (sign 1) or least (sign -1) went. */
static void put_extreme(fw_screen *screen, const fw_profile *profile, int sign, const char *what)
{
    const fw_point *best = NULL;
    double angle = 0;
    char text[WORDS_SIZE], position[WORDS_SIZE];
    for (int d = 0; d < profile->ndiameters; d++)
        for (size_t i = 0; i < profile->diameters[d].npoints; i++) {
            const fw_point *point = &profile->diameters[d].points[i];
            if (point->determined && (!best || sign * (point->height_nm - best->height_nm) > 0)) {
                best = point;
                angle = profile->diameters[d].angle_deg;
            }
        }
    if (best)
        fw_screen_put(screen, "; %s %s at" FW_BLANK "%s of %g" FW_BLANK "deg",
                      what, words_quantity((fw_quantity){best->height_nm, best->u_nm}, true, text),
                      words_position(best->position_mm, position), angle);
}

static void say_removals(fw_screen *screen, const fw_result *result)
{
    if (result->nremovals == 0)
        return;
    fw_screen_say(screen, 0, 2,
                  FW_BOLD "Removal." FW_PLAIN " The shape of what the work took off; its "
                          "mean and tilt are not seen.");
    for (int r = 0; r < result->nremovals; r++) {
        const fw_removal *removal = &result->removals[r];
        char text[WORDS_SIZE];
        fw_screen_begin(screen, 2, 4);
        put_spells(screen, result, removal);
        if (isfinite(removal->rms.value_nm)) {
            fw_screen_put(screen, "rms %s", words_quantity(removal->rms, false, text));
            put_extreme(screen, &removal->profile, 1, "most");
            put_extreme(screen, &removal->profile, -1, "least");
            fw_screen_put(screen, ".");
        } else
            fw_screen_put(screen, "undetermined.");
        fw_screen_end(screen);
    }
}

static void say_unknowns(fw_screen *screen, const fw_result *result)
{
    int said = result->nunknowns < UNKNOWNS_SAID ? result->nunknowns : UNKNOWNS_SAID;
    bool all = result->fit.readings > 0;
    for (int f = 0; f < result->job->nflats; f++)
        all = all && words_today(result, f)->profile.determined;
    if (said == 0 && all)
        fw_screen_say(screen, 0, 2,
                      FW_BOLD "Nothing is undetermined" FW_PLAIN "%s.",
                      result->model == FW_MODEL_SURFACE ? "" : " along the diameters read");
    if (said == 0)
        return;
    fw_screen_say(screen, 0, 0, FW_BOLD "Undetermined." FW_PLAIN);
    for (int i = 0; i < said; i++) {
        fw_screen_begin(screen, 2, 4);
        fw_screen_put(screen, "- ");
        fw_screen_text(screen, result->unknowns[i].text);
        fw_screen_end(screen);
    }
    if (said < result->nunknowns)
        fw_screen_say(screen, 2, 4, "and %d more: see `flatwright solve --json`.",
                      result->nunknowns - said);
}

static void say_suspect(fw_screen *screen, const fw_result *result, const fw_suspect *suspect)
{
    const fw_job *job = result->job;
    const fw_scan *scan = &job->scans[suspect->scan];
    char text[WORDS_SIZE], position[WORDS_SIZE];
    fw_screen_begin(screen, 2, 4);
    words_place(screen, job, "readings.csv", suspect->line);
    fw_screen_put(screen, ": ");
    fw_screen_text(screen, job->flats[scan->bottom].name);
    fw_screen_put(screen, " under ");
    fw_screen_text(screen, job->flats[scan->top].name);
    fw_screen_put(screen, ", turn %g" FW_BLANK "deg, diameter %g" FW_BLANK "deg, at" FW_BLANK "%s, "
                          "round" FW_BLANK "%d", scan->turn_deg, scan->diameter_deg,
                  words_position(suspect->position_mm, position), scan->round);
    if (*scan->label) {
        fw_screen_put(screen, ", scan ");
        fw_screen_text(screen, scan->label);
    }
    fw_screen_put(screen, ": looks off by %s", words_nm(suspect->error_nm, true, text));
    if (job->unit != FW_UNIT_NM) /* what the notebook says */
        fw_screen_put(screen, " or" FW_BLANK "%+.2g" FW_BLANK "%s",
                      suspect->error_nm / fw_unit_nm(job->unit, &job->light),
                      fw_unit_names[job->unit]);
    fw_screen_put(screen, " (%.1f times its standard deviation, where %.1f is the limit)%s.",
                  suspect->standardised, suspect->critical,
                  suspect->tied ? "; another reading explains it as well" : "");
    fw_screen_end(screen);
}

static void say_suspects(fw_screen *screen, const fw_result *result)
{
    char text[WORDS_SIZE];
    int said = result->nsuspects < SUSPECTS_SAID ? result->nsuspects : SUSPECTS_SAID;
    bool any = result->nsuspects > 0;
    if (any)
        fw_screen_say(screen, 0, 2,
                      FW_BOLD "Suspect readings." FW_PLAIN " None was left out: look them "
                              "up in the notebook, then correct the row or set its skip "
                              "to" FW_BLANK "1.");
    for (int i = 0; i < said; i++)
        say_suspect(screen, result, &result->suspects[i]);
    if (said < result->nsuspects)
        fw_screen_say(screen, 2, 4, "and %d more: see `flatwright solve --json`.",
                      result->nsuspects - said);
    if (isfinite(result->worst_mdb_nm))
        fw_screen_say(screen, 0, 2, "%s error that could hide in one reading: %s (larger ones "
                                    "are found four times in five).",
                      any ? "Largest" : FW_BOLD "No suspect reading." FW_PLAIN " Largest",
                      words_nm(result->worst_mdb_nm, false, text));
    if (result->unchecked > 0)
        fw_screen_say(screen, 0, 2,
                      "%zu of the %zu readings %s checked by no other: an error in them "
                      "would go unseen into the heights.",
                      result->unchecked, result->fit.readings,
                      result->unchecked == 1 ? "is" : "are");
}

static void say_notes(fw_screen *screen, const fw_result *result)
{
    if (result->nnotes == 0)
        return;
    fw_screen_say(screen, 0, 0, FW_BOLD "Notes." FW_PLAIN);
    for (int i = 0; i < result->nnotes; i++) {
        fw_screen_begin(screen, 2, 4);
        fw_screen_put(screen, "- ");
        fw_screen_text(screen, result->notes[i]);
        fw_screen_end(screen);
    }
}

void words_rest(fw_screen *screen, const fw_result *result)
{
    words_model(screen, result);
    say_fit(screen, result);
    say_closures(screen, result);
    words_bench(screen, result);
    say_removals(screen, result);
    say_unknowns(screen, result);
    say_suspects(screen, result);
    say_notes(screen, result);
}

void fw_solution_text(fw_screen *screen, const fw_result *result)
{
    words_heading(screen, result);
    say_blank(screen);
    for (int f = 0; f < result->job->nflats; f++)
        words_verdict(screen, result, f, WORDS_FULL);
    words_meaning(screen, result);
    say_blank(screen);
    words_profiles(screen, result);
    words_rest(screen, result);
}
