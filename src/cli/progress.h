/* progress.h - one line on a terminal for what takes longer than two seconds. */
#ifndef CLI_PROGRESS_H
#define CLI_PROGRESS_H

/*
 * Says what is going on, on stderr, when it is a terminal and cli_progress_begin lies two seconds
 * back or more; at most a few times a second, each over the one before.
 */
void cli_progress_begin(void);
void cli_progress(const char *format, ...) __attribute__((format(printf, 1, 2)));

/* Clears the line. Before anything else is printed. */
void cli_progress_end(void);

#endif
