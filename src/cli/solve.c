/* solve.c - the command `solve`: the flats by themselves, with all they rest on. */
#include "flatwright/report.h"

#include "cli/cli.h"
#include "cli/solved.h"

static const cli_option options[] = {
    {'b', "budget", NULL, "where the uncertainty comes from, and how to make it smaller"},
    {'j', "json", NULL, "print flatwright-solution/1 instead of the screen"},
    {'m', "model", "auto|profile|surface", "instead of what job.ini says"},
    {'w', "words", NULL, "words only, no charts"},
    {0, NULL, NULL, NULL}};

const cli_usage usage_solve = {
    "solve JOB [--budget] [--json] [--model MODEL] [--words]",
    "Separates the flats: verdicts, figures and profiles with their uncertainty, what the\n"
    "readings leave undetermined, suspect readings.",
    options, 1, {"flatwright solve trio", "flatwright solve trio --json >trio.json"}};

int cmd_solve(int argc, char **argv)
{
    const char *folder = NULL;
    bool budget = false, json = false, words = false;
    fw_model model = FW_MODEL_AUTO;
    cli_solved solved;
    int status = 0;
    cli_args args = cli_start(&usage_solve, argc, argv);
    for (int id; (id = cli_next(&args)) != CLI_END;) {
        if (id == CLI_STOP)
            return args.status;
        if (id == CLI_OPERAND)
            folder = args.value;
        budget = budget || id == 'b';
        json = json || id == 'j';
        words = words || id == 'w';
        if (id == 'm')
            model = cli_model(args.value);
    }
    status = cli_solve(folder, model, &solved);
    if (status)
        return status;
    if (json)
        fw_solution_json(stdout, solved.result, false);
    else {
        fw_screen screen = cli_screen(words);
        if (budget)
            fw_budget_text(&screen, solved.result);
        else
            fw_solution_text(&screen, solved.result);
    }
    cli_solved_release(&solved);
    return 0;
}
