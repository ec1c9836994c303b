/* candidates.h - every pairing that could be read next, those that are the same readings once. */
#ifndef ADJUST_CANDIDATES_H
#define ADJUST_CANDIDATES_H

#include "outlook.h"

typedef struct contender {
    int bottom, top, turn; /* index into turns_deg */
    bool either_way;       /* stands for its exchange too */
} contender;

typedef struct candidates {
    int nturns;
    double *turns_deg;  /* [0, 360), distinct */
    int *line;          /* per turn and diameter: the top's line, of an outlook */
    signed char *flip;
    int count;
    contender *list;    /* by bottom, top, turn */
} candidates;

/*
 * The turns of a job, ascending unless listed: its list; multiples of the gap between its diameters;
 * where those are not even, turns that lay them on lines that are read.
 */
fw_status candidates_turns(const adjustment *a, candidates *c, fw_error *err);

/* The list, for an outlook made with these turns. */
fw_status candidates_list(const outlook *o, candidates *c, fw_error *err);

setup candidates_setup(const outlook *o, const candidates *c, int index);
void candidates_release(candidates *c);

#endif
