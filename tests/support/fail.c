/* fail.c - every call about files that a library call makes fails, in each of its ways. */

/* The linker puts these in front of the C library's own (--wrap). */
#define _XOPEN_SOURCE 700 /* realpath */
#include "fail.h"

#include <errno.h>
#include <fcntl.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#include "chains.h"
#include "close.h"

#define CALLS 4096       /* listed of one run, at most */
#define OF_A_CHAIN 2     /* calls by one chain of callers that fail */
#define DESCRIPTORS 256  /* looked at */
#define HALF (-1)        /* half of the bytes */
#define NOTHING (-2)     /* none of them, and no error */

typedef enum kind { OPEN, READ, WRITE, SYNC, CLOSE, LOOK, CHANGE, LOCK, PLACE } kind;

/* The errors of each kind, up to 0. */
static const int faults[][5] = {
    [OPEN] = {EACCES, EMFILE, EEXIST},
    [READ] = {EIO, EINTR, HALF},
    [WRITE] = {ENOSPC, EINTR, HALF, NOTHING},
    [SYNC] = {EIO},
    [CLOSE] = {EIO},
    [LOOK] = {EACCES},
    [CHANGE] = {EIO},
    [LOCK] = {EINTR, EAGAIN, ENOLCK},
    [PLACE] = {EACCES, EEXIST},
};

static enum { AT_REST, LISTING, FAILING } doing;
static int calls, fails_at = -1, fault_now;
static kind kind_now;
static enum { ALONE, ITS_KIND, ALL } that_follow;
static bool met;
static struct {
    int call;
    kind what;
} listed[CALLS];
static int nlisted;

/*
 * Called by a __wrap_... only. What this call has to do instead; 0: what it always does. Where that is an error,
 * errno says so.
 */
static __attribute__((noinline)) int fault_of(kind what)
{
    if (doing == AT_REST)
        return 0;
    if (doing == LISTING) {
        if (chains_met(2, -1) < OF_A_CHAIN) {
            assert_true(nlisted < CALLS);
            listed[nlisted].call = calls;
            listed[nlisted++].what = what;
        }
        calls++;
        return 0;
    }
    int n = calls++;
    bool fails = n == fails_at || (n > fails_at && (that_follow == ALL || (that_follow == ITS_KIND &&
                                                                          what == kind_now)));
    int fault = !fails ? 0 : that_follow == ALL ? EIO : fault_now;
    met = met || fails;
    if (fault > 0)
        errno = fault;
    return fault;
}

int __real_open(const char *path, int flags, ...);
int __wrap_open(const char *path, int flags, ...);
int __wrap_open(const char *path, int flags, ...)
{
    va_list rest;
    va_start(rest, flags);
    mode_t mode = (flags & O_CREAT) ? va_arg(rest, mode_t) : 0;
    va_end(rest);
    return fault_of(OPEN) ? -1 : __real_open(path, flags, mode);
}

int __real_openat(int dir, const char *path, int flags, ...);
int __wrap_openat(int dir, const char *path, int flags, ...);
int __wrap_openat(int dir, const char *path, int flags, ...)
{
    va_list rest;
    va_start(rest, flags);
    mode_t mode = (flags & O_CREAT) ? va_arg(rest, mode_t) : 0;
    va_end(rest);
    return fault_of(OPEN) ? -1 : __real_openat(dir, path, flags, mode);
}

FILE *__real_fopen(const char *path, const char *mode);
FILE *__wrap_fopen(const char *path, const char *mode);
FILE *__wrap_fopen(const char *path, const char *mode)
{
    return fault_of(OPEN) ? NULL : __real_fopen(path, mode);
}

FILE *__real_fdopen(int fd, const char *mode);
FILE *__wrap_fdopen(int fd, const char *mode);
FILE *__wrap_fdopen(int fd, const char *mode)
{
    return fault_of(OPEN) ? NULL : __real_fdopen(fd, mode);
}

/* `size` bytes are asked for: how many are to be had. */
static ssize_t share(int fault, size_t size)
{
    return fault == NOTHING ? 0 : fault > 0 ? -1 : (ssize_t)(fault == HALF ? (size + 1) / 2 : size);
}

ssize_t __real_read(int fd, void *bytes, size_t size);
ssize_t __wrap_read(int fd, void *bytes, size_t size);
ssize_t __wrap_read(int fd, void *bytes, size_t size)
{
    ssize_t n = share(fault_of(READ), size);
    return n > 0 ? __real_read(fd, bytes, (size_t)n) : n;
}

ssize_t __real_pread(int fd, void *bytes, size_t size, off_t at);
ssize_t __wrap_pread(int fd, void *bytes, size_t size, off_t at);
ssize_t __wrap_pread(int fd, void *bytes, size_t size, off_t at)
{
    ssize_t n = share(fault_of(READ), size);
    return n > 0 ? __real_pread(fd, bytes, (size_t)n, at) : n;
}

ssize_t __real_pwrite(int fd, const void *bytes, size_t size, off_t at);
ssize_t __wrap_pwrite(int fd, const void *bytes, size_t size, off_t at);
ssize_t __wrap_pwrite(int fd, const void *bytes, size_t size, off_t at)
{
    ssize_t n = share(fault_of(WRITE), size);
    return n > 0 ? __real_pwrite(fd, bytes, (size_t)n, at) : n;
}

/* Nothing here has to outlast the machine, and the device is slow. */
int __wrap_fsync(int fd);
int __wrap_fsync(int fd)
{
    (void)fd;
    return fault_of(SYNC) ? -1 : 0;
}

int __real_fflush(FILE *out);
int __wrap_fflush(FILE *out);
int __wrap_fflush(FILE *out)
{
    return fault_of(SYNC) ? EOF : __real_fflush(out);
}

/* Closed is closed, whatever was said. */
int __real_fclose(FILE *file);
int __wrap_fclose(FILE *file);
int __wrap_fclose(FILE *file)
{
    int result = __real_fclose(file);
    return fault_of(CLOSE) ? EOF : result;
}

int __real_close(int fd);
int __wrap_close(int fd);
int __wrap_close(int fd)
{
    int result = __real_close(fd);
    return fault_of(CLOSE) ? -1 : result;
}

int __real_stat(const char *path, struct stat *place);
int __wrap_stat(const char *path, struct stat *place);
int __wrap_stat(const char *path, struct stat *place)
{
    return fault_of(LOOK) ? -1 : __real_stat(path, place);
}

int __real_lstat(const char *path, struct stat *place);
int __wrap_lstat(const char *path, struct stat *place);
int __wrap_lstat(const char *path, struct stat *place)
{
    return fault_of(LOOK) ? -1 : __real_lstat(path, place);
}

int __real_fstat(int fd, struct stat *place);
int __wrap_fstat(int fd, struct stat *place);
int __wrap_fstat(int fd, struct stat *place)
{
    return fault_of(LOOK) ? -1 : __real_fstat(fd, place);
}

int __real_fstatat(int dir, const char *path, struct stat *place, int flags);
int __wrap_fstatat(int dir, const char *path, struct stat *place, int flags);
int __wrap_fstatat(int dir, const char *path, struct stat *place, int flags)
{
    return fault_of(LOOK) ? -1 : __real_fstatat(dir, path, place, flags);
}

int __real_access(const char *path, int how);
int __wrap_access(const char *path, int how);
int __wrap_access(const char *path, int how)
{
    return fault_of(LOOK) ? -1 : __real_access(path, how);
}

char *__real_realpath(const char *path, char *real);
char *__wrap_realpath(const char *path, char *real);
char *__wrap_realpath(const char *path, char *real)
{
    return fault_of(LOOK) ? NULL : __real_realpath(path, real);
}

int __real_ftruncate(int fd, off_t size);
int __wrap_ftruncate(int fd, off_t size);
int __wrap_ftruncate(int fd, off_t size)
{
    return fault_of(CHANGE) ? -1 : __real_ftruncate(fd, size);
}

int __real_fchmod(int fd, mode_t mode);
int __wrap_fchmod(int fd, mode_t mode);
int __wrap_fchmod(int fd, mode_t mode)
{
    return fault_of(CHANGE) ? -1 : __real_fchmod(fd, mode);
}

/* Locks only; they go with their file. */
int __real_fcntl(int fd, int what, ...);
int __wrap_fcntl(int fd, int what, ...);
int __wrap_fcntl(int fd, int what, ...)
{
    va_list rest;
    va_start(rest, what);
    struct flock *lock = va_arg(rest, struct flock *);
    va_end(rest);
    return fault_of(LOCK) ? -1 : __real_fcntl(fd, what, lock);
}

int __real_rename(const char *from, const char *to);
int __wrap_rename(const char *from, const char *to);
int __wrap_rename(const char *from, const char *to)
{
    return fault_of(PLACE) ? -1 : __real_rename(from, to);
}

int __real_renameat(int from_dir, const char *from, int to_dir, const char *to);
int __wrap_renameat(int from_dir, const char *from, int to_dir, const char *to);
int __wrap_renameat(int from_dir, const char *from, int to_dir, const char *to)
{
    return fault_of(PLACE) ? -1 : __real_renameat(from_dir, from, to_dir, to);
}

int __real_mkdir(const char *path, mode_t mode);
int __wrap_mkdir(const char *path, mode_t mode);
int __wrap_mkdir(const char *path, mode_t mode)
{
    return fault_of(PLACE) ? -1 : __real_mkdir(path, mode);
}

int __real_linkat(int from_dir, const char *from, int to_dir, const char *to, int flags);
int __wrap_linkat(int from_dir, const char *from, int to_dir, const char *to, int flags);
int __wrap_linkat(int from_dir, const char *from, int to_dir, const char *to, int flags)
{
    return fault_of(PLACE) ? -1 : __real_linkat(from_dir, from, to_dir, to, flags);
}

/* Nobody waits for what does not come. */
int __real_nanosleep(const struct timespec *time, struct timespec *left);
int __wrap_nanosleep(const struct timespec *time, struct timespec *left);
int __wrap_nanosleep(const struct timespec *time, struct timespec *left)
{
    return doing == FAILING ? 0 : __real_nanosleep(time, left);
}

static int open_files(void)
{
    int n = 0;
    for (int fd = 0; fd < DESCRIPTORS; fd++)
        n += __real_fcntl(fd, F_GETFD) != -1;
    return n;
}

static fw_status make(fail_call *call, void *data, int how, fw_error *err)
{
    int before = open_files();
    calls = 0;
    met = false;
    doing = how;
    fw_status status = call(data, err);
    doing = AT_REST;
    assert_int_equal(open_files(), before);
    return status;
}

void fail_rest(void)
{
    doing = AT_REST;
}

bool fail_goes_on(void)
{
    return fails_at >= 0 && that_follow != ALONE;
}

static void check_fault(fail_call *call, void *data, fw_status at_last)
{
    fw_error err = {FW_OK, ""};
    fw_status status = make(call, data, FAILING, &err);
    assert_true(met);
    if (status == FW_INPUT && fault_now == EEXIST && err.text[0])
        return; /* something stands in the way: that is for the user */
    if (status != at_last && (status != FW_SYSTEM || err.status != status || !err.text[0]))
        fail_msg("call %d of kind %d fails by %d, %d: status %d, error %d '%s'", fails_at, kind_now,
                 fault_now, that_follow, status, err.status, err.text);
}

int fail_each(fail_call *call, void *data, fw_status at_last)
{
    fw_error err = {FW_OK, ""};
    fails_at = -1;
    nlisted = 0;
    chains_forget(CHAINS_DEEPEST / 2);
    assert_int_equal(make(call, data, LISTING, &err), at_last);
    int put_in = 0;
    for (int i = 0; i < nlisted; i++) {
        fails_at = listed[i].call;
        kind_now = listed[i].what;
        for (const int *fault = faults[kind_now]; *fault; fault++)
            for (that_follow = ALONE; that_follow <= ITS_KIND; that_follow++) {
                if (*fault == EINTR && that_follow == ITS_KIND)
                    continue; /* a signal for ever */
                fault_now = *fault;
                check_fault(call, data, at_last);
                put_in++;
            }
        that_follow = ALL;
        check_fault(call, data, at_last);
        put_in++;
    }
    fails_at = -1;
    return put_in;
}
