/* advice_rows.c - the plans as rows of work.csv: what was done is named as it was advised. */
#include <math.h>

#include "flatwright/text.h"
#include "job/parts.h"
#include "report/advice_parts.h"
#include "report/words.h"

static void put_number(FILE *out, double value)
{
    char text[FW_NUMBER_SIZE];
    fprintf(out, ",%s", isfinite(value) ? fw_number(value, text) : "");
}

/* Does a stroke have what the sheet of `new` has no column for? */
static bool wide(const fw_advice *advice)
{
    fw_work work;
    for (int p = 0; p < advice->nplans; p++)
        for (int r = 0; r < advice->plans[p].nrows; r++)
            if (fw_stroke_to_work(&advice->plans[p].rows[r].stroke, &work, NULL) == FW_OK &&
                (work.sweep > 0 || work.lap_mm > 0))
                return true;
    return false;
}

static void put_row(FILE *out, const fw_advice *advice, const fw_plan *plan, int row, bool more)
{
    fw_work work = {.round = advice->result->round};
    if (fw_stroke_to_work(&plan->rows[row].stroke, &work, NULL) != FW_OK) {
        fputs("# a stroke that no row can name\n", out);
        return;
    }
    fprintf(out, "%d,", work.round);
    words_csv(out, advice->result->job->flats[plan->flat].name);
    put_number(out, plan->rows[row].hours);
    fprintf(out, ",%s", fw_method_names[work.method]);
    put_number(out, work.inner_mm);
    put_number(out, work.outer_mm);
    put_number(out, work.side_deg);
    put_number(out, work.stroke);
    if (more) {
        put_number(out, work.sweep);
        put_number(out, work.lap_mm);
    }
    fputs(",\n", out);
}

void fw_advice_rows(FILE *out, const fw_advice *advice)
{
    bool more = wide(advice);
    int order[FW_PLAN_ROWS];
    fprintf(out, "# round,flat,hours,method,inner_mm,outer_mm,side_deg,stroke,%snote\n",
            more ? "sweep,lap_mm," : "");
    for (int p = 0; p < advice->nplans; p++) {
        const fw_plan *plan = &advice->plans[p];
        if (plan->warnings & FW_WARN_WAVE) /* to be ground, not polished */
            continue;
        advice_order(plan, &advice->result->job->flats[plan->flat], order);
        for (int r = 0; r < plan->nrows; r++)
            put_row(out, advice, plan, order[r], more);
    }
}
