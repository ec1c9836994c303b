/* chains.h - who asks: chains of callers told apart, and counted. */
#ifndef TESTS_CHAINS_H
#define TESTS_CHAINS_H

#define CHAINS_DEEPEST 12

/* Forgets all chains; those that follow are told apart by so many callers. */
void chains_forget(int depth);

/*
 * How often the present chain of callers has been met before. It begins `below` return addresses up
 * from here (1: whoever called the caller); who stands between may not be inlined. seen, unless -1:
 * a file that a chain is written to when it is first met; -1 comes back when that fails.
 */
int chains_met(int below, int seen);

/* Takes all chains that another run, of the same depth, wrote to that file as met. */
void chains_seen(int fd);

#endif
