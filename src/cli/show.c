/* show.c - `flatwright JOB` alone: what have I got, on one screen. */
#include <stddef.h>

#include "flatwright/advice.h"
#include "flatwright/report.h"

#include "cli/cli.h"
#include "cli/progress.h"
#include "cli/solved.h"

static const cli_option options[] = {
    {'j', "json", NULL, "print flatwright-solution/1 instead of the screen"},
    {'m', "model", "auto|profile|surface", "instead of what job.ini says"},
    {'w', "words", NULL, "words only, no charts"},
    {0, NULL, NULL, NULL}};

const cli_usage usage_show = {
    "JOB [--json] [--model MODEL] [--words]",
    "Separates and judges the flats of a job and says what comes next, on one screen.",
    options, 1, {"flatwright trio", "flatwright trio --words"}};

int cmd_show(int argc, char **argv)
{
    cli_asked asked;
    cli_solved solved;
    int status = cli_solve_job(&usage_show, argc, argv, &asked, &solved);
    if (status || !solved.result)
        return status;
    if (asked.json)
        fw_solution_json(stdout, solved.result, false);
    else {
        fw_screen screen = cli_screen(asked.words);
        fw_advice *advice = NULL;
        fw_error err;
        cli_progress_begin("weighing what comes next:");
        status = (int)fw_advise(solved.result, NULL, &advice, &err);
        cli_progress_end();
        if (status)
            status = cli_error(&err);
        else
            fw_summary_advised(&screen, solved.result, advice);
        fw_advice_free(advice);
    }
    cli_solved_release(&solved);
    return status;
}
