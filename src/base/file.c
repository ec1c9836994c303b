/* file.c - a file replaced whole: draft in the same folder, fsync, rename. */
#define _XOPEN_SOURCE 700 /* realpath */
#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "flatwright/alloc.h"
#include "flatwright/file.h"

#ifndef PATH_MAX
#define PATH_MAX 4096
#endif

/* Names tried for the draft before giving up; one is enough unless an old draft was left behind. */
#define NAMES_TRIED 100

static fw_status fail_to_write(fw_error *err, const char *path, const char *why)
{
    return fw_fail(err, FW_SYSTEM, "cannot write '%s': %s", path, why);
}

/* A device, pipe or socket has no place in a folder to be replaced: it is written itself. */
static fw_status open_special(const char *path, fw_draft *draft, fw_error *err)
{
    draft->target = fw_copy_text(path);
    if (!draft->target)
        return fail_to_write(err, path, "no memory");
    draft->out = fopen(path, "wb");
    return draft->out ? FW_OK : fail_to_write(err, path, strerror(errno));
}

/* Opens TARGET.draft-PID-k, never a file that is there already. */
static fw_status open_temporary(const char *path, fw_draft *draft, fw_error *err)
{
    size_t size = strlen(draft->target) + 48;
    draft->temporary = fw_alloc(size, 1);
    if (!draft->temporary)
        return fail_to_write(err, path, "no memory");
    int fd = -1;
    for (int k = 0; fd < 0 && k < NAMES_TRIED; k++) {
        snprintf(draft->temporary, size, "%s.draft-%ld-%d", draft->target, (long)getpid(), k);
        fd = open(draft->temporary, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0666);
        if (fd < 0 && errno != EEXIST)
            break;
    }
    int why = errno;
    if (fd < 0) {
        fw_free(draft->temporary); /* not ours: it must not be unlinked */
        draft->temporary = NULL;
        return fail_to_write(err, path, strerror(why));
    }
    draft->out = fdopen(fd, "wb");
    if (draft->out)
        return FW_OK;
    why = errno;
    close(fd);
    return fail_to_write(err, path, strerror(why));
}

fw_status fw_draft_open(const char *path, fw_draft *draft, fw_error *err)
{
    fw_status status = FW_OK;
    struct stat place, link;
    char real[PATH_MAX];
    bool exists = stat(path, &place) == 0;
    *draft = (fw_draft){0};
    if (!exists && (errno != ENOENT || !*path)) /* "" would become a draft in this folder */
        return fail_to_write(err, path, strerror(errno));
    if (!exists && lstat(path, &link) == 0)
        return fail_to_write(err, path, "a link to a file that is not there");
    if (exists && S_ISDIR(place.st_mode))
        return fail_to_write(err, path, "it is a folder");
    if (exists && !S_ISREG(place.st_mode)) {
        status = open_special(path, draft, err);
        goto done;
    }
    if (exists && (access(path, W_OK) != 0 || !realpath(path, real)))
        return fail_to_write(err, path, strerror(errno));
    draft->target = fw_copy_text(exists ? real : path);
    if (!draft->target) {
        status = fail_to_write(err, path, "no memory");
        goto done;
    }
    status = open_temporary(path, draft, err);
    if (!status && exists && fchmod(fileno(draft->out), place.st_mode & 07777) != 0)
        status = fail_to_write(err, path, strerror(errno));
done:
    if (status)
        fw_draft_abandon(draft);
    return status;
}

/* Makes the rename itself last; a folder that cannot be opened or synced is no failure. */
static void sync_folder(const char *path)
{
    char folder[PATH_MAX];
    const char *slash = strrchr(path, '/');
    size_t length = slash ? (size_t)(slash - path) + 1 : 1;
    if (length >= sizeof folder)
        return;
    memcpy(folder, slash ? path : ".", length);
    folder[length] = '\0';
    int fd = open(folder, O_RDONLY | O_CLOEXEC);
    if (fd < 0)
        return;
    fsync(fd);
    close(fd);
}

fw_status fw_draft_commit(fw_draft *draft, fw_error *err)
{
    fw_status status = FW_OK;
    errno = 0;
    bool written = !ferror(draft->out) && fflush(draft->out) == 0 &&
                   (!draft->temporary || fsync(fileno(draft->out)) == 0);
    int why = errno;
    if (fclose(draft->out) != 0 && written) {
        written = false;
        why = errno;
    }
    draft->out = NULL;
    if (written && draft->temporary && rename(draft->temporary, draft->target) != 0) {
        written = false;
        why = errno;
    }
    if (!written)
        status = fail_to_write(err, draft->target, why ? strerror(why) : "the write failed");
    else if (draft->temporary) {
        fw_free(draft->temporary); /* renamed: nothing to unlink */
        draft->temporary = NULL;
        sync_folder(draft->target);
    }
    fw_draft_abandon(draft);
    return status;
}

void fw_draft_abandon(fw_draft *draft)
{
    if (draft->out)
        fclose(draft->out);
    if (draft->temporary)
        unlink(draft->temporary);
    fw_free(draft->temporary);
    fw_free(draft->target);
    *draft = (fw_draft){0};
}
