/* page_tables.c - the profiles in numbers, a small table a diameter, thinned where they are long. */
#include <math.h>

#include "report/page_parts.h"
#include "report/svg.h"
#include "report/words.h"

#define ROWS_IN_ALL 2000
#define ROWS_MOST 41 /* of one diameter */
#define ROWS_LEAST 5
#define TABLES 240

static void head_cell(markup *m, const char *text)
{
    markup_open(m, "th");
    markup_attr(m, "scope", "col");
    markup_text(m, text);
    markup_close(m);
}

static void number_cell(markup *m, double value, double u)
{
    markup_open(m, "td");
    if (!isfinite(value))
        markup_text(m, "\xE2\x80\x93");
    else {
        double unit = u < 1 ? 0.01 : 0.1;
        markup_say(m, "%s%.*f", value <= -unit / 2 ? "\xE2\x88\x92" : "", u < 1 ? 2 : 1,
                   fabs(value));
    }
    markup_close(m);
}

static void table(markup *m, const char *name, const fw_diameter *d, size_t rows)
{
    size_t every = (d->npoints + rows - 1) / rows;
    char text[SVG_NUMBER];
    every = every > 0 ? every : 1;
    markup_line(m);
    markup_open(m, "div");
    markup_open(m, "table");
    markup_open(m, "caption");
    markup_element(m, "bdi", name);
    markup_say(m, ", %s\xC2\xB0%s", svg_number(d->angle_deg, false, text),
               d->determined ? "" : " (not all determined)");
    if (every > 1)
        markup_say(m, ", one of %zu stations each", every);
    markup_close(m);
    markup_open(m, "thead");
    markup_open(m, "tr");
    head_cell(m, "position, mm");
    head_cell(m, "height, nm");
    head_cell(m, "u, nm");
    markup_close_all(m, 2);
    markup_open(m, "tbody");
    for (size_t i = 0; i < d->npoints; i += every) {
        const fw_point *p = &d->points[i];
        markup_open(m, "tr");
        markup_open(m, "th");
        markup_attr(m, "scope", "row");
        markup_text(m, svg_number(p->position_mm, false, text));
        markup_close(m);
        number_cell(m, p->determined ? p->height_nm : NAN, p->u_nm);
        number_cell(m, p->determined ? p->u_nm : NAN, p->u_nm);
        markup_close(m);
    }
    markup_close_all(m, 3);
}

void page_tables(markup *m, const views *v)
{
    int tables = 0, made = 0;
    bool thinned = v->nshown < v->result->job->nflats;
    for (int k = 0; k < v->nshown; k++)
        tables += words_today(v->result, v->shown[k])->profile.ndiameters;
    if (tables == 0)
        return;
    size_t rows = ROWS_IN_ALL / (size_t)tables;
    rows = rows < ROWS_LEAST ? ROWS_LEAST : rows > ROWS_MOST ? ROWS_MOST : rows;
    for (int k = 0; k < v->nshown; k++) {
        const fw_profile *profile = &words_today(v->result, v->shown[k])->profile;
        for (int d = 0; d < profile->ndiameters; d++)
            thinned = thinned || profile->diameters[d].npoints > rows;
    }
    page_section(m, "tables", "Profiles in numbers");
    page_say(m, "Heights on their datum, positive toward the gap, and their standard uncertainty "
                "u. A position counts from the centre along the diameter, positive toward its "
                "angle from the mark.");
    if (thinned || tables > TABLES)
        page_say(m, "Not every station of every flat stands here: `flatwright export` writes them "
                    "all.");
    markup_open(m, "div");
    markup_attr(m, "class", "columns");
    for (int k = 0; k < v->nshown; k++) {
        const fw_profile *profile = &words_today(v->result, v->shown[k])->profile;
        for (int d = 0; d < profile->ndiameters && made < TABLES; d++, made++)
            table(m, v->result->job->flats[v->shown[k]].name, &profile->diameters[d], rows);
    }
    markup_close_all(m, 2);
}
