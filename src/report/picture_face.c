/* picture_face.c - a flat's smooth figure as a map: filled contours, mark, bore, clear aperture. */
#include <math.h>

#include "flatwright/mating.h"
#include "report/axes.h"
#include "report/palette.h"
#include "report/picture_parts.h"
#include "report/svg.h"
#include "report/views.h"
#include "report/words.h"

#define HEIGHT 336
#define MIDDLE_Y 168
#define RADIUS 122 /* of the glass, px */
#define LEGEND_TOP 306
#define LEGEND_WIDTH 240
#define TURN_DEG 57.295779513082320877

/* The colour of band k, k * step to (k + 1) * step; k from -nsteps to nsteps - 1. */
static char *band_colour(const views *v, int k, char code[PALETTE_SIZE])
{
    return palette_height((k + 0.5) / (v->nsteps - 0.5), code);
}

static void legend(markup *m, const views *v)
{
    char code[PALETTE_SIZE], text[SVG_NUMBER];
    double left = (SVG_BOX_WIDTH - LEGEND_WIDTH) / 2.0, width = LEGEND_WIDTH / (2.0 * v->nsteps);
    int every = v->nsteps > 3 ? 2 : 1;
    for (int k = -v->nsteps; k < v->nsteps; k++)
        svg_rect(m, left + (k + v->nsteps) * width, LEGEND_TOP, width, 9, band_colour(v, k, code));
    for (int k = -v->nsteps; k <= v->nsteps; k++) {
        double at = left + (k + v->nsteps) * width;
        svg_line(m, at, LEGEND_TOP, at, LEGEND_TOP + 11, PALETTE_SOFT, 0.5, NULL);
        if (k % every == 0)
            svg_words(m, at, LEGEND_TOP + 22, "middle", SVG_SMALL, PALETTE_SOFT, "%s",
                      svg_number(k * v->step_nm, true, text));
    }
    svg_words(m, left + LEGEND_WIDTH + 14, LEGEND_TOP + 9, "start", SVG_SMALL, PALETTE_SOFT, "nm");
}

/* The highest and lowest places, by a cross and a number. */
static void extreme(markup *m, const contour_grid *g, int node, double scale, const char *what)
{
    char text[48], number[SVG_NUMBER];
    double r = contour_radius(g, node % g->nr), a = contour_angle(g, node / g->nr);
    double x = SVG_BOX_WIDTH / 2.0 + scale * r * cos(a), y = MIDDLE_Y - scale * r * sin(a);
    bool right = x > SVG_BOX_WIDTH / 2.0;
    svg_line(m, x - 4, y, x + 4, y, PALETTE_INK, 1.2, NULL);
    svg_line(m, x, y - 4, x, y + 4, PALETTE_INK, 1.2, NULL);
    double rounded = fabs(g->height[node]) < 10 ? round(10 * g->height[node]) / 10
                                                : round(g->height[node]);
    snprintf(text, sizeof text, "%s %s", what, svg_number(rounded, true, number));
    svg_label(m, right ? x - 7 : x + 7, y + 4, right ? "end" : "start", text);
}

static void contours(markup *m, const views *v, const contour_grid *g, double scale)
{
    char code[PALETTE_SIZE];
    svg_disc(m, SVG_BOX_WIDTH / 2.0, MIDDLE_Y, scale * g->outer, band_colour(v, -v->nsteps, code),
             NULL, 0, NULL);
    for (int k = 1 - v->nsteps; k < v->nsteps; k++) {
        region_paint paint = {band_colour(v, k, code), PALETTE_INK, k == 0 ? 1.1 : 0.6,
                              k < 0 ? "4 2.5" : NULL};
        region_draw(m, g, k * v->step_nm, SVG_BOX_WIDTH / 2.0, MIDDLE_Y, scale, &paint);
    }
}

static void describe(const views *v, const picture *p, const contour_grid *g, char *about,
                     size_t size)
{
    const fw_figure *figure = &words_today(v->result, p->flat)->figure;
    int low, high;
    contour_extremes(g, &low, &high);
    snprintf(about, size,
             "Looking at the polished face, its mark at the right. The smooth figure, order %d: "
             "highest %+.3g nm at %.0f mm and %.0f degrees from the mark, lowest %+.3g nm at %.0f "
             "mm and %.0f degrees. A contour every %g nm, broken lines below zero.",
             figure->order, g->height[high], contour_radius(g, high % g->nr),
             contour_angle(g, high / g->nr) * TURN_DEG, g->height[low],
             contour_radius(g, low % g->nr), contour_angle(g, low / g->nr) * TURN_DEG, v->step_nm);
}

void picture_face(const canvas *c, const views *v, const picture *p)
{
    char name[VIEWS_NAME], title[160], about[500];
    const fw_flat *glass = &v->result->job->flats[p->flat];
    const contour_grid *g = &v->face[p->index];
    double scale = RADIUS / (glass->diameter_mm / 2), x = SVG_BOX_WIDTH / 2.0;
    int low, high;
    views_name(v, p->flat, name);
    snprintf(title, sizeof title, "%s: map of its face", name);
    describe(v, p, g, about, sizeof about);
    contour_extremes(g, &low, &high);
    svg_open(c->m, c->x, c->y, SVG_BOX_WIDTH, HEIGHT, title, about);
    svg_words(c->m, 2, 14, "start", SVG_HEAD, PALETTE_INK, "%s", name);
    contours(c->m, v, g, scale);
    svg_disc(c->m, x, MIDDLE_Y, scale * g->outer, "none", PALETTE_INK, 1.6, NULL);
    if (g->inner > 0)
        svg_disc(c->m, x, MIDDLE_Y, scale * g->inner, PALETTE_PAPER, PALETTE_INK, 1.6, NULL);
    if (glass->diameter_mm > glass->clear_mm)
        svg_disc(c->m, x, MIDDLE_Y, RADIUS, "none", PALETTE_SOFT, 0.8, NULL);
    mark_draw(c->m, x, MIDDLE_Y, RADIUS, 0, "mark");
    svg_words(c->m, x, MIDDLE_Y - RADIUS - 5, "middle", SVG_SMALL, PALETTE_SOFT, "90\xC2\xB0");
    extreme(c->m, g, low, scale, "low");
    extreme(c->m, g, high, scale, "high");
    legend(c->m, v);
    svg_close(c->m);
}
