/* dialog_enter.c - what is typed at a station: numbers in several forms become readings on disk. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "flatwright/mating.h"
#include "flatwright/number.h"
#include "flatwright/show.h"
#include "flatwright/units.h"
#include "report/dialog_parts.h"

/* As in readings.csv: no pair is read over 10 mm of gap. */
#define NM_LIMIT 1e7
#define CROSSINGS 400
/* Of a quotient or a converted number: far below what an eye can tell. */
#define TYPED_DIGITS 9

double dialog_unit_nm(const fw_dialog *d)
{
    return fw_unit_nm(d->job->unit, &d->job->light);
}

const char *dialog_unit(const fw_dialog *d)
{
    static const char *const names[] = {"nm", "um", "fringe", "wave"};
    return names[d->job->unit];
}

char *dialog_value(double value, char buffer[FW_SCREEN_WORD])
{
    snprintf(buffer, FW_SCREEN_WORD, value == 0 ? "%.4g" : "%+.4g", value + 0.0);
    return buffer;
}

fw_entry dialog_entry(const fw_dialog *d, const dialog_place *place)
{
    return (fw_entry){.round = d->round, .bottom = d->bottom, .top = d->top,
                      .turn_deg = d->turn_deg, .diameter_deg = d->diameter_deg,
                      .position_mm = place->mm, .deviation = place->value, .unit = d->job->unit,
                      .sigma = NAN, .label = d->label, .note = ""};
}

/* A failure is said, and what was typed counts as not typed. */
static bool refuse(fw_dialog *d, const fw_error *err)
{
    d->status = err->status;
    fw_screen_begin(d->screen, 0, 2);
    fw_screen_put(d->screen, FW_BAD "! Not written" FW_PLAIN ": ");
    fw_screen_text(d->screen, err->text);
    fw_screen_end(d->screen);
    return false;
}

/* Writes one reading: a new row, or the old one corrected. */
static bool keep(fw_dialog *d, int i, double value)
{
    fw_error err;
    dialog_place new_place = d->place[i];
    new_place.value = value;
    fw_entry entry = dialog_entry(d, &new_place), old = dialog_entry(d, &d->place[i]);
    fw_status status = FW_OK;
    if (isnan(d->place[i].value))
        status = fw_notebook_add(d->notebook, &entry, 1, false, &err);
    else if (d->place[i].value != value)
        status = fw_notebook_correct(d->notebook, &old, &entry, 1, &err);
    if (status != FW_OK)
        return refuse(d, &err);
    d->count += isnan(d->place[i].value);
    d->status = FW_OK;
    d->stale = true;
    d->place[i].value = value;
    return true;
}

bool dialog_skip(fw_dialog *d, int i)
{
    fw_error err;
    fw_entry entry = dialog_entry(d, &d->place[i]);
    if (!isnan(d->place[i].value))
        return true;
    if (fw_notebook_skip(d->notebook, &entry, &err) != FW_OK)
        return refuse(d, &err);
    d->place[i].skipped = true;
    return true;
}

void dialog_advance(fw_dialog *d)
{
    if (d->at >= d->nplaces)
        d->stage = ASK_BOW; /* dialog.c ends the scan there */
}

/* Displacement over spacing, "3/25", or "4/" with the spacing typed before: fringes. */
static bool read_quotient(fw_dialog *d, const char *text, double above, double *fringes)
{
    double below = d->spacing;
    if (*text && fw_number_read(text, strlen(text), true, &below) != FW_NUMBER_OK)
        return false;
    if (!(below > 0))
        return false;
    d->spacing = below;
    *fringes = above / below;
    return true;
}

/* What may stand behind the number: a unit, or the letter of a side. false: neither. */
static bool read_behind(const fw_dialog *d, const char *text, double *factor, int *side)
{
    static const char *const names[] = {"nm", "um", "fringe", "wave"};
    *factor = 1;
    *side = 0;
    if (!*text)
        return true;
    for (int i = 0; i < 4; i++)
        if (strcmp(text, names[i]) == 0) {
            *factor = fw_unit_nm((fw_unit)i, &d->job->light) / dialog_unit_nm(d);
            return true;
        }
    if (!d->sides || strlen(text) != 1)
        return false;
    *side = *text == d->sides->plus ? 1 : *text == d->sides->minus ? -1 : 0;
    return *side != 0;
}

/* One reading as typed, in the job's unit with the sign of the glass; false: not understood. */
static bool read_value(fw_dialog *d, const char *text, double *value)
{
    size_t used = 0;
    double number = 0, factor = 1;
    int side = 0;
    if (fw_number_prefix(text, strlen(text), true, &number, &used) != FW_NUMBER_OK)
        return false;
    if (text[used] == '/') {
        if (!read_quotient(d, text + used + 1, number, &number))
            return false;
        factor = fw_unit_nm(FW_UNIT_FRINGE, &d->job->light) / dialog_unit_nm(d);
    } else if (!read_behind(d, text + used, &factor, &side))
        return false;
    if (side != 0)
        number = side * d->sign * fabs(number);
    bool computed = text[used] == '/' || factor != 1;
    number *= factor;
    *value = (computed ? dialog_as_typed(number, TYPED_DIGITS) : number) + 0.0;
    return true;
}

/* Takes one word at the present place. */
static bool take_word(fw_dialog *d, const char *word)
{
    double value = NAN;
    char quoted[FW_QUOTED];
    if (!read_value(d, word, &value)) {
        fw_show_quoted(quoted, word);
        fw_screen_begin(d->screen, 0, 2);
        fw_screen_text(d->screen, quoted);
        fw_screen_put(d->screen, " is no reading: a number such as 0.12, or 3/25 for a displacement "
                      "of 3 where the bands are 25 apart; `?` tells more.");
        fw_screen_end(d->screen);
        return false;
    }
    if (!isfinite(value) || fabs(value * dialog_unit_nm(d)) > NM_LIMIT) {
        fw_screen_say(d->screen, 0, 2, isfinite(value)
                      ? "That is more than 10 mm of gap: a slip of the pen?"
                      : "Fringes and waves need a light: [light] in job.ini.");
        return false;
    }
    if (!keep(d, d->at, value))
        return false;
    dialog_draw_reading(d, d->at);
    dialog_check(d, d->at);
    d->at++;
    return true;
}

void dialog_enter(fw_dialog *d, const char *line)
{
    char word[64];
    if (!*line) {
        if (isnan(d->place[d->at].value) && !d->place[d->at].skipped)
            fw_screen_say(d->screen, 0, 2, "A number, or `skip` where there is nothing to read.");
        else
            d->at++;
        dialog_advance(d);
        return;
    }
    while (*line && d->at < d->nplaces) {
        size_t length = strcspn(line, " \t");
        snprintf(word, sizeof word, "%.*s", (int)(length < 63 ? length : 63), line);
        if (!take_word(d, word))
            return;
        line += length;
        line += strspn(line, " \t");
    }
    if (*line)
        fw_screen_say(d->screen, 0, 2, "More numbers than places: the last ones were not taken.");
    dialog_advance(d);
}

void dialog_flip(fw_dialog *d)
{
    fw_entry old[DIALOG_PLACES], turned[DIALOG_PLACES];
    fw_error err;
    size_t n = 0;
    for (int i = 0; i < d->nplaces; i++)
        if (!isnan(d->place[i].value)) {
            old[n] = turned[n] = dialog_entry(d, &d->place[i]);
            turned[n].deviation = -turned[n].deviation + 0.0;
            n++;
        }
    if (n == 0)
        fw_screen_say(d->screen, 0, 2, "There is nothing to turn yet.");
    else if (fw_notebook_correct(d->notebook, old, turned, n, &err) != FW_OK)
        refuse(d, &err);
    else {
        for (int i = 0; i < d->nplaces; i++)
            d->place[i].value = -d->place[i].value + 0.0;
        d->stale = true;
        fw_screen_say(d->screen, 0, 2, "The signs of %zu readings are turned.", n);
    }
}

/*
 * The order number at `mm` between the crossings x[0..n): the polynomial through the four crossings
 * around it (three or two where there are no more); one band is one fringe. NAN outside them.
 */
static double order_at(const double *x, int n, double mm)
{
    int right = 1, many = n < 4 ? n : 4;
    double value = 0;
    if (mm < x[0] - FW_POSITION_TOLERANCE_MM || mm > x[n - 1] + FW_POSITION_TOLERANCE_MM)
        return NAN;
    while (right < n - 1 && x[right] < mm)
        right++;
    int first = right - many / 2;
    first = first < 0 ? 0 : first > n - many ? n - many : first;
    for (int k = first; k < first + many; k++) {
        double w = 1;
        for (int m = first; m < first + many; m++)
            if (m != k)
                w *= (mm - x[m]) / (x[k] - x[m]);
        value += w * k;
    }
    return value;
}

static int read_crossings(const fw_dialog *d, const char *line, double *x)
{
    int n = 0;
    while (*line) {
        size_t length = strcspn(line, " \t");
        if (n == CROSSINGS || fw_number_read(line, length, true, &x[n]) != FW_NUMBER_OK ||
            (n > 0 && !(x[n] > x[n - 1]))) {
            fw_screen_say(d->screen, 0, 2, "Positions in mm are wanted, each beyond the one "
                          "before, from the - side to the + side; nothing was taken.");
            return 0;
        }
        n++;
        line += length;
        line += strspn(line, " \t");
    }
    if (n < 3)
        fw_screen_say(d->screen, 0, 2, "Three crossings or more are needed: two bands make a "
                      "straight line whatever the glass is like.");
    return n < 3 ? 0 : n;
}

/* The straight line through the orders at the crossings, least squares: order = a + b x. */
static void line_of(const double *x, int n, double *a, double *b)
{
    double sx = 0, sxx = 0, sk = 0, sxk = 0;
    for (int k = 0; k < n; k++) {
        sx += x[k];
        sxx += x[k] * x[k];
        sk += k;
        sxk += x[k] * k;
    }
    *b = (n * sxk - sx * sk) / (n * sxx - sx * sx);
    *a = (sk - *b * sx) / n;
}

/*
 * The gap grows by one fringe from band to band toward its wide side, so the glass falls by one:
 * deviation = -order, with the orders counted toward the wide side. A height and a slope are not
 * figure: the line through all crossings is taken off, so that the numbers are small.
 */
void dialog_cross(fw_dialog *d, const char *line)
{
    double x[CROSSINGS], a, b;
    int n = 0, kept = 0, wide = 0;
    double fringe = fw_unit_nm(FW_UNIT_FRINGE, &d->job->light) / dialog_unit_nm(d);
    if (*line == '+' || *line == '-') {
        wide = *line == '+' ? 1 : -1;
        line += 1 + strspn(line + 1, " \t");
    }
    if (d->job->levelling == FW_LEVELLING_SETUP || !isfinite(fringe) || wide == 0) {
        fw_screen_say(d->screen, 0, 2, wide == 0
                      ? "`cross +` or `cross -`: the side to which the bands move along the "
                        "diameter when you press on the middle; then the crossings in mm, from the "
                        "- side to the + side: cross + -88 -61 -30 2 35 66 90"
                      : isfinite(fringe) ? "Crossings need levelling = scan in job.ini: a slope of "
                                           "its own is taken off every scan."
                                         : "Crossings need a light: [light] in job.ini.");
        return;
    }
    n = read_crossings(d, line, x);
    if (n == 0)
        return;
    line_of(x, n, &a, &b);
    for (int i = 0; i < d->nplaces; i++) {
        double order = order_at(x, n, d->place[i].mm);
        double value = -wide * (order - a - b * d->place[i].mm) * fringe;
        if (isnan(order)) {
            if (!dialog_skip(d, i))
                return;
            continue;
        }
        value = round(value * 1e6) / 1e6 + 0.0;
        if (!keep(d, i, value))
            return;
        dialog_draw_reading(d, i);
        kept++;
    }
    fw_screen_say(d->screen, 0, 2, "%d bands give %d readings%s.", n, kept,
                  kept > n ? "; there are more stations than bands, so they are not independent: "
                             "tilt for more bands" : "");
    if (kept < d->nplaces)
        fw_screen_say(d->screen, 0, 2, "Beyond the first and the last band nothing is known: %d "
                      "places stay empty.", d->nplaces - kept);
    d->at = d->nplaces;
    dialog_advance(d);
}
