/* track_chart.c - figures falling toward the target, drawn on a logarithmic scale. */
#include <math.h>
#include <string.h>

#include "flatwright/show.h"
#include "report/track_chart.h"

#define LABEL 18        /* name and round */
#define NAME_COLUMNS 8
#define WIDEST 80
#define LEAST_COLUMNS 20
#define ROWS 18         /* of all flats together */
#define CELL 4          /* bytes of a character and its end */
#define LINE_SIZE (WIDEST * CELL + 64)

/* The axis: decades of nm over its columns. */
typedef struct axis {
    double low, high;
    int columns;
} axis;

static int column_of(const axis *a, double nm)
{
    double place = nm > 0 ? log(nm / a->low) / log(a->high / a->low) * a->columns : 0;
    return place < 0 ? 0 : place >= a->columns ? a->columns - 1 : (int)place;
}

static bool drawn(fw_quantity q)
{
    return isfinite(q.value_nm) && q.value_nm > 0;
}

static fw_quantity judged(const fw_track *t, const fw_face *face)
{
    return fw_track_judged(t->result->job, &face->figure);
}

static double spread_of(fw_quantity q)
{
    return isfinite(q.u_nm) ? 2 * q.u_nm : 0;
}

/* Room on both sides of everything; false: nothing to draw. */
static bool fit_axis(const fw_screen *screen, const fw_track *t, axis *a)
{
    bool any = false;
    double target = t->result->job->flatness_nm;
    int columns = screen->columns < WIDEST ? screen->columns : WIDEST;
    *a = (axis){target / 2, 2 * target, columns - LABEL};
    for (int i = 0; i < t->result->nfaces; i++) {
        fw_quantity q = judged(t, &t->result->faces[i]);
        if (!drawn(q))
            continue;
        any = true;
        a->low = fmin(a->low, q.value_nm / 1.5);
        a->high = fmax(a->high, 1.1 * (q.value_nm + spread_of(q)));
    }
    return any && a->columns >= LEAST_COLUMNS;
}

static void draw_ticks(fw_screen *screen, const axis *a)
{
    static const double steps[] = {1, 2, 5};
    bool dense = a->high / a->low < 200;
    char line[WIDEST + 32], text[16];
    int end = 0;
    memset(line, ' ', sizeof line);
    for (int decade = (int)floor(log10(a->low)); decade <= (int)floor(log10(a->high)); decade++)
        for (int s = 0; s < (dense ? 3 : 1); s++) {
            double nm = steps[s] * pow(10, decade);
            if (nm < a->low || nm > a->high)
                continue;
            int length = snprintf(text, sizeof text, "%g", nm);
            int at = LABEL + column_of(a, nm) - length / 2;
            if (at < end || at + length > LABEL + a->columns)
                continue;
            memcpy(line + at, text, (size_t)length);
            end = at + length + 1;
        }
    memcpy(line + LABEL - 4, "nm", 2);
    line[LABEL + a->columns] = '\0';
    fw_screen_line(screen, line);
}

static void draw_row(fw_screen *screen, const fw_track *t, const axis *a, const fw_face *face,
                     bool first)
{
    char line[LINE_SIZE], name[NAME_COLUMNS + 1];
    fw_quantity q = judged(t, face);
    const char *dash = screen->drawing ? "\xE2\x94\x80" : "-";
    const char *bar = screen->drawing ? "\xE2\x94\x82" : "|";
    int from = column_of(a, q.value_nm - spread_of(q)), at = column_of(a, q.value_nm);
    int to = column_of(a, q.value_nm + spread_of(q));
    int target = column_of(a, t->result->job->flatness_nm);
    fw_show(name, sizeof name, first ? t->result->job->flats[face->flat].name : "");
    size_t used;
    int columns = 0; /* names may hold wider characters */
    for (const char *c = name; *c; c++)
        columns += ((unsigned char)*c & 0xC0) != 0x80;
    used = (size_t)snprintf(line, sizeof line, face->first_round < 1000 ? "%s%*s round %d" :
                            "%s%*s r%d", name, NAME_COLUMNS - columns, "", face->first_round);
    for (int pad = (int)used - (int)strlen(name) + columns; pad < LABEL; pad++)
        line[used++] = ' ';
    for (int c = 0; c < a->columns; c++)
        used += (size_t)snprintf(line + used, sizeof line - used, "%s",
                                 c == at                ? "*"
                                 : c == target          ? bar
                                 : c >= from && c <= to ? dash
                                                        : " ");
    fw_screen_line(screen, line);
}

static void draw_flat(fw_screen *screen, const fw_track *t, const axis *a, int flat, int most)
{
    int n = 0, seen = 0;
    for (int i = 0; i < t->result->nfaces; i++)
        n += t->result->faces[i].flat == flat && drawn(judged(t, &t->result->faces[i]));
    for (int i = 0; i < t->result->nfaces; i++) {
        const fw_face *face = &t->result->faces[i];
        if (face->flat != flat || !drawn(judged(t, face)))
            continue;
        if (++seen > n - most)
            draw_row(screen, t, a, face, seen == (n > most ? n - most + 1 : 1));
    }
}

void track_chart(fw_screen *screen, const fw_track *t)
{
    axis a;
    int nflats = t->result->job->nflats, most = ROWS / nflats > 1 ? ROWS / nflats : 1;
    if (screen->spoken || !fit_axis(screen, t, &a))
        return;
    fw_screen_line(screen, "");
    draw_ticks(screen, &a);
    for (int f = 0; f < nflats; f++)
        draw_flat(screen, t, &a, f, most);
    fw_screen_say(screen, LABEL, LABEL, "* figure, %s twice its uncertainty, %s target",
                  screen->drawing ? "\xE2\x94\x80" : "-", screen->drawing ? "\xE2\x94\x82" : "|");
    fw_screen_line(screen, "");
}
