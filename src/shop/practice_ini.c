/* practice_ini.c - the set's job.ini for a practice job: its title marked, all else as it was typed. */
#include <errno.h>
#include <stdio.h>
#include <string.h>

#include "flatwright/alloc.h"
#include "job/parts.h"
#include "shop/practice.h"

/* A key that is written anew, first in its section; the one that was typed there is left out. */
typedef struct renewed {
    const char *section, *key;
    bool wanted, seen; /* seen: the section is there */
} renewed;

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

static void put_key(FILE *out, const renewed *r, const char *title, fw_model model)
{
    if (strcmp(r->key, "title") == 0)
        put_title(out, title);
    else
        fprintf(out, "model = %s ; as it was rehearsed\n",
                model == FW_MODEL_SURFACE ? "surface" : "profile");
}

/* Does `text` begin with the word, and something that may stand behind it? */
static bool begins(const char *text, const char *word, const char *behind)
{
    size_t n = strlen(word);
    return strncmp(text, word, n) == 0 && strchr(behind, text[n]);
}

/* Which of the renewed keys' sections does the line open, whose text is this? -1: none of them. */
static int opened(const renewed *keys, int n, const char *text)
{
    text += 1 + strspn(text + 1, " \t");
    for (int k = 0; k < n; k++)
        if (keys[k].wanted && begins(text, keys[k].section, " \t]"))
            return k;
    return -1;
}

/* The set's job.ini: every line but those of the renewed keys stays as it was typed. */
static void copy_settings(const fw_job *job, fw_model model, FILE *in, FILE *out)
{
    renewed keys[] = {{"set", "title", true, false},
                      {"readings", "model", model != FW_MODEL_AUTO, false}};
    enum { KEYS = sizeof keys / sizeof *keys };
    char part[1000]; /* a line, or some of a long one */
    int section = -1; /* of one of the keys */
    bool dropped = false, start = true, opens = false, ended = true;
    while (fgets(part, sizeof part, in)) {
        ended = strchr(part, '\n') != NULL;
        opens = false;
        if (start) {
            const char *text = part + (strncmp(part, "\xEF\xBB\xBF", 3) ? 0 : 3);
            text += strspn(text, " \t");
            dropped = section >= 0 && begins(text, keys[section].key, " \t=");
            if (*text == '[') {
                section = opened(keys, KEYS, text);
                opens = section >= 0;
            }
        }
        if (!dropped)
            fputs(part, out);
        if (opens) { /* its line has ended, or the file has: a section's line is not long */
            keys[section].seen = true;
            fputs(ended ? "" : "\n", out);
            put_key(out, &keys[section], job->title, model);
        }
        start = ended;
    }
    for (int k = 0; k < KEYS; k++)
        if (keys[k].wanted && !keys[k].seen) {
            fprintf(out, "%s\n[%s]\n", ended || opens || dropped ? "" : "\n", keys[k].section);
            put_key(out, &keys[k], job->title, model);
        }
}

fw_status practice_settings(const fw_job *job, fw_model model, FILE *out, fw_error *err)
{
    char *path = fw_path_in(job->folder, "job.ini");
    FILE *in = path ? fopen(path, "r") : NULL;
    fw_status status = path ? FW_OK : fw_out_of_memory(err);
    if (in)
        copy_settings(job, model, in, out);
    if (path && (!in || ferror(in)))
        status = fw_fail(err, FW_SYSTEM, "cannot read '%s': %s", path, strerror(errno));
    if (in)
        fclose(in);
    fw_free(path);
    return status;
}
