/* report.c - the command `report`: one printable page, or one of its pictures. */
#include <stdio.h>
#include <string.h>

#include "flatwright/page.h"

#include "cli/cli.h"
#include "cli/progress.h"
#include "cli/solved.h"

static const cli_option options[] = {
    {'o', "output", "FILE", "write FILE, replaced whole, instead of standard output"},
    {'P', "picture", "NAME", "one picture as SVG, by its name, or all of a kind: face"},
    {'l', "list", NULL, "the names of the pictures this job has"},
    {'m', "model", "auto|profile|surface", "instead of what job.ini says"},
    {0, NULL, NULL, NULL}};

const cli_usage usage_report = {
    "report JOB [-o FILE] [--picture NAME | --list] [--model MODEL]",
    "Writes one page to print or to file: verdicts, profiles, faces, the bands to expect on the\n"
    "bench, progress, what to do next, tables, and how it was computed. HTML in one piece.",
    options, 1, {"flatwright report trio -o trio.html",
                 "flatwright report trio --picture face -o faces.svg"}};

typedef struct request {
    const char *folder, *path, *picture;
    bool list;
    fw_model model;
    const fw_advice *advice;
    const fw_track *track;
} request;

static fw_status print(FILE *out, const void *context, fw_error *err)
{
    const request *asked = context;
    if (asked->list)
        return fw_page_names(out, asked->advice, asked->track, err);
    if (asked->picture)
        return fw_page_picture(out, asked->advice, asked->track, asked->picture, err);
    return fw_page_html(out, asked->advice, asked->track, err);
}

static int report(const fw_result *result, request *asked)
{
    fw_advice *advice = NULL;
    fw_track *track = NULL;
    fw_error err;
    cli_progress_begin("weighing what comes next:");
    fw_status status = fw_advise(result, NULL, &advice, &err);
    if (!status)
        status = fw_track_new(result, &track, &err);
    cli_progress_end();
    asked->advice = advice;
    asked->track = track;
    int done = status ? cli_error(&err) : cli_write(asked->path, print, asked);
    fw_track_free(track);
    fw_advice_free(advice);
    return done;
}

int cmd_report(int argc, char **argv)
{
    request asked = {0};
    cli_solved solved;
    cli_args args = cli_start(&usage_report, argc, argv);
    for (int id; (id = cli_next(&args)) != CLI_END;) {
        if (id == CLI_STOP)
            return args.status;
        if (id == CLI_OPERAND)
            asked.folder = args.value;
        else if (id == 'o')
            asked.path = args.value;
        else if (id == 'P')
            asked.picture = args.value;
        else if (id == 'm')
            asked.model = cli_model(args.value);
        else
            asked.list = true;
    }
    int status = cli_solve(asked.folder, asked.model, &solved);
    if (status)
        return status;
    status = report(solved.result, &asked);
    cli_solved_release(&solved);
    return status;
}
