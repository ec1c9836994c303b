/* show.c - `flatwright JOB` alone: what have I got, on one screen. */
#include <stddef.h>

#include "flatwright/advice.h"
#include "flatwright/report.h"

#include "cli/cli.h"
#include "cli/solved.h"

static const cli_option options[] = {
    {'j', "json", NULL, "print flatwright-solution/1 instead of the screen"},
    {'w', "words", NULL, "words only, no charts"},
    {0, NULL, NULL, NULL}};

static const cli_usage usage = {
    "JOB [--json] [--words]",
    "Separates and judges the flats of a job and says what comes next, on one screen.",
    options, 1};

int cmd_show(int argc, char **argv)
{
    const char *folder = NULL;
    bool json = false, words = false;
    cli_solved solved;
    cli_args args = cli_start(&usage, argc, argv);
    for (int id; (id = cli_next(&args)) != CLI_END;) {
        if (id == CLI_STOP)
            return args.status;
        if (id == CLI_OPERAND)
            folder = args.value;
        json = json || id == 'j';
        words = words || id == 'w';
    }
    int status = cli_solve(folder, FW_MODEL_AUTO, &solved);
    if (status)
        return status;
    if (json)
        fw_solution_json(stdout, solved.result, false);
    else {
        fw_screen screen = cli_screen(words);
        fw_advice *advice = NULL;
        fw_error err;
        if (fw_advise(solved.result, NULL, &advice, &err) != FW_OK)
            status = cli_error(&err);
        else
            fw_summary_advised(&screen, solved.result, advice);
        fw_advice_free(advice);
    }
    cli_solved_release(&solved);
    return status;
}
