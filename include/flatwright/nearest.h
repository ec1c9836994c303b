/* nearest.h - the known name nearest to a mistyped one. */
#ifndef FLATWRIGHT_NEAREST_H
#define FLATWRIGHT_NEAREST_H

#include <stdbool.h>

/* A search: start it with the word, offer every known name, take the text. */
typedef struct fw_nearest {
    const char *word; /* borrowed */
    const char *name; /* the nearest so far, borrowed; NULL: none is near */
    int distance;
} fw_nearest;

fw_nearest fw_nearest_start(const char *word);

/*
 * Offers a name. Distance: letters added, dropped, exchanged, or swapped with their neighbour
 * (optimal string alignment), case ignored, blank, hyphen and underscore alike; a word of three
 * letters or more that the name begins with is 1 away. Near is up to a third of the longer one's
 * length, at least 1; of equals the first offered is kept. Words over 63 bytes are near to nothing.
 * Cost: product of the lengths. Test: tests/unit/nearest.c.
 */
void fw_nearest_offer(fw_nearest *nearest, const char *name);

/* ", did you mean 'bore'?", or "" when no name is near. Returns out, which has FW_SUGGESTION bytes. */
#define FW_SUGGESTION 96
const char *fw_nearest_text(const fw_nearest *nearest, char *out);

/* True when two names agree but for case, with blank, hyphen and underscore taken alike. */
bool fw_same_name(const char *a, const char *b);

#endif
