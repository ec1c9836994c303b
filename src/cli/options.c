/* options.c - one table of options feeds the parser and the help. */
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "cli/cli.h"
#include "flatwright/nearest.h"
#include "flatwright/screen.h"
#include "flatwright/show.h"

enum { HELP_COLUMN = 26 };

const cli_option cli_common[] = {{'h', "help", NULL, "print this help"},
                                 {'V', "version", NULL, "print the version"},
                                 {0, NULL, NULL, NULL}};

void cli_version(void)
{
    puts("flatwright " FW_VERSION);
}

/* "-o, --output FILE    write ..." with the text hanging beside, or below where there is no room. */
static void print_option(fw_screen *screen, const cli_option *option)
{
    char left[120];
    char letter[8] = "    ";
    if (option->id > ' ' && option->id < 127)
        snprintf(letter, sizeof letter, "-%c, ", option->id);
    snprintf(left, sizeof left, "%s--%s%s%s", letter, option->name, option->argument ? " " : "",
             option->argument ? option->argument : "");
    if (strlen(left) > HELP_COLUMN) {
        printf("  %s\n", left);
        snprintf(left, sizeof left, "    ");
    }
    for (size_t n = strlen(left); n < HELP_COLUMN; n++)
        memcpy(left + n, " ", 2);
    for (char *c = left; *c; c++)
        *c = *c == ' ' ? FW_BLANK[0] : *c;
    fw_screen_say(screen, 2, HELP_COLUMN + 3, "%s %s", left, option->help);
}

/* A paragraph set anew: its own line ends are blanks. */
static void say_words(fw_screen *screen, const char *text)
{
    fw_screen_begin(screen, 0, 0);
    for (size_t n; *text; text += n + (text[n] == '\n')) {
        n = strcspn(text, "\n");
        fw_screen_put(screen, "%.*s ", (int)n, text);
    }
    fw_screen_end(screen);
}

/* Lines end between brackets, not inside. */
static void say_usage(const cli_usage *usage, FILE *out)
{
    fw_screen screen = fw_screen_of(out);
    char synopsis[400];
    int depth = 0;
    snprintf(synopsis, sizeof synopsis, "%s", usage->synopsis);
    for (char *c = synopsis; *c; c++) {
        depth += (*c == '[') - (*c == ']');
        *c = *c == ' ' && depth > 0 ? FW_BLANK[0] : *c;
    }
    fw_screen_say(&screen, 0, 7, "usage: flatwright %s", synopsis);
}

static void print_help(const cli_usage *usage)
{
    fw_screen screen = fw_screen_of(stdout);
    say_usage(usage, stdout);
    fw_screen_line(&screen, "");
    say_words(&screen, usage->about);
    fw_screen_line(&screen, "");
    fw_screen_line(&screen, "options:");
    for (const cli_option *o = usage->options; o && o->id; o++)
        print_option(&screen, o);
    for (const cli_option *o = cli_common; o->id; o++)
        print_option(&screen, o);
    fw_screen_line(&screen, "");
    fw_screen_line(&screen, "examples:");
    for (int i = 0; i < 2; i++)
        printf("  %s\n", usage->examples[i]);
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
    cli_tell("flatwright: %s", fw_show(shown, sizeof shown, raw));
    return FW_USAGE;
}

/* Reports wrong usage, with the way to the help. */
static int stop(cli_args *args, const char *what, const char *subject, const char *more)
{
    char quoted[FW_QUOTED];
    args->status = cli_usage_fault("%s %s%s", what, fw_show_quoted(quoted, subject), more);
    say_usage(args->usage, stderr);
    return CLI_STOP;
}

/* The option of a long name or, with name NULL, of a letter. */
static const cli_option *find(const cli_args *args, const char *name, size_t length, int letter)
{
    const cli_option *const tables[] = {args->usage->options, cli_common};
    for (int i = 0; i < 2; i++)
        for (const cli_option *o = tables[i]; o && o->id; o++)
            if (name ? strlen(o->name) == length && memcmp(o->name, name, length) == 0
                     : o->id == letter)
                return o;
    return NULL;
}

static int unknown_long(cli_args *args, const char *whole)
{
    const char *word = whole;
    char name[64], suggestion[FW_SUGGESTION];
    word += strspn(word, "-");
    snprintf(name, sizeof name, "%.*s", (int)strcspn(word, "="), word);
    fw_nearest nearest = fw_nearest_start(name);
    for (const cli_option *o = args->usage->options; o && o->id; o++)
        fw_nearest_offer(&nearest, o->name);
    for (const cli_option *o = cli_common; o->id; o++)
        fw_nearest_offer(&nearest, o->name);
    suggestion[0] = '\0';
    if (nearest.name)
        snprintf(suggestion, sizeof suggestion, ", did you mean '--%s'?", nearest.name);
    return stop(args, "unknown option", whole, suggestion);
}

/* The next word of "csv|json" after `at`, or its first; returns where it ends, NULL: no more. */
static const char *next_choice(const char *at, char *word, size_t size)
{
    if (!at || *at == '\0')
        return NULL;
    size_t length = strcspn(at, "|");
    snprintf(word, size, "%.*s", (int)length, at);
    return at + length + (at[length] == '|');
}

bool cli_is_choice(const char *choices, const char *word)
{
    char choice[32];
    for (const char *at = choices; (at = next_choice(at, choice, sizeof choice)) != NULL;)
        if (strcmp(choice, word) == 0)
            return true;
    return false;
}

/* A value, or operand, that is none of the words it may be. */
static int wrong_choice(cli_args *args, const char *what, const char *choices)
{
    char names[8][32], more[FW_SUGGESTION + 120], suggestion[FW_SUGGESTION];
    fw_nearest nearest = fw_nearest_start(args->value);
    int n = 0;
    for (const char *at = choices; n < 8 && (at = next_choice(at, names[n], 32)) != NULL; n++)
        fw_nearest_offer(&nearest, names[n]);
    snprintf(more, sizeof more, ", expected %s%s", choices, fw_nearest_text(&nearest, suggestion));
    for (char *bar = more; (bar = strchr(bar, '|')) != NULL;)
        *bar = '/';
    return stop(args, what, args->value, more);
}

/* Answers --help and --version, gives anything else to the command. */
static int found(cli_args *args, const cli_option *option)
{
    char what[64];
    if (option->argument && strchr(option->argument, '|') &&
        !cli_is_choice(option->argument, args->value)) {
        snprintf(what, sizeof what, "unknown %s", option->name);
        return wrong_choice(args, what, option->argument);
    }
    if (option != &cli_common[0] && option != &cli_common[1])
        return option->id;
    args->status = FW_OK;
    if (option == &cli_common[0])
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
    const char *whole = args->argv[args->next - 1];
    const cli_option *option = find(args, NULL, 0, (unsigned char)word[1]);
    args->value = NULL;
    if (find(args, whole + 1, strcspn(whole + 1, "="), 0))
        return unknown_long(args, whole); /* -json for --json, not -j -s -o -n */
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

/* The operand's name: the synopsis's second word, or its first where no command stands before. */
static const char *operand_name(const cli_usage *usage, char *name, size_t size)
{
    const char *at = usage->synopsis, *blank = strchr(at, ' ');
    if (blank && *at >= 'a' && *at <= 'z')
        at = blank + 1;
    snprintf(name, size, "%.*s", (int)strcspn(at, " "), at);
    return name;
}

/* `flatwright JOB solve`: the command goes first. */
static const char *command_hint(const char *word)
{
    for (int i = 0; i < cli_ncommands; i++)
        if (strcmp(cli_commands[i].name, word) == 0)
            return ": a command goes before the job folder";
    return "";
}

static int take_operand(cli_args *args, const char *word)
{
    char name[32];
    const char *choices = operand_name(args->usage, name, sizeof name);
    if (++args->operands > args->usage->operands)
        return stop(args, "too many words from", word, command_hint(word));
    args->value = word;
    if (strchr(choices, '|') && !cli_is_choice(choices, word))
        return wrong_choice(args, "unknown word", choices);
    return CLI_OPERAND;
}

/* All words are seen: is something missing? */
static int finish(cli_args *args)
{
    if (args->operands >= args->usage->operands)
        return CLI_END;
    char name[32];
    operand_name(args->usage, name, sizeof name);
    args->status = strcmp(name, "JOB") == 0 ? cli_usage_fault("the job folder is missing")
                                            : cli_usage_fault("'%s' is missing", name);
    say_usage(args->usage, stderr);
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
