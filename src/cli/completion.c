/* completion.c - the command `completion`: bash and zsh told what the tables say. */
#include <stdbool.h>
#include <stdio.h>
#include <string.h>

#include "cli/cli.h"

const cli_usage usage_completion = {
    "completion bash|zsh",
    "Prints what the shell needs to complete commands, options and their values. `make install`\n"
    "puts it where both shells look for it; else let the shell read it at its start.",
    NULL, 1, {"flatwright completion bash >flatwright.bash",
              "flatwright completion zsh >_flatwright"}};

/* The commands and, last, `flatwright JOB`, which has no name. */
static const cli_usage *usage_of(int i)
{
    return i < cli_ncommands ? cli_commands[i].usage : &usage_show;
}

/* Calls `put` on every option of a command, --help and --version last. */
static void each_option(const cli_usage *usage, void (*put)(const cli_option *))
{
    for (const cli_option *o = usage->options; o && o->id; o++)
        put(o);
    for (const cli_option *o = cli_common; o->id; o++)
        put(o);
}

static bool has_letter(const cli_option *o)
{
    return o->id > ' ' && o->id < 127;
}

/* "csv|json" as "csv json". */
static void put_choices(const char *choices)
{
    for (; *choices; choices++)
        putchar(*choices == '|' ? ' ' : *choices);
}

/* The operand's choices, NULL: it is a job folder. */
static const char *operand_choices(const cli_usage *usage)
{
    const char *blank = strchr(usage->synopsis, ' ');
    return blank && strchr(blank, '|') && !strchr(blank, '[') ? blank + 1 : NULL;
}

static void put_bash_names(const cli_option *o)
{
    if (has_letter(o))
        printf("-%c ", o->id);
    printf("--%s ", o->name);
}

/* What completes an option's value: words, files, folders, or nothing. */
static void put_bash_value(const cli_usage *usage, const char *command)
{
    for (const cli_option *o = usage->options; o && o->id; o++) {
        if (!o->argument)
            continue;
        printf("    '%s --%s'", command, o->name);
        if (has_letter(o))
            printf(" | '%s -%c'", command, o->id);
        fputs(") ", stdout);
        if (strchr(o->argument, '|')) {
            fputs("kind=none words='", stdout);
            put_choices(o->argument);
            puts("' ;;");
        } else
            printf("kind=%s ;;\n", strcmp(o->argument, "FILE") == 0     ? "file"
                                   : strcmp(o->argument, "FOLDER") == 0 ? "directory"
                                                                        : "none");
    }
}

static void print_bash(void)
{
    puts("# Completion of flatwright for bash, as `flatwright completion bash` prints it.\n"
         "_flatwright()\n{\n"
         "    local current=${COMP_WORDS[COMP_CWORD]} before=${COMP_WORDS[COMP_CWORD - 1]}\n"
         "    local command='' options='' operand='' words='' kind=''\n"
         "    COMPREPLY=()\n"
         "    # --format=csv comes as three words\n"
         "    [[ $current == '=' ]] && current=''\n"
         "    [[ $before == '=' ]] && before=${COMP_WORDS[COMP_CWORD - 2]}\n"
         "    ((COMP_CWORD > 1)) && command=${COMP_WORDS[1]}\n"
         "    case $command in");
    for (int i = 0; i <= cli_ncommands; i++) {
        const cli_usage *usage = usage_of(i);
        const char *choices = operand_choices(usage);
        printf("    %s)\n        options='", i < cli_ncommands ? cli_commands[i].name : "*");
        each_option(usage, put_bash_names);
        fputs("'\n", stdout);
        if (choices) {
            fputs("        operand='", stdout);
            put_choices(choices);
            puts("'");
        }
        printf("        %s ;;\n", i == cli_ncommands ? "command=''"
                                  : usage->operands && !choices ? "kind=directory"
                                                                : "kind=none");
    }
    puts("    esac\n    words=$operand\n    case \"$command $before\" in");
    for (int i = 0; i <= cli_ncommands; i++)
        put_bash_value(usage_of(i), i < cli_ncommands ? cli_commands[i].name : "");
    fputs("    *)\n"
          "        if [[ $current == -* ]]; then\n"
          "            words=$options kind=''\n"
          "        elif ((COMP_CWORD == 1)); then\n"
          "            kind=directory words='", stdout);
    for (int i = 0; i < cli_ncommands; i++)
        printf("%s%s", i ? " " : "", cli_commands[i].name);
    puts("'\n        fi\n        ;;\n    esac\n"
         "    local IFS=$' \\t\\n' reply\n"
         "    while IFS= read -r reply; do\n"
         "        COMPREPLY+=(\"$reply\")\n"
         "    done < <([[ -n $words ]] && compgen -W \"$words\" -- \"$current\"\n"
         "        [[ $kind == file || $kind == directory ]] && compgen -A \"$kind\" -- \"$current\")\n"
         "    if [[ $kind == file || $kind == directory ]]; then\n"
         "        compopt -o filenames 2>/dev/null\n"
         "    fi\n"
         "}\n"
         "complete -F _flatwright flatwright");
}

/* Text inside '...[text]...' or '...:text': quotes, brackets and colons would end it. */
static void put_zsh_text(const char *text)
{
    for (; *text; text++) {
        if (strchr("[]:\\", *text))
            putchar('\\');
        if (*text == '\'')
            fputs("'\\''", stdout);
        else
            putchar(*text);
    }
}

static bool may_come_again(const cli_option *o)
{
    size_t length = o->argument ? strlen(o->argument) : 0;
    return length > 3 && strcmp(o->argument + length - 3, "...") == 0;
}

static void put_zsh_option(const cli_option *o)
{
    fputs(" \\\n            ", stdout);
    if (may_come_again(o))
        fputs("'*'", stdout);
    else if (has_letter(o))
        printf("'(-%c --%s)'", o->id, o->name);
    if (has_letter(o))
        printf("{-%c%s,--%s%s}", o->id, o->argument ? "+" : "", o->name, o->argument ? "=" : "");
    else
        printf("--%s%s", o->name, o->argument ? "=" : "");
    fputs("'[", stdout);
    put_zsh_text(o->help);
    fputs("]", stdout);
    if (o->argument && strchr(o->argument, '|')) {
        printf(":%s:(", o->name);
        put_choices(o->argument);
        fputs(")", stdout);
    } else if (o->argument)
        printf(":%s:%s", o->name, strcmp(o->argument, "FILE") == 0     ? "_files"
                                      : strcmp(o->argument, "FOLDER") == 0 ? "_files -/"
                                                                           : " ");
    fputs("'", stdout);
}

static void print_zsh(void)
{
    puts("#compdef flatwright\n"
         "# Completion of flatwright for zsh, as `flatwright completion zsh` prints it.\n"
         "_flatwright()\n{\n"
         "    local -a known=(");
    for (int i = 0; i < cli_ncommands; i++) {
        printf("        '%s:", cli_commands[i].name);
        put_zsh_text(cli_commands[i].help);
        puts("'");
    }
    puts("    )\n"
         "    if ((CURRENT == 2)) && [[ $PREFIX != -* ]]; then\n"
         "        _describe -t commands command known\n"
         "        _files -/\n"
         "        return\n"
         "    fi\n"
         "    local command=$words[2]\n"
         "    if ((CURRENT > 2 && ${known[(I)$command:*]})); then\n"
         "        shift words\n"
         "        ((CURRENT--))\n"
         "    fi\n"
         "    case $command in");
    for (int i = 0; i <= cli_ncommands; i++) {
        const cli_usage *usage = usage_of(i);
        const char *choices = operand_choices(usage);
        printf("    %s)\n        _arguments -s -S",
               i < cli_ncommands ? cli_commands[i].name : "*");
        each_option(usage, put_zsh_option);
        if (choices) {
            fputs(" \\\n            '1:what:(", stdout);
            put_choices(choices);
            fputs(")'", stdout);
        } else if (usage->operands)
            fputs(" \\\n            '1:job:_files -/'", stdout);
        puts(" ;;");
    }
    puts("    esac\n}\n\n_flatwright \"$@\"");
}

int cmd_completion(int argc, char **argv)
{
    const char *shell = "";
    cli_args args = cli_start(&usage_completion, argc, argv);
    for (int id; (id = cli_next(&args)) != CLI_END;) {
        if (id == CLI_STOP)
            return args.status;
        shell = args.value;
    }
    if (strcmp(shell, "bash") == 0)
        print_bash();
    else
        print_zsh();
    return FW_OK;
}
