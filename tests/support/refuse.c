/* refuse.c - every request for memory that a call makes is refused, one run each. */

/* The linker puts these in front of the library's own (--wrap). */
#include "refuse.h"

#include <gsl/gsl_rng.h>
#include <string.h>

#include "chains.h"
#include "close.h"
#include "flatwright/alloc.h"

#define LISTED 65536
#define FEW 300
#define OF_A_CHAIN 2 /* requests of one chain of callers that are refused */

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
    long request;
    bool first; /* of its chain */
} listed[LISTED];
static int nlisted;

static void list_request(int met)
{
    if (met >= OF_A_CHAIN)
        return;
    assert_true(nlisted < LISTED);
    listed[nlisted].request = requests;
    listed[nlisted++].first = met == 0;
}

/* Called by a __wrap_... only: its caller is two return addresses above. */
static __attribute__((noinline)) bool is_refused(void)
{
    if (doing == AT_REST)
        return false;
    requests++;
    if (doing == LISTING) {
        list_request(chains_met(3, -1));
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

static void check_refused(refuse_call *call, void *data, fw_status at_last, refuse_spare spare)
{
    fw_error err = {FW_OK, ""};
    doing = REFUSING;
    fw_status status = make(call, data, &err);
    assert_true(refused);
    if (status == at_last && spare >= (all_that_follow ? REFUSE_SPARE_ALL : REFUSE_SPARE_ONE))
        return;
    if (status != FW_SYSTEM || err.status != status || !strstr(err.text, "memory"))
        fail_msg("request %ld refused%s: status %d, error %d '%s'", refused_at,
                 all_that_follow ? " with all that follow" : "", status, err.status, err.text);
}

int refuse_each(refuse_call *call, void *data, fw_status at_last, refuse_spare spare)
{
    fw_error err = {FW_OK, ""};
    refused_at = 0;
    all_that_follow = false;
    doing = AT_REST;
    assert_int_equal(make(call, data, &err), at_last); /* asks for what is asked for once only */
    for (int depth = CHAINS_DEEPEST; depth >= 3; depth /= 2) { /* told apart finely, if few */
        chains_forget(depth);
        nlisted = 0;
        doing = LISTING;
        assert_int_equal(make(call, data, &err), at_last);
        if (nlisted <= FEW)
            break;
    }
    for (int i = 0; i < nlisted; i++)
        for (int all = 0; all <= (listed[i].first ? 1 : 0); all++) {
            refused_at = listed[i].request;
            all_that_follow = all;
            check_refused(call, data, at_last, spare);
        }
    return nlisted;
}
