/* advice_plan.c - a plan in words: its strokes lap by lap, zone by zone, and what to beware of. */
#include <math.h>

#include "flatwright/mating.h"
#include "report/advice_parts.h"
#include "report/words.h"

/* In simulated months of work the plans were close above this PV and too hopeful below it. */
#define TOO_HOPEFUL_NM 20.0
#define DEGREE 57.295779513082320877
#define RIM 0.95    /* of the radius: beyond, glass turns down */
#define MUCH 0.2    /* of a plan's hours */
#define MIDDLE 0.05 /* of the radius: nobody says where in there */

static bool local(const fw_stroke *s)
{
    return s->method == FW_RING || s->method == FW_SIDE;
}

void advice_name(fw_screen *screen, const fw_advice *advice, int flat)
{
    fw_screen_text(screen, advice->result->job->flats[flat].name);
}

void advice_time(fw_screen *screen, double hours)
{
    double strokes = 60 * hours * FW_STROKES_A_MINUTE;
    double unit = strokes < 100 ? 1 : strokes < 1000 ? 10 : 100;
    if (hours < 1.0 / 60) {
        fw_screen_put(screen, "%.0f" FW_BLANK "strokes", round(strokes));
        return;
    }
    if (hours < 1.0 / 6)
        fw_screen_put(screen, "%.1f" FW_BLANK "minutes", 60 * hours);
    else if (hours < 2)
        fw_screen_put(screen, "%.0f" FW_BLANK "minutes", 60 * hours);
    else
        fw_screen_put(screen, "%.1f" FW_BLANK "hours", hours);
    fw_screen_put(screen, " (about" FW_BLANK "%.0f strokes)", unit * round(strokes / unit));
}

void advice_clock(fw_screen *screen, double angle_deg)
{
    /* angles run counter-clockwise from the mark, hours the other way */
    int quarters = (int)lround(48 - fmod(fmod(angle_deg, 360) + 360, 360) / 7.5) % 48;
    int hour = quarters < 4 ? 12 : quarters / 4;
    if (quarters % 4 == 0)
        fw_screen_put(screen, "%d" FW_BLANK "o'clock", hour);
    else
        fw_screen_put(screen, "%d:%02d", hour, quarters % 4 * 15);
}

static void put_angle(fw_screen *screen, double angle_deg)
{
    fw_screen_put(screen, "at %g" FW_BLANK "deg from the mark (", angle_deg);
    advice_clock(screen, angle_deg);
    fw_screen_put(screen, ")");
}

/* What tells strokes of one method apart, but for the angle of a side. */
static void put_zone(fw_screen *screen, const fw_flat *flat, const fw_stroke *s)
{
    if (local(s))
        fw_screen_put(screen, "from %g to %g" FW_BLANK "mm", s->inner_mm, s->outer_mm);
    else
        fw_screen_put(screen, "strokes of %.0f" FW_BLANK "mm (%.3g" FW_BLANK "diameters)",
                      s->length * flat->diameter_mm, s->length);
    if (s->lateral > 0)
        fw_screen_put(screen,
                      ", swept sideways through %.0f" FW_BLANK "mm (%.3g" FW_BLANK "diameters)",
                      s->lateral * flat->diameter_mm, s->lateral);
}

/* Radius of the lap; NAN: the stroke is none. */
static double lap_of(const fw_flat *flat, const fw_stroke *s)
{
    fw_disc disc = {flat->diameter_mm / 2, flat->bore_mm / 2};
    fw_travel travel;
    return fw_stroke_travel(s, &disc, &travel, NULL) == FW_OK ? travel.lap_mm : NAN;
}

static void put_lap(fw_screen *screen, const fw_flat *flat, const fw_stroke *s)
{
    if (local(s))
        fw_screen_put(screen, ", lap %.0f" FW_BLANK "mm across", 2 * lap_of(flat, s));
}

/* "face up, small lap in a ring" */
static void put_way(fw_screen *screen, const fw_flat *flat, const fw_stroke *s)
{
    fw_screen_put(screen, s->method == FW_FLAT_ON_TOP ? "%s" : "face up, %s", words_way(flat, s));
}

void advice_stroke(fw_screen *screen, const fw_flat *flat, const fw_stroke *stroke)
{
    put_way(screen, flat, stroke);
    fw_screen_put(screen, ", ");
    put_zone(screen, flat, stroke);
    put_lap(screen, flat, stroke);
    if (stroke->method == FW_SIDE) {
        fw_screen_put(screen, ", ");
        put_angle(screen, stroke->side_deg);
    }
}

/* Below 0: a comes first. */
static double compare(const fw_flat *flat, const fw_stroke *a, const fw_stroke *b)
{
    static const int rank[] = {
        [FW_FLAT_ON_TOP] = 0, [FW_LAP_ON_TOP] = 1, [FW_RING] = 2, [FW_SIDE] = 3};
    if (a->method != b->method)
        return rank[a->method] - rank[b->method];
    if (!local(a))
        return a->length != b->length ? a->length - b->length : a->lateral - b->lateral;
    double lap = lap_of(flat, b) - lap_of(flat, a);
    if (fabs(lap) > 0.01) /* mm: the same lap */
        return lap;
    if (a->inner_mm != b->inner_mm)
        return a->inner_mm - b->inner_mm;
    if (a->outer_mm != b->outer_mm || a->method == FW_RING)
        return a->outer_mm - b->outer_mm;
    return fmod(720 - fmod(a->side_deg, 360), 360) - fmod(720 - fmod(b->side_deg, 360), 360);
}

void advice_order(const fw_plan *plan, const fw_flat *flat, int order[FW_PLAN_ROWS])
{
    for (int i = 0; i < plan->nrows; i++) {
        int k = i;
        for (; k > 0 && compare(flat, &plan->rows[i].stroke,
                                &plan->rows[order[k - 1]].stroke) < 0; k--)
            order[k] = order[k - 1];
        order[k] = i;
    }
}

/* How many of n rows are sides of the first one's zone; any other stroke stands by itself. */
static int count_zone(const fw_plan *plan, const int *order, int n)
{
    const fw_stroke *s = &plan->rows[order[0]].stroke;
    int same = 1;
    while (s->method == FW_SIDE && same < n &&
           plan->rows[order[same]].stroke.inner_mm == s->inner_mm &&
           plan->rows[order[same]].stroke.outer_mm == s->outer_mm)
        same++;
    return same;
}

/* A paragraph for `same` rows of one zone. */
static void say_zone(fw_screen *screen, const fw_plan *plan, const fw_flat *flat, const int *order,
                     int same, bool headed)
{
    const fw_stroke *s = &plan->rows[order[0]].stroke;
    fw_screen_begin(screen, headed ? 6 : 4, headed ? 8 : 6);
    fw_screen_put(screen, "- ");
    if (!headed) {
        put_way(screen, flat, s);
        fw_screen_put(screen, ", ");
    }
    put_zone(screen, flat, s);
    put_lap(screen, flat, s);
    if (s->method == FW_SIDE && same == 1) {
        fw_screen_put(screen, ", ");
        put_angle(screen, s->side_deg);
    }
    fw_screen_put(screen, same > 1 ? ", clockwise from the mark: " : ": ");
    for (int i = 0; i < same; i++) {
        const fw_plan_row *row = &plan->rows[order[i]];
        if (same > 1) {
            fw_screen_put(screen, i ? "; " : "");
            advice_clock(screen, row->stroke.side_deg);
            fw_screen_put(screen, " (%g" FW_BLANK "deg) ", row->stroke.side_deg);
        }
        advice_time(screen, row->hours);
    }
    fw_screen_put(screen, ".");
    fw_screen_end(screen);
}

static void say_rows(fw_screen *screen, const fw_plan *plan, const fw_flat *flat)
{
    int order[FW_PLAN_ROWS], n = plan->nrows;
    advice_order(plan, flat, order);
    for (int i = 0; i < n;) {
        const fw_stroke *first = &plan->rows[order[i]].stroke;
        const char *way = words_way(flat, first);
        int end = i;
        while (end < n && words_way(flat, &plan->rows[order[end]].stroke) == way)
            end++;
        bool headed = count_zone(plan, order + i, end - i) < end - i;
        if (headed) {
            fw_screen_begin(screen, 4, 6);
            fw_screen_put(screen, "- ");
            put_way(screen, flat, first);
            fw_screen_put(screen, ":");
            fw_screen_end(screen);
        }
        for (int same = 0; i < end; i += same) {
            same = count_zone(plan, order + i, end - i);
            say_zone(screen, plan, flat, order + i, same, headed);
        }
    }
}

/* What the reckoning does not show, where the plan goes there. */
static void say_limits(fw_screen *screen, const fw_advice *advice, const fw_plan *plan)
{
    double edge = RIM * advice->result->job->flats[plan->flat].diameter_mm / 2, there = 0, full = 0;
    for (int r = 0; r < plan->nrows; r++) {
        const fw_stroke *s = &plan->rows[r].stroke;
        there += local(s) && s->outer_mm > edge ? plan->rows[r].hours : 0;
        full += !local(s) && advice->habit.spells[s->method] == 0 ? plan->rows[r].hours : 0;
    }
    if (there > MUCH * plan->hours && !(plan->warnings & FW_WARN_EDGE))
        fw_screen_say(screen, 4, 4,
                      "It goes out to the rim: the last twentieth of the radius turns down in "
                      "practice, which no reckoning here shows. Watch it.");
    if (full > MUCH * plan->hours)
        fw_screen_say(screen, 4, 4,
                      "The full lap is taken as one that flows until it bears evenly; a hard one "
                      "keeps its face, and works the middle more than is reckoned.");
}

static void say_warnings(fw_screen *screen, const fw_plan *plan)
{
    static const struct {
        unsigned bit;
        const char *text;
    } notes[] = {
        {FW_WARN_TRIAL, "No rate is known for this stroke yet: a short trial only, from whose "
                        "removal the rate is learned. It is not meant to bring the flat home."},
        {FW_WARN_BORE, "The high place is the rim of the bore: it may have risen when the middle "
                       "was cut. Look at it as a zone of its own, with a small lap."},
        {FW_WARN_EDGE,
         "The high place is the outermost edge. The last twentieth of the radius turns "
         "down in practice, which no reckoning here shows: stop early."},
        {FW_WARN_LINE, "It was read on one diameter only: what differs from side to side is not "
                       "seen."}};
    for (size_t i = 0; i < sizeof notes / sizeof notes[0]; i++)
        if (plan->warnings & notes[i].bit)
            fw_screen_say(screen, 4, 4, "%s", notes[i].text);
    if (!(plan->warnings & FW_WARN_TRIAL) && plan->pv_after_nm < TOO_HOPEFUL_NM)
        fw_screen_say(screen, 4, 4,
                      "Below some %.0f" FW_BLANK "nm such a reckoning has proved too hopeful on "
                      "simulated sets: work, measure, and go again.",
                      TOO_HOPEFUL_NM);
    if (plan->warnings & FW_WARN_GOOD)
        fw_screen_say(screen, 4, 4,
                      "It cuts into what is already good between %.0f and" FW_BLANK "%.0f" FW_BLANK
                      "mm: watch that zone.",
                      plan->good_from_mm, plan->good_to_mm);
}

static void put_highest(fw_screen *screen, const fw_plan *plan, const fw_flat *flat)
{
    double angle = fmod(plan->high_rad * DEGREE + 360, 360);
    if (plan->warnings & FW_WARN_BORE)
        fw_screen_put(screen, ", highest at the rim of the bore");
    else if (flat->bore_mm == 0 && plan->high_mm < MIDDLE * flat->diameter_mm / 2)
        fw_screen_put(screen, ", highest in the middle");
    else {
        fw_screen_put(screen, ", highest %.0f" FW_BLANK "mm out at %.0f" FW_BLANK "deg (",
                      plan->high_mm, angle);
        advice_clock(screen, angle);
        fw_screen_put(screen, ")");
    }
}

/* Over a wave: polishing is told only by how long it would take. */
static void say_grind(fw_screen *screen)
{
    fw_screen_say(screen, 4, 4,
                  "It departs by over a wave: back to the grinder is quicker than to polish that "
                  "off. Write spherometer sags of all flats in sag.csv; `flatwright track` then "
                  "says which two to grind together and which on top.");
}

void advice_plan(fw_screen *screen, const fw_advice *advice, int i)
{
    const fw_plan *plan = &advice->plans[i];
    const fw_flat *flat = &advice->result->job->flats[plan->flat];
    char text[WORDS_SIZE], other[WORDS_SIZE];
    bool grind = (plan->warnings & FW_WARN_WAVE) != 0;
    fw_screen_begin(screen, 2, 4);
    fw_screen_put(screen, "%d. ", i + 1);
    advice_name(screen, advice, plan->flat);
    fw_screen_put(screen, ": PV %s", words_nm(plan->pv_before_nm, false, text));
    put_highest(screen, plan, flat);
    if (!grind) {
        fw_screen_put(
            screen, "; after this %s. ",
            words_quantity((fw_quantity){plan->pv_after_nm, plan->pv_after_u_nm}, false, other));
        advice_time(screen, plan->hours);
        fw_screen_put(screen, " in all, %.0f" FW_BLANK "%% of what was reckoned",
                      100 * plan->fraction);
    }
    if (!grind && plan->spells > 1)
        fw_screen_put(screen,
                      ", in %d spells of an hour at most with the lap's channels opened "
                      "between",
                      plan->spells);
    fw_screen_put(screen, ".");
    fw_screen_end(screen);
    if (grind) {
        say_grind(screen);
        return;
    }
    say_rows(screen, plan, flat);
    say_limits(screen, advice, plan);
    say_warnings(screen, plan);
}
