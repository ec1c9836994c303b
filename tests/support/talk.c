/* talk.c - a talk at the bench with a job of its own: lines in, what is said and written out. */
#define _POSIX_C_SOURCE 200809L
#include "talk.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "close.h"

void talk_begin(talk *t, const char *ini, const char *readings)
{
    fw_error err;
    fw_dialog_options how = {0, true};
    *t = (talk){.at = folder_make()};
    folder_write(&t->at, "job.ini", ini);
    folder_write(&t->at, "readings.csv", readings);
    t->job = folder_job(&t->at);
    t->screen = (fw_screen){.out = open_memstream(&t->said, &t->size), .columns = 2000};
    assert_int_equal(fw_notebook_open(t->job, &t->notebook, &err), FW_OK);
    assert_int_equal(fw_dialog_new(t->job, t->notebook, &t->screen, &how, &t->dialog, &err), FW_OK);
}

/* Says lines, separated by |; returns what was answered to the last one. */
const char *talk_say(talk *t, const char *lines)
{
    char line[400];
    size_t before = 0;
    fflush(t->screen.out);
    for (const char *end; lines; lines = end ? end + 1 : NULL) {
        end = strchr(lines, '|');
        snprintf(line, sizeof line, "%.*s", (int)(end ? end - lines : (int)strlen(lines)), lines);
        before = t->size;
        fw_dialog_line(t->dialog, line);
        fflush(t->screen.out);
    }
    return t->said + before;
}

void talk_finish(talk *t)
{
    fw_dialog_free(t->dialog);
    fw_notebook_close(t->notebook);
    fw_job_free(t->job);
    fclose(t->screen.out);
    free(t->said);
    folder_remove(&t->at);
}

/* Stops, and begins another talk on the same folder. */
void talk_restart(talk *t)
{
    fw_error err;
    fw_dialog_options how = {0, true};
    fw_dialog_free(t->dialog);
    fw_notebook_close(t->notebook);
    fw_job_free(t->job);
    fclose(t->screen.out);
    free(t->said);
    t->job = folder_job(&t->at);
    t->screen = (fw_screen){.out = open_memstream(&t->said, &t->size), .columns = 2000};
    assert_int_equal(fw_notebook_open(t->job, &t->notebook, &err), FW_OK);
    assert_int_equal(fw_dialog_new(t->job, t->notebook, &t->screen, &how, &t->dialog, &err), FW_OK);
    fflush(t->screen.out);
}

const char *talk_file(const talk *t)
{
    static char text[1 << 14];
    char path[80];
    snprintf(path, sizeof path, "%s/readings.csv", t->at.path);
    FILE *in = fopen(path, "rb");
    assert_non_null(in);
    text[fread(text, 1, sizeof text - 1, in)] = '\0';
    fclose(in);
    return text;
}

/* The rows behind the header and the list of stations. */
const char *talk_rows(const talk *t)
{
    const char *at = strstr(talk_file(t), TALK_HEADER) + strlen(TALK_HEADER);
    return strncmp(at, "# stations", 10) == 0 ? strchr(at, '\n') + 1 : at;
}

void assert_ends(const char *text, const char *end)
{
    size_t n = strlen(text), m = strlen(end);
    if (n < m || strcmp(text + n - m, end) != 0)
        fail_msg("'%s' does not end in '%s'", text, end);
}

void assert_says(const char *text, const char *part)
{
    if (!strstr(text, part))
        fail_msg("'%s' does not say '%s'", text, part);
}
