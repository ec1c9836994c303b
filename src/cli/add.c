/* add.c - flatwright add: readings into the job, asked for at the bench or from a file. */
#include <errno.h>
#include <locale.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "cli/cli.h"
#include "cli/progress.h"
#include "flatwright/dialog.h"
#include "flatwright/intake.h"
#include "flatwright/notebook.h"
#include "flatwright/number.h"
#include "flatwright/show.h"

static const cli_option options[] = {
    {'f', "from", "FILE", "take the readings from a table or sheet, shown before it is written"},
    {'y', "yes", NULL, "with --from: write without asking"},
    {'u', "unit", "nm|um|fringe|wave", "with --from: of readings that name none"},
    {'r', "round", "N", "the round of the readings; without it the one the set is in"},
    {'w', "words", NULL, "words only, nothing drawn"},
    {0, NULL, NULL, NULL}};

const cli_usage usage_add = {
    "add JOB [--from FILE [--yes] [--unit UNIT]] [--round N] [--words]",
    "Asks for readings: the pairing, its turn, the diameter, then station by station. Every one is\n"
    "on disk before the next is asked for: stop at any time, and go on later where you stopped.\n"
    "With --from they are taken from a file: a table with a row a reading, or a sheet with stations\n"
    "down and scans across. What was understood is shown first; without a terminal to ask at, and\n"
    "without --yes, that is all.",
    options, 1,
    {"flatwright add trio", "flatwright add trio --from trio/readings.csv --yes"}};

typedef struct request {
    const char *folder, *from;
    int round;
    bool words, yes, unit_given;
    fw_unit unit;
} request;

#define ROUND_LAST 9999

static int read_round(const char *text, int *round)
{
    long value = 0;
    if (fw_integer_read(text, strlen(text), &value) != FW_NUMBER_OK || value < 1 ||
        value > ROUND_LAST)
        return cli_usage_fault("--round takes a whole number from 1 to %d", ROUND_LAST);
    *round = (int)value;
    return FW_OK;
}

/*
 * One line of standard input without its end; NULL: there is none. The rest of a long one is lost.
 * *why: errno of a read that failed, which is not the end of the input.
 */
static const char *read_line(char *line, int size, int *why)
{
    errno = 0;
    if (!fgets(line, size, stdin)) {
        *why = ferror(stdin) ? errno : 0;
        return NULL;
    }
    size_t length = strlen(line);
    if (length > 0 && line[length - 1] == '\n')
        line[length - 1] = '\0';
    else
        for (int c = getchar(); c != '\n' && c != EOF;)
            c = getchar();
    return line;
}

static int check_input(int why)
{
    fw_error err;
    if (!why)
        return FW_OK;
    fw_fail(&err, FW_SYSTEM, "cannot read standard input: %s", strerror(why));
    return cli_error(&err);
}

/* Lines in, words and prompts out, until one side has had enough. */
static int talk(const fw_job *job, fw_notebook *notebook, const request *asked)
{
    char line[8192], shown[500];
    fw_error err;
    fw_dialog *dialog = NULL;
    bool terminal = isatty(STDIN_FILENO) && isatty(STDERR_FILENO);
    fw_dialog_options how = {.round = asked->round, .picture = terminal && !asked->words};
    setlocale(LC_CTYPE, ""); /* says whether the terminal takes UTF-8 */
    fw_screen screen = fw_screen_of(stderr);
    screen.spoken = asked->words;
    if (fw_dialog_new(job, notebook, &screen, &how, &dialog, &err) != FW_OK)
        return cli_error(&err);
    const char *typed;
    int why = 0;
    do {
        typed = read_line(line, sizeof line, &why);
        if (!typed || !isatty(STDIN_FILENO))
            fputc('\n', stderr); /* no one has typed it */
    } while (fw_dialog_line(dialog, typed));
    size_t count = fw_dialog_count(dialog);
    fw_show(shown, sizeof shown, asked->folder);
    printf("added %zu %s to %s\n", count, count == 1 ? "reading" : "readings", shown);
    int status = (int)fw_dialog_status(dialog);
    fw_dialog_free(dialog);
    int input = check_input(why);
    return status ? status : input;
}

static fw_unit unit_of(const char *name)
{
    static const char *const names[] = {"nm", "um", "fringe", "wave"};
    fw_unit unit = FW_UNIT_NM;
    for (int i = 0; i < 4; i++)
        if (strcmp(names[i], name) == 0)
            unit = (fw_unit)i;
    return unit; /* the parser has held the word to these */
}

/* true: write. Asked only where a person sits; else --yes says so. *why as read_line. */
static bool may_write(const request *asked, int *why)
{
    char line[80];
    if (asked->yes)
        return true;
    if (!isatty(STDIN_FILENO) || !isatty(STDERR_FILENO)) {
        fputs("nothing was written: --yes writes\n", stderr);
        return false;
    }
    fputs("write them into the job? y or n [n]: ", stderr);
    const char *answer = read_line(line, sizeof line, why);
    if (answer && (*answer == 'y' || *answer == 'Y'))
        return true;
    fputs("nothing was written\n", stderr);
    return false;
}

/* Columns that the file gets are told before. */
static void say_lacking(const fw_notebook *notebook, const fw_intake *intake)
{
    const char *names[FW_NOTEBOOK_LACKS];
    size_t n = fw_notebook_lacks(notebook, intake->entries, intake->count, names);
    for (size_t i = 0; i < n; i++)
        printf("%s%s", i ? ", " : n > 1 ? "readings.csv gets the columns " : "readings.csv gets a "
               "column ", names[i]);
    if (n > 0)
        puts(", empty in the rows that are there.");
}

/* What was understood is shown, then written when that is wanted. */
static int write_intake(const fw_job *job, fw_notebook *notebook, fw_intake *intake,
                        const request *asked)
{
    char shown[500];
    int why = 0;
    fw_error err = {FW_OK, ""};
    setlocale(LC_CTYPE, "");
    fw_screen screen = fw_screen_of(stdout);
    fw_intake_text(&screen, job, intake);
    say_lacking(notebook, intake);
    cli_progress_begin("trying the rows in %s:", asked->folder);
    fw_status tried = fw_notebook_try(notebook, intake->entries, intake->count, &err);
    cli_progress_end();
    if (tried)
        return cli_error(&err);
    if (intake->count == 0 || fflush(stdout) != 0 || !may_write(asked, &why))
        return check_input(why);
    cli_progress_begin("writing into %s:", asked->folder);
    fw_status added = fw_notebook_add(notebook, intake->entries, intake->count, true, &err);
    cli_progress_end();
    if (added)
        return cli_error(&err);
    printf("added %zu %s to %s\n", intake->count, intake->count == 1 ? "reading" : "readings",
           fw_show(shown, sizeof shown, asked->folder));
    return FW_OK;
}

/* The job is read after the notebook is opened: what is known is what stands there now. */
static int add_file(const request *asked, fw_notebook *notebook)
{
    fw_unit unit = asked->unit;
    fw_intake_options how = {.round = asked->round, .unit = asked->unit_given ? &unit : NULL};
    fw_intake *intake = NULL;
    fw_job *job = NULL;
    fw_faults faults = {0};
    fw_error err = {FW_OK, ""};
    cli_progress_begin("reading %s:", asked->from);
    int status = cli_load(asked->folder, &job);
    if (status != FW_OK)
        return status;
    fw_status known = FW_OK, taken = fw_intake_read(asked->from, job, &how, &intake, &faults, &err);
    if (!taken)
        known = fw_intake_drop_known(intake, job, &err);
    cli_progress_end();
    if (taken)
        status = cli_fail(&faults, &err);
    else if (known)
        status = cli_error(&err);
    else
        status = write_intake(job, notebook, intake, asked);
    fw_faults_release(&faults);
    fw_intake_free(intake);
    fw_job_free(job);
    return status;
}

static int add(const request *asked)
{
    fw_job *job = NULL;
    fw_notebook *notebook = NULL;
    fw_error err = {FW_OK, ""};
    fw_notebook_mend(asked->folder); /* a line cut off is no fault of the person's */
    cli_progress_begin("reading %s:", asked->folder);
    int status = cli_load(asked->folder, &job);
    if (status != FW_OK)
        return status;
    fw_status opened = fw_notebook_open(job, &notebook, &err);
    cli_progress_end();
    if (opened)
        status = cli_error(&err);
    else if (asked->from)
        status = add_file(asked, notebook);
    else
        status = talk(job, notebook, asked);
    fw_notebook_close(notebook);
    fw_job_free(job);
    return status;
}

int cmd_add(int argc, char **argv)
{
    request asked = {0};
    int status;
    cli_args args = cli_start(&usage_add, argc, argv);
    for (int id; (id = cli_next(&args)) != CLI_END;) {
        if (id == CLI_STOP)
            return args.status;
        if (id == CLI_OPERAND)
            asked.folder = args.value;
        else if (id == 'f')
            asked.from = args.value;
        else if (id == 'u') {
            asked.unit = unit_of(args.value);
            asked.unit_given = true;
        } else if (id == 'r' && (status = read_round(args.value, &asked.round)) != FW_OK)
            return status;
        asked.words = asked.words || id == 'w';
        asked.yes = asked.yes || id == 'y';
    }
    if (!asked.from && (asked.yes || asked.unit_given))
        return cli_usage_fault("--%s is for --from", asked.yes ? "yes" : "unit");
    return add(&asked);
}
