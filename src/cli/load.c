/* load.c - a job read for a command, its faults told where a person looks for them. */
#include <stdio.h>

#include "cli/cli.h"
#include "cli/progress.h"
#include "flatwright/show.h"

int cli_error(const fw_error *err)
{
    char shown[700];
    fprintf(stderr, "flatwright: %s\n", fw_show(shown, sizeof shown, err->text));
    return (int)err->status;
}

/* file:line:column: text, without what is not known. */
static void print_fault(const fw_fault *fault)
{
    char file[1000];
    fprintf(stderr, "%s:", *fault->file ? fw_show(file, sizeof file, fault->file) : "''");
    if (fault->line > 0)
        fprintf(stderr, "%d:", fault->line);
    if (fault->line > 0 && fault->column > 0)
        fprintf(stderr, "%d:", fault->column);
    fprintf(stderr, " %s\n", fault->text);
}

int cli_fail(const fw_faults *faults, const fw_error *err)
{
    for (size_t i = 0; i < faults->listed; i++)
        print_fault(&faults->list[i]);
    if (faults->listed < faults->count)
        fprintf(stderr, "flatwright: %zu more faults\n", faults->count - faults->listed);
    return cli_error(err);
}

typedef fw_status reader(const char *folder, fw_job **job, fw_faults *faults, fw_error *err);

static int load(reader *read, const char *folder, fw_job **job)
{
    fw_faults faults;
    fw_error err = {FW_OK, ""};
    fw_status status = read(folder, job, &faults, &err);
    if (status)
        cli_progress_end();
    int failed = status == FW_OK ? FW_OK : cli_fail(&faults, &err);
    fw_faults_release(&faults);
    return failed;
}

int cli_load(const char *folder, fw_job **job)
{
    return load(fw_job_read, folder, job);
}

int cli_load_set(const char *folder, fw_job **job)
{
    return load(fw_job_read_set, folder, job);
}
