/* chains.h - who asks: chains of callers told apart, and counted. */
#ifndef TESTS_CHAINS_H
#define TESTS_CHAINS_H

#define CHAINS_DEEPEST 12

/* Forgets all chains; those that follow are told apart by so many callers. */
void chains_forget(int depth);

/*
 * How often the present chain of callers has been met before. It begins `below` return addresses up
 * from here (1: whoever called the caller); who stands between may not be inlined.
 */
int chains_met(int below);

#endif
