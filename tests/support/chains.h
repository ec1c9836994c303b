/* chains.h - who asks: chains of callers told apart, and counted. */
#ifndef TESTS_CHAINS_H
#define TESTS_CHAINS_H

/* Forgets all chains; to be called before the first. */
void chains_forget(void);

/*
 * How often the present chain of callers has been met before. It begins `below` return addresses up
 * from here (1: whoever called the caller) and has three; who stands between may not be inlined.
 */
int chains_met(int below);

#endif
