/* add.c - flatwright add: readings into the job, asked for at the bench. */
#include <locale.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "cli/cli.h"
#include "flatwright/dialog.h"
#include "flatwright/notebook.h"
#include "flatwright/number.h"
#include "flatwright/show.h"

static const cli_option options[] = {
    {'r', "round", "N", "the round of the readings; without it the one the set is in"},
    {'w', "words", NULL, "words only, nothing drawn"},
    {0, NULL, NULL, NULL}};

const cli_usage usage_add = {
    "add JOB [--round N] [--words]",
    "Asks for readings: the pairing, its turn, the diameter, then station by station. Every reading\n"
    "is on disk before the next is asked for: stop at any time, and go on later where you stopped.",
    options, 1,
    {"flatwright add trio", "printf 'A B\\n0\\n0\\n90\\n5\\nsign\\n0 .1 .2 .1 0\\n' | flatwright add trio"}};

typedef struct request {
    const char *folder;
    int round;
    bool words;
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

/* One line of standard input without its end; NULL: there is none. The rest of a long one is lost. */
static const char *read_line(char *line, int size)
{
    if (!fgets(line, size, stdin))
        return NULL;
    size_t length = strlen(line);
    if (length > 0 && line[length - 1] == '\n')
        line[length - 1] = '\0';
    else
        for (int c = getchar(); c != '\n' && c != EOF;)
            c = getchar();
    return line;
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
    do {
        typed = read_line(line, sizeof line);
        if (!typed || !isatty(STDIN_FILENO))
            fputc('\n', stderr); /* no one has typed it */
    } while (fw_dialog_line(dialog, typed));
    size_t count = fw_dialog_count(dialog);
    fw_show(shown, sizeof shown, asked->folder);
    printf("added %zu %s to %s\n", count, count == 1 ? "reading" : "readings", shown);
    int status = (int)fw_dialog_status(dialog);
    fw_dialog_free(dialog);
    return status;
}

int cmd_add(int argc, char **argv)
{
    request asked = {0};
    fw_job *job = NULL;
    fw_notebook *notebook = NULL;
    fw_error err;
    int status;
    cli_args args = cli_start(&usage_add, argc, argv);
    for (int id; (id = cli_next(&args)) != CLI_END;) {
        if (id == CLI_STOP)
            return args.status;
        if (id == CLI_OPERAND)
            asked.folder = args.value;
        else if (id == 'w')
            asked.words = true;
        else if (id == 'r' && (status = read_round(args.value, &asked.round)) != FW_OK)
            return status;
    }
    fw_notebook_mend(asked.folder); /* a line cut off is no fault of the person's */
    status = cli_load(asked.folder, &job);
    if (status != FW_OK)
        return status;
    if (fw_notebook_open(job, &notebook, &err) != FW_OK)
        status = cli_error(&err);
    else
        status = talk(job, notebook, &asked);
    fw_notebook_close(notebook);
    fw_job_free(job);
    return status;
}
