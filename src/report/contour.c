/* contour.c - marching squares over polar cells, the crossings joined into closed loops. */
#include "report/contour.h"

#include <assert.h>
#include <math.h>

#include "flatwright/alloc.h"

#define TURN 6.2831853071795864769

/* Edges of the grid with a circle more on either side: pieces of radii, then of circles. */
static int edges(int nr, int na)
{
    return na * (nr + 1) + na * (nr + 2);
}

fw_status contour_new(double inner, double outer, int nr, int na, contour_grid *out, fw_error *err)
{
    assert(nr >= 2 && na >= 3 && inner >= 0 && inner < outer);
    contour_grid made = {.nr = nr, .na = na, .inner = inner, .outer = outer};
    made.height = fw_alloc((size_t)nr * (size_t)na, sizeof *made.height);
    made.next = fw_alloc((size_t)edges(nr, na), sizeof *made.next);
    if (!made.height || !made.next) {
        contour_release(&made);
        return fw_out_of_memory(err);
    }
    *out = made;
    return FW_OK;
}

void contour_release(contour_grid *grid)
{
    fw_free(grid->height);
    fw_free(grid->next);
    grid->height = NULL;
    grid->next = NULL;
}

double contour_radius(const contour_grid *grid, int i)
{
    return grid->inner + (grid->outer - grid->inner) * i / (grid->nr - 1);
}

double contour_angle(const contour_grid *grid, int j)
{
    return TURN * j / grid->na;
}

/* Part of the area that a node on circle i stands for: the trapezium rule in r dr. */
static double area_of(const contour_grid *grid, int i)
{
    double r = contour_radius(grid, i), step = (grid->outer - grid->inner) / (grid->nr - 1);
    bool end = i == 0 || i == grid->nr - 1;
    return (r == 0 ? step / 8 : end ? r / 2 : r) * step;
}

/* On full circles 1, x, y are orthogonal, so mean and tilts are found one by one. */
void contour_level(contour_grid *grid)
{
    double area = 0, square = 0, mean = 0, x = 0, y = 0;
    for (int i = 0; i < grid->nr; i++) {
        double r = contour_radius(grid, i), part = area_of(grid, i);
        area += part * grid->na;
        square += part * r * r * grid->na / 2;
        for (int j = 0; j < grid->na; j++) {
            double h = grid->height[i + j * grid->nr], a = contour_angle(grid, j);
            mean += part * h;
            x += part * h * r * cos(a);
            y += part * h * r * sin(a);
        }
    }
    for (int i = 0; i < grid->nr; i++)
        for (int j = 0; j < grid->na; j++) {
            double r = contour_radius(grid, i), a = contour_angle(grid, j);
            grid->height[i + j * grid->nr] -=
                mean / area + (x * r * cos(a) + y * r * sin(a)) / square;
        }
}

void contour_extremes(const contour_grid *grid, int *lowest, int *highest)
{
    *lowest = *highest = 0;
    for (int k = 1; k < grid->nr * grid->na; k++) {
        if (grid->height[k] < grid->height[*lowest])
            *lowest = k;
        if (grid->height[k] > grid->height[*highest])
            *highest = k;
    }
}

/*
 * The grid with one circle more inside and outside, lower than everything: so every loop closes.
 * Circles count from -1 to nr. An edge is a piece of a radius (from circle i to i + 1 at angle j)
 * or of a circle (from angle j to j + 1 on circle i); each is crossed at most once.
 */
typedef struct walk {
    const contour_grid *grid;
    double level;
    int *next; /* by edge: the edge where the loop goes on; -1: not crossed, or done */
} walk;

static int radial_edge(const walk *w, int i, int j)
{
    return (i + 1) + (j % w->grid->na) * (w->grid->nr + 1);
}

static int circle_edge(const walk *w, int i, int j)
{
    return w->grid->na * (w->grid->nr + 1) + (i + 1) + (j % w->grid->na) * (w->grid->nr + 2);
}

static double height_at(const walk *w, int i, int j)
{
    if (i < 0 || i >= w->grid->nr)
        return -INFINITY;
    return w->grid->height[i + (j % w->grid->na) * w->grid->nr];
}

static bool above(const walk *w, int i, int j)
{
    return height_at(w, i, j) >= w->level;
}

/*
 * One cell, its corners in the counter-clockwise order of the face: (i, j), (i + 1, j),
 * (i + 1, j + 1), (i, j + 1). side[k] lies between corners k and k + 1. A loop enters where going
 * round leads from above to below, and leaves where it leads from below to above: what is above
 * stays on its left.
 */
static void march_cell(walk *w, int i, int j)
{
    const int side[4] = {radial_edge(w, i, j), circle_edge(w, i + 1, j), radial_edge(w, i, j + 1),
                         circle_edge(w, i, j)};
    const bool in[4] = {above(w, i, j), above(w, i + 1, j), above(w, i + 1, j + 1),
                        above(w, i, j + 1)};
    double mean = (height_at(w, i, j) + height_at(w, i + 1, j) + height_at(w, i + 1, j + 1) +
                   height_at(w, i, j + 1)) / 4;
    bool saddle = in[0] == in[2] && in[1] == in[3] && in[0] != in[1];
    for (int k = 0; k < 4; k++) {
        if (!in[k] || in[(k + 1) % 4])
            continue;
        int step = 1; /* from the entry on, past corners that are below, to the way out */
        while (!(!in[(k + step) % 4] && in[(k + step + 1) % 4]))
            step++;
        if (saddle && mean < w->level)
            step = 3; /* the middle is below: the two high corners are apart */
        w->next[side[k]] = side[(k + step) % 4];
    }
}

/* Where the level crosses an edge; on an edge that leads to the padding, at the rim itself. */
static void place(const walk *w, int edge, bool *rim, double *x, double *y)
{
    const contour_grid *g = w->grid;
    int radial = g->na * (g->nr + 1), i, j, i2, j2;
    if (edge < radial) {
        i = edge % (g->nr + 1) - 1;
        j = j2 = edge / (g->nr + 1);
        i2 = i + 1;
    } else {
        i = i2 = (edge - radial) % (g->nr + 2) - 1;
        j = (edge - radial) / (g->nr + 2);
        j2 = j + 1;
    }
    double a = height_at(w, i, j), b = height_at(w, i2, j2);
    double t = isinf(a) ? 1 : isinf(b) ? 0 : b != a ? (w->level - a) / (b - a) : 0;
    t = fmin(fmax(t, 0), 1);
    double r = contour_radius(g, i) + t * (contour_radius(g, i2) - contour_radius(g, i));
    double angle = contour_angle(g, j) + t * (contour_angle(g, j2) - contour_angle(g, j));
    *rim = isinf(a) || isinf(b) || (i == i2 && (i == 0 || i == g->nr - 1));
    *x = r * cos(angle);
    *y = r * sin(angle);
}

void contour_above(const contour_grid *grid, double level, contour_vertex *vertex, void *to)
{
    walk w = {grid, level, grid->next};
    int nedges = edges(grid->nr, grid->na);
    for (int e = 0; e < nedges; e++)
        w.next[e] = -1;
    for (int j = 0; j < grid->na; j++)
        for (int i = -1; i < grid->nr; i++)
            march_cell(&w, i, j);
    for (int e = 0; e < nedges; e++) {
        bool first = true;
        for (int at = e; w.next[at] >= 0; first = false) {
            bool rim;
            double x, y;
            int on = w.next[at];
            w.next[at] = -1;
            place(&w, at, &rim, &x, &y);
            vertex(to, first, rim, x, y);
            at = on;
        }
    }
}
