/* chart.c - curves drawn in characters: panels side by side on one scale. */
#include <math.h>
#include <string.h>

#include "flatwright/report.h"

#define LABEL 8 /* columns left of the first panel: a tick, a blank, a bar */
#define LINE_SIZE 1024

fw_chart_scale fw_chart_scale_of(int most_rows, double largest)
{
    static const double steps[] = {1, 2, 5, 10};
    int half = most_rows < 3 ? 1 : (most_rows - 1) / 2;
    double need = largest / (half + 0.5), step = 1; /* the outer rows reach half a step further */
    if (!(need > 0) || !isfinite(need))
        return (fw_chart_scale){3, 1};
    double decade = pow(10, floor(log10(need)));
    for (size_t i = 0; i < sizeof steps / sizeof steps[0]; i++) {
        step = steps[i] * decade;
        if (step >= need * (1 - 1e-9))
            break;
    }
    int used = (int)ceil(largest / step - 0.5 - 1e-9);
    return (fw_chart_scale){2 * (used < 1 ? 1 : used) + 1, step};
}

fw_chart_panel fw_chart_panel_of(const char *title, int columns, double left, double right)
{
    fw_chart_panel panel = {.title = title, .left = left, .right = right, .last_y = NAN};
    panel.columns = columns < 4 ? 4 : columns > FW_CHART_COLUMNS ? FW_CHART_COLUMNS : columns;
    for (int i = 0; i < 2 * FW_CHART_COLUMNS; i++)
        panel.low[i] = panel.high[i] = NAN;
    return panel;
}

/* Widens half column i to take in y. */
static void take_in(fw_chart_panel *panel, int i, double y)
{
    panel->low[i] = fmin(panel->low[i], y); /* fmin of NAN and y is y */
    panel->high[i] = fmax(panel->high[i], y);
    panel->filled = true;
}

static int half_column(const fw_chart_panel *panel, double x)
{
    int last = 2 * panel->columns - 1;
    double place = (x - panel->left) / (panel->right - panel->left) * (last + 1);
    return place < 0 ? 0 : place > last ? last : (int)place;
}

void fw_chart_trace(fw_chart_panel *panel, double x, double y)
{
    double x0 = panel->last_x, y0 = panel->last_y;
    panel->last_x = x;
    panel->last_y = y;
    if (!isfinite(y))
        return;
    int to = half_column(panel, x);
    take_in(panel, to, y);
    if (!isfinite(y0) || !(x > x0))
        return;
    double width = (panel->right - panel->left) / (2 * panel->columns);
    for (int i = half_column(panel, x0); i < to; i++) { /* leaving i, the line enters i + 1 */
        double edge = panel->left + (i + 1) * width;
        double height = y0 + (y - y0) * fmin(1, fmax(0, (edge - x0) / (x - x0)));
        take_in(panel, i, height);
        take_in(panel, i + 1, height);
    }
}

/* Rows are cut into `parts` levels each, counted from the top. */
static int level_of(fw_chart_scale scale, int parts, double y)
{
    double level = floor((scale.rows / 2.0 - y / scale.step) * parts);
    int last = scale.rows * parts - 1;
    return level < 0 ? 0 : level > last ? last : (int)level;
}

/* The curve passes half column i on a level of the row's part. */
static bool passes(const fw_chart_panel *panel, fw_chart_scale scale, int parts, int i, int level)
{
    return !isnan(panel->low[i]) && level_of(scale, parts, panel->high[i]) <= level &&
           level <= level_of(scale, parts, panel->low[i]);
}

static size_t star_cell(const fw_chart_panel *panel, fw_chart_scale scale, int row, int column,
                        char *cell)
{
    bool curve = passes(panel, scale, 1, 2 * column, row) ||
                 passes(panel, scale, 1, 2 * column + 1, row);
    cell[0] = curve ? '*' : row == scale.rows / 2 && column % 2 ? '-' : ' ';
    return 1;
}

/* Two by four dots; U+2800 and a bit a dot. The zero line is a dot a cell. */
static size_t dot_cell(const fw_chart_panel *panel, fw_chart_scale scale, int row, int column,
                       char *cell)
{
    static const unsigned char bits[2][4] = {{0x01, 0x02, 0x04, 0x40}, {0x08, 0x10, 0x20, 0x80}};
    unsigned dots = row == scale.rows / 2 ? bits[0][2] : 0;
    for (int half = 0; half < 2; half++)
        for (int part = 0; part < 4; part++)
            if (passes(panel, scale, 4, 2 * column + half, 4 * row + part))
                dots |= bits[half][part];
    if (dots == 0) {
        cell[0] = ' ';
        return 1;
    }
    cell[0] = (char)0xE2;
    cell[1] = (char)(0xA0 | dots >> 6);
    cell[2] = (char)(0x80 | (dots & 0x3F));
    return 3;
}

/* Adds one row of one panel to the line. */
static size_t put_row(const fw_screen *screen, const fw_chart_panel *panel, fw_chart_scale scale,
                      int row, const char *empty, char *line)
{
    size_t used = 0;
    int room = panel->columns, before = (room - (int)strlen(empty)) / 2;
    if (!panel->filled && row == scale.rows / 2) {
        before = before > 0 ? before : 0;
        snprintf(line, (size_t)room + 1, "%*s%-*s", before, "", room - before, empty);
        return (size_t)room;
    }
    for (int c = 0; c < panel->columns; c++)
        used += screen->drawing ? dot_cell(panel, scale, row, c, line + used)
                                : star_cell(panel, scale, row, c, line + used);
    return used;
}

static void draw_rows(fw_screen *screen, fw_chart_scale scale, int npanels,
                      const fw_chart_panel *panels, const char *empty)
{
    const char *bar = screen->drawing ? "\xE2\x94\x82" : "|";
    for (int row = 0; row < scale.rows; row++) {
        char line[LINE_SIZE];
        int above = scale.rows / 2 - row; /* the zero line */
        size_t used = (size_t)snprintf(line, sizeof line, above ? "%+*g " : "%*g ", LABEL - 2,
                                       above * scale.step);
        for (int p = 0; p < npanels; p++) {
            used += (size_t)snprintf(line + used, sizeof line - used, "%s", bar);
            used += put_row(screen, &panels[p], scale, row, empty, line + used);
        }
        snprintf(line + used, sizeof line - used, "%s", bar);
        fw_screen_line(screen, line);
    }
}

void fw_chart_draw(fw_screen *screen, fw_chart_scale scale, int npanels,
                   const fw_chart_panel *panels, const char *x_unit, const char *y_unit,
                   const char *empty)
{
    char line[LINE_SIZE];
    if (screen->spoken)
        return;
    size_t used = (size_t)snprintf(line, sizeof line, "%*s ", LABEL - 2, y_unit);
    for (int p = 0; p < npanels; p++)
        used += (size_t)snprintf(line + used, sizeof line - used, " %-*.*s", panels[p].columns,
                                 panels[p].columns, panels[p].title);
    fw_screen_line(screen, line);
    draw_rows(screen, scale, npanels, panels, empty);
    used = (size_t)snprintf(line, sizeof line, "%*s ", LABEL - 2, x_unit);
    for (int p = 0; p < npanels; p++) {
        int half = panels[p].columns / 2;
        used += (size_t)snprintf(line + used, sizeof line - used,
                                 panels[p].left < 0 ? " %-+*g%+*g" : " %-*g%*g", half,
                                 panels[p].left, panels[p].columns - half, panels[p].right);
    }
    fw_screen_line(screen, line);
}
