/* show.c - `flatwright JOB` alone: what have I got, on one screen. */
#include <stddef.h>

#include "flatwright/report.h"

#include "cli/cli.h"
#include "cli/solved.h"

static const cli_option options[] = {
    {'j', "json", NULL, "print flatwright-solution/1 instead of the screen"},
    {'w', "words", NULL, "words only, no charts"},
    {0, NULL, NULL, NULL}};

static const cli_usage usage = {
    "JOB [--json] [--words]",
    "Separates and judges the flats of a job, on one screen.",
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
        fw_summary_text(&screen, solved.result);
    }
    cli_solved_release(&solved);
    return 0;
}
