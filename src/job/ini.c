/* ini.c - job.ini taken apart, line by line, with the place of everything. */

/*
 * A reader of our own: the usual library cuts a line at 200 bytes and reports neither the column
 * nor a key given twice, and every fault here has to be named by line and column.
 */
#include <stdbool.h>
#include <string.h>
#include <unistd.h>

#include "base/open.h"
#include "flatwright/alloc.h"
#include "flatwright/show.h"
#include "job/ini.h"

#define FILE_LIMIT ((size_t)1 << 20)

typedef struct reader {
    fw_ini *ini;
    fw_faults *faults;
    const char *path;
    size_t section_room, entry_room;
    int line;
    char *start; /* of the line */
} reader;

static bool is_blank(char c)
{
    return c == ' ' || c == '\t';
}

static char *skip_blanks(char *at)
{
    while (is_blank(*at))
        at++;
    return at;
}

/* Ends the text before `end` behind its last visible character. */
static void trim(const char *text, char *end)
{
    while (end > text && is_blank(end[-1]))
        end--;
    *end = '\0';
}

static int column_of(const reader *r, const char *at)
{
    return (int)(at - r->start) + 1;
}

static bool starts_comment(char c)
{
    return c == ';' || c == '#';
}

/* Where the text ends: at a comment that follows a blank, or at the end of the line. */
static char *end_of_text(char *at)
{
    for (; *at; at++)
        if (is_blank(*at) && starts_comment(at[1]))
            return at;
    return at;
}

/* The array with room for one more item of `size` bytes; NULL: no memory, the old one stays. */
static void *grow(void *array, size_t count, size_t *room, size_t size)
{
    if (count < *room)
        return array;
    size_t more = *room ? 2 * *room : 16;
    void *grown = fw_resize(array, more, size);
    if (grown)
        *room = more;
    return grown;
}

/* Nothing but a comment may follow what was read. */
static void expect_nothing(reader *r, char *at, const char *after)
{
    char quoted[FW_QUOTED];
    at = skip_blanks(at);
    if (*at == '\0' || starts_comment(*at))
        return;
    trim(at, end_of_text(at));
    fw_fault_add(r->faults, r->path, r->line, column_of(r, at),
                 "text %s after %s, expected nothing more", fw_show_quoted(quoted, at), after);
}

/* [name argument] */
static bool read_section(reader *r, char *at)
{
    char *open = at++, *close = strchr(at, ']');
    if (!close) {
        fw_fault_add(r->faults, r->path, r->line, column_of(r, open),
                     "the section's name has no end, expected ']'");
        close = end_of_text(at);
    } else {
        *close = '\0';
        expect_nothing(r, close + 1, "the section's name");
    }
    at = skip_blanks(at);
    trim(at, close);
    char *argument = at + strcspn(at, " \t");
    if (*argument) {
        *argument++ = '\0';
        argument = skip_blanks(argument);
    }
    fw_ini *ini = r->ini;
    fw_ini_section *sections = grow(ini->sections, ini->nsections, &r->section_room,
                                    sizeof *sections);
    if (!sections)
        return false;
    ini->sections = sections;
    ini->sections[ini->nsections++] = (fw_ini_section){at, argument, r->line, column_of(r, at)};
    return true;
}

/* A value in double quotes keeps everything up to the closing quote; two quotes stand for one. */
static char *read_quoted(reader *r, char *open)
{
    char *to = open + 1, *at = open + 1;
    for (; *at; at++) {
        if (*at == '"' && at[1] == '"')
            at++;
        else if (*at == '"')
            break;
        *to++ = *at;
    }
    if (*at == '"')
        expect_nothing(r, at + 1, "the closing quote");
    else
        fw_fault_add(r->faults, r->path, r->line, column_of(r, open),
                     "the quoted value has no closing quote");
    *to = '\0';
    return open + 1;
}

/* key = value */
static bool read_entry(reader *r, char *key)
{
    char quoted[FW_QUOTED];
    char *equals = strchr(key, '='), *end = end_of_text(key);
    if (!equals || equals > end || equals == key) {
        trim(key, end);
        fw_fault_add(r->faults, r->path, r->line, column_of(r, key),
                     "line %s is neither a section nor a key, expected 'key = value'",
                     fw_show_quoted(quoted, key));
        return true;
    }
    trim(key, equals);
    char *value = skip_blanks(equals + 1);
    int column = column_of(r, value);
    if (*value == '"')
        value = read_quoted(r, value);
    else if (starts_comment(*value) && value > equals + 1)
        *value = '\0';
    else
        trim(value, end_of_text(value));
    fw_ini *ini = r->ini;
    if (ini->nsections == 0) {
        fw_fault_add(r->faults, r->path, r->line, column_of(r, key),
                     "key %s stands before the first section", fw_show_quoted(quoted, key));
        return true;
    }
    fw_ini_entry *entries = grow(ini->entries, ini->nentries, &r->entry_room, sizeof *entries);
    if (!entries)
        return false;
    ini->entries = entries;
    ini->entries[ini->nentries++] = (fw_ini_entry){
        ini->nsections - 1, key, value, r->line, column_of(r, key), column};
    return true;
}

/* Control characters: the first of the line is reported. */
static bool is_text(reader *r, size_t length)
{
    for (size_t i = 0; i < length; i++) {
        unsigned char c = (unsigned char)r->start[i];
        if ((c < 0x20 && c != '\t') || c == 0x7f) {
            fw_fault_add(r->faults, r->path, r->line, (int)i + 1,
                         "byte 0x%02x is not text, expected UTF-8 without control characters", c);
            return false;
        }
    }
    return true;
}

static bool read_line(reader *r, size_t length)
{
    r->start[length] = '\0';
    char *at = skip_blanks(r->start);
    if (!is_text(r, length) || *at == '\0' || starts_comment(*at))
        return true;
    return *at == '[' ? read_section(r, at) : read_entry(r, at);
}

/* A 0 byte: nothing of the file can be trusted. */
static void report_binary(reader *r, const char *nul)
{
    const char *start = r->start;
    for (const char *at = start; at < nul; at++)
        if (*at == '\n') {
            r->line++;
            start = at + 1;
        }
    fw_fault_add(r->faults, r->path, r->line + 1, (int)(nul - start) + 1,
                 "holds binary data (a 0 byte), expected UTF-8 text");
}

fw_status fw_ini_parse(char *text, size_t length, const char *path, fw_ini *ini,
                       fw_faults *faults, fw_error *err)
{
    *ini = (fw_ini){.text = text};
    reader r = {.ini = ini, .faults = faults, .path = path};
    size_t found = faults->count;
    char *end = text + length;
    r.start = length >= 3 && memcmp(text, "\xEF\xBB\xBF", 3) == 0 ? text + 3 : text;
    const char *nul = memchr(text, '\0', length);
    if (nul) {
        report_binary(&r, nul);
        return FW_OK;
    }
    *end = '\0';
    while (r.start < end) {
        size_t size = strcspn(r.start, "\r\n");
        char *next = r.start + size;
        next += next[0] == '\r' && next[1] == '\n' ? 2 : 1;
        r.line++;
        if (!read_line(&r, size))
            return fw_fail(err, FW_SYSTEM, "no memory for '%s'", path);
        r.start = next;
    }
    if (ini->nsections == 0 && ini->nentries == 0 && faults->count == found)
        fw_fault_add(faults, path, 1, 0, "is empty, expected the sections of a job");
    return FW_OK;
}

fw_status fw_ini_read(const char *path, fw_ini *ini, fw_faults *faults, fw_error *err)
{
    int fd = -1;
    bool missing;
    size_t got = 0;
    char *text = NULL;
    fw_error why = {FW_OK, ""};
    *ini = (fw_ini){0};
    fw_status status = fw_open_input(path, &fd, &missing, &why);
    if (status == FW_INPUT) {
        fw_fault_add(faults, path, 0, 0, "%s",
                     missing ? "is missing, every job has one" : why.text);
        return FW_OK;
    }
    if (status == FW_OK) {
        text = fw_alloc(FILE_LIMIT + 2, 1);
        status = text ? fw_read_input(fd, text, FILE_LIMIT + 1, &got, &why)
                      : fw_fail(&why, FW_SYSTEM, "no memory");
    }
    if (status != FW_OK) {
        status = fw_fail(err, status, "'%s' %s", path, why.text);
        goto done;
    }
    if (got > FILE_LIMIT) {
        fw_fault_add(faults, path, 0, 0, "is larger than 1 MB, expected a page of text");
        goto done;
    }
    status = fw_ini_parse(text, got, path, ini, faults, err);
    text = NULL;
done:
    fw_free(text);
    if (fd >= 0)
        close(fd);
    return status;
}

void fw_ini_release(fw_ini *ini)
{
    fw_free(ini->text);
    fw_free(ini->sections);
    fw_free(ini->entries);
    *ini = (fw_ini){0};
}
