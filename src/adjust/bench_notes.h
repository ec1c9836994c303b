/* bench_notes.h - what the user should know of the bench. */
#ifndef ADJUST_BENCH_NOTES_H
#define ADJUST_BENCH_NOTES_H

#include "flatwright/result.h"

/* A note of result->notes. */
typedef char bench_text[240];

/* At most one note a flat and seven of the whole. */
#define BENCH_NOTES(nflats) ((size_t)(nflats) + 7)

/* text <- the notes; room for BENCH_NOTES of them. Returns their number. */
int bench_notes(const fw_result *r, bench_text *text);

#endif
