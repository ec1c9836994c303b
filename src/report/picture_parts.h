/* picture_parts.h - what pictures of faces have in common: regions, marks. */
#ifndef REPORT_PICTURE_PARTS_H
#define REPORT_PICTURE_PARTS_H

#include "report/contour.h"
#include "report/svg.h"

#define FACE_SMALL 240 /* width of the smaller pictures of a face, px */

typedef struct region_paint {
    const char *fill, *stroke; /* stroke NULL: none */
    double width;
    const char *dash;
} region_paint;

/* Paints where the grid's heights are at least `level`; x, y its centre, scale px a mm. */
void region_draw(markup *m, const contour_grid *grid, double level, double x, double y,
                 double scale, const region_paint *paint);

/* A flat's mark outside its rim, at an angle counter-clockwise from the right, with a word. */
void mark_draw(markup *m, double x, double y, double radius, double angle_deg, const char *word);

#endif
