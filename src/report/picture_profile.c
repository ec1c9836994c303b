/* picture_profile.c - a flat's heights along its diameters: points, uncertainty, figure, limits. */
#include <math.h>

#include "flatwright/mating.h"
#include "report/axes.h"
#include "report/palette.h"
#include "report/views.h"
#include "report/words.h"

#define WIDTH SVG_BOX_WIDTH
#define LEFT 42
#define RIGHT 10
#define HEAD 30
#define STRIP 74
#define GAP 16
#define FOOT 34
#define STRIPS 8   /* diameters drawn */
#define POINTS 120 /* of a diameter drawn */
#define DOTS 48    /* more of them run together: a line then */
#define CURVE 65

int profile_strips(const views *v, int flat)
{
    int n = words_today(v->result, flat)->profile.ndiameters;
    return n > STRIPS ? STRIPS : n;
}

double profile_height(const views *v, int flat)
{
    return HEAD + profile_strips(v, flat) * (STRIP + GAP) - GAP + FOOT;
}

/* The diameter drawn in a strip: all, or evenly chosen ones. */
static const fw_diameter *strip_diameter(const views *v, int flat, int strip)
{
    const fw_profile *profile = &words_today(v->result, flat)->profile;
    int n = profile_strips(v, flat);
    return &profile->diameters[strip * profile->ndiameters / n];
}

/* The smooth figure on the datum of the heights: less a + b s, so that it runs through them. */
typedef struct levelled {
    const fw_figure *figure;
    double angle_rad, a, b;
} levelled;

static double smooth_at(const levelled *l, double s)
{
    double rho = s / l->figure->radius_mm;
    return fw_figure_height(l->figure, rho, l->figure->line ? 0 : l->angle_rad) + l->a + l->b * s;
}

static levelled level(const fw_figure *figure, const fw_diameter *d)
{
    levelled l = {figure, d->angle_deg * FW_RAD, 0, 0};
    double n = 0, s1 = 0, s2 = 0, y1 = 0, y2 = 0;
    size_t every = d->npoints / POINTS + 1;
    for (size_t i = 0; i < d->npoints && figure->nterms > 0; i += every) {
        const fw_point *p = &d->points[i];
        if (!p->clear || !p->determined)
            continue;
        double s = p->position_mm, y = p->height_nm - smooth_at(&l, s);
        n++;
        s1 += s;
        s2 += s * s;
        y1 += y;
        y2 += y * s;
    }
    double det = n * s2 - s1 * s1;
    if (n > 0) {
        double slope = det > 0 ? (n * y2 - s1 * y1) / det : 0;
        l.a = (y1 - slope * s1) / n;
        l.b = slope;
    }
    return l;
}

/* The sphere within the figure, 0 at the rim: its limits follow it where irregularity is judged. */
static double sphere_at(const views *v, const fw_figure *figure, double s)
{
    double rho = s / figure->radius_mm;
    return v->result->job->measure == FW_MEASURE_IRREGULARITY
               ? figure->power.value_nm * (1 - rho * rho)
               : 0;
}

/* The middle of the smooth figure over all strips: a band of the target's height covers most there. */
static double middle_of(const views *v, int flat)
{
    const fw_figure *figure = &words_today(v->result, flat)->figure;
    const fw_flat *glass = &v->result->job->flats[flat];
    double low = INFINITY, high = -INFINITY;
    for (int k = 0; k < profile_strips(v, flat); k++) {
        levelled l = level(figure, strip_diameter(v, flat, k));
        for (int i = 0; i < CURVE; i++) {
            double s = glass->clear_mm * (i / (CURVE - 1.0) - 0.5);
            double y = smooth_at(&l, s) - sphere_at(v, figure, s);
            if (fabs(s) < glass->bore_mm / 2)
                continue;
            low = fmin(low, y);
            high = fmax(high, y);
        }
    }
    return (low + high) / 2;
}

static void draw_limits(markup *m, const views *v, const fw_figure *figure, const fw_flat *glass,
                        const axis *x, const axis *y, double middle)
{
    for (int side = -1; side <= 1; side += 2) {
        svg_path(m);
        for (int i = 0; i < CURVE; i++) {
            double s = glass->clear_mm * (i / (CURVE - 1.0) - 0.5);
            double at = middle + sphere_at(v, figure, s) + side * v->result->job->flatness_nm / 2;
            (i ? svg_to : svg_move)(m, axis_at(x, s), axis_at(y, at));
        }
        svg_path_end(m, "none", PALETTE_LIMIT, 1, "5 3");
    }
}

/* Does the bore, or something not determined, lie between neighbours? */
static bool apart(const fw_flat *glass, const fw_point *a, const fw_point *b)
{
    return !a->determined || !b->determined ||
           (glass->bore_mm > 0 && a->position_mm < 0 && b->position_mm > 0);
}

/* Twice the uncertainty to either side, in unbroken pieces. */
static void draw_band(markup *m, const fw_flat *glass, const fw_diameter *d, size_t every,
                      const axis *x, const axis *y)
{
    for (size_t i = 0; i < d->npoints;) {
        size_t from = i, n = 1;
        while (from + n * every < d->npoints &&
               !apart(glass, &d->points[from + (n - 1) * every], &d->points[from + n * every]))
            n++;
        i = from + n * every;
        if (n < 2 || !isfinite(d->points[from].u_nm))
            continue;
        svg_path(m);
        for (size_t k = 0; k < 2 * n; k++) {
            const fw_point *p = &d->points[from + (k < n ? k : 2 * n - 1 - k) * every];
            (k ? svg_to : svg_move)(m, axis_at(x, p->position_mm),
                                    axis_at(y, p->height_nm + (k < n ? 2 : -2) * p->u_nm));
        }
        svg_back(m);
        svg_path_end(m, PALETTE_BAND, NULL, 0, NULL);
    }
}

static void draw_smooth(markup *m, const fw_flat *glass, const levelled *l, const axis *x,
                        const axis *y)
{
    bool on = false;
    svg_path(m);
    for (int i = 0; i < CURVE; i++) {
        double s = glass->clear_mm * (i / (CURVE - 1.0) - 0.5);
        bool glassy = fabs(s) >= glass->bore_mm / 2;
        if (glassy)
            (on ? svg_to : svg_move)(m, axis_at(x, s), axis_at(y, smooth_at(l, s)));
        on = glassy;
    }
    svg_path_end(m, "none", PALETTE_INK, 1.4, NULL);
}

static void draw_points(markup *m, const fw_flat *glass, const fw_diameter *d, size_t every,
                        const axis *x, const axis *y)
{
    const fw_point *last = NULL;
    bool dots = d->npoints / every <= DOTS;
    if (!dots)
        svg_path(m);
    for (size_t i = 0; i < d->npoints; i += every) {
        const fw_point *p = &d->points[i];
        if (p->determined && dots)
            svg_disc(m, axis_at(x, p->position_mm), axis_at(y, p->height_nm), 1.5, PALETTE_INK,
                     NULL, 0, NULL);
        else if (p->determined)
            (last && !apart(glass, last, p) ? svg_to : svg_move)(
                m, axis_at(x, p->position_mm), axis_at(y, p->height_nm));
        last = p;
    }
    if (!dots)
        svg_path_end(m, "none", PALETTE_SOFT, 0.6, NULL);
}

/* What lies outside the clear aperture, and the bore. */
static void shade(markup *m, const fw_flat *glass, const axis *x, double top)
{
    double left = axis_at(x, -glass->clear_mm / 2), right = axis_at(x, glass->clear_mm / 2);
    double bore = axis_at(x, glass->bore_mm / 2) - axis_at(x, 0);
    if (left > x->from) {
        svg_rect(m, x->from, top, left - x->from, STRIP, PALETTE_BEYOND);
        svg_rect(m, right, top, x->to - right, STRIP, PALETTE_BEYOND);
    }
    if (bore > 0)
        svg_rect(m, axis_at(x, 0) - bore, top, 2 * bore, STRIP, PALETTE_BEYOND);
}

static void draw_strip(markup *m, const views *v, int flat, const fw_diameter *d, double top,
                       double middle)
{
    const fw_flat *glass = &v->result->job->flats[flat];
    const fw_figure *figure = &words_today(v->result, flat)->figure;
    axis x = axis_linear(-glass->diameter_mm / 2, glass->diameter_mm / 2, LEFT, WIDTH - RIGHT, 5);
    axis y = axis_linear(-v->reach_nm, v->reach_nm, top + STRIP, top, 5);
    size_t every = d->npoints / POINTS + 1;
    char angle[SVG_NUMBER];
    shade(m, glass, &x, top);
    draw_band(m, glass, d, every, &x, &y);
    axis_draw_left(m, &y, LEFT, WIDTH - RIGHT, true);
    if (figure->nterms > 0 && v->result->job->measure != FW_MEASURE_RMS)
        draw_limits(m, v, figure, glass, &x, &y, middle);
    draw_points(m, glass, d, every, &x, &y);
    if (figure->nterms > 0) {
        levelled l = level(figure, d);
        draw_smooth(m, glass, &l, &x, &y);
    }
    if (!d->determined)
        svg_label(m, (LEFT + WIDTH - RIGHT) / 2.0, top + STRIP / 2.0 + 4, "middle",
                  "not determined");
    svg_number(d->angle_deg, false, angle);
    svg_words(m, WIDTH - RIGHT, top - 3, "end", SVG_SMALL, PALETTE_INK, "%s\xC2\xB0", angle);
}

void picture_profile(const canvas *c, const views *v, const picture *p)
{
    char name[VIEWS_NAME], title[160], about[400];
    const fw_flat *glass = &v->result->job->flats[p->flat];
    const fw_profile *profile = &words_today(v->result, p->flat)->profile;
    const fw_figure *figure = &words_today(v->result, p->flat)->figure;
    int n = profile_strips(v, p->flat);
    double middle = figure->nterms > 0 ? middle_of(v, p->flat) : 0;
    double bottom = profile_height(v, p->flat) - FOOT;
    axis x = axis_linear(-glass->diameter_mm / 2, glass->diameter_mm / 2, LEFT, WIDTH - RIGHT, 5);
    views_name(v, p->flat, name);
    snprintf(title, sizeof title, "%s: heights along its diameters", name);
    snprintf(about, sizeof about,
             "%d of %d diameters, from %g to %g mm, on a scale of %.3g nm up and down: heights, a "
             "band of twice their standard uncertainty, the smooth figure%s. The numbers stand in "
             "the tables of profiles.", n, profile->ndiameters, -glass->diameter_mm / 2,
             glass->diameter_mm / 2, v->reach_nm,
             v->result->job->measure == FW_MEASURE_RMS ? "" : ", limits of the target");
    svg_open(c->m, c->x, c->y, WIDTH, profile_height(v, p->flat), title, about);
    svg_words(c->m, 2, 14, "start", SVG_HEAD, PALETTE_INK, "%s", name);
    svg_words(c->m, LEFT - 5, HEAD - 4, "end", SVG_SMALL, PALETTE_SOFT, "nm");
    for (int k = 0; k < n; k++)
        draw_strip(c->m, v, p->flat, strip_diameter(v, p->flat, k), HEAD + k * (STRIP + GAP),
                   middle);
    if (n < profile->ndiameters)
        svg_words(c->m, WIDTH / 2.0, 14, "middle", SVG_SMALL, PALETTE_SOFT, "%d of %d diameters",
                  n, profile->ndiameters);
    axis_draw_below(c->m, &x, bottom, bottom, "position, mm");
    svg_close(c->m);
}
