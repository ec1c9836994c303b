/* dialog.c - any lines typed at the bench: the notebook they leave can be read again. */
#define _XOPEN_SOURCE 700
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "flatwright/dialog.h"
#include "place.h"

enum { BYTES_MAX = 600 };

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size)
{
    char text[BYTES_MAX + 1];
    fw_notebook *notebook = NULL;
    fw_dialog *dialog = NULL;
    fw_error err = {FW_OK, ""};
    if (size > BYTES_MAX)
        return 0;
    memcpy(text, bytes, size);
    text[size] = '\0';
    place_one("job.ini", (const uint8_t *)PLACE_INI, strlen(PLACE_INI));
    fw_job *job = place_read(), *after = NULL;
    FILE *out = fopen("/dev/null", "w");
    fw_screen screen = {.out = out, .columns = 80};
    fw_dialog_options options = {.picture = size & 1};
    if (!job || !out || fw_notebook_open(job, &notebook, &err) != FW_OK ||
        fw_dialog_new(job, notebook, &screen, &options, &dialog, &err) != FW_OK)
        abort();
    bool more = true;
    for (char *line = text; more && line;) {
        char *end = strchr(line, '\n');
        if (end)
            *end = '\0';
        more = fw_dialog_line(dialog, line);
        line = end ? end + 1 : NULL;
    }
    if (more)
        fw_dialog_line(dialog, NULL);
    if (fw_dialog_status(dialog) != FW_OK)
        abort();
    size_t count = fw_dialog_count(dialog);
    fw_dialog_free(dialog);
    fw_notebook_close(notebook);
    after = place_read(); /* what was accepted is there, and without a fault */
    if (!after || after->nreadings > job->nreadings + count)
        abort();
    fw_job_free(after);
    fw_job_free(job);
    fclose(out);
    return 0;
}
