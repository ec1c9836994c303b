/* next.c - the command `next`: measure, work or stop, and where. */
#include <string.h>

#include "flatwright/advice.h"
#include "flatwright/number.h"

#include "cli/cli.h"
#include "cli/progress.h"
#include "cli/solved.h"

static const cli_option options[] = {
    {'j', "json", NULL, "print flatwright-advice/1 instead of the screen"},
    {'m', "model", "auto|profile|surface", "instead of what job.ini says"},
    {'p', "fraction", "PART", "of the computed times to advise, above 0 to 1 (default 0.6)"},
    {'r', "rows", NULL, "print the work as rows of work.csv"},
    {'w', "words", NULL, "words only"},
    {0, NULL, NULL, NULL}};

const cli_usage usage_next = {
    "next JOB [--json] [--rows] [--model MODEL] [--fraction PART] [--words]",
    "Says what comes next: measure, work or stop, and why; which pairing tells most; which flat to\n"
    "work, which way up, on which zone and side, and for how long.",
    options, 1, {"flatwright next trio", "flatwright next trio --fraction 0.4"}};

static int read_fraction(const char *text, double *fraction)
{
    if (fw_number_read(text, strlen(text), false, fraction) == FW_NUMBER_OK && *fraction > 0 &&
        *fraction <= 1)
        return 0;
    return cli_usage_fault("--fraction takes a number above 0, at most 1");
}

int cmd_next(int argc, char **argv)
{
    const char *folder = NULL;
    bool json = false, rows = false, words = false;
    fw_model model = FW_MODEL_AUTO;
    fw_advise_options how = {0};
    fw_advice *advice = NULL;
    fw_error err;
    cli_solved solved;
    int status = 0;
    cli_args args = cli_start(&usage_next, argc, argv);
    for (int id; (id = cli_next(&args)) != CLI_END;) {
        if (id == CLI_STOP)
            return args.status;
        if (id == CLI_OPERAND)
            folder = args.value;
        json = json || id == 'j';
        rows = rows || id == 'r';
        words = words || id == 'w';
        if (id == 'm')
            model = cli_model(args.value);
        if (id == 'p' && (status = read_fraction(args.value, &how.fraction)) != 0)
            return status;
    }
    status = cli_solve(folder, model, &solved);
    if (status)
        return status;
    cli_progress_begin("weighing what comes next:");
    status = (int)fw_advise(solved.result, &how, &advice, &err);
    cli_progress_end();
    if (status)
        status = cli_error(&err);
    else if (json)
        fw_advice_json(stdout, advice);
    else if (rows)
        fw_advice_rows(stdout, advice);
    else {
        fw_screen screen = cli_screen(words);
        fw_advice_text(&screen, advice);
    }
    fw_advice_free(advice);
    cli_solved_release(&solved);
    return status;
}
