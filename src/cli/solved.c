/* solved.c - a job folder read and solved, its faults told. */
#include <locale.h>

#include "cli/cli.h"
#include "cli/progress.h"
#include "cli/solved.h"

int cli_solve(const char *folder, fw_model model, cli_solved *solved)
{
    fw_solve_options options = {.model = model};
    fw_error err;
    *solved = (cli_solved){0};
    cli_progress_begin("reading %s:", folder);
    int status = cli_load(folder, &solved->job);
    if (!status) {
        cli_progress("separating %zu readings:", solved->job->nreadings);
        status = (int)fw_solve(solved->job, &options, &solved->result, &err);
        cli_progress_end();
        status = status ? cli_error(&err) : 0;
    }
    if (status)
        cli_solved_release(solved);
    return status;
}

fw_model cli_model(const char *word)
{
    return *word == 's' ? FW_MODEL_SURFACE : *word == 'p' ? FW_MODEL_PROFILE : FW_MODEL_AUTO;
}

int cli_solve_job(const cli_usage *usage, int argc, char **argv, cli_asked *asked,
                  cli_solved *solved)
{
    const char *folder = NULL;
    fw_model model = FW_MODEL_AUTO;
    cli_args args = cli_start(usage, argc, argv);
    *asked = (cli_asked){false, false};
    *solved = (cli_solved){0};
    for (int id; (id = cli_next(&args)) != CLI_END;) {
        if (id == CLI_STOP)
            return args.status;
        if (id == CLI_OPERAND)
            folder = args.value;
        asked->json = asked->json || id == 'j';
        asked->words = asked->words || id == 'w';
        if (id == 'm')
            model = cli_model(args.value);
    }
    return cli_solve(folder, model, solved);
}

void cli_solved_release(cli_solved *solved)
{
    fw_result_free(solved->result);
    fw_job_free(solved->job);
    *solved = (cli_solved){0};
}

fw_screen cli_screen(bool words)
{
    setlocale(LC_CTYPE, ""); /* says whether the terminal takes UTF-8 */
    fw_screen screen = fw_screen_of(stdout);
    screen.spoken = words;
    return screen;
}
