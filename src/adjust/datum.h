/* datum.h - piston and tilt of a flat are not figure: the least-squares datum and its spread. */
#ifndef ADJUST_DATUM_H
#define ADJUST_DATUM_H

#include "spread.h"

/*
 * A height on the datum is h - d a, a = (D'D)^-1 D'h over the stations inside the clear aperture
 * and outside the bore. Parameters: levelling = scan: pistons (one for all diameters tied by the
 * centre, one for each other), then a slope per diameter; levelling = setup: one plane.
 * A centre that was read need not tie anything: where one flat of a set is bored, the pair of the
 * other two sees only the sum of their centres. Without the tie every diameter has its own piston,
 * and the centre is on none of them.
 */
typedef enum datum_kind {
    DATUM_TIED = 0,
    DATUM_UNTIED = 1,     /* every diameter its own piston */
    DATUM_RESTRICTED = 2, /* or-ed in: stations that a ring leaves undetermined are left out */
    DATUM_KINDS = 4
} datum_kind;

typedef struct datum {
    contrast what;
    int n; /* parameters */
    int npistons;
    int *piston; /* per angle of the net: its piston parameter; -1: not a diameter of this flat */
    int *slope;  /* per angle: its slope parameter (scan); unused for a plane */
    bool plane;
    bool centred;       /* the centre is on the datum: piston 0 */
    bool restricted;    /* stations that a ring leaves undetermined are left out */
    int nloose;         /* null vectors that single rings have, over all classes */
    double *a;          /* n: the datum of the solved heights */
    double *inverse;    /* n x n: (D'D)^+ */
    double *cov;        /* n x n: covariance of a, unit variance */
    double *with_root;  /* rank of the terms x n: root' (D'B)' (D'D)^+, root root' = C */
    double *lifted;     /* nnull x n: the datum of each null vector of the terms */
} datum;

/*
 * Entries of d for a height: up to 3 parameters; value = c0 + rho c1. Returns their number; 0 for a
 * centre that is not on the datum.
 */
int datum_row(const datum *d, const adjustment *a, int angle, int sign, int index[3], double c0[3],
              double c1[3]);

/* Is a ring inside the clear aperture and outside the bore of the contrast's flat? */
bool datum_covers(const adjustment *a, contrast what, int ring);

/* The part of D that one contrast of a class has: rows c0 + rho c1, with up to 3 entries. */
typedef struct datum_entry {
    int count, index[3];
    double c0[3], c1[3];
} datum_entry;

/* entry (s->n) <- those of a class; none where the datum leaves the contrast out. */
void datum_entries(const datum *d, const adjustment *a, const class_spread *s, datum_entry *entry);

/* kind: DATUM_TIED or DATUM_UNTIED, with or without DATUM_RESTRICTED. */
fw_status datum_new(spreads *store, int kind, datum *out, fw_error *err);
void datum_release(datum *d);

#endif
