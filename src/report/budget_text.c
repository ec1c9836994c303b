/* budget_text.c - where each flat's uncertainty comes from, and the cheapest way to make it smaller. */
#include <math.h>
#include <stdio.h>

#include "report/words.h"

const char *words_source(fw_source source)
{
    static const char *const words[] = {"reading noise", "spread beyond sigma", "bending",
                                        "warmth", "view", "undetermined parts"};
    return words[source];
}

/* "12.3", or "open" where there is no bound. */
static const char *put_number(double value, char buffer[16])
{
    if (isnan(value))
        snprintf(buffer, 16, "open");
    else
        snprintf(buffer, 16, value < 9.95 ? "%.2f" : value < 99.5 ? "%.1f" : "%.0f", value);
    return buffer;
}

static void say_row(fw_screen *screen, const char *what, const fw_share *s)
{
    char line[120], power[16], irregularity[16], pv[16];
    if (screen->spoken) {
        fw_screen_say(screen, 2, 4, "%s: power %s, irregularity %s, PV %s.", what,
                      put_number(s->power_nm, power), put_number(s->irregularity_nm, irregularity),
                      put_number(s->pv_nm, pv));
        return;
    }
    snprintf(line, sizeof line, "  %-20s %8s %13s %8s", what, put_number(s->power_nm, power),
             put_number(s->irregularity_nm, irregularity), put_number(s->pv_nm, pv));
    fw_screen_line(screen, line);
}

static void say_remedies(fw_screen *screen, const fw_budget *budget)
{
    for (int k = 0; k < budget->nshares; k++)
        if (*budget->shares[k].remedy)
            fw_screen_say(screen, 2, 4, "- %s: %s.", words_source(budget->shares[k].source),
                          budget->shares[k].remedy);
}

static void say_flat(fw_screen *screen, const fw_result *result, int flat)
{
    const fw_budget *budget = &words_today(result, flat)->budget;
    words_verdict(screen, result, flat, WORDS_LINE);
    if (budget->nshares == 0)
        return;
    if (!screen->spoken)
        fw_screen_line(screen, "  standard u in nm        power  irregularity       PV");
    for (int k = 0; k < budget->nshares; k++)
        say_row(screen, words_source(budget->shares[k].source), &budget->shares[k]);
    say_row(screen, "together", &budget->total);
    say_remedies(screen, budget);
    fw_screen_line(screen, "");
}

void fw_budget_text(fw_screen *screen, const fw_result *result)
{
    words_heading(screen, result);
    fw_screen_line(screen, "");
    for (int f = 0; f < result->job->nflats; f++)
        say_flat(screen, result, f);
    fw_screen_say(screen, 0, 0,
                  "The squares of a column add up to the square of its last row. These are the "
                  "uncertainties of the figure as the readings alone have it; in the verdicts, which "
                  "count all of them, what can be believed of a flat beforehand makes them smaller.");
    words_bench(screen, result);
}
