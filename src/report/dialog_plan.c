/* dialog_plan.c - which scan is read next, where it was left, and the defaults of its prompts. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "report/dialog_parts.h"

static const char *name_of(const fw_dialog *d, int flat)
{
    return d->job->flats[flat].name;
}

/* Whether the folder has a scan of these; a negative flat, or a NAN, stands for any. */
bool dialog_was_read(const fw_dialog *d, int bottom, int top, double turn, double diameter)
{
    for (size_t k = 0; d->now && k < d->now->nscans; k++) {
        const fw_scan *s = &d->now->scans[k];
        if (s->round == d->round && s->bottom == bottom && s->top == top &&
            (isnan(turn) || s->turn_deg == turn) && (isnan(diameter) || s->diameter_deg == diameter))
            return true;
    }
    return false;
}

/* Next to each other in the set and round again, A B, B C, C A; then the others. */
void dialog_default_pair(const fw_dialog *d, int *bottom, int *top)
{
    int n = d->job->nflats;
    if (d->returned) {
        *bottom = d->bottom;
        *top = d->top;
        return;
    }
    for (int step = 1; step < n; step++)
        for (int i = 0; i < n; i++) {
            *bottom = i;
            *top = (i + step) % n;
            if (!dialog_was_read(d, *bottom, *top, NAN, NAN) && !dialog_was_read(d, *top, *bottom, NAN, NAN))
                return;
        }
    *bottom = 0;
    *top = 1;
}

double dialog_default_turn(const fw_dialog *d)
{
    double turn = 0;
    if (d->returned)
        return d->turn_deg;
    for (int i = 0; i < d->job->nturns && dialog_was_read(d, d->bottom, d->top, turn, NAN); i++)
        turn = d->job->turns_deg[i];
    for (int i = 1; i < 8 && dialog_was_read(d, d->bottom, d->top, turn, NAN); i++)
        turn = 45 * i;
    return turn;
}

/* The first diameter of the job that this pairing has not in this round; false: it has all. */
bool dialog_default_diameter(const fw_dialog *d, double *diameter_deg)
{
    *diameter_deg = d->diameter_deg;
    if (d->returned)
        return true;
    for (size_t k = 0; d->now && k < d->now->nscans; k++) {
        double angle = d->now->scans[k].diameter_deg;
        if (!dialog_was_read(d, d->bottom, d->top, d->turn_deg, angle)) {
            *diameter_deg = angle;
            return true;
        }
    }
    if (!dialog_was_read(d, d->bottom, d->top, d->turn_deg, 0)) {
        *diameter_deg = 0;
        return true;
    }
    return false;
}

/* Stations: the comment in the file, else the positions of the scan that has most of them. */
static void find_stations(fw_dialog *d)
{
    size_t n = 0;
    const fw_scan *best = NULL;
    const double *listed = fw_notebook_stations(d->notebook, &n);
    d->nstations = 0;
    if (listed) {
        d->nstations = n < DIALOG_PLACES ? (int)n : DIALOG_PLACES;
        memcpy(d->station, listed, (size_t)d->nstations * sizeof *listed);
        return;
    }
    for (size_t k = 0; d->now && k < d->now->nscans; k++)
        if (!best || d->now->scans[k].count >= best->count)
            best = &d->now->scans[k];
    for (size_t j = 0; best && j < best->count && d->nstations < DIALOG_PLACES; j++) {
        double mm = d->now->readings[best->first + j].position_mm;
        int at = d->nstations;
        while (at > 0 && d->station[at - 1] > mm) {
            d->station[at] = d->station[at - 1];
            at--;
        }
        d->station[at] = mm;
        d->nstations++;
    }
}

void dialog_start_readings(fw_dialog *d)
{
    bool any = false;
    d->stage = ASK_READING;
    for (d->at = 0; d->at < d->nplaces; d->at++) {
        if (isnan(d->place[d->at].value) && !d->place[d->at].skipped)
            return;
        any = any || !isnan(d->place[d->at].value);
    }
    d->at = any ? d->nplaces - 1 : 0; /* all left out: from the start */
}

/* What is read has to be told; the clear aperture is the default. */
static void ask_radius(fw_dialog *d)
{
    d->radius_mm = fmin(d->job->flats[d->bottom].clear_mm, d->job->flats[d->top].clear_mm) / 2;
    d->stage = ASK_RADIUS;
}

/* After the diameter: places, what is read of them, what is foretold; then the sign, or readings. */
void dialog_start_scan(fw_dialog *d)
{
    dialog_lay_places(d);
    if (d->nplaces == 0) {
        ask_radius(d);
        return;
    }
    int found = dialog_find_scan(d, d->label);
    dialog_foretell(d);
    d->reach = 0;
    if (found > 0)
        fw_screen_say(d->screen, 0, 2, "%d of %d places are read or left out; going on.", found,
                      d->nplaces);
    if (!d->sign_asked || (d->sides && d->job->levelling == FW_LEVELLING_SCAN)) {
        if (!d->sign_asked)
            dialog_draw_sign(d);
        d->stage = ASK_SIGN;
    } else
        dialog_start_readings(d);
}

/* The first mark that no scan of this diameter has: "", "2", "3", ... */
void dialog_next_label(fw_dialog *d)
{
    char label[sizeof d->label] = "";
    for (int k = 2; k < 10000; k++) {
        bool taken = false;
        for (size_t i = 0; d->now && i < d->now->nscans; i++) {
            const fw_scan *s = &d->now->scans[i];
            taken = taken || (s->round == d->round && s->bottom == d->bottom && s->top == d->top &&
                              s->turn_deg == d->turn_deg && s->diameter_deg == d->diameter_deg &&
                              strcmp(s->label, label) == 0);
        }
        if (!taken)
            break;
        snprintf(label, sizeof label, "%d", k);
    }
    snprintf(d->label, sizeof d->label, "%s", label);
}

/* The diameter is known: is it new, begun, or whole? */
void dialog_take_scan(fw_dialog *d)
{
    if (d->stale)
        dialog_renew(d);
    find_stations(d);
    d->label[0] = '\0';
    if (d->nstations == 0) {
        ask_radius(d);
        return;
    }
    dialog_lay_places(d);
    if (d->nplaces > 0 && dialog_find_scan(d, "") == d->nplaces &&
        dialog_was_read(d, d->bottom, d->top, d->turn_deg, d->diameter_deg)) {
        dialog_next_label(d);
        fw_screen_say(d->screen, 0, 2, "This diameter is read already; this is a repeat, scan %s.",
                      d->label);
    }
    dialog_start_scan(d);
}

/* After a scan: one more diameter where the pairing lacks one, else the next pairing. */
void dialog_end_scan(fw_dialog *d)
{
    double next;
    dialog_draw_scan(d);
    dialog_renew(d);
    dialog_check_scan(d);
    d->label[0] = '\0';
    d->stage = dialog_default_diameter(d, &next) ? ASK_DIAMETER : ASK_PAIR;
}

/* The scan last begun in the file, when places of it are missing. */
void dialog_find_unfinished(fw_dialog *d)
{
    if (!d->now || d->now->nscans == 0)
        return;
    const fw_scan *last = &d->now->scans[0];
    for (size_t k = 1; k < d->now->nscans; k++) {
        const fw_scan *s = &d->now->scans[k];
        if (s->count > 0 && d->now->readings[s->first + s->count - 1].line >
                            d->now->readings[last->first + last->count - 1].line)
            last = s;
    }
    if (last->round != d->round || last->count == 0 || strlen(last->label) >= sizeof d->label)
        return;
    d->bottom = last->bottom;
    d->top = last->top;
    d->turn_deg = last->turn_deg;
    d->diameter_deg = last->diameter_deg;
    find_stations(d);
    dialog_lay_places(d);
    int found = dialog_find_scan(d, last->label);
    if (found < d->nplaces && found > 0) {
        snprintf(d->label, sizeof d->label, "%s", last->label);
        fw_screen_say(d->screen, 0, 2, "Unfinished: %s below, %s on top, turn %g, diameter %g. `back` "
                      "for another one%s.", name_of(d, d->bottom), name_of(d, d->top), d->turn_deg,
                      d->diameter_deg, d->job->levelling == FW_LEVELLING_SCAN
                      ? "; `again` if the pair was moved or tilted since" : "");
        dialog_start_scan(d);
    } else {
        double next;
        d->stage = dialog_default_diameter(d, &next) ? ASK_DIAMETER : ASK_PAIR;
        d->nplaces = 0;
        if (d->stage == ASK_DIAMETER)
            fw_screen_say(d->screen, 0, 2, "Going on with %s below, %s on top, turn %g. `back` for "
                          "another pairing.", name_of(d, d->bottom), name_of(d, d->top), d->turn_deg);
    }
}
