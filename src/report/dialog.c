/* dialog.c - readings asked for at the bench: which prompt follows which, and its defaults. */
#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "flatwright/alloc.h"
#include "flatwright/nearest.h"
#include "flatwright/number.h"
#include "flatwright/show.h"
#include "report/dialog_parts.h"

#define COUNT_DEFAULT 13
#define LINE_LIMIT 4096

static const dialog_sides sides[] = {{'a', 't', "away from you", "toward you"},
                                     {'l', 'r', "to the left", "to the right"},
                                     {'u', 'd', "up", "down"}};

const char *dialog_side(const fw_dialog *d, int sign)
{
    return sign == d->sign ? d->sides->plus_word : d->sides->minus_word;
}

static const char *name_of(const fw_dialog *d, int flat)
{
    return d->job->flats[flat].name;
}

fw_status fw_dialog_new(const fw_job *job, fw_notebook *notebook, fw_screen *screen,
                        const fw_dialog_options *options, fw_dialog **dialog, fw_error *err)
{
    static const fw_entry typed = {.round = 1, .top = 1, .sigma = NAN, .label = "", .note = ""};
    *dialog = NULL;
    if (fw_notebook_try(notebook, &typed, 1, err) != FW_OK) /* better now than at the first one */
        return err->status;
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
    dialog_find_unfinished(d);
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
        dialog_was_read(d, d->bottom, d->top, d->turn_deg, NAN)) {
        if (take_angle(d, line, 0, &d->diameter_deg))
            dialog_take_scan(d);
        return;
    }
    snprintf(text, sizeof text, "%.199s", line);
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
    dialog_start_scan(d);
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
        dialog_start_readings(d);
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
                      "%s.", dialog_side(d, 1), dialog_side(d, -1));
    dialog_start_readings(d);
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
    dialog_end_scan(d);
}

/* A scan read to its last place: the second look at the sign, or its end. */
static void settle(fw_dialog *d)
{
    if (d->stage == ASK_BOW && !d->bow_due)
        dialog_end_scan(d);
}

/* From the first place back to the prompt before the scan. */
static void leave_scan(fw_dialog *d)
{
    if (d->stale)
        dialog_renew(d);
    d->stage = d->sides ? ASK_SIGN : ASK_DIAMETER;
    d->returned = true;
}

static void go_back(fw_dialog *d)
{
    d->returned = d->stage != ASK_READING && d->stage != ASK_PAIR;
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
    if (d->stage != ASK_READING && d->stage != ASK_BOW) {
        fw_screen_say(d->screen, 0, 2, "`again` is for a scan being read.");
        return;
    }
    dialog_renew(d);
    dialog_next_label(d);
    if (*d->label)
        fw_screen_say(d->screen, 0, 2, "Once more: scan %s; what is read stays.", d->label);
    dialog_start_scan(d);
}

static void skip(fw_dialog *d)
{
    if (d->stage != ASK_READING) {
        fw_screen_say(d->screen, 0, 2, "There is nothing to skip here.");
        return;
    }
    if (dialog_skip(d, d->at))
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
    if (found == -1) /* one letter: no two commands share more */
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
    default: dialog_help(d); break;
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
            dialog_take_scan(d);
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
    dialog_stage was = d->stage;
    bool names = d->stage == ASK_PAIR && strchr(text, ' ');
    int command = names ? NO_COMMAND : command_of(d, text, &rest);
    if (strlen(line) >= sizeof text)
        fw_screen_say(d->screen, 0, 2, "That line is too long; nothing was taken.");
    else if (command > NO_COMMAND)
        obey(d, command, rest);
    else if (command == NO_COMMAND)
        take_line(d, text);
    if (command != BACK && command != HELP && command >= NO_COMMAND && d->stage != was)
        d->returned = false; /* the prompt has been answered */
    settle(d);
    if (d->stage == ASK_OVER)
        return false;
    dialog_prompt(d);
    return true;
}
