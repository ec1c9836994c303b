/* picture_fringes.c - the bands that a pairing should show on the bench, seen from above. */
#include <math.h>

#include "report/palette.h"
#include "report/picture_parts.h"
#include "report/svg.h"
#include "report/views.h"
#include "report/words.h"

#define HEIGHT 242
#define MIDDLE_X 102
#define MIDDLE_Y 138
#define RADIUS 88 /* of the larger flat, px */
#define MOST_LEVELS 160 /* finer than that the bands run together */

/* Bands of equal width: dark where the order is nearer to a whole number than a quarter. */
static void bands(markup *m, const contour_grid *g, double scale)
{
    int low, high;
    contour_extremes(g, &low, &high);
    /* level k lies at k / 2 + 1/4; above it is band k + 1, and even bands are dark */
    int k = (int)ceil(2 * g->height[low] - 0.5), last = (int)floor(2 * g->height[high] - 0.5);
    svg_disc(m, MIDDLE_X, MIDDLE_Y, scale * g->outer, k % 2 == 0 ? PALETTE_DARK : PALETTE_LIGHT,
             NULL, 0, NULL);
    for (; k <= last; k++) {
        region_paint paint = {(k + 1) % 2 == 0 ? PALETTE_DARK : PALETTE_LIGHT, NULL, 0, NULL};
        region_draw(m, g, k / 2.0 + 0.25, MIDDLE_X, MIDDLE_Y, scale, &paint);
    }
}

/* Where the dark bands would lie between two planes. */
static void straight(markup *m, double radius)
{
    for (int k = 1 - VIEWS_BANDS / 2; k < VIEWS_BANDS / 2; k++) {
        double y = 2.0 * k / VIEWS_BANDS * radius, half = sqrt(radius * radius - y * y);
        svg_line(m, MIDDLE_X - half, MIDDLE_Y - y, MIDDLE_X + half, MIDDLE_Y - y,
                 PALETTE_GUIDE, 1.3, "6 4");
    }
}

/* Both flats' marks, with the beginning of their names. */
static void draw_marks(markup *m, const char *bottom, const char *top, double turn_deg)
{
    char word[7];
    bool together = fabs(remainder(turn_deg, 360)) < 3;
    snprintf(word, sizeof word, "%.6s", together ? "both" : bottom);
    mark_draw(m, MIDDLE_X, MIDDLE_Y, RADIUS, 0, word);
    snprintf(word, sizeof word, "%.6s", top);
    if (!together)
        mark_draw(m, MIDDLE_X, MIDDLE_Y, RADIUS, turn_deg, word);
}

void picture_fringes(const canvas *c, const views *v, const picture *p)
{
    const view_pairing *pair = &v->pairings[p->index];
    const contour_grid *g = &pair->order;
    const fw_flat *flats = v->result->job->flats;
    char bottom[VIEWS_NAME], top[VIEWS_NAME], title[200], about[500], word[WORDS_SIZE];
    double diameter = fmax(flats[pair->bottom].diameter_mm, flats[pair->top].diameter_mm);
    double scale = RADIUS / (diameter / 2), x = MIDDLE_X;
    int low, high;
    views_name(v, pair->bottom, bottom);
    views_name(v, pair->top, top);
    contour_extremes(g, &low, &high);
    snprintf(title, sizeof title, "%s on %s, turned %g\xC2\xB0: the bands to expect", top, bottom,
             pair->turn_deg);
    snprintf(word, sizeof word, "%.2g", pair->pv_nm / v->light_nm);
    snprintf(about, sizeof about,
             "Seen from above, the mark of %s at the right. Both figures together depart by %.3g "
             "nm, %s bands. The wedge is drawn with %d bands and opens toward the top of the "
             "picture; broken lines show where the dark bands of two planes would lie.", bottom,
             pair->pv_nm, word, VIEWS_BANDS);
    svg_open(c->m, c->x, c->y, FACE_SMALL, HEIGHT, title, about);
    svg_words(c->m, 2, 14, "start", SVG_HEAD, PALETTE_INK, "%s on %s", top, bottom);
    svg_words(c->m, 2, 28, "start", SVG_SMALL, PALETTE_SOFT, "turned %g\xC2\xB0, %s bands deep",
              pair->turn_deg, word);
    if (2 * (g->height[high] - g->height[low]) > MOST_LEVELS)
        svg_label(c->m, x, MIDDLE_Y, "middle", "too many bands to draw");
    else {
        bands(c->m, g, scale);
        straight(c->m, scale * g->outer);
    }
    svg_disc(c->m, x, MIDDLE_Y, scale * g->outer, "none", PALETTE_INK, 1, NULL);
    if (g->inner > 0)
        svg_disc(c->m, x, MIDDLE_Y, scale * g->inner, PALETTE_PAPER, PALETTE_INK, 1, NULL);
    svg_disc(c->m, x, MIDDLE_Y, RADIUS, "none", PALETTE_SOFT, 0.8, NULL);
    draw_marks(c->m, bottom, top, pair->turn_deg);
    svg_close(c->m);
}
