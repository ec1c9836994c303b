/* progress.c - one line on a terminal for what takes longer than two seconds. */
#include "cli/progress.h"

#include <errno.h>
#include <math.h>
#include <signal.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "flatwright/show.h"

enum { QUIET_S = 2, COLUMNS = 79, ROOM = 60 };
static const double AT_ONCE_S = 0.2; /* between two things that a person takes for one */

/* The alarm's handler reads these; they change only while it is held off, or before it is set. */
static char words[ROOM + 1];
static volatile sig_atomic_t shown;
static struct timespec start, end;
static bool running;
static struct sigaction before;

static double seconds_from(const struct timespec *then)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)(now.tv_sec - then->tv_sec) + (double)(now.tv_nsec - then->tv_nsec) / 1e9;
}

/* Only calls that a handler may make: no printf. */
static void show(int signal)
{
    char line[COLUMNS + 2];
    char digits[12];
    int used = 0, n = 0, kept = errno;
    (void)signal;
    memset(line, ' ', sizeof line);
    line[used++] = '\r';
    for (const char *c = words; *c; c++)
        line[used++] = *c;
    used++;
    for (int rest = (int)seconds_from(&start); n == 0 || rest > 0; rest /= 10)
        digits[n++] = (char)('0' + rest % 10);
    while (n > 0)
        line[used++] = digits[--n];
    line[used + 1] = 's';
    if (write(STDERR_FILENO, line, COLUMNS) > 0)
        shown = 1;
    alarm(1);
    errno = kept;
}

__attribute__((format(printf, 1, 0))) static void set_words(const char *doing, va_list args)
{
    char raw[200];
    vsnprintf(raw, sizeof raw, doing, args);
    fw_show(words, sizeof words, raw);
}

void cli_progress_begin(const char *doing, ...)
{
    struct sigaction act = {.sa_handler = show, .sa_flags = SA_RESTART};
    va_list args;
    cli_progress_end();
    if (!isatty(STDERR_FILENO))
        return;
    va_start(args, doing);
    set_words(doing, args);
    va_end(args);
    if (end.tv_sec == 0 || seconds_from(&end) > AT_ONCE_S)
        clock_gettime(CLOCK_MONOTONIC, &start);
    sigemptyset(&act.sa_mask);
    if (sigaction(SIGALRM, &act, &before) != 0)
        return;
    running = true;
    double rest = QUIET_S - seconds_from(&start);
    if (rest > 0)
        alarm((unsigned)ceil(rest));
    else
        raise(SIGALRM);
}

void cli_progress(const char *doing, ...)
{
    sigset_t alarms, old;
    va_list args;
    if (!running)
        return;
    sigemptyset(&alarms);
    sigaddset(&alarms, SIGALRM);
    sigprocmask(SIG_BLOCK, &alarms, &old);
    va_start(args, doing);
    set_words(doing, args);
    va_end(args);
    sigprocmask(SIG_SETMASK, &old, NULL);
}

void cli_progress_end(void)
{
    if (!running)
        return;
    alarm(0);
    sigaction(SIGALRM, &before, NULL);
    running = false;
    clock_gettime(CLOCK_MONOTONIC, &end);
    if (shown)
        fprintf(stderr, "\r%*s\r", COLUMNS, "");
    shown = 0;
}
