/* lint.h - told to clang-tidy only: what fw_fail and fw_out_of_memory return. */
#ifndef TESTS_LINT_H
#define TESTS_LINT_H

#include "flatwright/status.h"

#define fw_fail(err, status, ...) ((void)fw_fail((err), (status), __VA_ARGS__), (status))

#define fw_out_of_memory(err) ((void)fw_out_of_memory(err), FW_SYSTEM)

#endif
