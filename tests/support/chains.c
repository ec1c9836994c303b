/* chains.c - who asks: chains of callers told apart, and counted. */
#define _GNU_SOURCE /* dl_iterate_phdr */
#include "chains.h"

#include <assert.h>
#include <execinfo.h>
#include <link.h>
#include <stdint.h>
#include <string.h>
#include <unistd.h>

#define CHAINS 65536 /* at most */
#define BELOW 8
#define MODULES 64

static struct {
    uint64_t key; /* 0: free */
    int count;
} chains[CHAINS];

static int callers;

/* Where the program and its libraries lie, which is elsewhere in every run. */
static struct {
    uintptr_t start, end;
} modules[MODULES];
static int nmodules;

static int note_module(struct dl_phdr_info *info, size_t size, void *unused)
{
    (void)size;
    (void)unused;
    for (int i = 0; i < info->dlpi_phnum && nmodules < MODULES; i++)
        if (info->dlpi_phdr[i].p_type == PT_LOAD && (info->dlpi_phdr[i].p_flags & PF_X)) {
            modules[nmodules].start = info->dlpi_addr + info->dlpi_phdr[i].p_vaddr;
            modules[nmodules].end = modules[nmodules].start + info->dlpi_phdr[i].p_memsz;
            nmodules++;
        }
    return 0;
}

/* The same in every run. */
static uint64_t place(const void *address)
{
    uintptr_t at = (uintptr_t)address;
    for (int i = 0; i < nmodules; i++)
        if (at >= modules[i].start && at < modules[i].end)
            return ((uint64_t)i << 40) + (at - modules[i].start);
    return at;
}

void chains_forget(int depth)
{
    callers = depth;
    void *frame;
    backtrace(&frame, 1); /* loads what it needs the first time */
    nmodules = 0;
    dl_iterate_phdr(note_module, NULL);
    memset(chains, 0, sizeof chains);
}

/* Where the chain of that key is counted. */
static size_t find(uint64_t key)
{
    size_t at = key % CHAINS;
    for (int tries = 0; chains[at].key != 0 && chains[at].key != key; tries++) {
        assert(tries < CHAINS);
        at = (at + 1) % CHAINS;
    }
    chains[at].key = key;
    return at;
}

/*
 * FNV-1a of the return addresses. chains_met has been inlined nowhere: its own is the second, or the
 * third where a sanitizer stands before backtrace.
 */
__attribute__((noinline)) int chains_met(int below, int seen)
{
    void *frames[BELOW + CHAINS_DEEPEST + 1];
    uint64_t key = 14695981039346656037U;
    int n = backtrace(frames, below + callers + 1), own = 1;
    while (own < 3 && own < n && frames[own] != __builtin_return_address(0))
        own++;
    for (int i = own - 1 + below; i < n && i < own - 1 + below + callers; i++)
        key = (key ^ place(frames[i])) * 1099511628211U;
    key = key ? key : 1;
    size_t at = find(key);
    if (seen >= 0 && chains[at].count == 0 && write(seen, &key, sizeof key) != sizeof key)
        return -1;
    return chains[at].count++;
}

void chains_seen(int fd)
{
    uint64_t key;
    while (read(fd, &key, sizeof key) == sizeof key)
        chains[find(key)].count++;
}
