/* dialog_words.c - what the dialog shows: prompts, help, the sign drawn, the line as it grows. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "flatwright/report.h"
#include "report/dialog_parts.h"

#define STRIP 41 /* odd: the middle is 0 */
#define CURVE 40

static const char *pair_name(const fw_dialog *d, int flat)
{
    return d->job->flats[flat].name;
}

void dialog_prompt(const fw_dialog *d)
{
    FILE *out = d->screen->out;
    char value[FW_SCREEN_WORD];
    int bottom, top;
    double angle;
    switch (d->stage) {
    case ASK_PAIR:
        dialog_default_pair(d, &bottom, &top);
        fprintf(out, "bottom and top [%s %s]: ", pair_name(d, bottom), pair_name(d, top));
        break;
    case ASK_TURN: fprintf(out, "turn of the top, deg [%g]: ", dialog_default_turn(d)); break;
    case ASK_DIAMETER:
        dialog_default_diameter(d, &angle);
        fprintf(out, "diameter, deg [%g]: ", angle);
        break;
    case ASK_RADIUS: fprintf(out, "how far out from the centre, mm [%g]: ", d->radius_mm); break;
    case ASK_COUNT: fputs("how many stations on the diameter [13]: ", out); break;
    case ASK_SIGN: fprintf(out, "a t, l r, u d, or sign [%c]: ",
                           d->sides ? d->sign > 0 ? d->sides->plus : d->sides->minus : 's'); break;
    case ASK_READING:
        fprintf(out, d->place[d->at].mm == 0 ? "%g mm (%d of %d)" : "%+g mm (%d of %d)",
                d->place[d->at].mm, d->at + 1, d->nplaces);
        if (!isnan(d->place[d->at].value))
            fprintf(out, " [%s]", dialog_value(d->place[d->at].value, value));
        else if (d->place[d->at].skipped)
            fputs(" [left out]", out);
        else if (d->at > 0 && !isnan(d->place[d->at - 1].value))
            fprintf(out, " last %s", dialog_value(d->place[d->at - 1].value, value));
        fputs(": ", out);
        break;
    case ASK_BOW:
        fprintf(out, "the bands bow: %c %s, %c %s, or not clear [Enter]: ", d->sides->plus,
                d->sides->plus_word, d->sides->minus, d->sides->minus_word);
        break;
    case ASK_OVER: break;
    }
    fflush(out);
}

/* What the present prompt takes. */
static const char *stage_help(const fw_dialog *d)
{
    switch (d->stage) {
    case ASK_PAIR:
        return "Two names: the flat that lies below, face up, then the one on it, face down. A "
               "number is one more diameter of the pairing before.";
    case ASK_TURN:
        return "The angle from the bottom's mark to the top's mark, counter-clockwise seen from "
               "above; 0 when the marks lie together.";
    case ASK_DIAMETER:
        return "The line that is read, by its angle from the bottom's mark, counter-clockwise seen "
               "from above; 0 is the diameter through the mark.";
    case ASK_RADIUS:
        return "The outermost place that is read, as a distance from the centre; or all positions, "
               "with blanks between: -90 -60 -30 0 30 60 90.";
    case ASK_COUNT:
        return "Evenly spaced from end to end; an odd number has the centre among them. Those in a "
               "bore are left out.";
    case ASK_SIGN:
        return "The letter of the side to which the bands move when you press lightly on the middle "
               "of the top. `sign`: your numbers carry the sign of the glass already, + high.";
    case ASK_READING:
        return "How far the band stands off a straight line along it, as part of the distance from "
               "band to band: 0.12. Or both, in any unit of length: 3/25, and then 4/ with the "
               "same spacing. A unit may follow: 30nm. Several numbers go to several places. Enter "
               "keeps the number in brackets. `cross`: bands that run across the diameter.";
    case ASK_BOW:
        return "The side toward which the middle of the bands bows, seen as a whole. It is held "
               "against what was typed.";
    case ASK_OVER: break;
    }
    return "";
}

void dialog_help(const fw_dialog *d)
{
    fw_screen_say(d->screen, 0, 2, "%s", stage_help(d));
    if (d->stage == ASK_READING && d->sides)
        fw_screen_say(d->screen, 0, 2, "+ is %s, - is %s; or the letter behind the number: 0.12%c.",
                      dialog_side(d, 1), dialog_side(d, -1), d->sides->minus);
    fw_screen_say(d->screen, 0, 2, "back: the prompt before; skip: leave this place out; again: read "
                  "this scan once more; list: what is read of it; flip: turn its signs; stop: "
                  "leave, and go on later. The first letters are enough.");
}

/* The rule of sign, after Rayleigh (Nature 48, 212, 1893). */
void dialog_draw_sign(const fw_dialog *d)
{
    static const char *const lines[] = {
        "  away     ------------------------",
        "                   ________            bowed away from you: high where it moves",
        "  press    -------'        '-------    away, low where it moves toward you",
        "  toward   ------------------------",
    };
    fw_screen_say(d->screen, 0, 2, "The sign: tilt the pair so that some bands run along the "
                  "diameter, then press lightly on the middle of the top. The bands move to the "
                  "wide side of the gap. Where a band bows to that side the glass is high.");
    if (d->picture && !d->screen->spoken)
        for (size_t i = 0; i < sizeof lines / sizeof lines[0]; i++)
            fw_screen_line(d->screen, lines[i]);
    fw_screen_say(d->screen, 0, 2, "To which side do they move: a away from you, t toward you; l "
                  "left, r right; u up, d down. Or `sign` when your numbers carry the sign of the "
                  "glass already.");
}

/* The next of 1, 2, 5, 10, ... that reaches. */
static double reach_for(double largest)
{
    double decade = pow(10, floor(log10(largest)));
    double part = largest / decade;
    return decade * (part <= 1 ? 1 : part <= 2 ? 2 : part <= 5 ? 5 : 10);
}

void dialog_draw_reading(fw_dialog *d, int i)
{
    char line[120], bar[STRIP + 1], value[FW_SCREEN_WORD];
    double v = d->place[i].value;
    if (!d->picture || d->screen->spoken || isnan(v))
        return;
    if (d->reach == 0)
        d->reach = reach_for(fmax(fabs(v), 136 / dialog_unit_nm(d))); /* half a band */
    while (fabs(v) > d->reach)
        d->reach = reach_for(1.01 * d->reach);
    memset(bar, ' ', STRIP);
    bar[STRIP] = '\0';
    bar[STRIP / 2] = '.';
    bar[(int)lround((v / d->reach + 1) / 2 * (STRIP - 1))] = '*';
    snprintf(line, sizeof line, d->place[i].mm == 0 ? "%9g mm %9s |%s| +-%g" : "%+9g mm %9s |%s| +-%g",
             d->place[i].mm, dialog_value(v, value), bar, d->reach);
    fw_screen_line(d->screen, line);
}

void dialog_draw_scan(const fw_dialog *d)
{
    double largest = 0, mean = 0;
    int n = 0;
    for (int i = 0; i < d->nplaces; i++)
        if (!isnan(d->place[i].value)) {
            mean += d->place[i].value;
            n++;
        }
    if (!d->picture || d->screen->spoken || n < 2)
        return;
    mean /= n;
    for (int i = 0; i < d->nplaces; i++)
        if (!isnan(d->place[i].value))
            largest = fmax(largest, fabs(d->place[i].value - mean));
    fw_chart_panel panel = fw_chart_panel_of("this scan, less its mean", CURVE, d->place[0].mm,
                                             d->place[d->nplaces - 1].mm);
    for (int i = 0; i < d->nplaces; i++)
        if (!isnan(d->place[i].value))
            fw_chart_trace(&panel, d->place[i].mm, d->place[i].value - mean);
    fw_chart_draw(d->screen, fw_chart_scale_of(7, largest), 1, &panel, "mm", dialog_unit(d), "");
}

void dialog_list(const fw_dialog *d)
{
    char value[FW_SCREEN_WORD];
    int n = 0;
    for (int i = 0; i < d->nplaces; i++)
        n += !isnan(d->place[i].value);
    if (d->stage != ASK_READING && n == 0) {
        fw_screen_say(d->screen, 0, 2, "No scan is being read.");
        return;
    }
    fw_screen_say(d->screen, 0, 2, "%s below, %s on top, turn %g, diameter %g, round %d%s%s: %d of "
                  "%d places, in %s.", pair_name(d, d->bottom), pair_name(d, d->top), d->turn_deg,
                  d->diameter_deg, d->round, *d->label ? ", scan " : "", d->label, n, d->nplaces,
                  dialog_unit(d));
    for (int i = 0; i < d->nplaces; i++)
        if (!isnan(d->place[i].value))
            fw_screen_say(d->screen, 2, 4, "%+g mm" FW_BLANK FW_BLANK "%s", d->place[i].mm,
                          dialog_value(d->place[i].value, value));
        else if (d->place[i].skipped)
            fw_screen_say(d->screen, 2, 4, "%+g mm" FW_BLANK FW_BLANK "left out", d->place[i].mm);
}
