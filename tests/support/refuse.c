/* refuse.c - every request for memory that a call makes is refused, one run each. */

/* The linker puts these in front of the library's own (--wrap). */
#include "refuse.h"

#include <execinfo.h>
#include <gsl/gsl_rng.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "close.h"
#include "flatwright/alloc.h"

#define CHAINS 65536 /* different chains of callers, at most */
#define OURS 4       /* return addresses in here: chain_key to __wrap_... */
#define CALLERS 3    /* return addresses above them that make a chain */
#define OF_A_CHAIN 2 /* requests of a chain that are refused */

void *__real_fw_alloc(size_t count, size_t size);
void *__wrap_fw_alloc(size_t count, size_t size);
void *__real_fw_resize(void *old, size_t count, size_t size);
void *__wrap_fw_resize(void *old, size_t count, size_t size);
char *__real_fw_copy_text(const char *text);
char *__wrap_fw_copy_text(const char *text);
void __real_fw_free(void *memory);
void __wrap_fw_free(void *memory);
gsl_rng *__real_gsl_rng_alloc(const gsl_rng_type *type);
gsl_rng *__wrap_gsl_rng_alloc(const gsl_rng_type *type);

static enum { AT_REST, LISTING, REFUSING } doing;
static long requests, refused_at, held;
static bool all_that_follow, refused;

static struct {
    uint64_t key; /* 0: free */
    int count;
} chains[CHAINS];
static struct {
    long request;
    bool first; /* of its chain */
} listed[CHAINS * OF_A_CHAIN];
static int nlisted;

/* FNV-1a of the return addresses. */
static __attribute__((noinline)) uint64_t chain_key(void)
{
    void *frames[OURS + CALLERS];
    uint64_t key = 14695981039346656037U;
    int n = backtrace(frames, OURS + CALLERS);
    for (int i = OURS; i < n; i++)
        key = (key ^ (uint64_t)(uintptr_t)frames[i]) * 1099511628211U;
    return key ? key : 1;
}

static __attribute__((noinline)) void list_request(void)
{
    uint64_t key = chain_key();
    size_t at = key % CHAINS;
    for (int tries = 0; chains[at].key != 0 && chains[at].key != key; tries++) {
        assert_true(tries < CHAINS);
        at = (at + 1) % CHAINS;
    }
    chains[at].key = key;
    if (chains[at].count < OF_A_CHAIN) {
        listed[nlisted].request = requests;
        listed[nlisted++].first = chains[at].count == 0;
    }
    chains[at].count++;
}

static __attribute__((noinline)) bool is_refused(void)
{
    if (doing == AT_REST)
        return false;
    requests++;
    if (doing == LISTING) {
        list_request();
        return false;
    }
    bool no = requests == refused_at || (all_that_follow && requests > refused_at);
    refused = refused || no;
    return no;
}

void *__wrap_fw_alloc(size_t count, size_t size)
{
    void *memory = is_refused() ? NULL : __real_fw_alloc(count, size);
    held += memory != NULL;
    return memory;
}

void *__wrap_fw_resize(void *old, size_t count, size_t size)
{
    void *memory = is_refused() ? NULL : __real_fw_resize(old, count, size);
    held += memory && !old;
    return memory;
}

char *__wrap_fw_copy_text(const char *text)
{
    char *copy = is_refused() ? NULL : __real_fw_copy_text(text);
    held += copy != NULL;
    return copy;
}

void __wrap_fw_free(void *memory)
{
    held -= memory != NULL;
    __real_fw_free(memory);
}

gsl_rng *__wrap_gsl_rng_alloc(const gsl_rng_type *type)
{
    return is_refused() ? NULL : __real_gsl_rng_alloc(type);
}

static fw_status make(refuse_call *call, void *data, fw_error *err)
{
    long before = held;
    requests = 0;
    refused = false;
    fw_status status = call(data, err);
    doing = AT_REST;
    if (held != before)
        fail_msg("%ld pieces of memory were not given back after request %ld was refused%s",
                 held - before, refused_at, all_that_follow ? " with all that follow" : "");
    return status;
}

void refuse_rest(void)
{
    doing = AT_REST;
}

static void check_refused(refuse_call *call, void *data, fw_status at_last, bool may_spare)
{
    fw_error err = {FW_OK, ""};
    doing = REFUSING;
    fw_status status = make(call, data, &err);
    assert_true(refused);
    if (status == at_last && may_spare && !all_that_follow)
        return;
    if (status != FW_SYSTEM || err.status != status || !strstr(err.text, "memory"))
        fail_msg("request %ld refused%s: status %d, error %d '%s'", refused_at,
                 all_that_follow ? " with all that follow" : "", status, err.status, err.text);
}

int refuse_each(refuse_call *call, void *data, fw_status at_last, bool may_spare)
{
    fw_error err = {FW_OK, ""};
    void *frame;
    backtrace(&frame, 1); /* loads what it needs the first time */
    memset(chains, 0, sizeof chains);
    nlisted = 0;
    refused_at = 0;
    all_that_follow = false;
    doing = AT_REST;
    assert_int_equal(make(call, data, &err), at_last); /* asks for what is asked for once only */
    doing = LISTING;
    assert_int_equal(make(call, data, &err), at_last);
    for (int i = 0; i < nlisted; i++)
        for (int all = 0; all <= listed[i].first; all++) {
            refused_at = listed[i].request;
            all_that_follow = all;
            check_refused(call, data, at_last, may_spare);
        }
    return nlisted;
}
