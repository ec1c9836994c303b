/* chains.c - who asks: chains of callers told apart, and counted. */
#include "chains.h"

#include <execinfo.h>
#include <stdint.h>
#include <string.h>

#include "close.h"

#define CHAINS 65536 /* at most */
#define BELOW 8

static struct {
    uint64_t key; /* 0: free */
    int count;
} chains[CHAINS];

static int callers;

void chains_forget(int depth)
{
    callers = depth;
    void *frame;
    backtrace(&frame, 1); /* loads what it needs the first time */
    memset(chains, 0, sizeof chains);
}

/* FNV-1a of the return addresses; chains_met has been inlined nowhere, so it is the first. */
__attribute__((noinline)) int chains_met(int below)
{
    void *frames[BELOW + CHAINS_DEEPEST];
    uint64_t key = 14695981039346656037U;
    int n = backtrace(frames, below + callers);
    for (int i = below; i < n; i++)
        key = (key ^ (uint64_t)(uintptr_t)frames[i]) * 1099511628211U;
    key = key ? key : 1;
    size_t at = key % CHAINS;
    for (int tries = 0; chains[at].key != 0 && chains[at].key != key; tries++) {
        assert_true(tries < CHAINS);
        at = (at + 1) % CHAINS;
    }
    chains[at].key = key;
    return chains[at].count++;
}
