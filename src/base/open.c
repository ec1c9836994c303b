/* open.c - a file of the user's, opened for reading with care. */
#include <errno.h>
#include <fcntl.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/open.h"

/* Errors of open that speak of the path, not of the system's state. */
static bool is_of_the_path(int why)
{
    return why == ENOENT || why == ENOTDIR || why == ELOOP || why == ENAMETOOLONG;
}

fw_status fw_open_input(const char *path, int *fd, bool *missing, fw_error *err)
{
    struct stat place;
    *missing = false;
    int opened = open(path, O_RDONLY | O_NONBLOCK | O_CLOEXEC | O_NOCTTY);
    if (opened < 0) {
        int why = errno;
        *missing = why == ENOENT;
        if (why == ENXIO) /* a socket */
            return fw_fail(err, FW_INPUT, "is not a regular file");
        return fw_fail(err, is_of_the_path(why) ? FW_INPUT : FW_SYSTEM, "cannot be opened: %s",
                       strerror(why));
    }
    if (fstat(opened, &place) != 0) {
        int why = errno;
        close(opened);
        return fw_fail(err, FW_SYSTEM, "cannot be examined: %s", strerror(why));
    }
    if (!S_ISREG(place.st_mode)) {
        close(opened);
        return fw_fail(err, FW_INPUT, "%s", S_ISDIR(place.st_mode) ? "is a folder, expected a file"
                                                                   : "is not a regular file");
    }
    *fd = opened;
    return FW_OK;
}

fw_status fw_read_input(int fd, char *buffer, size_t size, size_t *got, fw_error *err)
{
    size_t filled = 0;
    while (filled < size) {
        ssize_t n = read(fd, buffer + filled, size - filled);
        if (n == 0)
            break;
        if (n < 0 && errno == EINTR)
            continue;
        if (n < 0)
            return fw_fail(err, FW_SYSTEM, "cannot be read: %s", strerror(errno));
        filled += (size_t)n;
    }
    *got = filled;
    return FW_OK;
}
