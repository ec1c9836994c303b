/* progress.h - one line on a terminal for what takes longer than two seconds. */
#ifndef CLI_PROGRESS_H
#define CLI_PROGRESS_H

/*
 * From two seconds on says on stderr, when that is a terminal, what is going on and for how long,
 * every second anew on one line; nothing before, and nothing in a pipe. `doing` is as printf's.
 * Ended by cli_progress_end, which clears the line, before anything else is printed. Where one thing
 * begins as another has ended, the time goes on.
 */
void cli_progress_begin(const char *doing, ...) __attribute__((format(printf, 1, 2)));

/* Other words for what has begun; the time goes on. */
void cli_progress(const char *doing, ...) __attribute__((format(printf, 1, 2)));

/* Harmless when nothing has begun. */
void cli_progress_end(void);

#endif
