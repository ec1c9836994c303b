/* export.c - the command `export`: the heights as a table or as JSON. */
#include <stdio.h>
#include <string.h>

#include "flatwright/report.h"

#include "cli/cli.h"
#include "cli/solved.h"

static const cli_option options[] = {
    {'f', "format", "csv|json", "what to print, csv when not said"},
    {'j', "json", NULL, "the same as --format json"},
    {'m', "model", "auto|profile|surface", "instead of what job.ini says"},
    {'g', "grid", "xy|polar", "the whole face as a table of points instead of the diameters"},
    {'o', "output", "FILE", "write FILE, replaced whole, instead of standard output"},
    {'a', "all", NULL, "every state that was read, not today's alone"},
    {0, NULL, NULL, NULL}};

const cli_usage usage_export = {
    "export JOB [--format FORMAT] [--model MODEL] [--grid KIND] [-o FILE] [--all]",
    "Prints the profile of every flat: a row of flat, state, diameter, position, height,\n"
    "uncertainty for each point, or the whole solution as JSON.",
    options, 1, {"flatwright export trio -o heights.csv",
                 "flatwright export trio --all --format json"}};

typedef struct request {
    const fw_result *result;
    const char *folder, *path;
    bool json, all;
    fw_model model;
    const char *grid; /* NULL: the diameters */
} request;

static fw_status print(FILE *out, const void *context, fw_error *err)
{
    const request *asked = context;
    if (asked->grid)
        return fw_grid_csv(out, asked->result, *asked->grid == 'p', asked->all, err);
    if (asked->json)
        fw_solution_json(out, asked->result, asked->all);
    else
        fw_solution_csv(out, asked->result, asked->all);
    return FW_OK;
}

int cmd_export(int argc, char **argv)
{
    request asked = {0};
    cli_solved solved;
    cli_args args = cli_start(&usage_export, argc, argv);
    for (int id; (id = cli_next(&args)) != CLI_END;) {
        if (id == CLI_STOP)
            return args.status;
        if (id == CLI_OPERAND)
            asked.folder = args.value;
        else if (id == 'o')
            asked.path = args.value;
        else if (id == 'a')
            asked.all = true;
        else if (id == 'm')
            asked.model = cli_model(args.value);
        else if (id == 'g')
            asked.grid = args.value;
        else
            asked.json = id == 'j' || strcmp(args.value, "json") == 0;
    }
    int status = cli_solve(asked.folder, asked.model, &solved);
    if (status)
        return status;
    asked.result = solved.result;
    status = cli_write(asked.path, print, &asked);
    cli_solved_release(&solved);
    return status;
}
