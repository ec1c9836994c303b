/* commands.c - the table of commands: a command is a row here and a file of its own. */
#include "cli/cli.h"

const cli_command cli_commands[] = {
    {"new", cmd_new, &usage_new, "lay a job folder with commented files"},
    {"add", cmd_add, &usage_add, "readings into the job: asked for at the bench, or from a file"},
    {"check", cmd_check, &usage_check, "read everything, report every fault"},
    {"solve", cmd_solve, &usage_solve,
     "separate the flats: figures, profiles, uncertainty, suspects"},
    {"next", cmd_next, &usage_next,
     "what now: measure, work or stop; ranked pairings, ranked work"},
    {"track", cmd_track, &usage_track, "am I getting there? rounds, removal, hours, time to go"},
    {"export", cmd_export, &usage_export, "write the flats' profiles as a table"},
    {"report", cmd_report, &usage_report, "one page to print, with pictures; or one picture"},
    {"rehearse", cmd_rehearse, &usage_rehearse,
     "how sure would a measuring plan be, and is it enough"},
    {"glasses", cmd_glasses, &usage_glasses, "list the built-in glasses, with sources"},
    {"lights", cmd_lights, &usage_lights, "list the built-in lamps, with sources"},
    {"completion", cmd_completion, &usage_completion, "print a shell's completion of all this"},
};

const int cli_ncommands = (int)(sizeof cli_commands / sizeof cli_commands[0]);
