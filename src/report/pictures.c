/* pictures.c - every picture by its name: one alone, or all of a kind beside each other. */
#include <math.h>
#include <string.h>

#include "flatwright/nearest.h"
#include "flatwright/page.h"
#include "flatwright/show.h"
#include "report/palette.h"
#include "report/picture_parts.h"
#include "report/svg.h"
#include "report/views.h"

#define SHEET_WIDTH 1040
#define SHEET_GAP 14

static const char *const kinds[PICTURE_KINDS] = {
    [PICTURE_PROFILE] = "profile", [PICTURE_FACE] = "face",   [PICTURE_FRINGES] = "fringes",
    [PICTURE_ROUNDS] = "rounds",   [PICTURE_HOURS] = "hours", [PICTURE_WORK] = "work"};

void picture_draw(const canvas *c, const views *v, const picture *p)
{
    switch (p->kind) {
    case PICTURE_PROFILE:
        picture_profile(c, v, p);
        break;
    case PICTURE_FACE:
        picture_face(c, v, p);
        break;
    case PICTURE_FRINGES:
        picture_fringes(c, v, p);
        break;
    case PICTURE_WORK:
        picture_work(c, v, p);
        break;
    default:
        picture_progress(c, v, p);
    }
}

void picture_size(const views *v, const picture *p, double *width, double *height)
{
    static const double heights[PICTURE_KINDS] = {
        [PICTURE_FACE] = 336, [PICTURE_FRINGES] = 242, [PICTURE_ROUNDS] = 236,
        [PICTURE_HOURS] = 236, [PICTURE_WORK] = 242};
    bool small = p->kind == PICTURE_FRINGES || p->kind == PICTURE_WORK;
    *width = small ? FACE_SMALL : SVG_BOX_WIDTH;
    *height = p->kind == PICTURE_PROFILE ? profile_height(v, p->flat) : heights[p->kind];
}

static bool wanted(const picture *p, const char *name)
{
    return strcmp(p->name, name) == 0 || strcmp(kinds[p->kind], name) == 0;
}

/* Places every wanted picture in rows; draws it when m is there. Gives the size of the sheet. */
static void lay_sheet(markup *m, const views *v, const char *name, double *width, double *height)
{
    double x = 0, y = 0, row = 0;
    *width = 0;
    for (int i = 0; i < v->npictures; i++) {
        double w, h;
        if (!wanted(&v->pictures[i], name))
            continue;
        picture_size(v, &v->pictures[i], &w, &h);
        if (x > 0 && x + w > SHEET_WIDTH) {
            x = 0;
            y += row + SHEET_GAP;
            row = 0;
        }
        if (m)
            picture_draw(&(canvas){m, x, y}, v, &v->pictures[i]);
        *width = fmax(*width, x + w);
        row = fmax(row, h);
        x += w + SHEET_GAP;
    }
    *height = y + row;
}

static fw_status unknown_picture(const views *v, const char *name, fw_error *err)
{
    char quoted[FW_QUOTED], suggestion[FW_SUGGESTION];
    fw_nearest nearest = fw_nearest_start(name);
    for (int i = 0; i < v->npictures; i++) {
        fw_nearest_offer(&nearest, v->pictures[i].name);
        fw_nearest_offer(&nearest, kinds[v->pictures[i].kind]);
    }
    return fw_fail(err, FW_INPUT, "the job has no picture %s%s", fw_show_quoted(quoted, name),
                   fw_nearest_text(&nearest, suggestion));
}

fw_status fw_page_picture(FILE *out, const fw_advice *advice, const fw_track *track,
                          const char *name, fw_error *err)
{
    views v;
    int found = 0, last = 0;
    markup m = {.out = out};
    fw_status status = views_new(advice, track, &v, err);
    for (int i = 0; i < v.npictures && !status; i++)
        if (wanted(&v.pictures[i], name)) {
            found++;
            last = i;
        }
    if (!status && found == 0)
        status = unknown_picture(&v, name, err);
    if (!status) {
        double width, height;
        fputs("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n", out);
        lay_sheet(NULL, &v, name, &width, &height);
        if (found == 1)
            picture_draw(&(canvas){&m, 0, 0}, &v, &v.pictures[last]);
        else {
            svg_open(&m, 0, 0, width, height, name, "Pictures side by side; each says what it is.");
            lay_sheet(&m, &v, name, &width, &height);
            svg_close(&m);
        }
    }
    views_release(&v);
    return status;
}

fw_status fw_page_names(FILE *out, const fw_advice *advice, const fw_track *track, fw_error *err)
{
    views v;
    fw_status status = views_new(advice, track, &v, err);
    for (int i = 0; i < v.npictures; i++)
        fprintf(out, "%s\n", v.pictures[i].name);
    views_release(&v);
    return status;
}
