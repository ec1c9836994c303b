/* glasses.c - the commands `glasses` and `lights`: what is built in, and where it comes from. */
#include <stdio.h>

#include "flatwright/report.h"

#include "cli/cli.h"
#include "cli/solved.h"

static const cli_option options[] = {{'j', "json", NULL, "print JSON"}, {0, NULL, NULL, NULL}};

const cli_usage usage_glasses = {
    "glasses [--json]",
    "Lists the glasses that job.ini may name, what they are reckoned with, and where the values\n"
    "come from. Others are given by their data sheet's values.",
    options, 0, {"flatwright glasses", "flatwright glasses --json"}};

const cli_usage usage_lights = {
    "lights [--json]",
    "Lists the lamps that job.ini may name, their wavelength in air, the height that one fringe\n"
    "stands for, and where the values come from.",
    options, 0, {"flatwright lights", "flatwright lights --json"}};

/* A list printed in words or as JSON. */
static int print_list(const cli_usage *usage, int argc, char **argv, void (*text)(fw_screen *),
                      void (*json)(FILE *))
{
    bool as_json = false;
    cli_args args = cli_start(usage, argc, argv);
    for (int id; (id = cli_next(&args)) != CLI_END;) {
        if (id == CLI_STOP)
            return args.status;
        as_json = true;
    }
    fw_screen screen = cli_screen(false);
    if (as_json)
        json(stdout);
    else
        text(&screen);
    return FW_OK;
}

int cmd_glasses(int argc, char **argv)
{
    return print_list(&usage_glasses, argc, argv, fw_glasses_text, fw_glasses_json);
}

int cmd_lights(int argc, char **argv)
{
    return print_list(&usage_lights, argc, argv, fw_lights_text, fw_lights_json);
}
