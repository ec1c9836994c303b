/* picture_parts.c - regions of a face painted, and marks at its rim. */
#include "report/picture_parts.h"

#include <math.h>

#include "flatwright/mating.h"
#include "report/palette.h"

#define NEAR 0.35 /* px: nearer vertices are one */

/* A loop on its way into a path; the last vertex is kept to leave out those that add nothing. */
typedef struct pen {
    markup *m;
    double x, y, scale;
    double last_x, last_y;
    int vertices; /* of this loop */
} pen;

static void end_loop(pen *p)
{
    if (p->vertices > 0)
        svg_back(p->m);
    p->vertices = 0;
}

static void put_vertex(void *to, bool first, bool rim, double x, double y)
{
    pen *p = to;
    double px = p->x + p->scale * x, py = p->y - p->scale * y;
    (void)rim;
    if (first)
        end_loop(p);
    else if (hypot(px - p->last_x, py - p->last_y) < NEAR)
        return;
    (first ? svg_move : svg_to)(p->m, px, py);
    p->last_x = px;
    p->last_y = py;
    p->vertices++;
}

void region_draw(markup *m, const contour_grid *grid, double level, double x, double y,
                 double scale, const region_paint *paint)
{
    pen p = {.m = m, .x = x, .y = y, .scale = scale};
    svg_path(m);
    contour_above(grid, level, put_vertex, &p);
    end_loop(&p);
    svg_path_end(m, paint->fill, paint->stroke, paint->width, paint->dash);
}

void mark_draw(markup *m, double x, double y, double radius, double angle_deg, const char *word)
{
    double c = cos(angle_deg * FW_RAD), s = sin(angle_deg * FW_RAD);
    svg_path(m);
    svg_move(m, x + radius * c, y - radius * s);
    svg_to(m, x + (radius + 8) * c - 4 * s, y - (radius + 8) * s - 4 * c);
    svg_to(m, x + (radius + 8) * c + 4 * s, y - (radius + 8) * s + 4 * c);
    svg_back(m);
    svg_path_end(m, PALETTE_INK, NULL, 0, NULL);
    svg_words(m, x + (radius + 11) * c, y - (radius + 13) * s + (s > 0.3 ? 0 : s < -0.3 ? 8 : 4),
              c > 0.3 ? "start" : c < -0.3 ? "end" : "middle", SVG_SMALL, PALETTE_INK, "%s", word);
}
