/* contour.h - lines of equal height on a ring-shaped face, as closed loops. */
#ifndef REPORT_CONTOUR_H
#define REPORT_CONTOUR_H

#include <stdbool.h>

#include "flatwright/status.h"

/*
 * Heights over a ring, in polar cells: nr circles from inner to outer, na angles from 0 on, the last
 * meeting the first. inner 0: a solid face, whose first circle is the centre.
 */
typedef struct contour_grid {
    int nr, na;
    double inner, outer;
    double *height; /* nr x na, [i + j * nr]: circle i, angle j */
    int *next;      /* scratch of contour_above, so that drawing asks for no memory */
} contour_grid;

/* nr >= 2, na >= 3; heights 0. Release with contour_release; untouched on failure. */
fw_status contour_new(double inner, double outer, int nr, int na, contour_grid *out, fw_error *err);
void contour_release(contour_grid *grid);

double contour_radius(const contour_grid *grid, int i);
double contour_angle(const contour_grid *grid, int j);

/* Takes the mean and the tilt over the area off. */
void contour_level(contour_grid *grid);

/* The lowest and the highest node, as indices into height. */
void contour_extremes(const contour_grid *grid, int *lowest, int *highest);

/*
 * Gets the loops one after the other, vertex by vertex. first: a new loop begins; rim: this vertex
 * lies on the inner or outer circle. The last vertex joins the first.
 */
typedef void contour_vertex(void *to, bool first, bool rim, double x, double y);

/*
 * The region where height >= level, bounded by closed loops that keep it on their left; where it
 * reaches a rim the loop follows the rim. Filled by either rule it is the region. Marching squares
 * over the polar cells; a saddle is joined through the mean of its corners. Crossings are found
 * along the circles and radii by linear interpolation.
 *   grid   in   heights, finite
 *   level  in   nodes exactly on it count as above
 * Cost: a few steps a cell.
 * Test: tests/unit/contour.c: circles of a sphere, area and length against closed forms.
 */
void contour_above(const contour_grid *grid, double level, contour_vertex *vertex, void *to);

#endif
