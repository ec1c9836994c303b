/* files.c - runs a program and makes its n-th call to the system about files fail. */

/*
 *   files list PROGRAM ...      a line 'N FAULT CALL' for every fault that can be put in
 *   files N FAULT PROGRAM ...   that run; its exit status, 100 + signal where one ended it
 *
 * The program is traced, so that calls made by the C library's streams count as well. Counted are
 * calls from main on, which begins with opening /dev/null. FAULT is the name of an error, put in
 * place of the call; `short`: half the bytes are read or written; NAME+: the call and all later ones
 * of its kind fail, as on a full disk. Standard error is spared. After the fault the program is let
 * go, so that a leak checker of its own can work, but not after NAME+.
 */
#define _GNU_SOURCE
#include <errno.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ptrace.h>
#include <sys/syscall.h>
#include <sys/types.h>
#include <sys/user.h>
#include <sys/wait.h>
#include <unistd.h>

#ifndef __x86_64__
int main(void)
{
    fputs("files: knows the calls of x86-64 only\n", stderr);
    return 77;
}
#else

typedef struct call {
    long number;
    const char *name, *faults;
} call;

/* What can go wrong with each call. */
static const call calls[] = {
    {SYS_openat, "open", "EACCES EMFILE EINTR EIO"},
    {SYS_open, "open", "EACCES EMFILE EINTR EIO"},
    {SYS_creat, "open", "EACCES ENOSPC"},
    {SYS_read, "read", "EIO EINTR short EIO+"},
    {SYS_pread64, "read", "EIO EINTR short"},
    {SYS_write, "write", "ENOSPC EIO EINTR short ENOSPC+"},
    {SYS_writev, "write", "ENOSPC EIO EINTR ENOSPC+"},
    {SYS_pwrite64, "write", "ENOSPC EIO EINTR short ENOSPC+"},
    {SYS_fsync, "fsync", "EIO ENOSPC EINTR EIO+"},
    {SYS_fdatasync, "fsync", "EIO ENOSPC EIO+"},
    {SYS_close, "close", "EIO EINTR EIO+"},
    {SYS_rename, "rename", "EACCES ENOSPC EIO EIO+"},
    {SYS_renameat, "rename", "EACCES ENOSPC EIO EIO+"},
    {SYS_renameat2, "rename", "EACCES ENOSPC EIO EIO+"},
    {SYS_link, "link", "EACCES ENOSPC EPERM EIO+"},
    {SYS_linkat, "link", "EACCES ENOSPC EPERM EIO+"},
    {SYS_unlink, "unlink", "EACCES EIO"},
    {SYS_unlinkat, "unlink", "EACCES EIO"},
    {SYS_mkdir, "mkdir", "EACCES ENOSPC"},
    {SYS_mkdirat, "mkdir", "EACCES ENOSPC"},
    {SYS_fstat, "stat", "EIO"},
    {SYS_stat, "stat", "EACCES EIO"},
    {SYS_lstat, "stat", "EACCES EIO"},
    {SYS_newfstatat, "stat", "EACCES EIO"},
    {SYS_ftruncate, "truncate", "EIO EINTR"},
    {SYS_fchmod, "chmod", "EPERM EIO"},
    {SYS_lseek, "seek", "EIO"},
    {SYS_flock, "lock", "EINTR ENOLCK"},
    {SYS_fcntl, "lock", "EINTR ENOLCK"},
    {SYS_getdents64, "list", "EIO"},
};

static const struct {
    const char *name;
    int number;
} errors[] = {{"EACCES", EACCES}, {"EMFILE", EMFILE}, {"EINTR", EINTR}, {"EIO", EIO},
              {"ENOSPC", ENOSPC}, {"EPERM", EPERM},   {"ENOLCK", ENOLCK}};

static void stop(const char *what)
{
    perror(what);
    exit(99);
}

static const call *find_call(const struct user_regs_struct *regs)
{
    for (size_t i = 0; i < sizeof calls / sizeof *calls; i++)
        if ((long)regs->orig_rax == calls[i].number)
            return strcmp(calls[i].name, "write") == 0 && regs->rdi == STDERR_FILENO ? NULL
                                                                                     : &calls[i];
    return NULL;
}

/* Whether the path that is opened is the one that main begins with. */
static bool is_start(pid_t child, const struct user_regs_struct *regs)
{
    static const char wanted[] = "/dev/null"; /* 8 bytes and 2 */
    errno = 0;
    if (regs->orig_rax != SYS_openat)
        return false;
    long word = ptrace(PTRACE_PEEKDATA, child, (void *)regs->rsi, NULL);
    return errno == 0 && memcmp(&word, wanted, sizeof word) == 0;
}

static void list(long n, const call *c)
{
    for (const char *word = c->faults; *word;) {
        int length = (int)strcspn(word, " ");
        printf("%ld %.*s %s\n", n, length, word, c->name);
        word += length + (word[length] == ' ');
    }
}

static int error_of(const char *fault)
{
    size_t length = strcspn(fault, "+");
    for (size_t i = 0; i < sizeof errors / sizeof *errors; i++)
        if (strlen(errors[i].name) == length && strncmp(fault, errors[i].name, length) == 0)
            return errors[i].number;
    return 0;
}

/* Lets the child go on to its next entry into, or return from, a call; false: it has ended. */
static bool go_on(pid_t child, int *status)
{
    static int signal;
    for (;;) {
        if (ptrace(PTRACE_SYSCALL, child, NULL, (void *)(long)signal) < 0 && errno != ESRCH)
            stop("ptrace");
        if (waitpid(child, status, 0) < 0)
            stop("waitpid");
        if (!WIFSTOPPED(*status))
            return false;
        signal = WSTOPSIG(*status);
        if (signal == (SIGTRAP | 0x80)) {
            signal = 0;
            return true;
        }
        if (signal == SIGTRAP) /* after exec */
            signal = 0;
    }
}

/* The child stands at the entry of the call; it leaves it without having made it. */
static bool put_in(pid_t child, struct user_regs_struct regs, const char *fault, int *status)
{
    int error = error_of(fault);
    if (!error) {
        regs.rdx = (regs.rdx + 1) / 2;
        return ptrace(PTRACE_SETREGS, child, NULL, &regs) == 0;
    }
    regs.orig_rax = (unsigned long long)-1;
    if (ptrace(PTRACE_SETREGS, child, NULL, &regs) < 0 || !go_on(child, status))
        return false;
    regs.rax = (unsigned long long)-error;
    return ptrace(PTRACE_SETREGS, child, NULL, &regs) == 0;
}

/* Follows the child to its end; fault NULL: lists. Returns the status of waitpid. */
static int follow(pid_t child, long at, const char *fault)
{
    int status = 0;
    long n = 0;
    bool started = false, entering = true;
    const char *kind = NULL; /* the calls that go on failing */
    for (; go_on(child, &status); entering = !entering) {
        struct user_regs_struct regs;
        if (!entering || ptrace(PTRACE_GETREGS, child, NULL, &regs) < 0)
            continue;
        const call *c = find_call(&regs);
        started = started || is_start(child, &regs);
        if (!c || !started)
            continue;
        n++;
        if (!fault)
            list(n, c);
        else if (n == at || (kind && strcmp(kind, c->name) == 0)) {
            if (!put_in(child, regs, fault, &status))
                stop("put_in");
            entering = !error_of(fault); /* both halves of the call are behind, or one */
            if (strchr(fault, '+'))
                kind = c->name;
            else {
                ptrace(PTRACE_DETACH, child, NULL, NULL);
                waitpid(child, &status, 0);
                break;
            }
        }
    }
    return status;
}

int main(int argc, char **argv)
{
    bool listing = argc > 2 && strcmp(argv[1], "list") == 0;
    char **program = argv + (listing ? 2 : 3);
    if (argc < (listing ? 3 : 4))
        return 99;
    pid_t child = fork();
    if (child < 0)
        stop("fork");
    if (child == 0) {
        int quiet = listing ? STDERR_FILENO : STDOUT_FILENO;
        if (listing || strchr(argv[2], '+'))
            setenv("ASAN_OPTIONS", "detect_leaks=0", 1);
        if (ptrace(PTRACE_TRACEME, 0, NULL, NULL) < 0 || dup2(quiet, STDOUT_FILENO) < 0)
            _exit(99);
        execv(program[0], program);
        _exit(99);
    }
    int status = 0;
    if (waitpid(child, &status, 0) < 0 || !WIFSTOPPED(status) ||
        ptrace(PTRACE_SETOPTIONS, child, NULL, (void *)(PTRACE_O_TRACESYSGOOD |
                                                        PTRACE_O_EXITKILL)) < 0)
        stop("trace");
    status = follow(child, listing ? 0 : strtol(argv[1], NULL, 10), listing ? NULL : argv[2]);
    return WIFSIGNALED(status) ? 100 + WTERMSIG(status) : WEXITSTATUS(status);
}
#endif
