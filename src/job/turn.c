/* turn.c - one program at a time adds to readings.csv; what it was cut off from is completed. */
#include <errno.h>
#include <fcntl.h>
#include <inttypes.h>
#include <limits.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#include "base/open.h"
#include "flatwright/alloc.h"
#include "job/parts.h"
#include "job/turn.h"

#define SIDE_FILE ".readings.csv.adding"
#define HEAD_SIZE 80
#define HEAD_FORMAT "flatwright adds %ju bytes at %jd\n"
#define WAIT_MS 10000
#define STEP_MS 5

static fw_status cannot(fw_error *err, const char *what, const char *path, int why)
{
    return fw_fail(err, FW_SYSTEM, "cannot %s '%s': %s", what, path, strerror(why));
}

/* Writes all of it at an offset; 0, or the error. */
static int write_all(int fd, const char *bytes, size_t length, off_t at)
{
    while (length > 0) {
        ssize_t n = pwrite(fd, bytes, length, at);
        if (n < 0 && errno == EINTR)
            continue;
        if (n <= 0)
            return n < 0 ? errno : EIO;
        bytes += n;
        at += n;
        length -= (size_t)n;
    }
    return 0;
}

/* Reads what is there of `length` bytes at an offset; -1: errno tells. */
static ssize_t read_all(int fd, char *bytes, size_t length, off_t at)
{
    size_t got = 0;
    while (got < length) {
        ssize_t n = pread(fd, bytes + got, length - got, at + (off_t)got);
        if (n < 0 && errno == EINTR)
            continue;
        if (n < 0)
            return -1;
        if (n == 0)
            break;
        got += (size_t)n;
    }
    return (ssize_t)got;
}

/* A regular file, or said what else. */
static fw_status examine(int fd, const char *path, struct stat *place, fw_error *err)
{
    if (fstat(fd, place) != 0)
        return cannot(err, "examine", path, errno);
    return S_ISREG(place->st_mode) ? FW_OK
                                   : fw_fail(err, FW_INPUT, "'%s' is not a regular file", path);
}

/* readings.csv for writing: a regular file, symbolic links followed. */
static fw_status open_readings(const char *path, int *fd, struct stat *place, fw_error *err)
{
    *fd = open(path, O_RDWR | O_NONBLOCK | O_CLOEXEC | O_NOCTTY);
    if (*fd < 0)
        return cannot(err, "write", path, errno);
    fw_status status = examine(*fd, path, place, err);
    if (status != FW_OK) {
        close(*fd);
        *fd = -1;
    }
    return status;
}

/* Puts the bytes at the end, which is at `at`; on failure what was written is taken off again. */
static fw_status put_at_end(int fd, const char *path, const char *bytes, size_t length, off_t at,
                            fw_error *err)
{
    int why = write_all(fd, bytes, length, at);
    if (!why && fsync(fd) != 0)
        why = errno;
    if (!why)
        return FW_OK;
    if (ftruncate(fd, at) != 0 || fsync(fd) != 0)
        return fw_fail(err, FW_SYSTEM, "cannot write '%s': %s; a line may be half written", path,
                       strerror(why));
    return cannot(err, "write", path, why);
}

/* "flatwright adds LENGTH bytes at OFFSET" and a line end; false: something else. */
static bool read_head(const char *head, uintmax_t *length, intmax_t *at)
{
    static const char before[] = "flatwright adds ", between[] = " bytes at ";
    char *end;
    if (strncmp(head, before, sizeof before - 1) != 0)
        return false;
    *length = strtoumax(head + sizeof before - 1, &end, 10);
    if (strncmp(end, between, sizeof between - 1) != 0)
        return false;
    *at = strtoimax(end + sizeof between - 1, &end, 10);
    return *end == '\n' && *at >= 0;
}

/* What was about to be written to readings.csv, and where. */
typedef struct intention {
    char *bytes; /* NULL: nothing */
    size_t length;
    off_t at;
} intention;

/* What the side file holds. One that is not whole says nothing; one that cannot be read, an error. */
static fw_status read_intention(const fw_turn *turn, intention *it, fw_error *err)
{
    char head[HEAD_SIZE + 1];
    uintmax_t want;
    intmax_t place;
    struct stat side;
    ssize_t got = read_all(turn->fd, head, HEAD_SIZE, 0);
    if (got < 0 || fstat(turn->fd, &side) != 0)
        return cannot(err, "read", turn->path, errno);
    head[got] = '\0';
    const char *end = strchr(head, '\n');
    if (!end || !read_head(head, &want, &place))
        return FW_OK;
    off_t body = (off_t)(end - head) + 1;
    if (want == 0 || want > SIZE_MAX / 2 || side.st_size - body != (off_t)want)
        return FW_OK;
    *it = (intention){fw_alloc(want, 1), (size_t)want, (off_t)place};
    if (!it->bytes)
        return fw_out_of_memory(err);
    got = read_all(turn->fd, it->bytes, it->length, body);
    if (got == (ssize_t)it->length)
        return FW_OK;
    return cannot(err, "read", turn->path, got < 0 ? errno : EIO);
}

/* Writes the rest of what was begun: only where the file ends in a part of just those bytes. */
static fw_status write_rest(const char *readings, const intention *it, fw_error *err)
{
    int fd = -1;
    struct stat place;
    char *there = fw_alloc(it->length, 1);
    fw_status status = there ? open_readings(readings, &fd, &place, err) : fw_out_of_memory(err);
    if (status == FW_OK && place.st_size >= it->at &&
        place.st_size < it->at + (off_t)it->length) {
        size_t part = (size_t)(place.st_size - it->at);
        ssize_t got = read_all(fd, there, part, it->at);
        if (got < 0)
            status = cannot(err, "read", readings, errno);
        else if (got == (ssize_t)part && memcmp(there, it->bytes, part) == 0)
            status = put_at_end(fd, readings, it->bytes + part, it->length - part, place.st_size,
                                err);
    }
    if (fd >= 0)
        close(fd);
    fw_free(there);
    return status;
}

static fw_status complete(fw_turn *turn, const char *readings, fw_error *err)
{
    intention it = {NULL, 0, 0};
    fw_status status = read_intention(turn, &it, err);
    if (status == FW_OK && it.bytes)
        status = write_rest(readings, &it, err);
    fw_free(it.bytes);
    turn->owes = status != FW_OK && lseek(turn->fd, 0, SEEK_END) != 0; /* an empty one owes nothing */
    return status;
}

/* Locks the open side file; false with *why 0: another holds it. */
static bool lock(int fd, int *why)
{
    struct flock whole = {.l_type = F_WRLCK, .l_whence = SEEK_SET};
    *why = 0;
    while (fcntl(fd, F_SETLK, &whole) != 0) {
        if (errno == EINTR)
            continue;
        *why = errno == EACCES || errno == EAGAIN ? 0 : errno;
        return false;
    }
    return true;
}

/* The file that was locked still has the name: its last holder may have taken it away meanwhile. */
static bool still_there(int fd, const char *path)
{
    struct stat held, named;
    return fstat(fd, &held) == 0 && lstat(path, &named) == 0 && held.st_dev == named.st_dev &&
           held.st_ino == named.st_ino;
}

/* The side file, laid where there is none; -1: errno tells. */
static int open_side(const char *path, bool *laid)
{
    static const int how = O_RDWR | O_NOFOLLOW | O_NONBLOCK | O_CLOEXEC | O_NOCTTY;
    *laid = false;
    int fd = open(path, how);
    if (fd >= 0 || errno != ENOENT)
        return fd;
    fd = open(path, how | O_CREAT | O_EXCL, 0666);
    *laid = fd >= 0;
    return fd < 0 && errno == EEXIST ? open(path, how) : fd; /* laid by another meanwhile */
}

/* One try; *held false with FW_OK: not yet. A file that was laid for nothing is taken away. */
static fw_status try_lock(fw_turn *turn, bool *held, fw_error *err)
{
    struct stat side;
    bool laid;
    int why = 0;
    *held = false;
    int fd = open_side(turn->path, &laid);
    if (fd < 0 && errno == ENOENT)
        return FW_OK; /* there, and gone again: another has had its turn */
    if (fd < 0)
        return cannot(err, "write", turn->path, errno);
    fw_status status = examine(fd, turn->path, &side, err);
    if (status == FW_OK && lock(fd, &why) && still_there(fd, turn->path)) {
        turn->fd = fd;
        *held = true;
        return FW_OK;
    }
    if (status == FW_OK && why)
        status = cannot(err, "lock", turn->path, why);
    if (status != FW_OK && laid)
        unlink(turn->path);
    close(fd);
    return status;
}

fw_status fw_turn_begin(const char *folder, const char *readings, fw_turn *turn, fw_error *err)
{
    static const struct timespec step = {0, STEP_MS * 1000000L};
    *turn = (fw_turn){.path = fw_path_in(folder, SIDE_FILE), .fd = -1};
    if (!turn->path)
        return fw_out_of_memory(err);
    for (int waited = 0; waited < WAIT_MS; waited += STEP_MS) {
        bool held;
        fw_status status = try_lock(turn, &held, err);
        if (status != FW_OK)
            return status;
        if (held)
            return complete(turn, readings, err);
        nanosleep(&step, NULL);
    }
    return fw_fail(err, FW_SYSTEM, "another program is writing '%s' and does not end", readings);
}

void fw_turn_end(fw_turn *turn)
{
    if (turn->fd >= 0) {
        if (!turn->owes)
            unlink(turn->path); /* while it is locked: who waits sees that the name is gone */
        close(turn->fd);
    }
    fw_free(turn->path);
    *turn = (fw_turn){.fd = -1};
}

/* Keeps the intention, so that it lasts before readings.csv is touched. */
static fw_status keep_intention(const fw_turn *turn, const char *bytes, size_t length, off_t at,
                                fw_error *err)
{
    char head[HEAD_SIZE];
    int size = snprintf(head, sizeof head, HEAD_FORMAT, (uintmax_t)length, (intmax_t)at);
    int why = ftruncate(turn->fd, 0) == 0 ? 0 : errno; /* what a dead program left is completed */
    if (!why)
        why = write_all(turn->fd, head, (size_t)size, 0);
    if (!why)
        why = write_all(turn->fd, bytes, length, size);
    if (!why && fsync(turn->fd) != 0)
        why = errno;
    return why ? cannot(err, "write", turn->path, why) : FW_OK;
}

/* The bytes, with a line end before them where the file's last line has none. */
static char *after_line_end(int fd, off_t size, const char *bytes, size_t *length, const char *eol)
{
    char last = '\n';
    size_t before = 0;
    if (size > 0 && read_all(fd, &last, 1, size - 1) == 1 && last != '\n' && last != '\r')
        before = strlen(eol);
    char *all = fw_alloc(before + *length, 1);
    if (!all)
        return NULL;
    memcpy(all, eol, before);
    memcpy(all + before, bytes, *length);
    *length += before;
    return all;
}

fw_status fw_turn_append(fw_turn *turn, const char *readings, const char *bytes, size_t length,
                         const char *eol, fw_error *err)
{
    int fd = -1;
    struct stat place, now;
    char *all = NULL;
    fw_status status = open_readings(readings, &fd, &place, err);
    if (status != FW_OK)
        return status;
    all = after_line_end(fd, place.st_size, bytes, &length, eol);
    if (!all)
        status = fw_out_of_memory(err);
    if (status == FW_OK)
        status = keep_intention(turn, all, length, place.st_size, err);
    if (status == FW_OK)
        status = put_at_end(fd, readings, all, length, place.st_size, err);
    if (status != FW_OK && (fstat(fd, &now) != 0 || now.st_size != place.st_size))
        turn->owes = true; /* a part may stand in the file: whoever comes next completes it */
    close(fd);
    fw_free(all);
    return status;
}

bool fw_turn_is_pending(const char *folder)
{
    char *path = fw_path_in(folder, SIDE_FILE);
    struct stat side;
    bool pending = path && lstat(path, &side) == 0 && S_ISREG(side.st_mode) && side.st_size > 0;
    fw_free(path);
    return pending;
}
