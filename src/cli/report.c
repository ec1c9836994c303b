/* report.c - the command `report`: one printable page, or one of its pictures. */
#include <stdio.h>
#include <string.h>

#include "flatwright/file.h"
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
} request;

static fw_status print(FILE *out, const fw_advice *advice, const fw_track *track,
                       const request *asked, fw_error *err)
{
    if (asked->list)
        return fw_page_names(out, advice, track, err);
    if (asked->picture)
        return fw_page_picture(out, advice, track, asked->picture, err);
    return fw_page_html(out, advice, track, err);
}

static fw_status write_file(const fw_advice *advice, const fw_track *track, const request *asked,
                            fw_error *err)
{
    fw_draft draft;
    fw_status status = fw_draft_open(asked->path, &draft, err);
    if (status)
        return status;
    status = print(draft.out, advice, track, asked, err);
    if (status)
        fw_draft_abandon(&draft);
    else
        status = fw_draft_commit(&draft, err);
    return status;
}

static fw_status report(const fw_result *result, const request *asked, fw_error *err)
{
    fw_advice *advice = NULL;
    fw_track *track = NULL;
    bool file = asked->path && strcmp(asked->path, "-") != 0;
    cli_progress_begin("weighing what comes next:");
    fw_status status = fw_advise(result, NULL, &advice, err);
    if (!status)
        status = fw_track_new(result, &track, err);
    cli_progress_end();
    if (!status)
        status = file ? write_file(advice, track, asked, err)
                      : print(stdout, advice, track, asked, err);
    fw_track_free(track);
    fw_advice_free(advice);
    return status;
}

int cmd_report(int argc, char **argv)
{
    request asked = {0};
    cli_solved solved;
    fw_error err;
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
    if (report(solved.result, &asked, &err) != FW_OK)
        status = cli_error(&err);
    cli_solved_release(&solved);
    return status;
}
