/* memory.c - preloaded into the program: requests for memory are refused, whoever asks. */

/*
 * Requests are counted from main on, whoever makes them: the program, LAPACK, GSL, libcsv, the C
 * library. Preloading reaches them all, under the address sanitizer too, whose own malloc comes
 * behind this one. Two ways of use, by environment variables:
 *
 *   FAULT_WALK=FOLDER  at each request the process forks. The child is refused it (then in a second
 *                      child: it and all that follow) and runs on to its end; FOLDER/log gets a
 *                      line 'request all|one ending stdout message', the parent has its memory and
 *                      goes on. So all ends are seen in little more than one run. stdout must be
 *                      a file open for reading too. FOLDER/want: what stdout is without fault.
 *   FAULT_AT=N         request N is refused, FAULT_ALL=1: and all that follow. For commands that
 *                      write files, which must not be written twice by one story.
 *   FAULT_SLOW=N       every request takes N microseconds: a program at work on something large.
 *   FAULT_LIST=FILE    the numbers of those that are to be refused are written there.
 *
 * Those are: all up to FAULT_DENSE (default 2000); the first of each chain of DEPTH callers, unless
 * the file FAULT_SEEN, to which it is added, has it from another run; and each FAULT_STRIDE-th.
 */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "../support/chains.h"

#define DEPTH 3
#define SECONDS_FOR_A_CHILD 60

static void *(*next_malloc)(size_t);
static void *(*next_calloc)(size_t, size_t);
static void *(*next_realloc)(void *, size_t);
static void (*next_free)(void *);
static int (*next_posix_memalign)(void **, size_t, size_t);
static void *(*next_aligned_alloc)(size_t, size_t);
static void *(*next_mmap)(void *, size_t, int, int, int, off_t);

static bool counting;
static long requests, refused_at, dense = 2000, stride = 1, slow_us;
static bool refuse_all;
static const char *walk;
static int log_fd = -1, list_fd = -1, seen_fd = -1;

/* What the dynamic loader asks for while the next malloc is being looked up. */
static char early[65536];
static size_t early_used;

static void *take_early(size_t size)
{
    size_t at = (early_used + 15) & ~(size_t)15;
    if (at + size > sizeof early)
        return NULL;
    early_used = at + size;
    return early + at;
}

static bool is_early(const void *memory)
{
    const char *at = memory;
    return at >= early && at < early + sizeof early;
}

static void find_next(void)
{
    static bool looking;
    if (next_free || looking)
        return;
    looking = true;
    *(void **)&next_malloc = dlsym(RTLD_NEXT, "malloc");
    *(void **)&next_calloc = dlsym(RTLD_NEXT, "calloc");
    *(void **)&next_realloc = dlsym(RTLD_NEXT, "realloc");
    *(void **)&next_posix_memalign = dlsym(RTLD_NEXT, "posix_memalign");
    *(void **)&next_aligned_alloc = dlsym(RTLD_NEXT, "aligned_alloc");
    *(void **)&next_mmap = dlsym(RTLD_NEXT, "mmap");
    *(void **)&next_free = dlsym(RTLD_NEXT, "free");
    looking = false;
}

/* The child's stdout becomes a file of its own, that begins with what was printed already. */
static void own_streams(void)
{
    char path[1000], piece[4096];
    snprintf(path, sizeof path, "%s/out", walk);
    int out = open(path, O_RDWR | O_CREAT | O_TRUNC, 0666);
    snprintf(path, sizeof path, "%s/err", walk);
    int err = open(path, O_RDWR | O_CREAT | O_TRUNC, 0666);
    off_t at = 0;
    for (ssize_t n; (n = pread(STDOUT_FILENO, piece, sizeof piece, at)) > 0; at += n)
        if (write(out, piece, (size_t)n) != n)
            _exit(99);
    if (out < 0 || err < 0 || dup2(out, STDOUT_FILENO) < 0 || dup2(err, STDERR_FILENO) < 0)
        _exit(99);
    close(out);
    close(err);
}

/* Whether the files FOLDER/a and FOLDER/b hold the same. */
static bool same(const char *a, const char *b)
{
    char path[1000], p[4096], q[4096];
    snprintf(path, sizeof path, "%s/%s", walk, a);
    int x = open(path, O_RDONLY);
    snprintf(path, sizeof path, "%s/%s", walk, b);
    int y = open(path, O_RDONLY);
    ssize_t n = 0;
    bool equal = x >= 0 && y >= 0;
    do {
        n = read(x, p, sizeof p);
        ssize_t m = read(y, q, sizeof q);
        equal = equal && n == m && n >= 0 && memcmp(p, q, (size_t)n) == 0;
    } while (equal && n > 0);
    close(x);
    close(y);
    return equal;
}

static void put_log(int status)
{
    char path[1000], text[400] = "", line[600];
    snprintf(path, sizeof path, "%s/err", walk);
    int err = open(path, O_RDONLY);
    ssize_t n = err < 0 ? 0 : read(err, text, sizeof text - 1);
    text[n > 0 ? n : 0] = '\0';
    for (char *c = text; *c; c++) /* one line: a second one shows as a bar */
        if (*c == '\n')
            *c = c[1] ? '|' : ' ';
    close(err);
    int length = snprintf(line, sizeof line, "%ld %s %s%d %s %s\n", requests,
                          refuse_all ? "all" : "one", WIFEXITED(status) ? "exit" : "signal",
                          WIFEXITED(status) ? WEXITSTATUS(status) : WTERMSIG(status),
                          same("out", "want") ? "complete" : "partly", text);
    if (write(log_fd, line, (size_t)length) != length)
        _exit(99);
}

/* True in the child, which is refused. */
static bool fork_refused(bool all)
{
    int status = 0, why = errno;
    refuse_all = all;
    pid_t child = _Fork();
    if (child < 0)
        _exit(98);
    if (child == 0) {
        walk = NULL;
        return true;
    }
    while (waitpid(child, &status, 0) < 0 && errno == EINTR)
        ;
    put_log(status);
    errno = why;
    return false;
}

static void put_request(void)
{
    char text[32];
    int length = snprintf(text, sizeof text, "%ld\n", requests);
    if (write(list_fd, text, (size_t)length) != length)
        _exit(99);
}

/* To the end, whatever signals come. */
static void take_time(void)
{
    struct timespec rest = {slow_us / 1000000, slow_us % 1000000 * 1000};
    int why = errno;
    while (nanosleep(&rest, &rest) != 0 && errno == EINTR)
        ;
    errno = why;
}

/* Called by those that stand before the library's own calls. */
__attribute__((noinline)) static bool is_refused(bool may_be_all)
{
    if (!counting)
        return false;
    requests++;
    if (slow_us > 0)
        take_time();
    bool no = false, chosen = false;
    if (walk || list_fd >= 0) {
        counting = false;
        chosen = chains_met(2, seen_fd) == 0 || requests < dense || requests % stride == 0;
        counting = true;
    }
    if (chosen && list_fd >= 0)
        put_request();
    if (chosen && walk) {
        counting = false;
        const char *folder = walk;
        for (int all = 0; all <= (may_be_all ? 1 : 0) && !no; all++)
            no = fork_refused(all);
        if (no) {
            walk = folder;
            own_streams();
            walk = NULL;
            alarm(SECONDS_FOR_A_CHILD);
            refused_at = requests;
        }
        counting = true;
    }
    no = refused_at > 0 && (requests == refused_at ? may_be_all || !refuse_all
                                                   : refuse_all && requests > refused_at);
    if (no)
        errno = ENOMEM;
    return no;
}

void *malloc(size_t size)
{
    find_next();
    if (is_refused(true))
        return NULL;
    return next_free ? next_malloc(size) : take_early(size);
}

void *calloc(size_t count, size_t size)
{
    find_next();
    if (is_refused(true))
        return NULL;
    return next_free ? next_calloc(count, size) : take_early(count * size);
}

void *realloc(void *old, size_t size)
{
    find_next();
    if (is_refused(true))
        return NULL;
    if (!is_early(old))
        return next_realloc(old, size);
    void *memory = next_malloc(size);
    return memory ? memcpy(memory, old, size) : NULL; /* more than it held, but of `early` still */
}

void *reallocarray(void *old, size_t count, size_t size)
{
    return realloc(old, count * size);
}

int posix_memalign(void **memory, size_t alignment, size_t size)
{
    find_next();
    return is_refused(true) ? ENOMEM : next_posix_memalign(memory, alignment, size);
}

void *aligned_alloc(size_t alignment, size_t size)
{
    find_next();
    return is_refused(true) ? NULL : next_aligned_alloc(alignment, size);
}

/*
 * Whole pages: the buffers of OpenBLAS. The C library's own mmap does not come this way. Refused
 * one by one only: OpenBLAS asks again without end. fw_linalg_ready sees to it that there is room
 * just before, which is as near as one can get.
 */
void *mmap(void *at, size_t size, int protection, int flags, int fd, off_t offset)
{
    find_next();
    if ((flags & MAP_ANONYMOUS) && is_refused(false))
        return MAP_FAILED;
    return next_mmap(at, size, protection, flags, fd, offset);
}

void free(void *memory)
{
    find_next();
    if (memory && !is_early(memory))
        next_free(memory);
}

static int (*program)(int, char **, char **);

static int counted_main(int argc, char **argv, char **environment)
{
    char path[1000];
    const char *at = getenv("FAULT_AT"), *thin = getenv("FAULT_STRIDE");
    const char *first = getenv("FAULT_DENSE");
    const char *slow = getenv("FAULT_SLOW");
    walk = getenv("FAULT_WALK");
    slow_us = slow ? strtol(slow, NULL, 10) : 0;
    refused_at = at ? strtol(at, NULL, 10) : 0;
    refuse_all = getenv("FAULT_ALL") != NULL;
    stride = thin ? strtol(thin, NULL, 10) : 1;
    dense = first ? strtol(first, NULL, 10) : dense;
    if (walk) {
        snprintf(path, sizeof path, "%s/log", walk);
        log_fd = open(path, O_WRONLY | O_CREAT | O_TRUNC | O_APPEND | O_CLOEXEC, 0666);
    }
    const char *list = getenv("FAULT_LIST"), *seen = getenv("FAULT_SEEN");
    if (list)
        list_fd = open(list, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0666);
    chains_forget(DEPTH);
    if (seen && (walk || list)) {
        seen_fd = open(seen, O_RDWR | O_CREAT | O_APPEND | O_CLOEXEC, 0666);
        chains_seen(seen_fd);
    }
    counting = true;
    return program(argc, argv, environment);
}

/* Stands before main. */
typedef int starter(int (*)(int, char **, char **), int, char **, void (*)(void), void (*)(void),
                    void (*)(void), void *);

int __libc_start_main(int (*main)(int, char **, char **), int argc, char **argv,
                      void (*init)(void), void (*fini)(void), void (*rtld_fini)(void), void *stack);

int __libc_start_main(int (*main)(int, char **, char **), int argc, char **argv,
                      void (*init)(void), void (*fini)(void), void (*rtld_fini)(void), void *stack)
{
    starter *start;
    *(void **)&start = dlsym(RTLD_NEXT, "__libc_start_main");
    find_next();
    program = main;
    return start(counted_main, argc, argv, init, fini, rtld_fini, stack);
}
