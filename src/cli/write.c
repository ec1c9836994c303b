/* write.c - results to a file, replaced whole, or to standard output. */
#include <string.h>
#include <unistd.h>

#include "flatwright/file.h"

#include "cli/cli.h"
#include "cli/progress.h"

static fw_status write_file(const char *path, cli_printer *print, const void *context, fw_error *err)
{
    fw_draft draft;
    fw_status status = fw_draft_open(path, &draft, err);
    if (status)
        return status;
    status = print(draft.out, context, err);
    if (!status)
        return fw_draft_commit(&draft, err);
    fw_draft_abandon(&draft);
    return status;
}

int cli_write(const char *path, cli_printer *print, const void *context)
{
    fw_error err;
    bool file = path && strcmp(path, "-") != 0;
    if (file || !isatty(STDOUT_FILENO))
        cli_progress_begin("writing:");
    fw_status status = file ? write_file(path, print, context, &err) : print(stdout, context, &err);
    cli_progress_end();
    return status ? cli_error(&err) : 0;
}
