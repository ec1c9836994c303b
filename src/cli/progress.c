/* progress.c - one line on a terminal for what takes longer than two seconds. */
#include "cli/progress.h"

#include <stdarg.h>
#include <stdbool.h>
#include <stdio.h>
#include <time.h>
#include <unistd.h>

static const double QUIET_S = 2, APART_S = 0.25;
enum { COLUMNS = 79 };

/* When it began and was last shown, in seconds of a clock that only goes forward; -1: not shown. */
static double began, shown = -1;

static double now(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

void cli_progress_begin(void)
{
    began = now();
    shown = -1;
}

void cli_progress(const char *format, ...)
{
    double time = now();
    if (time - began < QUIET_S || time - shown < APART_S || !isatty(STDERR_FILENO))
        return;
    char text[COLUMNS + 1];
    va_list args;
    va_start(args, format);
    vsnprintf(text, sizeof text, format, args);
    va_end(args);
    fprintf(stderr, "\r%-*s", COLUMNS, text);
    shown = time;
}

void cli_progress_end(void)
{
    if (shown >= 0)
        fprintf(stderr, "\r%*s\r", COLUMNS, "");
    shown = -1;
}
