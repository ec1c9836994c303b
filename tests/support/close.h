/* close.h - the one comparison of numbers in the tests. */
#ifndef TESTS_CLOSE_H
#define TESTS_CLOSE_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

/* Fails when got or want is not finite, or |got - want| > abs + rel |want|; prints both in full. */
#define assert_close(got, want, rel, abs) \
    assert_close_at((got), (want), (rel), (abs), #got, __FILE__, __LINE__)

void assert_close_at(double got, double want, double rel, double abs, const char *what,
                     const char *file, int line);

#endif
