/* cli.h - what the commands of the program share: options, loading a job, talking to the user. */
#ifndef CLI_H
#define CLI_H

#include <stdbool.h>
#include <stdio.h>

#include "flatwright/job.h"
#include "flatwright/status.h"

/*
 * A command: argv[0] is its name, then its options and operands. Returns the exit status.
 * Results go to stdout (main flushes it and checks), everything else to stderr.
 */
typedef int cli_function(int argc, char **argv);

cli_function cmd_new, cmd_add, cmd_check, cmd_solve, cmd_show, cmd_export, cmd_report, cmd_track,
    cmd_next, cmd_glasses, cmd_lights, cmd_completion, cmd_rehearse;

/* One option. `id` is what cli_next returns; a letter or digit is its short form as well. */
typedef struct cli_option {
    int id;               /* 0 ends the table */
    const char *name;     /* long form, without the dashes */
    const char *argument; /* NULL: takes none; the words it may be, "csv|json", which the parser holds
                             it to; or its name: FILE and FOLDER are completed as such, dots
                             behind it say that the option may be given more than once */
    const char *help;     /* one line, lower case, no full stop */
} cli_option;

/* What a command takes: feeds the parser, its --help and the completion of the shells. */
typedef struct cli_usage {
    const char *synopsis; /* "check JOB [--json]"; the second word is the operand's name */
    const char *about;    /* a line or more */
    const cli_option *options;
    int operands;         /* how many it takes, all required: 0 or 1 */
    const char *examples[2]; /* command lines that run as they stand, on a job `trio` */
} cli_usage;

extern const cli_usage usage_new, usage_add, usage_check, usage_solve, usage_show, usage_export,
    usage_report, usage_track, usage_next, usage_glasses, usage_lights, usage_completion,
    usage_rehearse;

/* A row of the table of commands, by which they are found, helped and completed. */
typedef struct cli_command {
    const char *name;
    cli_function *run;
    const cli_usage *usage;
    const char *help;
} cli_command;

extern const cli_command cli_commands[];
extern const int cli_ncommands;

/* What every command takes, --help and --version; ends with id 0. */
extern const cli_option cli_common[];

/* True when `word` is one of the words of "csv|json". */
bool cli_is_choice(const char *choices, const char *word);

/* A run through the arguments. */
typedef struct cli_args {
    const cli_usage *usage;
    int argc, next;
    char **argv;
    const char *bundle;   /* the rest of -abc */
    bool only_operands;   /* after -- */
    int operands;         /* seen so far */
    const char *value;    /* of the option or operand just returned */
    int status;           /* exit status when cli_next returned CLI_STOP */
} cli_args;

enum { CLI_END = 0, CLI_OPERAND = -1, CLI_STOP = -2 };

cli_args cli_start(const cli_usage *usage, int argc, char **argv);

/*
 * The next option's id, CLI_OPERAND, or CLI_END. CLI_STOP: --help or --version was answered, or
 * the usage is wrong and was reported; then return args->status. Options and operands may be mixed.
 *
 *     cli_args args = cli_start(&usage, argc, argv);
 *     for (int id; (id = cli_next(&args)) != CLI_END;) {
 *         if (id == CLI_STOP)
 *             return args.status;
 *         if (id == CLI_OPERAND)
 *             folder = args.value;
 *         else if (id == 'j')
 *             json = true;
 *     }
 */
int cli_next(cli_args *args);

/*
 * A message on stderr, at most 2 kB, its line end put behind it. In a pipe it is one line; a terminal
 * gets it broken at blanks, 80 columns wide, what is below the first line 4 columns in.
 */
void cli_tell(const char *format, ...) __attribute__((format(printf, 1, 2)));

/* "flatwright: text" on stderr; returns FW_USAGE, for a wrong value of an option. */
int cli_usage_fault(const char *format, ...) __attribute__((format(printf, 1, 2)));

/* "flatwright: text" on stderr, control characters escaped; returns err->status. */
int cli_error(const fw_error *err);

/* As cli_error, after all faults as "file:line:column: text". */
int cli_fail(const fw_faults *faults, const fw_error *err);

/*
 * Has `print` write to the file at `path`, replaced whole or not at all; NULL or "-": to standard
 * output. Returns the exit status, 0 or what cli_error returns; a fault is told.
 */
typedef fw_status cli_printer(FILE *out, const void *context, fw_error *err);
int cli_write(const char *path, cli_printer *print, const void *context);

/*
 * Reads a job. On failure its faults are on stderr as "file:line:column: text", *job is NULL and
 * the exit status comes back; else 0 and the caller frees the job. Of faults of a file that say the
 * same, whatever they quote, the first three are told and the others counted.
 */
int cli_load(const char *folder, fw_job **job);

/* The same, and every fault of the list is told: it is what was asked for. */
int cli_load_all_told(const char *folder, fw_job **job);

/* The same of job.ini alone: the set, without readings and work. */
int cli_load_set(const char *folder, fw_job **job);

/* The version line. */
void cli_version(void);

#endif
