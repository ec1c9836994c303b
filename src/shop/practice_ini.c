/* practice_ini.c - the set's job.ini for a practice job: its title marked, all else as it was typed. */
#include <errno.h>
#include <stdio.h>
#include <string.h>

#include "flatwright/alloc.h"
#include "job/parts.h"
#include "shop/practice.h"

/* A title in double quotes; a quote in it stands twice. */
static void put_title(FILE *out, const char *title)
{
    static const char mark[] = "Practice, invented";
    bool marked = strncmp(title, mark, strlen(mark)) == 0;
    fprintf(out, "title = \"%s%s", marked ? "" : mark, marked || !*title ? "" : ": ");
    for (; *title; title++) {
        if (*title == '"')
            fputc('"', out);
        fputc(*title, out);
    }
    fputs("\" ; made up to practise on, nothing was measured\n", out);
}

/* Is `line` the key `title`? */
static bool is_title(const char *line)
{
    line += strspn(line, " \t");
    return strncmp(line, "title", 5) == 0 && strchr(" \t=", line[5]);
}

/* Behind the section's name of `text`: are these lines of [set]? */
static bool opens_set(const char *text)
{
    text += 1 + strspn(text + 1, " \t");
    return strncmp(text, "set", 3) == 0 && strchr(" \t]", text[3]);
}

/* The set's job.ini, its title replaced: every other line stays as it was typed. */
static void copy_settings(const char *title, FILE *in, FILE *out)
{
    char part[1000]; /* a line, or some of a long one */
    bool in_set = false, dropped = false, start = true;
    while (fgets(part, sizeof part, in)) {
        bool whole = strchr(part, '\n') != NULL, opens = false;
        if (start) {
            const char *text = part + (strncmp(part, "\xEF\xBB\xBF", 3) ? 0 : 3);
            text += strspn(text, " \t");
            dropped = in_set && is_title(text);
            opens = *text == '[' && opens_set(text);
            in_set = opens || (in_set && *text != '[');
        }
        if (!dropped)
            fputs(part, out);
        if (opens) { /* its line has ended, or the file has: a section's line is not long */
            fputs(whole ? "" : "\n", out);
            put_title(out, title);
        }
        start = whole;
    }
}

fw_status practice_settings(const fw_job *job, FILE *out, fw_error *err)
{
    char *path = fw_path_in(job->folder, "job.ini");
    FILE *in = path ? fopen(path, "r") : NULL;
    fw_status status = path ? FW_OK : fw_out_of_memory(err);
    if (in)
        copy_settings(job->title, in, out);
    if (path && (!in || ferror(in)))
        status = fw_fail(err, FW_SYSTEM, "cannot read '%s': %s", path, strerror(errno));
    if (in)
        fclose(in);
    fw_free(path);
    return status;
}
