/* page.c - the printable page, from the decision to the cautions. */
#include "flatwright/page.h"

#include <math.h>

#include "report/page_parts.h"
#include "report/palette.h"
#include "report/prose.h"
#include "report/svg.h"
#include "report/words.h"

void page_section(markup *m, const char *id, const char *heading)
{
    markup_line(m);
    markup_open(m, "section");
    markup_attr(m, "class", "said");
    markup_put(m, "aria-labelledby", "%s", id);
    markup_open(m, "h2");
    markup_attr(m, "id", id);
    markup_text(m, heading);
    markup_close(m);
}

void page_say(markup *m, const char *words)
{
    markup_line(m);
    markup_element(m, "p", words);
}

static void caption(markup *m, const views *v, const picture *p)
{
    const view_pairing *pair = &v->pairings[p->index];
    char text[WORDS_SIZE];
    prose said;
    if (p->kind == PICTURE_FRINGES) {
        words_nm(pair->pv_nm, false, text);
        prose_of(&said, m);
        markup_open(m, "figcaption");
        fw_screen_put(&said.screen, "Together PV %s.", text);
        markup_close(m);
    } else if (p->kind == PICTURE_FACE || p->kind == PICTURE_PROFILE) {
        fw_quantity q = words_judged(v->result, p->flat);
        markup_open(m, "figcaption");
        markup_element(m, "bdi", v->result->job->flats[p->flat].name);
        prose_of(&said, m);
        if (isfinite(q.value_nm))
            fw_screen_put(&said.screen, ": %s %s.", words_measure(v->result->job->measure),
                          words_quantity(q, false, text));
        else
            fw_screen_put(&said.screen, ": figure not determined.");
        markup_close(m);
    } else if (p->kind == PICTURE_WORK) {
        markup_open(m, "figcaption");
        markup_element(m, "bdi", v->result->job->flats[v->advice->plans[p->flat].flat].name);
        markup_say(m, ", stroke %d of %d.", p->index + 1, v->advice->plans[p->flat].nrows);
        markup_close(m);
    }
}

void page_pictures(markup *m, const views *v, picture_kind first, picture_kind last)
{
    bool any = false;
    for (int i = 0; i < v->npictures; i++) {
        const picture *p = &v->pictures[i];
        if (p->kind < first || p->kind > last)
            continue;
        if (!any) {
            markup_open(m, "div");
            markup_attr(m, "class", "row");
        }
        any = true;
        markup_line(m);
        markup_open(m, "figure");
        picture_draw(&(canvas){m, 0, 0}, v, p);
        caption(m, v, p);
        markup_close(m);
    }
    if (any)
        markup_close(m);
}

static bool has(const views *v, picture_kind kind)
{
    for (int i = 0; i < v->npictures; i++)
        if (v->pictures[i].kind == kind)
            return true;
    return false;
}

/* How many flats and pairings are not pictured. */
static void say_left_out(markup *m, const views *v)
{
    if (v->nshown < v->result->job->nflats) {
        markup_open(m, "p");
        markup_say(m, "Of %d flats the %d farthest from the target are pictured here; `flatwright "
                      "export` writes the profiles of all.", v->result->job->nflats, v->nshown);
        markup_close(m);
    }
}

static void put_head(markup *m, const views *v)
{
    const char *title = v->result->job->title;
    markup_open(m, "head");
    markup_line(m);
    markup_open(m, "meta");
    markup_attr(m, "charset", "utf-8");
    markup_void(m);
    markup_open(m, "meta");
    markup_attr(m, "name", "viewport");
    markup_attr(m, "content", "width=device-width, initial-scale=1");
    markup_void(m);
    markup_open(m, "link"); /* else a browser asks for one */
    markup_attr(m, "rel", "icon");
    markup_attr(m, "href", "data:,");
    markup_void(m);
    markup_line(m);
    markup_open(m, "title");
    if (*title) {
        markup_text(m, title);
        markup_text(m, ", ");
    }
    markup_say(m, "round %d", v->result->round);
    markup_close(m);
    page_style(m);
    markup_close(m);
}

static void put_decision(markup *m, const views *v)
{
    const fw_job *job = v->result->job;
    prose said;
    markup_line(m);
    markup_open(m, "header");
    markup_open(m, "h1");
    if (*job->title)
        markup_element(m, "bdi", job->title);
    else
        markup_say(m, "A set of %d flats", job->nflats);
    markup_close(m);
    markup_open(m, "p");
    markup_attr(m, "class", "soft");
    markup_say(m, "Round %d. Target: %s %.4g nm at confidence %g.", v->result->round,
               words_measure(job->measure), job->flatness_nm, job->confidence);
    markup_close(m);
    markup_open(m, "p");
    markup_attr(m, "class", "decision");
    markup_open(m, "b");
    markup_text(m, "Next: ");
    markup_close(m);
    prose_of(&said, m);
    fw_advice_sentence(&said.screen, v->advice);
    markup_close_all(m, 2);
}

static void put_verdicts(markup *m, const views *v)
{
    prose said;
    page_section(m, "flats", "The flats");
    prose_of(&said, m);
    for (int k = 0; k < v->nshown; k++)
        words_verdict(&said.screen, v->result, v->shown[k], WORDS_BRIEF);
    prose_end(&said);
    page_verdicts(m, v);
    prose_of(&said, m);
    words_meaning(&said.screen, v->result);
    prose_end(&said);
    say_left_out(m, v);
    markup_close(m);
}

static void put_profiles(markup *m, const views *v)
{
    if (!has(v, PICTURE_PROFILE))
        return;
    page_section(m, "profiles", "Profiles");
    page_say(m, v->result->job->measure == FW_MEASURE_RMS
                    ? "Dots: heights at the stations. Band: twice their standard uncertainty to "
                      "either side. Line: the smooth figure, which is judged. The target is an rms, "
                      "so it has no limits here. Grey: outside the clear aperture, or bore."
                    : "Dots: heights at the stations. Band: twice their standard uncertainty to "
                      "either side. Line: the smooth figure, which is judged. Broken lines: as far "
                      "apart as the target allows, laid where they cover most of the figure. Grey: "
                      "outside the clear aperture, or bore. All on one scale.");
    page_pictures(m, v, PICTURE_PROFILE, PICTURE_PROFILE);
    markup_close(m);
}

static void put_faces(markup *m, const views *v)
{
    page_section(m, "faces", "Faces");
    if (has(v, PICTURE_FACE))
        page_say(m, "Looking at the polished face, the mark at the right, angles counter-clockwise. "
                    "Blue is low, brown is high, one scale for all; contours below zero are "
                    "broken. Between the diameters read the map is the smooth figure's guess.");
    else
        page_say(m, "No face can be drawn: that takes a figure which is determined, on two or more "
                    "diameters.");
    page_pictures(m, v, PICTURE_FACE, PICTURE_FACE);
    markup_close(m);
}

static void put_fringes(markup *m, const views *v)
{
    if (!has(v, PICTURE_FRINGES))
        return;
    page_section(m, "fringes", "What each pairing should show now");
    page_say(m, "Seen from above through the top flat, the bottom's mark at the right. The air "
                "wedge is drawn so that it opens toward the top of the picture, with six bands of "
                "its own; on the bench tilt the top until it looks so. Broken lines: where the "
                "dark bands of two planes would lie. Bands that bow toward the open side: the two "
                "together are high there. If the bench shows something else, look again before "
                "polishing.");
    if (!v->light_named)
        page_say(m, "No light is named in job.ini: drawn for the green mercury line, 546.07 nm.");
    page_pictures(m, v, PICTURE_FRINGES, PICTURE_FRINGES);
    if (v->more_pairings > 0) {
        markup_open(m, "p");
        markup_say(m, "And more pairings than the %d pictured.", v->npairings);
        markup_close(m);
    }
    markup_close(m);
}

static void put_advice(markup *m, const views *v)
{
    prose said;
    page_section(m, "next", "What comes next");
    prose_of(&said, m);
    fw_advice_text(&said.screen, v->advice);
    prose_end(&said);
    if (has(v, PICTURE_WORK))
        page_say(m, "Tinted: the zone worked, looking at the polished face, mark at the right. "
                    "Outlines: the lap at both ends of its travel. Cross: the highest place.");
    page_pictures(m, v, PICTURE_WORK, PICTURE_WORK);
    markup_close(m);
}

static void put_progress(markup *m, const views *v)
{
    prose said;
    page_section(m, "progress", "Progress");
    page_pictures(m, v, PICTURE_ROUNDS, PICTURE_HOURS);
    prose_of(&said, m);
    fw_track_text(&said.screen, v->track);
    prose_end(&said);
    markup_close(m);
}

static void put_doubts(markup *m, const views *v)
{
    prose said;
    page_section(m, "doubts", "What it rests on, and what is open");
    prose_of(&said, m);
    words_rest(&said.screen, v->result);
    prose_end(&said);
    markup_close(m);
}

static void put_foot(markup *m)
{
    markup_open(m, "footer");
    markup_element(m, "p", "flatwright " FW_VERSION ". Lengths in mm, heights and deviations in nm, "
                           "angles in degrees from a flat's mark, counter-clockwise looking at its "
                           "polished face.");
    markup_close(m);
}

static void put_body(markup *m, const views *v)
{
    put_decision(m, v);
    put_verdicts(m, v);
    put_profiles(m, v);
    put_faces(m, v);
    put_fringes(m, v);
    put_advice(m, v);
    put_progress(m, v);
    page_budget(m, v);
    put_doubts(m, v);
    page_tables(m, v);
    page_method(m, v);
    put_foot(m);
}

fw_status fw_page_html(FILE *out, const fw_advice *advice, const fw_track *track, fw_error *err)
{
    views v;
    markup m = {.out = out};
    fw_status status = views_new(advice, track, &v, err);
    if (status)
        return status;
    fputs("<!DOCTYPE html>\n", out);
    markup_open(&m, "html");
    markup_attr(&m, "xmlns", "http://www.w3.org/1999/xhtml");
    markup_attr(&m, "lang", "en");
    put_head(&m, &v);
    markup_open(&m, "body");
    put_body(&m, &v);
    markup_close_all(&m, 2);
    views_release(&v);
    return FW_OK;
}
