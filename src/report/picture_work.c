/* picture_work.c - one stroke of the plan: the zone worked, the lap, where its centre goes. */
#include <math.h>

#include "flatwright/mating.h"
#include "report/palette.h"
#include "report/picture_parts.h"
#include "report/svg.h"
#include "report/views.h"
#include "report/words.h"

#define HEIGHT 242
#define MIDDLE_X (FACE_SMALL / 2.0)
#define MIDDLE_Y 138
#define RADIUS 76 /* of the flat, px; laps reach beyond */

/* The ring between two radii, px; inner 0: a disc. */
static void draw_ring(markup *m, double inner, double outer)
{
    svg_disc(m, MIDDLE_X, MIDDLE_Y, outer, PALETTE_WORK, PALETTE_LIMIT, 0.8, NULL);
    if (inner > 0.5)
        svg_disc(m, MIDDLE_X, MIDDLE_Y, inner, PALETTE_PAPER, PALETTE_LIMIT, 0.8, NULL);
}

/* A place on the face, mm along an angle and aside of it. */
static void place(double scale, double angle_deg, double along, double aside, double *x, double *y)
{
    double c = cos(angle_deg * FW_RAD), s = sin(angle_deg * FW_RAD);
    *x = MIDDLE_X + scale * (along * c - aside * s);
    *y = MIDDLE_Y - scale * (along * s + aside * c);
}

/* A lap at one place, in outline. */
static void draw_lap(markup *m, double scale, double angle_deg, double along, double aside,
                     double radius, const char *dash)
{
    double x, y;
    place(scale, angle_deg, along, aside, &x, &y);
    svg_disc(m, x, y, scale * radius, "none", PALETTE_INK, 1, dash);
}

/* To and fro: a line with a head at either end. */
static void draw_travel(markup *m, double scale, double angle_deg, double from, double to)
{
    double x1, y1, x2, y2;
    place(scale, angle_deg, from, 0, &x1, &y1);
    place(scale, angle_deg, to, 0, &x2, &y2);
    svg_line(m, x1, y1, x2, y2, PALETTE_INK, 1.4, NULL);
    double length = hypot(x2 - x1, y2 - y1);
    if (length < 4)
        return;
    double ux = (x2 - x1) / length, uy = (y2 - y1) / length;
    for (int end = 0; end < 2; end++) {
        double x = end ? x2 : x1, y = end ? y2 : y1, way = end ? -1 : 1;
        svg_path(m);
        svg_move(m, x, y);
        svg_to(m, x + way * 6 * ux - 3 * uy, y + way * 6 * uy + 3 * ux);
        svg_to(m, x + way * 6 * ux + 3 * uy, y + way * 6 * uy - 3 * ux);
        svg_back(m);
        svg_path_end(m, PALETTE_INK, NULL, 0, NULL);
    }
}

static void draw_zone(markup *m, const fw_stroke *s, const fw_disc *disc, const fw_travel *t,
                      double scale)
{
    double angle = s->method == FW_SIDE ? s->side_deg : 0;
    if (s->method == FW_RING)
        draw_ring(m, scale * s->inner_mm, scale * fmin(s->outer_mm, disc->radius_mm));
    else if (s->method == FW_SIDE) { /* what the lap covers, end to end and aside */
        for (int along = 0; along < 2; along++)
            for (int aside = -1; aside <= 1; aside++) {
                double x, y;
                place(scale, angle, along ? t->to_mm : t->from_mm, aside * t->aside_mm, &x, &y);
                svg_disc(m, x, y, scale * t->lap_mm, PALETTE_WORK, NULL, 0, NULL);
            }
    } else
        svg_disc(m, MIDDLE_X, MIDDLE_Y, scale * disc->radius_mm, PALETTE_WORK, NULL, 0, NULL);
    draw_lap(m, scale, angle, t->from_mm, 0, t->lap_mm, "4 3");
    draw_lap(m, scale, angle, t->to_mm, 0, t->lap_mm, NULL);
    draw_travel(m, scale, angle, t->from_mm, t->to_mm);
}

/* "40 to 100 mm: 6.9 min"; short ones are counted in strokes */
static void say_amount(char *text, size_t size, const fw_stroke *s, double hours)
{
    char zone[48];
    if (s->method == FW_RING || s->method == FW_SIDE)
        snprintf(zone, sizeof zone, "%.0f to %.0f mm", s->inner_mm, s->outer_mm);
    else
        snprintf(zone, sizeof zone, "stroke %.2g", s->length);
    if (60 * hours < 1)
        snprintf(text, size, "%s: %.0f strokes", zone,
                 fmax(1, 60 * hours * FW_STROKES_A_MINUTE));
    else
        snprintf(text, size, "%s: %.*f min", zone, hours < 1.0 / 6 ? 1 : 0, 60 * hours);
}

void picture_work(const canvas *c, const views *v, const picture *p)
{
    const fw_plan *plan = &v->advice->plans[p->flat];
    const fw_plan_row *row = &plan->rows[p->index];
    const fw_flat *glass = &v->result->job->flats[plan->flat];
    fw_disc disc = {glass->diameter_mm / 2, glass->bore_mm / 2};
    fw_travel travel = {disc.radius_mm, 0, 0, 0};
    char name[VIEWS_NAME], title[200], about[400], amount[80], side[60] = "";
    const char *way = words_way(glass, &row->stroke);
    bool small = row->stroke.method == FW_RING || row->stroke.method == FW_SIDE;
    fw_stroke_travel(&row->stroke, &disc, &travel, NULL);
    /* a full lap reaches beyond the flat: the picture must hold its ends */
    double reach = small ? 1 : 1 + fmax(fabs(travel.from_mm), fabs(travel.to_mm)) / disc.radius_mm;
    double scale = fmin(RADIUS, 116 / fmax(reach, 1)) / disc.radius_mm;
    views_name(v, plan->flat, name);
    say_amount(amount, sizeof amount, &row->stroke, row->hours);
    snprintf(title, sizeof title, "%s, stroke %d of the plan", name, p->index + 1);
    if (row->stroke.method == FW_SIDE)
        snprintf(side, sizeof side, ", at %.4g degrees from the mark",
                 isnan(row->stroke.side_deg) ? 0 : row->stroke.side_deg);
    snprintf(about, sizeof about,
             "Looking at the polished face, its mark at the right: %s, %s%s. Tinted what is worked; the "
             "outlines are the %s at both ends of its travel; a cross at the highest place, %.0f mm "
             "out at %.0f degrees.", way, amount, side,
             small ? "lap" : row->stroke.method == FW_FLAT_ON_TOP ? "lap below" : "lap on top",
             plan->high_mm, plan->high_rad / FW_RAD);
    svg_open(c->m, c->x, c->y, FACE_SMALL, HEIGHT, title, about);
    svg_words(c->m, 2, 14, "start", SVG_HEAD, PALETTE_INK, "%s, stroke %d", name, p->index + 1);
    svg_words(c->m, 2, 28, "start", SVG_SMALL, PALETTE_SOFT, "%s", way);
    svg_words(c->m, 2, 41, "start", SVG_SMALL, PALETTE_SOFT, "%s", amount);
    draw_zone(c->m, &row->stroke, &disc, &travel, scale);
    svg_disc(c->m, MIDDLE_X, MIDDLE_Y, scale * disc.radius_mm, "none", PALETTE_INK, 1.6, NULL);
    if (disc.bore_mm > 0)
        svg_disc(c->m, MIDDLE_X, MIDDLE_Y, scale * disc.bore_mm, PALETTE_PAPER, PALETTE_INK, 1.6,
                 NULL);
    mark_draw(c->m, MIDDLE_X, MIDDLE_Y, scale * disc.radius_mm, 0, "mark");
    double x, y;
    place(scale, plan->high_rad / FW_RAD, plan->high_mm, 0, &x, &y);
    svg_line(c->m, x - 4, y, x + 4, y, PALETTE_LIMIT, 1.6, NULL);
    svg_line(c->m, x, y - 4, x, y + 4, PALETTE_LIMIT, 1.6, NULL);
    svg_close(c->m);
}
