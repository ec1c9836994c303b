/* grind_text.c - the spherometer's say on the screen: powers, the next two, the twist. */
#include <math.h>

#include "flatwright/grind.h"
#include "report/words.h"

#define UM_DECIMALS 2
#define MOST_OTHERS 2 /* pairings named after the first */

/* "+1.25 +- 0.31 um". */
static void put_um(fw_screen *screen, fw_quantity power)
{
    fw_screen_put(screen, "%+.*f" FW_BLANK, UM_DECIMALS, 1e-3 * power.value_nm + 0.0);
    if (isfinite(power.u_nm))
        fw_screen_put(screen, FW_PM FW_BLANK "%.*f" FW_BLANK, UM_DECIMALS, 1e-3 * power.u_nm);
    fw_screen_put(screen, "um");
}

static void put_name(fw_screen *screen, const fw_grind *grind, int flat)
{
    fw_screen_text(screen, grind->job->flats[flat].name);
}

static void say_power(fw_screen *screen, const fw_grind *grind, const fw_grind_power *p)
{
    static const char *const verdicts[] = {
        [FW_WITHIN] = FW_GOOD "true" FW_PLAIN " to a micrometre",
        [FW_OUTSIDE] = FW_BAD "not true" FW_PLAIN " to a micrometre",
        [FW_UNDECIDED] = FW_DOUBT "undecided" FW_PLAIN " at a micrometre",
        [FW_UNDETERMINED] = FW_DOUBT "no uncertainty" FW_PLAIN " known"};
    double u = isnan(p->power.u_nm) ? 0 : p->power.u_nm;
    fw_screen_begin(screen, 0, 2);
    fw_screen_put(screen, FW_BOLD);
    put_name(screen, grind, p->flat);
    fw_screen_put(screen, FW_PLAIN ", round" FW_BLANK "%d: power ", p->last_round);
    put_um(screen, p->power);
    fw_screen_put(screen, fabs(p->power.value_nm) <= 2 * u ? "" :
                          p->power.value_nm > 0 ? " (convex)" : " (concave)");
    if (grind->today[p->flat] < 0 || &grind->powers[grind->today[p->flat]] != p)
        fw_screen_put(screen, ", before later work.");
    else
        fw_screen_put(screen, ": %s.", verdicts[p->verdict]);
    fw_screen_end(screen);
}

static void say_pairings(fw_screen *screen, const fw_grind *grind)
{
    if (grind->npairings == 0)
        return;
    int others = grind->npairings - 1 < MOST_OTHERS ? grind->npairings - 1 : MOST_OTHERS;
    const fw_grind_pairing *best = grind->pairings;
    fw_screen_begin(screen, 0, 2);
    fw_screen_put(screen, "Why: ");
    put_name(screen, grind, best->top);
    fw_screen_put(screen, " is the more convex of the two with the most to take out, and loses "
                          "%.*f" FW_BLANK "um of power on top; ",
                  UM_DECIMALS, 1e-3 * best->top_less_nm);
    put_name(screen, grind, best->bottom);
    fw_screen_put(screen, " below is to gain %.*f" FW_BLANK "um.", UM_DECIMALS,
                  1e-3 * best->bottom_more_nm);
    for (int i = 1; i <= others; i++) {
        fw_screen_put(screen, i == 1 ? " After it: " : ", ");
        put_name(screen, grind, grind->pairings[i].top);
        fw_screen_put(screen, " on ");
        put_name(screen, grind, grind->pairings[i].bottom);
    }
    fw_screen_put(screen, "%s Short spells, then wash, let them cool and read all sags again.",
                  others > 0 ? "." : "");
    fw_screen_end(screen);
}

static void say_zero(fw_screen *screen, const fw_grind *grind)
{
    if (!(fabs(grind->zero.value_nm) > 2 * grind->zero.u_nm))
        return;
    fw_screen_begin(screen, 0, 2);
    put_name(screen, grind, grind->mated[0]);
    fw_screen_put(screen, " and ");
    put_name(screen, grind, grind->mated[1]);
    fw_screen_put(screen, " were ground together last. If they mate by now, their powers are equal "
                          "and opposite, and the spherometer's zero is off by ");
    put_um(screen, grind->zero);
    fw_screen_put(screen, " of power: check it on a known plane.");
    fw_screen_end(screen);
}

static void say_twist(fw_screen *screen, const fw_grind *grind)
{
    fw_screen_begin(screen, 0, 2);
    fw_screen_put(screen, FW_BOLD "Twist:" FW_PLAIN " plates always ground with their marks at one "
                          "turn can share a saddle that mates with itself in every pair, and a "
                          "spherometer on three feet reads nothing of it. A quarter turn opposes "
                          "the saddles; a half turn does not. Go through:");
    fw_screen_end(screen);
    for (int i = 0; i < grind->nsteps; i++) {
        const fw_grind_step *step = &grind->steps[i];
        bool first = i == 0 || step->turn_deg != step[-1].turn_deg;
        bool last = i + 1 == grind->nsteps || step->turn_deg != step[1].turn_deg;
        if (first) {
            fw_screen_begin(screen, 2, 4);
            fw_screen_put(screen, "turn" FW_BLANK "%g" FW_BLANK "deg: ", step->turn_deg);
        }
        put_name(screen, grind, step->top);
        fw_screen_put(screen, " on ");
        put_name(screen, grind, step->bottom);
        fw_screen_put(screen, last ? "" : ", ");
        if (last)
            fw_screen_end(screen);
    }
    fw_screen_say(screen, 2, 2, "The turn goes from the lower plate's mark to the upper plate's, "
                                "counter-clockwise from above. Where sags ask for the other of two "
                                "on top, swap them: it makes no difference to the twist.");
}

void fw_grind_text(fw_screen *screen, const fw_grind *grind)
{
    char sentence[FW_GRIND_TEXT] = "fringes were read since the last sags";
    if (grind->due)
        fw_grind_sentence(grind, sentence);
    fw_screen_begin(screen, 0, 2);
    fw_screen_put(screen, FW_BOLD "Grinding:" FW_PLAIN " ");
    fw_screen_text(screen, sentence);
    fw_screen_put(screen, ".");
    fw_screen_end(screen);
    for (int p = 0; p < grind->npowers; p++)
        say_power(screen, grind, &grind->powers[p]);
    if (!grind->due)
        return;
    say_pairings(screen, grind);
    say_zero(screen, grind);
    if (grind->decision == FW_GRIND_REPEAT)
        fw_screen_say(screen, 0, 2,
                      "A wider ring tells more than more readings: the uncertainty of the power "
                      "falls with the square of its radius.");
    if (grind->decision == FW_GRIND_POLISH)
        fw_screen_say(screen, 0, 2, "Finish the grinding with the turns below, if the marks were "
                                    "always at one turn, and bevel the edges first. The fringes "
                                    "take over from here.");
    if (grind->decision != FW_GRIND_READ)
        say_twist(screen, grind);
    fw_screen_say(screen, 0, 2,
                  "Slurry and glass dust: keep wet, no dry sweeping, a respirator for dry powder. "
                  "Heavy glass with sharp edges: two hands.");
}
