/* report.h - a solved job for a person's eyes or ears, for a program, for a spreadsheet. */
#ifndef FLATWRIGHT_REPORT_H
#define FLATWRIGHT_REPORT_H

#include <stdbool.h>
#include <stdio.h>

#include "result.h"
#include "screen.h"
#include "slips.h"

/*
 * All of these print `result` and keep nothing. What cannot be written stays in the stream's error
 * indicator for the caller to check (fflush, ferror). Cost: one pass over the points printed.
 */

/*
 * "flatwright-solution/1": fit, today's flats in the job's order, removals, closures, what is
 * undetermined, suspects, notes. Lengths in mm, heights in nm, angles in degrees, full double
 * precision; null for what cannot be told.
 *   all  in  also the flats' earlier states, under "earlier"
 * Test: tests/unit/solution_json.c.
 */
void fw_solution_json(FILE *out, const fw_result *result, bool all);

/*
 * The table flat,state,diameter_deg,position_mm,height_nm,u_nm,clear (RFC 4180): a row a point,
 * by flat, state, diameter, position; an empty field where a number cannot be told.
 * Lines end in LF, not in the CR LF of RFC 4180: tools in a pipe would take CR for text.
 *   all  in  every state that was read; false: today's
 * Test: tests/unit/solution_csv.c.
 */
void fw_solution_csv(FILE *out, const fw_result *result, bool all);

/*
 * The whole face as a table flat,state,x_mm,y_mm,height_nm,u_nm: 41 points across the clear aperture
 * in x and in y; polar: flat,state,r_mm,theta_deg,.., 21 radii on 36 rays, the centre once.
 * By flat, state, then y and x, or theta and r. Both in the flat's own angles, seen on its face.
 *   all  in  every state that was read; false: today's
 * Returns FW_OK or FW_SYSTEM. Test: tests/unit/grid_csv.c.
 */
fw_status fw_grid_csv(FILE *out, const fw_result *result, bool polar, bool all, fw_error *err);

/* The screen of `solve`: verdicts, profiles drawn, fit, removal, undetermined, suspects, notes. */
void fw_solution_text(fw_screen *screen, const fw_result *result);

/*
 * The one screen of `flatwright JOB`: what have I got? 24 lines or less for three flats with names
 * of ordinary length. Tests of both: tests/unit/solution_text.c.
 */
void fw_summary_text(fw_screen *screen, const fw_result *result);

/*
 * The built-in glasses and lamps with their sources: for a person, and as "flatwright-glasses/1" and
 * "flatwright-lights/1". Tests: tests/unit/builtin.c, tests/cli/cases/builtin.sh.
 */
void fw_glasses_text(fw_screen *screen);
void fw_glasses_json(FILE *out);
void fw_lights_text(fw_screen *screen);
void fw_lights_json(FILE *out);

/*
 * The screen of `solve --budget`: each flat's sources of uncertainty, largest first, what they do to power,
 * irregularity and PV, and the cheapest way to make each smaller. Test: tests/unit/budget_text.c.
 */
void fw_budget_text(fw_screen *screen, const fw_result *result);

/*
 * What looks mistyped, a line of readings.csv each: what stands there, and the question whether another
 * diameter or turn is meant. Nothing where there is nothing. Test: tests/unit/slips.c.
 */
void fw_slips_text(fw_screen *screen, const fw_job *job, size_t n, const fw_slip *slips);

/* What a chart is drawn in: panels side by side on one height scale. */
#define FW_CHART_PANELS 4
#define FW_CHART_COLUMNS 40 /* widest panel, in characters */

/* The scale of a chart's rows: odd many of them, the middle one at 0. */
typedef struct fw_chart_scale {
    int rows;
    double step; /* a row's height: 1, 2 or 5 times a power of ten */
} fw_chart_scale;

/* One curve. Make it with fw_chart_panel_of, trace its points from left to right. */
typedef struct fw_chart_panel {
    const char *title; /* borrowed */
    int columns;
    double left, right;     /* x at the edges */
    double last_x, last_y;  /* the point before; y NAN: the curve is interrupted here */
    bool filled;
    double low[2 * FW_CHART_COLUMNS], high[2 * FW_CHART_COLUMNS]; /* half columns; NAN: nothing */
} fw_chart_panel;

/*
 * The finest scale of at most `most_rows` rows (3 or more) that takes heights to +-largest, and no
 * more rows than that needs. largest 0 or not finite: three rows of 1.
 */
fw_chart_scale fw_chart_scale_of(int most_rows, double largest);

/* An empty panel; columns is cut to 4 .. FW_CHART_COLUMNS. left < right. */
fw_chart_panel fw_chart_panel_of(const char *title, int columns, double left, double right);

/* The next point, x not below the last one's, joined to it by a line. y NAN: an interruption. */
void fw_chart_trace(fw_chart_panel *panel, double x, double y);

/*
 * Draws up to FW_CHART_PANELS panels of equal width side by side, titles above, x at their edges
 * below. Plain ASCII where screen->drawing is false, else in dots of a quarter row. A panel without
 * points says `empty`. Nothing is drawn when screen->spoken.
 * Test: tests/unit/chart.c.
 */
void fw_chart_draw(fw_screen *screen, fw_chart_scale scale, int npanels,
                   const fw_chart_panel *panels, const char *x_unit, const char *y_unit,
                   const char *empty);

#endif
