/* finder.h - what is undetermined, being put into words: shared by both models. */
#ifndef ADJUST_FINDER_H
#define ADJUST_FINDER_H

#include "adjustment.h"
#include "flatwright/result.h"
#include "remedy.h"

typedef struct finder {
    adjustment *a;
    fw_result *result;
    int *face;        /* per flat: today's face in the net, -1: not read */
    int *color;       /* per face of the net: side in the graph of pairings, 0 or 1 */
    int *root;        /* per face: its component */
    bool *ring;       /* per component (root): three or more flats close a ring of odd length */
    struct gap *gaps; /* flats x angles, ring by ring only */
    remedy best;
} finder;

void finder_append(char *text, size_t size, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/* "A", "A and B", "A, B and C", "A, B and 5 more". */
void finder_flats(const finder *f, char *text, size_t size, int n, const int *flats);

void finder_angles(char *text, size_t size, int n, const double *angles);

/* The pairing that would show it, when one was found. */
void finder_remedy(const finder *f, char *text, size_t size);

/* One more entry of the result, to be given its text. */
fw_status finder_add(finder *f, int nflats, const int *flats, int ndiameters,
                     const double *diameters, fw_unknown **out, fw_error *err);

/*
 * What is open of flats that were read and not only in sums (done), as each model sees it: the
 * members `open` of adjust_model.
 */
fw_status rings_open(finder *f, const bool *done, fw_error *err);
fw_status surface_open(finder *f, const bool *done, fw_error *err);

#endif
