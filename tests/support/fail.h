/* fail.h - every call about files that a library call makes fails, in each of its ways. */
#ifndef TESTS_FAIL_H
#define TESTS_FAIL_H

#include <stdbool.h>

#include "flatwright/status.h"

/*
 * The call under test. It makes its own outputs, gives back what it got, looks whether the files are
 * as its status says, and lays them as they were. It must do the same each time.
 */
typedef fw_status fail_call(void *data, fw_error *err);

/*
 * Makes the call once to list what it asks of the system about files (open, read, fsync, rename and
 * their like), then once for each of these and each way in which it can fail: no permission, disk
 * full, broken off by a signal, half done, an error of the device. Of those made by one chain of
 * callers the first two are taken. Again with the same fault in all
 * calls of its kind that follow, and with all that follow failing, of whatever kind. Fails the test
 * unless every run ends with FW_SYSTEM and a text, or with `at_last` like the run without a fault; or
 * when a file stays open. Where something stands in the way, FW_INPUT will do too.
 * Returns how many faults were put in.
 */
int fail_each(fail_call *call, void *data, fw_status at_last);

/* Ends the failing: `call` does so before it looks at its files. */
void fail_rest(void);

/* Whether more than one call was made to fail: then a draft of the program's may be left. */
bool fail_goes_on(void);

#endif
