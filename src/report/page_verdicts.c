/* page_verdicts.c - every flat in a row: verdict, probability, the quantities of its figure. */
#include <math.h>

#include "report/page_parts.h"
#include "report/prose.h"
#include "report/words.h"

/* A quantity without its unit, or a dash that is read as what it means. */
static void cell(markup *m, fw_quantity q, bool sign)
{
    char text[WORDS_SIZE];
    markup_open(m, "td");
    if (!isfinite(q.value_nm)) {
        markup_attr(m, "title", "not determined");
        markup_text(m, "\xE2\x80\x93");
    } else {
        words_quantity(q, sign, text);
        for (char *c = text; *c; c++) { /* the unit stands in the heading */
            const char *sign_of = prose_sign(c, c > text ? c[-1] : '\0');
            if (*c == FW_BLANK[0] && c[1] == 'n')
                break;
            markup_text(m, sign_of ? sign_of : (char[]){*c, '\0'});
        }
    }
    markup_close(m);
}

static void head(markup *m)
{
    static const char *const heads[] = {
        "Flat", "Verdict", "Probability within", "PV, nm", "rms, nm", "power, nm",
        "irregularity, nm", "rotationally symmetric irregularity, nm"};
    markup_open(m, "thead");
    markup_open(m, "tr");
    for (size_t i = 0; i < sizeof heads / sizeof heads[0]; i++) {
        markup_open(m, "th");
        markup_attr(m, "scope", "col");
        markup_text(m, heads[i]);
        markup_close(m);
    }
    markup_close_all(m, 2);
}

static void row(markup *m, const fw_result *result, int flat)
{
    static const char *const classes[] = {[FW_WITHIN] = "good", [FW_OUTSIDE] = "bad",
                                          [FW_UNDECIDED] = "doubt", [FW_UNDETERMINED] = "doubt"};
    const fw_figure *figure = &words_today(result, flat)->figure;
    char text[WORDS_SIZE];
    markup_line(m);
    markup_open(m, "tr");
    markup_open(m, "th");
    markup_attr(m, "scope", "row");
    markup_element(m, "bdi", result->job->flats[flat].name);
    markup_close(m);
    markup_open(m, "td");
    markup_attr(m, "class", "word");
    markup_open(m, "b");
    markup_attr(m, "class", classes[figure->verdict]);
    markup_text(m, fw_verdict_name(figure->verdict));
    markup_close_all(m, 2);
    markup_open(m, "td");
    if (isfinite(figure->probability_within)) {
        words_probability(figure->probability_within, text);
        for (char *c = text; *c; c++)
            *c = *c == FW_BLANK[0] ? ' ' : *c;
        markup_text(m, text);
    } else
        markup_text(m, "\xE2\x80\x93");
    markup_close(m);
    cell(m, figure->pv, false);
    cell(m, figure->rms, false);
    cell(m, figure->power, true);
    cell(m, figure->irregularity, false);
    cell(m, figure->symmetric, false);
    markup_close(m);
}

void page_verdicts(markup *m, const views *v)
{
    markup_open(m, "div");
    markup_attr(m, "class", "wide");
    markup_attr(m, "role", "region");
    markup_attr(m, "aria-label", "Figures of all flats");
    markup_attr(m, "tabindex", "0");
    markup_open(m, "table");
    markup_attr(m, "class", "flats");
    markup_element(m, "caption", "Figures in the clear aperture, with standard uncertainty");
    head(m);
    markup_open(m, "tbody");
    for (int f = 0; f < v->result->job->nflats; f++)
        row(m, v->result, f);
    markup_close_all(m, 3);
}
