/* options.c - one table of options feeds the parser and the help. */
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "cli/cli.h"
#include "flatwright/nearest.h"
#include "flatwright/show.h"

/* What every command takes. */
static const cli_option common[] = {{'h', "help", NULL, "print this help"},
                                    {'V', "version", NULL, "print the version"},
                                    {0, NULL, NULL, NULL}};

void cli_version(void)
{
    puts("flatwright " FW_VERSION);
}

static void print_option(const cli_option *option)
{
    char left[64];
    char letter[8] = "    ";
    if (option->id > ' ' && option->id < 127)
        snprintf(letter, sizeof letter, "-%c, ", option->id);
    snprintf(left, sizeof left, "%s--%s%s%s", letter, option->name, option->argument ? " " : "",
             option->argument ? option->argument : "");
    printf("  %-26s %s\n", left, option->help);
}

static void print_help(const cli_usage *usage)
{
    printf("usage: flatwright %s\n\n%s\n\noptions:\n", usage->synopsis, usage->about);
    for (const cli_option *o = usage->options; o && o->id; o++)
        print_option(o);
    for (const cli_option *o = common; o->id; o++)
        print_option(o);
}

cli_args cli_start(const cli_usage *usage, int argc, char **argv)
{
    return (cli_args){.usage = usage, .argc = argc, .argv = argv, .next = 1};
}

int cli_usage_fault(const char *format, ...)
{
    char raw[400], shown[500];
    va_list args;
    va_start(args, format);
    vsnprintf(raw, sizeof raw, format, args);
    va_end(args);
    fprintf(stderr, "flatwright: %s\n", fw_show(shown, sizeof shown, raw));
    return FW_USAGE;
}

/* Reports wrong usage, with the way to the help. */
static int stop(cli_args *args, const char *what, const char *subject, const char *more)
{
    char quoted[FW_QUOTED];
    args->status = cli_usage_fault("%s %s%s", what, fw_show_quoted(quoted, subject), more);
    fprintf(stderr, "usage: flatwright %s\n", args->usage->synopsis);
    return CLI_STOP;
}

/* The option of a long name or, with name NULL, of a letter. */
static const cli_option *find(const cli_args *args, const char *name, size_t length, int letter)
{
    const cli_option *const tables[] = {args->usage->options, common};
    for (int i = 0; i < 2; i++)
        for (const cli_option *o = tables[i]; o && o->id; o++)
            if (name ? strlen(o->name) == length && memcmp(o->name, name, length) == 0
                     : o->id == letter)
                return o;
    return NULL;
}

static int unknown_long(cli_args *args, const char *word)
{
    char name[64], suggestion[FW_SUGGESTION];
    snprintf(name, sizeof name, "%.*s", (int)strcspn(word + 2, "="), word + 2);
    fw_nearest nearest = fw_nearest_start(name);
    for (const cli_option *o = args->usage->options; o && o->id; o++)
        fw_nearest_offer(&nearest, o->name);
    for (const cli_option *o = common; o->id; o++)
        fw_nearest_offer(&nearest, o->name);
    suggestion[0] = '\0';
    if (nearest.name)
        snprintf(suggestion, sizeof suggestion, ", did you mean '--%s'?", nearest.name);
    return stop(args, "unknown option", word, suggestion);
}

/* Answers --help and --version, gives anything else to the command. */
static int found(cli_args *args, const cli_option *option)
{
    if (option != &common[0] && option != &common[1])
        return option->id;
    args->status = FW_OK;
    if (option == &common[0])
        print_help(args->usage);
    else
        cli_version();
    return CLI_STOP;
}

static int take_long(cli_args *args, const char *word)
{
    const char *equals = strchr(word, '=');
    size_t length = equals ? (size_t)(equals - word) - 2 : strlen(word) - 2;
    const cli_option *option = find(args, word + 2, length, 0);
    if (!option)
        return unknown_long(args, word);
    if (equals && !option->argument)
        return stop(args, "no value is taken by option", word, "");
    args->value = equals ? equals + 1 : NULL;
    if (option->argument && !equals) {
        if (args->next >= args->argc)
            return stop(args, "a value is missing after option", word, "");
        args->value = args->argv[args->next++];
    }
    return found(args, option);
}

/* One letter of a bundle -abc; an option with a value takes the rest, or the next word. */
static int take_letter(cli_args *args)
{
    char word[3] = {'-', *args->bundle++, '\0'};
    const cli_option *option = find(args, NULL, 0, (unsigned char)word[1]);
    args->value = NULL;
    if (!option)
        return stop(args, "unknown option", word, "");
    if (option->argument) {
        if (*args->bundle)
            args->value = args->bundle;
        else if (args->next < args->argc)
            args->value = args->argv[args->next++];
        else
            return stop(args, "a value is missing after option", word, "");
        args->bundle = NULL;
    }
    if (args->bundle && *args->bundle == '\0')
        args->bundle = NULL;
    return found(args, option);
}

static int take_operand(cli_args *args, const char *word)
{
    if (++args->operands > args->usage->operands)
        return stop(args, "too many arguments from", word, "");
    args->value = word;
    return CLI_OPERAND;
}

/* All words are seen: is something missing? */
static int finish(cli_args *args)
{
    if (args->operands >= args->usage->operands)
        return CLI_END;
    args->status = cli_usage_fault("%s", args->usage->operands == 1 ? "the job folder is missing"
                                                                    : "arguments are missing");
    fprintf(stderr, "usage: flatwright %s\n", args->usage->synopsis);
    return CLI_STOP;
}

int cli_next(cli_args *args)
{
    if (args->bundle)
        return take_letter(args);
    while (args->next < args->argc) {
        const char *word = args->argv[args->next++];
        if (args->only_operands || word[0] != '-' || word[1] == '\0')
            return take_operand(args, word);
        if (strcmp(word, "--") == 0)
            args->only_operands = true;
        else if (word[1] == '-')
            return take_long(args, word);
        else {
            args->bundle = word + 1;
            return take_letter(args);
        }
    }
    return finish(args);
}
