/* lint.h - told to clang-tidy only: fw_fail returns the status that it is given. */
#ifndef TESTS_LINT_H
#define TESTS_LINT_H

#include "flatwright/status.h"

#define fw_fail(err, status, ...) ((void)fw_fail((err), (status), __VA_ARGS__), (status))

#endif
