/* new.c - flatwright new: lays a commented job folder. */
#include <stdio.h>

#include "cli/cli.h"
#include "flatwright/show.h"

const cli_usage usage_new = {
    "new JOB",
    "Lays a job folder: job.ini, readings.csv, work.csv and sag.csv, each with comments that\n"
    "explain it. Files that exist are never touched.",
    NULL, 1, {"flatwright new trio", "flatwright new trio && flatwright check trio"}};

int cmd_new(int argc, char **argv)
{
    const char *folder = NULL;
    char shown[500];
    fw_error err = {FW_OK, ""};
    cli_args args = cli_start(&usage_new, argc, argv);
    for (int id; (id = cli_next(&args)) != CLI_END;) {
        if (id == CLI_STOP)
            return args.status;
        folder = args.value;
    }
    if (fw_job_new(folder, &err) != FW_OK)
        return cli_error(&err);
    fw_show(shown, sizeof shown, folder);
    printf("laid %s: job.ini, readings.csv, work.csv, sag.csv\n"
           "next: make job.ini true of your set, type in readings.csv, then flatwright check %s\n",
           shown, shown);
    return FW_OK;
}
