/* refuse.h - every request for memory that a call makes is refused, one run each. */
#ifndef TESTS_REFUSE_H
#define TESTS_REFUSE_H

#include <stdbool.h>

#include "flatwright/status.h"

/*
 * The call under test. It makes its outputs, gives back those it got, and fails the test itself if
 * after a failure an output is not what it was. It must do the same each time.
 */
typedef fw_status refuse_call(void *data, fw_error *err);

typedef enum { REFUSE_SPARE_NONE, REFUSE_SPARE_ONE, REFUSE_SPARE_ALL } refuse_spare;

/*
 * Makes the call once to list its requests (fw_alloc, fw_resize, fw_copy_text, the generators of
 * GSL), then once for each of them to be refused. Of those made by one chain of callers only the
 * first two are taken, the others are more of the same; the first is refused again together with
 * all that follow. What is asked for once a process has been asked for before.
 * Fails the test unless every refused run ends with FW_SYSTEM and a text that speaks of memory, the
 * others with `at_last`, and nothing is held at the end of any that was not before. Where the call
 * may do without, and end as if nothing had happened: REFUSE_SPARE_ONE, when one piece is refused;
 * REFUSE_SPARE_ALL, when there is no more from some moment on as well.
 * Returns how many requests were refused. Inputs are made before: what `call` asks for is refused.
 */
int refuse_each(refuse_call *call, void *data, fw_status at_last, refuse_spare spare);

/* Ends the refusing: for `call` before it asks for what is not under test. */
void refuse_rest(void);

#endif
