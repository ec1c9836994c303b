/* dialog.c - readings asked for at the bench: which prompt follows which, and its defaults. */
#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "flatwright/alloc.h"
#include "flatwright/mating.h"
#include "flatwright/nearest.h"
#include "flatwright/number.h"
#include "flatwright/show.h"
#include "report/dialog_parts.h"

#define COUNT_DEFAULT 13
#define LINE_LIMIT 4096

static const dialog_sides sides[] = {{'a', 't', "away from you", "toward you"},
                                     {'l', 'r', "to the left", "to the right"},
                                     {'u', 'd', "up", "down"}};

static const char *name_of(const fw_dialog *d, int flat)
{
    return d->job->flats[flat].name;
}

/* Whether the folder has a scan of these; a negative flat, or a NAN, stands for any. */
static bool was_read(const fw_dialog *d, int bottom, int top, double turn, double diameter)
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
    for (int step = 1; step < n; step++)
        for (int i = 0; i < n; i++) {
            *bottom = i;
            *top = (i + step) % n;
            if (!was_read(d, *bottom, *top, NAN, NAN) && !was_read(d, *top, *bottom, NAN, NAN))
                return;
        }
    *bottom = 0;
    *top = 1;
}

double dialog_default_turn(const fw_dialog *d)
{
    double turn = 0;
    for (int i = 0; i < d->job->nturns && was_read(d, d->bottom, d->top, turn, NAN); i++)
        turn = d->job->turns_deg[i];
    for (int i = 1; i < 8 && was_read(d, d->bottom, d->top, turn, NAN); i++)
        turn = 45 * i;
    return turn;
}

/* The first diameter of the job that this pairing has not in this round; false: it has all. */
bool dialog_default_diameter(const fw_dialog *d, double *diameter_deg)
{
    *diameter_deg = d->diameter_deg;
    for (size_t k = 0; d->now && k < d->now->nscans; k++) {
        double angle = d->now->scans[k].diameter_deg;
        if (!was_read(d, d->bottom, d->top, d->turn_deg, angle)) {
            *diameter_deg = angle;
            return true;
        }
    }
    if (!was_read(d, d->bottom, d->top, d->turn_deg, 0)) {
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

static void start_readings(fw_dialog *d)
{
    d->stage = ASK_READING;
    d->at = 0;
    while (d->at < d->nplaces - 1 && !isnan(d->place[d->at].value))
        d->at++;
}

/* After the diameter: places, what is read of them, what is foretold; then the sign, or readings. */
static void start_scan(fw_dialog *d)
{
    dialog_lay_places(d);
    if (d->nplaces == 0) {
        d->stage = ASK_RADIUS;
        return;
    }
    int found = dialog_find_scan(d, d->label);
    dialog_foretell(d);
    d->reach = 0;
    if (found > 0)
        fw_screen_say(d->screen, 0, 2, "%d of %d places are read; going on.", found, d->nplaces);
    if (!d->sign_asked || (d->sides && d->job->levelling == FW_LEVELLING_SCAN)) {
        if (!d->sign_asked)
            dialog_draw_sign(d);
        d->stage = ASK_SIGN;
    } else
        start_readings(d);
}

/* The first mark that no scan of this diameter has: "", "2", "3", ... */
static bool next_label(fw_dialog *d)
{
    char label[sizeof d->label] = "";
    for (int k = 2; k < 100; k++) {
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
    if (*label && !fw_notebook_has(d->notebook, FW_HAS_SCAN)) {
        fw_screen_say(d->screen, 0, 2, "readings.csv has no column `scan`, so a repeat would melt "
                      "into the first reading: add the column to its header and rows.");
        return false;
    }
    strcpy(d->label, label);
    return true;
}

/* The diameter is known: is it new, begun, or whole? */
static void take_scan(fw_dialog *d)
{
    if (d->stale)
        dialog_renew(d);
    find_stations(d);
    d->label[0] = '\0';
    if (d->nstations == 0) {
        double r = fmin(d->job->flats[d->bottom].clear_mm, d->job->flats[d->top].clear_mm) / 2;
        d->radius_mm = r;
        d->stage = ASK_RADIUS;
        return;
    }
    dialog_lay_places(d);
    if (d->nplaces > 0 && dialog_find_scan(d, "") == d->nplaces) {
        if (!next_label(d)) {
            d->stage = ASK_DIAMETER;
            return;
        }
        fw_screen_say(d->screen, 0, 2, "This diameter is read already; this is a repeat, scan %s.",
                      d->label);
    }
    start_scan(d);
}

/* After a scan: one more diameter where the pairing lacks one, else the next pairing. */
static void end_scan(fw_dialog *d)
{
    double next;
    dialog_draw_scan(d);
    dialog_renew(d);
    dialog_check_scan(d);
    d->label[0] = '\0';
    d->stage = dialog_default_diameter(d, &next) ? ASK_DIAMETER : ASK_PAIR;
}

/* The scan last begun in the file, when places of it are missing. */
static void find_unfinished(fw_dialog *d)
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
        strcpy(d->label, last->label);
        fw_screen_say(d->screen, 0, 2, "Unfinished: %s below, %s on top, turn %g, diameter %g. `back` "
                      "for another one.", name_of(d, d->bottom), name_of(d, d->top), d->turn_deg,
                      d->diameter_deg);
        start_scan(d);
    } else {
        double next;
        d->stage = dialog_default_diameter(d, &next) ? ASK_DIAMETER : ASK_PAIR;
        d->nplaces = 0;
        if (d->stage == ASK_DIAMETER)
            fw_screen_say(d->screen, 0, 2, "Going on with %s below, %s on top, turn %g. `back` for "
                          "another pairing.", name_of(d, d->bottom), name_of(d, d->top), d->turn_deg);
    }
}

fw_status fw_dialog_new(const fw_job *job, fw_notebook *notebook, fw_screen *screen,
                        const fw_dialog_options *options, fw_dialog **dialog, fw_error *err)
{
    *dialog = NULL;
    fw_dialog *d = fw_alloc(1, sizeof *d);
    if (!d)
        return fw_out_of_memory(err);
    d->job = job;
    d->notebook = notebook;
    d->screen = screen;
    d->picture = options->picture;
    d->round = options->round > 0 ? options->round : fw_job_round(job);
    d->stage = ASK_PAIR;
    d->top = 1;
    d->sign = 1;
    dialog_renew(d);
    fw_screen_say(screen, 0, 2, "Round %d, readings in %s. At every prompt: Enter takes what is in "
                  "brackets, ? helps, back, stop.", d->round, dialog_unit(d));
    find_unfinished(d);
    dialog_prompt(d);
    *dialog = d;
    return FW_OK;
}

void fw_dialog_free(fw_dialog *d)
{
    if (!d)
        return;
    fw_result_free(d->result);
    fw_job_free(d->now);
    fw_free(d);
}

size_t fw_dialog_count(const fw_dialog *d)
{
    return d->count;
}

fw_status fw_dialog_status(const fw_dialog *d)
{
    return d->status;
}

static void not_understood(const fw_dialog *d, const char *line, const char *expected)
{
    char quoted[FW_QUOTED];
    fw_show_quoted(quoted, line);
    fw_screen_begin(d->screen, 0, 2);
    fw_screen_text(d->screen, quoted);
    fw_screen_put(d->screen, " is not understood: %s.", expected);
    fw_screen_end(d->screen);
}

/* An angle, Enter for the default; false: said. */
static bool take_angle(const fw_dialog *d, const char *line, double usual, double *angle)
{
    double value = usual;
    if (*line && (fw_number_read(line, strlen(line), true, &value) != FW_NUMBER_OK ||
                  fabs(value) > 3600)) {
        not_understood(d, line, "an angle in degrees is wanted");
        return false;
    }
    *angle = value + 0.0;
    return true;
}

/* The flat of a name: exactly, or but for case. -1: none, said. */
static int find_flat(const fw_dialog *d, const char *name)
{
    char quoted[FW_QUOTED], suggestion[FW_SUGGESTION];
    int found = -1;
    for (int i = 0; i < d->job->nflats; i++)
        if (strcmp(name_of(d, i), name) == 0)
            return i;
    fw_nearest nearest = fw_nearest_start(name);
    for (int i = 0; i < d->job->nflats; i++) {
        fw_nearest_offer(&nearest, name_of(d, i));
        if (fw_same_name(name_of(d, i), name))
            found = found < 0 ? i : -2;
    }
    if (found >= 0)
        return found;
    fw_show_quoted(quoted, name);
    fw_screen_begin(d->screen, 0, 2);
    fw_screen_put(d->screen, "There is no flat ");
    fw_screen_text(d->screen, quoted);
    fw_screen_put(d->screen, "%s.", fw_nearest_text(&nearest, suggestion));
    fw_screen_end(d->screen);
    return -1;
}

static void take_pair(fw_dialog *d, const char *line)
{
    char text[200], rest[8], a[64], b[64];
    double angle;
    int bottom, top;
    if (!*line) {
        dialog_default_pair(d, &d->bottom, &d->top);
        d->stage = ASK_TURN;
        return;
    }
    if (fw_number_read(line, strlen(line), true, &angle) == FW_NUMBER_OK &&
        was_read(d, d->bottom, d->top, d->turn_deg, NAN)) {
        if (take_angle(d, line, 0, &d->diameter_deg))
            take_scan(d);
        return;
    }
    snprintf(text, sizeof text, "%s", line);
    for (char *c = text; *c; c++)
        if (*c == ',' || *c == '/' || *c == '+')
            *c = ' ';
    if (sscanf(text, "%63s %63s %7s", a, b, rest) != 2) {
        not_understood(d, line, "two names are wanted, the flat below and the flat on top");
        return;
    }
    bottom = find_flat(d, a);
    top = bottom < 0 ? -1 : find_flat(d, b);
    if (top < 0)
        return;
    if (bottom == top) {
        not_understood(d, line, "two different flats are wanted");
        return;
    }
    d->bottom = bottom;
    d->top = top;
    d->stage = ASK_TURN;
}

static int compare_stations(const double *a, int n, double value)
{
    int at = n;
    while (at > 0 && a[at - 1] > value)
        at--;
    return at;
}

/* Keeps the list of stations in the file, for all scans that follow. */
static void keep_stations(fw_dialog *d)
{
    fw_error err;
    dialog_lay_places(d);
    if (d->nplaces < 2) {
        fw_screen_say(d->screen, 0, 2, "That leaves fewer than two places on the glass of both.");
        d->stage = ASK_RADIUS;
        return;
    }
    if (fw_notebook_set_stations(d->notebook, d->station, (size_t)d->nstations, &err) != FW_OK) {
        d->status = err.status;
        fw_screen_begin(d->screen, 0, 2);
        fw_screen_text(d->screen, err.text);
        fw_screen_end(d->screen);
        d->stage = ASK_RADIUS;
        return;
    }
    start_scan(d);
}

/* A distance, or the whole list. */
static void take_radius(fw_dialog *d, const char *line)
{
    double rim = fmin(d->job->flats[d->bottom].diameter_mm, d->job->flats[d->top].diameter_mm) / 2;
    double value = d->radius_mm;
    size_t length = strcspn(line, " \t");
    if (line[length]) {
        d->nstations = 0;
        while (*line && d->nstations < DIALOG_PLACES) {
            length = strcspn(line, " \t");
            if (fw_number_read(line, length, true, &value) != FW_NUMBER_OK || fabs(value) > rim) {
                d->nstations = 0;
                not_understood(d, line, "positions in mm, on the glass");
                return;
            }
            int at = compare_stations(d->station, d->nstations, value);
            memmove(d->station + at + 1, d->station + at,
                    (size_t)(d->nstations - at) * sizeof *d->station);
            d->station[at] = value + 0.0;
            d->nstations++;
            line += length;
            line += strspn(line, " \t");
        }
        keep_stations(d);
        return;
    }
    if (*line && (fw_number_read(line, length, true, &value) != FW_NUMBER_OK || !(value > 0) ||
                  value > rim)) {
        char expected[80];
        snprintf(expected, sizeof expected, "a distance up to %g mm is wanted", rim);
        not_understood(d, line, expected);
        return;
    }
    d->radius_mm = value;
    d->stage = ASK_COUNT;
}

static void take_count(fw_dialog *d, const char *line)
{
    long n = COUNT_DEFAULT;
    if (*line && (fw_integer_read(line, strlen(line), &n) != FW_NUMBER_OK || n < 2 ||
                  n > DIALOG_PLACES)) {
        not_understood(d, line, "a whole number from 2 to 1000 is wanted");
        return;
    }
    d->nstations = (int)n;
    for (long i = 0; i < n; i++) /* to a hundredth of a mm: that is what a hand can set */
        d->station[i] = round(100 * d->radius_mm * (2.0 * (double)i / (double)(n - 1) - 1)) / 100;
    keep_stations(d);
}

static void take_sign(fw_dialog *d, const char *line)
{
    if (!*line && d->sign_asked) {
        start_readings(d);
        return;
    }
    bool found = !*line || strcmp(line, "sign") == 0 || strcmp(line, "s") == 0;
    if (found)
        d->sides = NULL;
    for (size_t i = 0; !found && line[1] == '\0' && i < sizeof sides / sizeof sides[0]; i++)
        if (*line == sides[i].plus || *line == sides[i].minus) {
            d->sides = &sides[i];
            d->sign = *line == sides[i].plus ? 1 : -1;
            found = true;
        }
    if (!found) {
        not_understood(d, line, "the letter of a side, a t l r u d, or `sign`");
        return;
    }
    d->bow_due = d->sides && !d->sign_asked;
    d->sign_asked = true;
    if (d->sides)
        fw_screen_say(d->screen, 0, 2, "Now how far the band stands off the straight line: + %s, - "
                      "%s.", d->sides->plus_word, d->sides->minus_word);
    start_readings(d);
}

/* Which way the values bow: their middle half against the rest, less a straight line. */
static int bow_of(const fw_dialog *d)
{
    double s = 0, sx = 0, sxx = 0, sy = 0, sxy = 0, q = 0;
    for (int i = 0; i < d->nplaces; i++)
        if (!isnan(d->place[i].value)) {
            double x = d->place[i].mm, y = d->place[i].value;
            s++;
            sx += x;
            sxx += x * x;
            sy += y;
            sxy += x * y;
        }
    double det = s * sxx - sx * sx, slope = det > 0 ? (s * sxy - sx * sy) / det : 0;
    for (int i = 0; i < d->nplaces; i++)
        if (!isnan(d->place[i].value)) {
            double x = d->place[i].mm;
            q += (x * x - sxx / s) * (d->place[i].value - sy / s - slope * (x - sx / s));
        }
    return q < 0 ? 1 : q > 0 ? -1 : 0; /* high in the middle: against x^2 */
}

static void take_bow(fw_dialog *d, const char *line)
{
    int seen = 0;
    if (*line && line[1] == '\0')
        seen = *line == d->sides->plus ? 1 : *line == d->sides->minus ? -1 : 0;
    if (*line && seen == 0) {
        not_understood(d, line, "the letter of a side, or Enter");
        return;
    }
    d->bow_due = false;
    if (seen != 0 && bow_of(d) != seen * d->sign) {
        fw_screen_say(d->screen, 0, 2, FW_DOUBT "! What was typed bows to the other side" FW_PLAIN
                      ". If you counted the other way round, `flip` turns the signs of this scan; "
                      "`list` shows it; Enter leaves it.");
        d->at = d->nplaces - 1;
        d->stage = ASK_READING;
        return;
    }
    end_scan(d);
}

/* A scan read to its last place: the second look at the sign, or its end. */
static void settle(fw_dialog *d)
{
    if (d->stage == ASK_BOW && !d->bow_due)
        end_scan(d);
}

/* From the first place back to the prompt before the scan. */
static void leave_scan(fw_dialog *d)
{
    if (d->stale)
        dialog_renew(d);
    d->stage = d->sides ? ASK_SIGN : ASK_DIAMETER;
}

static void go_back(fw_dialog *d)
{
    switch (d->stage) {
    case ASK_READING:
        if (d->at > 0)
            d->at--;
        else
            leave_scan(d);
        break;
    case ASK_BOW:
        d->stage = ASK_READING;
        d->at = d->nplaces - 1;
        break;
    case ASK_TURN: d->stage = ASK_PAIR; break;
    case ASK_DIAMETER: d->stage = ASK_TURN; break;
    case ASK_COUNT: d->stage = ASK_RADIUS; break;
    case ASK_RADIUS:
    case ASK_SIGN: d->stage = ASK_DIAMETER; break;
    default: fw_screen_say(d->screen, 0, 2, "There is nothing before this."); break;
    }
}

static void read_again(fw_dialog *d)
{
    if (d->stage != ASK_READING) {
        fw_screen_say(d->screen, 0, 2, "`again` is for a scan being read.");
        return;
    }
    dialog_renew(d);
    if (next_label(d)) {
        if (*d->label)
            fw_screen_say(d->screen, 0, 2, "Once more: scan %s; what is read stays.", d->label);
        start_scan(d);
    }
}

static void skip(fw_dialog *d)
{
    if (d->stage != ASK_READING) {
        fw_screen_say(d->screen, 0, 2, "There is nothing to skip here.");
        return;
    }
    d->at++;
    dialog_advance(d);
}

enum { NO_COMMAND, BACK, AGAIN, SKIP, STOP, LIST, FLIP, CROSS, HELP };

/* The command whose first letters the line is; `rest` gets what follows it. */
static int command_of(const fw_dialog *d, const char *line, const char **rest)
{
    static const char *const names[] = {"", "back", "again", "skip", "stop", "list", "flip", "cross",
                                        "help"};
    size_t length = strcspn(line, " \t");
    int found = NO_COMMAND;
    *rest = line + length + strspn(line + length, " \t");
    if (strcmp(line, "?") == 0)
        return HELP;
    if (length == 0 || (length == 1 && (d->stage == ASK_SIGN || d->stage == ASK_BOW) &&
                        strchr("atlruds", *line)))
        return NO_COMMAND;
    for (int i = 1; i <= HELP; i++)
        if (strncmp(names[i], line, length) == 0 && (!**rest || i == CROSS))
            found = found == NO_COMMAND ? i : -1; /* skip and stop */
    if (found == -1 && length == 1)
        fw_screen_say(d->screen, 0, 2, "sk for skip, st for stop.");
    return found;
}

static void obey(fw_dialog *d, int command, const char *rest)
{
    switch (command) {
    case BACK: go_back(d); break;
    case AGAIN: read_again(d); break;
    case SKIP: skip(d); break;
    case STOP: d->stage = ASK_OVER; break;
    case LIST: dialog_list(d); break;
    case FLIP:
        if (d->stage == ASK_READING || d->stage == ASK_BOW)
            dialog_flip(d);
        else
            fw_screen_say(d->screen, 0, 2, "`flip` is for a scan being read.");
        break;
    case CROSS:
        if (d->stage == ASK_READING)
            dialog_cross(d, rest);
        else
            fw_screen_say(d->screen, 0, 2, "`cross` is for a scan being read.");
        break;
    case HELP: dialog_help(d); break;
    default: break;
    }
}

static void take_line(fw_dialog *d, const char *line)
{
    double usual;
    switch (d->stage) {
    case ASK_PAIR: take_pair(d, line); break;
    case ASK_TURN:
        if (take_angle(d, line, dialog_default_turn(d), &d->turn_deg))
            d->stage = ASK_DIAMETER;
        break;
    case ASK_DIAMETER:
        dialog_default_diameter(d, &usual);
        if (take_angle(d, line, usual, &d->diameter_deg))
            take_scan(d);
        break;
    case ASK_RADIUS: take_radius(d, line); break;
    case ASK_COUNT: take_count(d, line); break;
    case ASK_SIGN: take_sign(d, line); break;
    case ASK_READING: dialog_enter(d, line); break;
    case ASK_BOW: take_bow(d, line); break;
    case ASK_OVER: break;
    }
}

bool fw_dialog_line(fw_dialog *d, const char *line)
{
    char text[LINE_LIMIT];
    const char *rest;
    if (!line || d->stage == ASK_OVER) {
        d->stage = ASK_OVER;
        return false;
    }
    line += strspn(line, " \t");
    snprintf(text, sizeof text, "%s", line);
    for (size_t n = strlen(text); n > 0 && isspace((unsigned char)text[n - 1]); n--)
        text[n - 1] = '\0';
    bool names = d->stage == ASK_PAIR && strchr(text, ' ');
    int command = names ? NO_COMMAND : command_of(d, text, &rest);
    if (strlen(line) >= sizeof text)
        fw_screen_say(d->screen, 0, 2, "That line is too long; nothing was taken.");
    else if (command > NO_COMMAND)
        obey(d, command, rest);
    else if (command == NO_COMMAND)
        take_line(d, text);
    settle(d);
    if (d->stage == ASK_OVER)
        return false;
    dialog_prompt(d);
    return true;
}
