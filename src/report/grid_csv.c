/* grid_csv.c - the whole face as a table of points, for a spreadsheet or a plot. */
#include <math.h>

#include "flatwright/alloc.h"
#include "flatwright/report.h"
#include "flatwright/text.h"
#include "report/words.h"

/* Across the clear radius; around. */
enum { STEPS = 20, AROUND = 36 };

static const double PI = 3.14159265358979323846;

typedef struct grid {
    int n;
    double *r_mm, *theta_rad, *first, *second; /* what is printed of a point: x and y, or r and theta */
    double *height, *u;
} grid;

static void grid_release(grid *g)
{
    fw_free(g->r_mm);
    fw_free(g->theta_rad);
    fw_free(g->first);
    fw_free(g->second);
    fw_free(g->height);
    fw_free(g->u);
}

static fw_status grid_init(grid *g, fw_error *err)
{
    size_t most = (2 * STEPS + 1) * (2 * STEPS + 1);
    double **const of[] = {&g->r_mm, &g->theta_rad, &g->first, &g->second, &g->height, &g->u};
    *g = (grid){0};
    for (int k = 0; k < 6; k++)
        if (!(*of[k] = fw_alloc(most, sizeof(double))))
            return fw_fail(err, FW_SYSTEM, "no memory for a grid of points");
    return FW_OK;
}

static void add(grid *g, double r, double theta, double first, double second)
{
    g->r_mm[g->n] = r;
    g->theta_rad[g->n] = theta;
    g->first[g->n] = first;
    g->second[g->n++] = second;
}

/* Points on the clear aperture and off the bore. */
static void lay(grid *g, const fw_flat *flat, bool polar)
{
    double radius = flat->clear_mm / 2, bore = flat->bore_mm / 2, step = radius / STEPS;
    g->n = 0;
    for (int i = 0; i < AROUND && polar; i++)
        for (int k = 0; k <= STEPS; k++)
            if (k * step >= bore && (k > 0 || i == 0))
                add(g, k * step, 2 * PI * i / AROUND, k * step, 360.0 * i / AROUND);
    for (int i = -STEPS; i <= STEPS && !polar; i++)
        for (int k = -STEPS; k <= STEPS; k++) {
            double x = k * step, y = i * step, r = hypot(x, y);
            if (r <= radius * (1 + 1e-12) && r >= bore)
                add(g, r, atan2(y, x), x, y);
        }
}

static void put_rows(FILE *out, const char *name, int state, const grid *g)
{
    for (int i = 0; i < g->n; i++) {
        const double numbers[] = {g->first[i], g->second[i], g->height[i], g->u[i]};
        char text[FW_NUMBER_SIZE];
        words_csv(out, name);
        fprintf(out, ",%d", state);
        for (int k = 0; k < 4; k++)
            fprintf(out, ",%s", isfinite(numbers[k]) ? fw_number(numbers[k], text) : "");
        putc('\n', out);
    }
}

fw_status fw_grid_csv(FILE *out, const fw_result *result, bool polar, bool all, fw_error *err)
{
    grid g;
    fw_status status = grid_init(&g, err);
    if (!status)
        fprintf(out, "flat,state,%s,height_nm,u_nm\n", polar ? "r_mm,theta_deg" : "x_mm,y_mm");
    for (int f = 0; f < result->nfaces && !status; f++) {
        const fw_face *face = &result->faces[f];
        const fw_flat *flat = &result->job->flats[face->flat];
        if (!all && result->today[face->flat] != f)
            continue;
        lay(&g, flat, polar);
        status = fw_face_heights(result, f, g.n, g.r_mm, g.theta_rad, g.height, g.u, err);
        if (!status)
            put_rows(out, flat->name, face->state, &g);
    }
    grid_release(&g);
    return status;
}
