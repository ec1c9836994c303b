/* picture_progress.c - the figure judged, falling toward the target: by rounds, and by hours. */
#include <math.h>

#include "report/axes.h"
#include "report/palette.h"
#include "report/views.h"
#include "report/words.h"

#define WIDTH SVG_BOX_WIDTH
#define HEIGHT 236
#define LEFT 42
#define RIGHT 70
#define TOP 26
#define BOTTOM 196
#define APART 12 /* px between names at the right */

static const char *const inks[] = {PALETTE_INK, PALETTE_SECOND, PALETTE_THIRD, PALETTE_FOURTH};

/* Hours of polishing before this state, since the flat was last ground. */
static double hours_before(const fw_job *job, const fw_face *face)
{
    double hours = 0;
    int state = 0;
    for (int round = 1; state < face->state && round < face->last_round + 1; round++)
        for (size_t w = 0; w < job->nwork && state < face->state; w++)
            if (job->work[w].flat == face->flat && job->work[w].round == round) {
                hours = job->work[w].method == FW_GRIND ? 0 : hours + job->work[w].hours;
                state++;
            }
    return hours;
}

static double across(const views *v, const fw_face *face, bool by_hours)
{
    return by_hours ? hours_before(v->result->job, face) : face->first_round;
}

static bool drawn(const views *v, const fw_face *face)
{
    return views_place(v, face->flat) >= 0 && face->first_round > 0 &&
           fw_track_judged(v->result->job, &face->figure).value_nm > 0;
}

/* A mark that is told from the others without colour. */
static void draw_mark(markup *m, int shape, double x, double y, const char *ink)
{
    if (shape % 4 == 0) {
        svg_disc(m, x, y, 3.2, ink, NULL, 0, NULL);
        return;
    }
    if (shape % 4 == 1) {
        svg_rect(m, x - 3, y - 3, 6, 6, ink);
        return;
    }
    double up = shape % 4 == 2 ? 4 : 4.4;
    svg_path(m);
    svg_move(m, x, y - up);
    svg_to(m, x + 4, y + (shape % 4 == 2 ? 3 : 0));
    if (shape % 4 == 3)
        svg_to(m, x, y + up);
    svg_to(m, x - 4, y + (shape % 4 == 2 ? 3 : 0));
    svg_back(m);
    svg_path_end(m, ink, NULL, 0, NULL);
}

/* One flat's states in order: bars of twice the uncertainty, a line, marks. Returns the last y. */
static double draw_flat(markup *m, const views *v, int place, bool by_hours, const axis *x,
                        const axis *y)
{
    const fw_result *r = v->result;
    const char *ink = inks[place % 4];
    double last_x = NAN, last_y = NAN;
    for (int pass = 0; pass < 2; pass++)
        for (int i = 0; i < r->nfaces; i++) {
            const fw_face *face = &r->faces[i];
            if (face->flat != v->shown[place] || !drawn(v, face))
                continue;
            fw_quantity q = fw_track_judged(r->job, &face->figure);
            double at = axis_at(x, across(v, face, by_hours)), high = axis_at(y, q.value_nm);
            if (pass == 1) {
                draw_mark(m, place, at, high, ink);
                last_y = high;
                continue;
            }
            if (isfinite(q.u_nm))
                svg_line(m, at, axis_at(y, q.value_nm - 2 * q.u_nm), at,
                         axis_at(y, q.value_nm + 2 * q.u_nm), ink, 0.8, NULL);
            if (isfinite(last_x))
                svg_line(m, last_x, last_y, at, high, ink, 1.2, place >= 4 ? "5 3" : NULL);
            last_x = at;
            last_y = high;
        }
    return last_y;
}

/* Names beside the last marks, moved apart where they would run together. */
static void draw_names(markup *m, const views *v, const double *ends)
{
    char name[VIEWS_NAME];
    double floor = TOP - APART;
    bool done[VIEWS_FLATS] = {false};
    for (int k = 0; k < v->nshown; k++) {
        int next = -1;
        for (int i = 0; i < v->nshown; i++)
            if (!done[i] && isfinite(ends[i]) && (next < 0 || ends[i] < ends[next]))
                next = i;
        if (next < 0)
            return;
        done[next] = true;
        floor = fmax(ends[next], floor + APART);
        draw_mark(m, next, WIDTH - RIGHT + 12, floor, inks[next % 4]);
        svg_words(m, WIDTH - RIGHT + 20, floor + 4, "start", SVG_SMALL, PALETTE_INK, "%.8s",
                  views_name(v, v->shown[next], name));
    }
}

static void fit(const views *v, bool by_hours, axis *x, axis *y)
{
    double low = v->result->job->flatness_nm / 2, high = v->result->job->flatness_nm * 2, last = 0;
    for (int i = 0; i < v->result->nfaces; i++) {
        const fw_face *face = &v->result->faces[i];
        if (!drawn(v, face))
            continue;
        fw_quantity q = fw_track_judged(v->result->job, &face->figure);
        low = fmin(low, q.value_nm / 1.5);
        high = fmax(high, 1.1 * (q.value_nm + (isfinite(q.u_nm) ? 2 * q.u_nm : 0)));
        last = fmax(last, across(v, face, by_hours));
    }
    *y = axis_log(low, high, BOTTOM, TOP);
    *x = by_hours ? axis_linear(0, last > 0 ? last : 1, LEFT + 8, WIDTH - RIGHT, 5)
                  : axis_counts(1, (int)last, LEFT + 8, WIDTH - RIGHT, 8);
}

void picture_progress(const canvas *c, const views *v, const picture *p)
{
    char title[160], about[400];
    bool by_hours = p->kind == PICTURE_HOURS;
    const fw_job *job = v->result->job;
    const char *measure = words_measure(job->measure);
    double ends[VIEWS_FLATS];
    axis x, y;
    fit(v, by_hours, &x, &y);
    snprintf(title, sizeof title, "%s over the %s", measure,
             by_hours ? "hours of polishing" : "rounds");
    snprintf(about, sizeof about,
             "The %s of each flat's smooth figure in nm on a logarithmic scale, with twice its "
             "standard uncertainty, against %s; the target of %g nm is a broken line. The numbers "
             "stand in the text beside.", measure,
             by_hours ? "its hours of polishing" : "the round it was first read in",
             job->flatness_nm);
    svg_open(c->m, c->x, c->y, WIDTH, HEIGHT, title, about);
    svg_words(c->m, 2, 14, "start", SVG_HEAD, PALETTE_INK, "%s, nm", title);
    axis_draw_below(c->m, &x, TOP, BOTTOM,
                    by_hours ? "hours of polishing" : "round of measuring");
    axis_draw_left(c->m, &y, LEFT, WIDTH - RIGHT, false);
    double target = axis_at(&y, job->flatness_nm);
    svg_line(c->m, LEFT, target, WIDTH - RIGHT, target, PALETTE_LIMIT, 1.2, "5 3");
    svg_label(c->m, LEFT + 4, target - 4, "start", "target");
    for (int k = 0; k < v->nshown; k++)
        ends[k] = draw_flat(c->m, v, k, by_hours, &x, &y);
    draw_names(c->m, v, ends);
    svg_close(c->m);
}
