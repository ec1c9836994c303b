/* track.c - the command `track`: am I getting there? */
#include <stddef.h>

#include "flatwright/track.h"

#include "cli/cli.h"
#include "cli/solved.h"

static const cli_option options[] = {
    {'j', "json", NULL, "print flatwright-track/1 instead of the screen"},
    {'w', "words", NULL, "words only, no charts"},
    {0, NULL, NULL, NULL}};

static const cli_usage usage = {
    "track JOB [--json] [--words]",
    "Looks back: figures round by round, what each spell took off, hours so far and to go,\n"
    "whether the set goes round in circles, and what the spherometer says while grinding.",
    options, 1};

int cmd_track(int argc, char **argv)
{
    const char *folder = NULL;
    bool json = false, words = false;
    cli_solved solved;
    fw_track *track = NULL;
    fw_error err;
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
    if (fw_track_new(solved.result, &track, &err) != FW_OK)
        status = cli_error(&err);
    else if (json)
        fw_track_json(stdout, track);
    else {
        fw_screen screen = cli_screen(words);
        fw_track_text(&screen, track);
    }
    fw_track_free(track);
    cli_solved_release(&solved);
    return status;
}
