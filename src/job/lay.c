/* lay.c - a new job's files: all four or none, and never over what is there. */
#include <errno.h>
#include <fcntl.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "flatwright/alloc.h"
#include "flatwright/job.h"
#include "job/sheets.h"

/* Names tried for a draft; more than one only where an old draft was left behind. */
#define NAMES_TRIED 100

/* The four files on their way: first a draft each, then its name. */
typedef struct laying {
    const char *folder;
    int dir;
    char drafts[FW_SHEETS][64]; /* "": none (any more) */
    bool placed[FW_SHEETS];
} laying;

static fw_status fail(fw_error *err, const laying *lay, const char *name, int why)
{
    return fw_fail(err, FW_SYSTEM, "cannot write '%s/%s': %s", lay->folder, name, strerror(why));
}

static fw_status exists(fw_error *err, const laying *lay, const char *name)
{
    return fw_fail(err, FW_INPUT, "'%s/%s' exists, nothing was written", lay->folder, name);
}

/* Writes the lines; errno tells what went wrong. */
static bool write_lines(int fd, const char *const *lines)
{
    FILE *out = fdopen(fd, "w");
    if (!out) {
        int why = errno;
        close(fd);
        errno = why;
        return false;
    }
    bool written = true;
    for (; written && *lines; lines++)
        written = fprintf(out, "%s\n", *lines) >= 0;
    written = written && fflush(out) == 0 && fsync(fileno(out)) == 0;
    int why = errno;
    if (fclose(out) != 0 && written)
        return false;
    errno = why;
    return written;
}

static fw_status write_draft(laying *lay, int i, fw_error *err)
{
    const fw_sheet *sheet = &fw_sheets[i];
    int fd = -1;
    errno = EEXIST;
    for (int k = 0; fd < 0 && errno == EEXIST && k < NAMES_TRIED; k++) {
        snprintf(lay->drafts[i], sizeof lay->drafts[i], ".%s.draft-%ld-%d", sheet->name,
                 (long)getpid(), k);
        fd = openat(lay->dir, lay->drafts[i], O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0666);
    }
    if (fd < 0) {
        int why = errno;
        lay->drafts[i][0] = '\0'; /* not ours */
        return fail(err, lay, sheet->name, why);
    }
    return write_lines(fd, sheet->lines) ? FW_OK : fail(err, lay, sheet->name, errno);
}

/* A second name for the draft cannot take another file's place, as a rename could. */
static fw_status place(laying *lay, int i, fw_error *err)
{
    const char *name = fw_sheets[i].name, *draft = lay->drafts[i];
    if (linkat(lay->dir, draft, lay->dir, name, 0) == 0) {
        lay->placed[i] = true;
        return FW_OK;
    }
    if (errno == EEXIST)
        return exists(err, lay, name);
    /* A file system without links: hold the name with an empty file of ours, and replace that. */
    int fd = openat(lay->dir, name, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0666);
    if (fd < 0)
        return errno == EEXIST ? exists(err, lay, name) : fail(err, lay, name, errno);
    close(fd);
    lay->placed[i] = true;
    if (renameat(lay->dir, draft, lay->dir, name) != 0)
        return fail(err, lay, name, errno);
    lay->drafts[i][0] = '\0';
    return FW_OK;
}

static fw_status lay_files(laying *lay, fw_error *err)
{
    fw_status status = FW_OK;
    struct stat there;
    for (int i = 0; i < FW_SHEETS && status == FW_OK; i++)
        if (fstatat(lay->dir, fw_sheets[i].name, &there, AT_SYMLINK_NOFOLLOW) == 0)
            status = exists(err, lay, fw_sheets[i].name);
    for (int i = 0; i < FW_SHEETS && status == FW_OK; i++)
        status = write_draft(lay, i, err);
    for (int i = 0; i < FW_SHEETS && status == FW_OK; i++)
        status = place(lay, i, err);
    for (int i = 0; i < FW_SHEETS; i++) {
        if (lay->drafts[i][0])
            unlinkat(lay->dir, lay->drafts[i], 0);
        if (status != FW_OK && lay->placed[i])
            unlinkat(lay->dir, fw_sheets[i].name, 0);
    }
    if (status == FW_OK)
        fsync(lay->dir); /* a folder that cannot be synced is no failure */
    return status;
}

static fw_status open_folder(laying *lay, const char *path, fw_error *err)
{
    lay->dir = open(path, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (lay->dir >= 0)
        return FW_OK;
    return fw_fail(err, FW_SYSTEM, "cannot open '%s': %s", lay->folder, strerror(errno));
}

/* Lays the files in a folder that is there. */
static fw_status lay_in(laying *lay, const char *path, fw_error *err)
{
    fw_status status = open_folder(lay, path, err);
    if (status == FW_OK)
        status = lay_files(lay, err);
    if (lay->dir >= 0)
        close(lay->dir);
    return status;
}

/* Makes FOLDER.draft-PID-k, which becomes FOLDER once all files are in it. */
static fw_status make_draft(const char *folder, char *draft, size_t size, fw_error *err)
{
    int length = (int)strlen(folder);
    while (length > 1 && folder[length - 1] == '/')
        length--;
    errno = EEXIST;
    for (int k = 0; errno == EEXIST && k < NAMES_TRIED; k++) {
        snprintf(draft, size, "%.*s.draft-%ld-%d", length, folder, (long)getpid(), k);
        if (mkdir(draft, 0777) == 0)
            return FW_OK;
    }
    return fw_fail(err, FW_SYSTEM, "cannot make '%s': %s", folder, strerror(errno));
}

/* A folder that is not there is laid whole under another name, and then renamed: all or nothing. */
static fw_status lay_new(laying *lay, fw_error *err)
{
    size_t size = strlen(lay->folder) + 48;
    char *draft = fw_alloc(size, 1);
    if (!draft)
        return fw_out_of_memory(err);
    fw_status status = make_draft(lay->folder, draft, size, err);
    if (status == FW_OK) {
        status = lay_in(lay, draft, err);
        if (status == FW_OK && rename(draft, lay->folder) != 0)
            status = fw_fail(err, FW_SYSTEM, "cannot make '%s': %s", lay->folder, strerror(errno));
        if (status != FW_OK) {
            int dir = open(draft, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
            for (int i = 0; dir >= 0 && i < FW_SHEETS; i++)
                unlinkat(dir, fw_sheets[i].name, 0);
            if (dir >= 0)
                close(dir);
            rmdir(draft);
        }
    }
    fw_free(draft);
    return status;
}

fw_status fw_job_new(const char *folder, fw_error *err)
{
    struct stat there;
    laying lay = {.folder = folder, .dir = -1};
    if (stat(folder, &there) == 0)
        return S_ISDIR(there.st_mode)
                   ? lay_in(&lay, folder, err)
                   : fw_fail(err, FW_INPUT, "'%s' is a file, expected a folder", folder);
    if (errno != ENOENT || !*folder)
        return fw_fail(err, FW_SYSTEM, "cannot make '%s': %s", folder, strerror(errno));
    return lay_new(&lay, err);
}
