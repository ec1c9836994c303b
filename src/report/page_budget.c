/* page_budget.c - where each flat's uncertainty comes from, a small table a flat. */
#include <math.h>

#include "report/page_parts.h"
#include "report/words.h"

static void head_cell(markup *m, const char *scope, const char *text)
{
    markup_open(m, "th");
    markup_attr(m, "scope", scope);
    markup_text(m, text);
    markup_close(m);
}

static void cell(markup *m, double value)
{
    markup_open(m, "td");
    if (isnan(value))
        markup_text(m, "open");
    else
        markup_say(m, value < 9.95 ? "%.2f" : value < 99.5 ? "%.1f" : "%.0f", value);
    markup_close(m);
}

static void row(markup *m, const char *what, const fw_share *share)
{
    markup_line(m);
    markup_open(m, "tr");
    head_cell(m, "row", what);
    cell(m, share->power_nm);
    cell(m, share->irregularity_nm);
    cell(m, share->pv_nm);
    markup_close(m);
}

static void table(markup *m, const char *name, const fw_budget *budget)
{
    static const char *const heads[] = {"Source", "power, nm", "irregularity, nm", "PV, nm"};
    markup_line(m);
    markup_open(m, "table");
    markup_attr(m, "class", "flats");
    markup_open(m, "caption");
    markup_element(m, "bdi", name);
    markup_text(m, ", standard uncertainty by source");
    markup_close(m);
    markup_open(m, "thead");
    markup_open(m, "tr");
    for (size_t i = 0; i < sizeof heads / sizeof heads[0]; i++)
        head_cell(m, "col", heads[i]);
    markup_close_all(m, 2);
    markup_open(m, "tbody");
    for (int k = 0; k < budget->nshares; k++)
        row(m, words_source(budget->shares[k].source), &budget->shares[k]);
    row(m, "together", &budget->total);
    markup_close_all(m, 2);
}

/* The cheapest way to make each share smaller, where one is known. */
static void remedies(markup *m, const fw_budget *budget)
{
    bool any = false;
    for (int k = 0; k < budget->nshares; k++) {
        const fw_share *share = &budget->shares[k];
        if (!*share->remedy)
            continue;
        if (!any)
            markup_open(m, "ul");
        any = true;
        markup_open(m, "li");
        markup_say(m, "%s: ", words_source(share->source));
        markup_element(m, "bdi", share->remedy);
        markup_text(m, ".");
        markup_close(m);
    }
    if (any)
        markup_close(m);
}

void page_budget(markup *m, const views *v)
{
    bool any = false;
    for (int k = 0; k < v->nshown; k++)
        any = any || words_today(v->result, v->shown[k])->budget.nshares > 0;
    if (!any)
        return;
    page_section(m, "budget", "Error budget");
    page_say(m, "Where the uncertainty comes from. The squares of a column add up to the square of "
                "its last row. These are the uncertainties of the figure as the readings alone have "
                "it; in the verdicts what can be believed of a flat beforehand makes them smaller.");
    for (int k = 0; k < v->nshown; k++) {
        const fw_budget *budget = &words_today(v->result, v->shown[k])->budget;
        if (budget->nshares == 0)
            continue;
        table(m, v->result->job->flats[v->shown[k]].name, budget);
        remedies(m, budget);
    }
    markup_close(m);
}
