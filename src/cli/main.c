/* main.c - the table of commands, and the way from the command line to one of them. */
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>
#ifdef __GLIBC__
#include <malloc.h>
#endif

#include "cli/cli.h"
#include "flatwright/nearest.h"
#include "flatwright/show.h"

static void print_usage(FILE *out)
{
    fputs("usage: flatwright JOB [options]            what have I got? on one screen\n"
          "       flatwright COMMAND JOB [options]\n\ncommands:\n", out);
    for (int i = 0; i < cli_ncommands; i++)
        fprintf(out, "  %-10s %s\n", cli_commands[i].name, cli_commands[i].help);
    fputs("\n`flatwright COMMAND --help` tells more, `flatwright --version` the version\n",
          out);
}

static const cli_command *find(const char *name)
{
    for (int i = 0; i < cli_ncommands; i++)
        if (strcmp(cli_commands[i].name, name) == 0)
            return &cli_commands[i];
    return NULL;
}

/* A word is taken for a job when it is a folder, or could be nothing but a path. */
static bool is_job(const char *word)
{
    struct stat place;
    return strpbrk(word, "/.") || (stat(word, &place) == 0 && S_ISDIR(place.st_mode));
}

static int unknown_command(const char *word, const char *second)
{
    char quoted[FW_QUOTED], suggestion[FW_SUGGESTION];
    fw_nearest nearest = fw_nearest_start(word);
    for (int i = 0; i < cli_ncommands; i++)
        fw_nearest_offer(&nearest, cli_commands[i].name);
    for (const cli_option *o = cli_common; o->id; o++)
        fw_nearest_offer(&nearest, o->id == 'h' ? "--help" : "--version");
    int status = cli_usage_fault("%s is neither a command nor a job folder%s",
                                 fw_show_quoted(quoted, word),
                                 fw_nearest_text(&nearest, suggestion));
    cli_tell(second && find(second) ? "a command goes before the job folder"
                                    : "`flatwright --help` lists the commands");
    return status;
}

static int run(int argc, char **argv)
{
    static char show[] = "show";
    if (argc < 2) {
        print_usage(stderr);
        return FW_USAGE;
    }
    const char *word = argv[1];
    const cli_command *known = find(word);
    if (known)
        return known->run(argc - 1, argv + 1);
    if (strcmp(word, "--help") == 0 || strcmp(word, "-h") == 0) {
        print_usage(stdout);
        return FW_OK;
    }
    if (strcmp(word, "--version") == 0 || strcmp(word, "-V") == 0) {
        cli_version();
        return FW_OK;
    }
    if (word[0] != '-' && !is_job(word))
        return unknown_command(word, argc > 2 ? argv[2] : NULL);
    argv[0] = show; /* flatwright JOB */
    return cmd_show(argc, argv);
}

/*
 * A standard stream that is closed would be taken by the next file opened. Held for reading only,
 * so that printing to it still fails.
 */
static bool hold_standard_streams(void)
{
    int fd;
    do
        fd = open("/dev/null", O_RDONLY);
    while (fd >= 0 && fd <= STDERR_FILENO);
    if (fd < 0) {
        cli_tell("flatwright: cannot open '/dev/null': %s", strerror(errno));
        return false;
    }
    close(fd);
    return true;
}

/* Output that did not get through is a failure, whatever the command says. */
static int finish(int status)
{
    errno = 0;
    if (fflush(stdout) == 0 && !ferror(stdout) && fclose(stdout) == 0)
        return status;
    cli_tell("flatwright: cannot write the output: %s",
             errno ? strerror(errno) : "a write failed");
    return FW_SYSTEM;
}

/*
 * What is freed stays at hand: the matrices of one flat go and those of the next come, and pages given
 * back in between are cleared anew by the system. Of 10^6 readings in 2592 scans that was a sixth of the
 * time; where scans are fewer it does not show.
 */
static void keep_memory(void)
{
#ifdef __GLIBC__
    mallopt(M_MMAP_THRESHOLD, 1 << 25); /* the largest that it takes */
    mallopt(M_TRIM_THRESHOLD, 1 << 30);
#endif
}

int main(int argc, char **argv)
{
    keep_memory();
    if (!hold_standard_streams())
        return FW_SYSTEM;
    return finish(run(argc, argv));
}
