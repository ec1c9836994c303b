/* ranked.h - a made-up set solved and its pairings ranked, and the same as one dense system. */
#ifndef TESTS_RANKED_H
#define TESTS_RANKED_H

#include "flatwright/next.h"
#include "foresight.h"
#include "simulate.h"

typedef struct ranked {
    sim s;
    fw_result *result;
    fw_next *next;
    foresight dense;
    bool untied[8]; /* as the profile says */
} ranked;

/* Solves and ranks what was read; release with ranked_release. */
void rank_pairings(ranked *w);
void ranked_release(ranked *w);

/* One candidate against the dense system; returns the relative difference of the scores. */
double ranked_compare(const ranked *w, const fw_candidate *c);

/* The same of what is known now. */
double ranked_compare_now(const ranked *w);

/* The repeats that are said to be enough are, by the dense system; fewest: one less of the last is not. */
void ranked_check_enough(const ranked *w, bool fewest);

#endif
