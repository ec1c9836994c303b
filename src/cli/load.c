/* load.c - a job read for a command, its faults told where a person looks for them. */
#include <stdio.h>
#include <string.h>

#include "cli/cli.h"
#include "cli/progress.h"
#include "flatwright/show.h"

int cli_error(const fw_error *err)
{
    char shown[700];
    cli_tell("flatwright: %s", fw_show(shown, sizeof shown, err->text));
    return (int)err->status;
}

/* file:line:column: text, without what is not known. */
static void print_fault(const fw_fault *fault)
{
    char shown[700], place[32] = "";
    const char *file = *fault->file ? fw_show(shown, sizeof shown, fault->file) : "''";
    if (fault->line > 0 && fault->column > 0)
        snprintf(place, sizeof place, "%d:%d:", fault->line, fault->column);
    else if (fault->line > 0)
        snprintf(place, sizeof place, "%d:", fault->line);
    cli_tell("%s:%s %s", file, place, fault->text);
}

/* Where the list of faults is not the result: so many of a kind are told, and the others counted. */
enum { TOLD = 3 };

/* Behind what is told of one fault alone: a subject in quotes, a number; `text` elsewhere. */
static const char *behind_subject(const char *text)
{
    const char *end = *text == '\'' ? strchr(text + 1, '\'') : NULL;
    return end ? end + 1 : text + strspn(text, "-.0123456789");
}

/* Faults of one file that say the same, of whatever subject. */
static bool same_kind(const fw_fault *a, const fw_fault *b)
{
    const char *x = a->text, *y = b->text;
    if (strcmp(a->file, b->file) != 0)
        return false;
    for (;;) {
        x = behind_subject(x);
        y = behind_subject(y);
        if (!*x || *x != *y)
            return *x == *y;
        x++;
        y++;
    }
}

/* How many of the list's faults from..to are of a fault's kind. */
static size_t count_kind(const fw_faults *faults, size_t from, size_t to, const fw_fault *fault)
{
    size_t n = 0;
    for (size_t i = from; i < to; i++)
        n += same_kind(&faults->list[i], fault);
    return n;
}

/* The i-th fault: told, or counted with those like it behind it, or counted already. */
static void tell_fault(const fw_faults *faults, size_t i)
{
    const fw_fault *fault = &faults->list[i];
    size_t before = count_kind(faults, 0, i, fault);
    size_t behind = before < TOLD ? 0 : count_kind(faults, i + 1, faults->listed, fault);
    char file[700];
    if (before < TOLD || (before == TOLD && behind == 0))
        print_fault(fault);
    else if (before == TOLD)
        cli_tell("%s: %zu more like these; flatwright check has the list",
                 *fault->file ? fw_show(file, sizeof file, fault->file) : "''", behind + 1);
}

static int fail(const fw_faults *faults, bool all, const fw_error *err)
{
    for (size_t i = 0; i < faults->listed; i++)
        if (all)
            print_fault(&faults->list[i]);
        else
            tell_fault(faults, i);
    if (faults->listed < faults->count)
        cli_tell("flatwright: %zu more faults", faults->count - faults->listed);
    return cli_error(err);
}

int cli_fail(const fw_faults *faults, const fw_error *err)
{
    return fail(faults, true, err);
}

typedef fw_status reader(const char *folder, fw_job **job, fw_faults *faults, fw_error *err);

static int load(reader *read, const char *folder, bool all, fw_job **job)
{
    fw_faults faults;
    fw_error err = {FW_OK, ""};
    fw_status status = read(folder, job, &faults, &err);
    if (status)
        cli_progress_end();
    int failed = status == FW_OK ? FW_OK : fail(&faults, all, &err);
    fw_faults_release(&faults);
    return failed;
}

int cli_load(const char *folder, fw_job **job)
{
    return load(fw_job_read, folder, false, job);
}

int cli_load_all_told(const char *folder, fw_job **job)
{
    return load(fw_job_read, folder, true, job);
}

int cli_load_set(const char *folder, fw_job **job)
{
    return load(fw_job_read_set, folder, false, job);
}
