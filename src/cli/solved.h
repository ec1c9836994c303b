/* solved.h - what solve, show and export share: a job folder read and solved. */
#ifndef CLI_SOLVED_H
#define CLI_SOLVED_H

#include "flatwright/result.h"
#include "flatwright/screen.h"

#include "cli/cli.h"

typedef struct cli_solved {
    fw_job *job;
    fw_result *result;
} cli_solved;

/*
 * Reads and solves the job. On failure the reason is on stderr, `solved` is {0} and the exit status
 * comes back; else 0. Release with cli_solved_release.
 */
int cli_solve(const char *folder, fw_model model, cli_solved *solved);

/* The model of the option's word, which the parser has held to auto|profile|surface. */
fw_model cli_model(const char *word);

/* What a command that takes JOB, --json and --words was asked for. */
typedef struct cli_asked {
    bool json, words;
} cli_asked;

/*
 * Reads such a command's arguments (and --model), then the job, and solves it. solved->result is NULL when there
 * is nothing more to do: --help was answered (status 0), or the reason is on stderr.
 */
int cli_solve_job(const cli_usage *usage, int argc, char **argv, cli_asked *asked,
                  cli_solved *solved);

void cli_solved_release(cli_solved *solved);

/* Standard output as a screen; words: for the ear, no charts. */
fw_screen cli_screen(bool words);

#endif
