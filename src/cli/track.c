/* track.c - the command `track`: am I getting there? */
#include <stddef.h>

#include "flatwright/track.h"

#include "cli/cli.h"
#include "cli/progress.h"
#include "cli/solved.h"

static const cli_option options[] = {
    {'j', "json", NULL, "print flatwright-track/1 instead of the screen"},
    {'m', "model", "auto|profile|surface", "instead of what job.ini says"},
    {'w', "words", NULL, "words only, no charts"},
    {0, NULL, NULL, NULL}};

const cli_usage usage_track = {
    "track JOB [--json] [--model MODEL] [--words]",
    "Looks back: figures round by round, what each spell took off, hours so far and to go,\n"
    "whether the set goes round in circles, and what the spherometer says while grinding.",
    options, 1, {"flatwright track trio", "flatwright track trio --words"}};

int cmd_track(int argc, char **argv)
{
    cli_asked asked;
    cli_solved solved;
    fw_track *track = NULL;
    fw_error err;
    int status = cli_solve_job(&usage_track, argc, argv, &asked, &solved);
    if (status || !solved.result)
        return status;
    cli_progress_begin("looking back:");
    fw_status told = fw_track_new(solved.result, &track, &err);
    cli_progress_end();
    if (told)
        status = cli_error(&err);
    else if (asked.json)
        fw_track_json(stdout, track);
    else {
        fw_screen screen = cli_screen(asked.words);
        fw_track_text(&screen, track);
    }
    fw_track_free(track);
    cli_solved_release(&solved);
    return status;
}
