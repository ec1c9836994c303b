/* sheet.c - any bytes as a file of readings: faults with places, or rows that are read back. */
#define _XOPEN_SOURCE 700
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "flatwright/intake.h"
#include "place.h"

enum { ENTRIES_MAX = 300 };

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size);

static void stop(const char *what)
{
    fprintf(stderr, "%s\n", what);
    abort();
}

/* What is told of the file, without a control character but the end of a line. */
static void tell(const fw_job *job, const fw_intake *intake)
{
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&text, &size);
    if (!out)
        abort();
    fw_screen screen = {.out = out, .columns = 80};
    fw_intake_text(&screen, job, intake);
    if (fclose(out) != 0)
        abort();
    for (const char *c = text; *c; c++)
        if (((unsigned char)*c < ' ' && *c != '\n') || *c == 127)
            stop("a control character on the screen");
    free(text);
}

/* What was understood is written whole, and read back. */
static void write_down(const fw_job *job, const fw_intake *intake)
{
    fw_notebook *notebook = NULL;
    fw_error err = {FW_OK, ""};
    if (fw_notebook_open(job, &notebook, &err) != FW_OK)
        stop(err.text);
    fw_status tried = fw_notebook_try(notebook, intake->entries, intake->count, &err);
    fw_status status = fw_notebook_add(notebook, intake->entries, intake->count, true, &err);
    if (status == FW_SYSTEM || status != tried)
        stop(err.text);
    fw_notebook_close(notebook);
    fw_job *now = place_read();
    if (!now || now->nreadings != job->nreadings + (status == FW_OK ? intake->count : 0))
        stop("what was written is not read");
    fw_job_free(now);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size)
{
    char path[128];
    fw_intake *intake = NULL;
    fw_intake_options how = {0, NULL};
    fw_faults faults;
    fw_error err = {FW_OK, ""};
    place_one("sheet.csv", bytes, size);
    fw_job *job = place_read();
    if (!job)
        abort();
    snprintf(path, sizeof path, "%s/sheet.csv", place_folder());
    fw_status status = fw_intake_read(path, job, &how, &intake, &faults, &err);
    if (status == FW_SYSTEM || (status == FW_OK) != (intake != NULL))
        stop(err.text);
    if (intake && intake->count <= ENTRIES_MAX) {
        if (fw_intake_drop_known(intake, job, &err) != FW_OK)
            stop(err.text);
        tell(job, intake);
        write_down(job, intake);
    }
    fw_intake_free(intake);
    fw_faults_release(&faults);
    fw_job_free(job);
    return 0;
}
