/* past.h - rounds of a made-up set, solved and worked, to be looked back over. */
#ifndef TESTS_PAST_H
#define TESTS_PAST_H

#include "flatwright/track.h"

#define PAST_MOST 24

/* A solved set of three in hand-made memory; all numbers are invented. */
typedef struct past {
    fw_job job;
    fw_flat flats[3];
    fw_scan scans[PAST_MOST];
    fw_work work[PAST_MOST];
    fw_sag sag[3];
    fw_result result;
    fw_face faces[PAST_MOST];
    int today[3];
    fw_removal removals[PAST_MOST];
    size_t spells[PAST_MOST][3];
} past;

/* Three flats of ten inches, nothing read nor worked. */
void past_begin(past *s);

/* A scan of a round; work after it. */
void past_scan(past *s, int round);
void past_work(past *s, int round, int flat, double hours, fw_method method);

/* Faces are added by flat, then state. A value of NAN: read, but its figure is not known. */
void past_face(past *s, int flat, int state, int round, double pv, double u, fw_verdict verdict);

/* What n rows of the work list took off between two states. */
void past_removal(past *s, int flat, int from, int n, const size_t *spells, double rms, double u);

/* A falls 100, 50, 25 with an hour between; B waits at 40; C is within. u of all is u. */
void past_falling(past *s, double u);

/* The caller frees it. */
fw_track *past_look(const past *s);

#endif
