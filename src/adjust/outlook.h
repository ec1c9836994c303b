/* outlook.h - what is known of today's surfaces, on a prior, and what a pairing would add to it. */
#ifndef ADJUST_OUTLOOK_H
#define ADJUST_OUTLOOK_H

#include "adjustment.h"

/* Ratio of prior and sigma beyond which nothing but rounding would be gained. */
#define OUTLOOK_RATIO_MAX 1e5

/* A flat today. untied: its profile has a zero for every diameter, so has its datum here. */
typedef struct outlook_flat {
    int state;
    bool untied;
} outlook_flat;

/* A height of today's flat: on a line, a side of it. The centre has line -1, sign 0. */
typedef struct place {
    int flat, line, sign;
} place;

/*
 * What a candidate would read: on every diameter of the job the rings' sides, in one order; the top's
 * line and sense under each diameter at its turn.
 */
typedef struct setup {
    int bottom, top;
    const int *line;         /* per diameter: the top's line */
    const signed char *flip; /* and its sense */
} setup;

/*
 * Rings that are alike in what was read, what a candidate would read and what counts, or the even
 * or odd halves of such. The heights x of one ring at rho (in units of rmax) have, all said so far,
 *     covariance = K + (B0 + rho B1) (B0 + rho B1)';   K lies within a ring, B binds all rings.
 */
typedef struct cell {
    enum { CELL_PLAIN, CELL_EVEN, CELL_ODD } kind;
    bool centre;
    int sides;        /* of a candidate's scan: bit 0 +, bit 1 -; the centre: bit 0 */
    bool *glass;      /* per flat: it has glass here */
    double moment[3]; /* number of rings, sum of rho, of rho^2 */
    int n;
    place *at;    /* by flat; those that came later at the end */
    int *first;   /* nflats + 1 */
    bool *scored; /* n: a station of the flat's datum */
    int *find;    /* outlook_slot -> index into at; -1 */
    double *k;    /* n x n */
    double *b[2]; /* n x nt; NULL: zero */
    double *w;    /* n x n: the sum over the rings of the datum's projector, blocks by flat */
    double *kept; /* per flat: <K, W> */
} cell;

/* Heights and terms that see each other: all, or the even and the odd parts apart. */
typedef struct knot {
    bool sees[2]; /* pistons, tilts */
    int nt;
    int ncells;
    cell *cells;
    int *rank;     /* per flat: of its datum */
    double **half; /* per flat: rank x nparams, half' half = (D'D)^+ */
    double *now;   /* per flat: the sum of its variances; NULL: not asked for yet */
    struct modes *modes; /* what all candidates have in common; NULL: not made yet */
} knot;

typedef struct outlook {
    const adjustment *a;
    const fw_job *job;
    const outlook_flat *today; /* per flat; borrowed */
    int nlines;
    double *line_deg;
    int *line_near; /* by angle, in steps finer than the tolerance: 1 + index of the line there; 0 */
    int ndiameters;
    int *diameter; /* index into line_deg of each diameter of the job */
    int *sides;    /* per ring of the net: of a candidate's scan */
    bool plane, symmetric;
    double prior_nm, sigma_nm;
    double variance; /* multiplies 1 / weight^2 of the net's rows */
    bool *read,
        *tied;    /* flat * nlines + line: read today, and tied by the centre; with fresh ones */
    bool *fresh;  /* a diameter of the job never read in today's state */
    bool *centre; /* per flat: its centre is a station */
    int *nparams, *piston, *slope; /* datum, per flat; per flat and line */
    double *nstations;             /* per flat */
    int nclasses;
    net_class *classes; /* the net's, or what stands for them: outlook_alike */
    bool alike;         /* these are the outlook's own */
    int nknots;
    knot knots[2];
    struct waves *waves; /* in place of the knots, where diameters are even */
    struct surface_outlook *faces; /* surface model: in place of the knots, over the area */
} outlook;

static inline size_t outlook_slot(const outlook *o, place at)
{
    return 2 * ((size_t)at.flat * ((size_t)o->nlines + 1) + (size_t)(at.line + 1)) + (at.sign < 0);
}

/* How many slots there are: two sides of every line of every flat. */
static inline size_t outlook_slots(const outlook *o)
{
    return 2 * (size_t)o->job->nflats * ((size_t)o->nlines + 1);
}

/* Index of a line among line_deg, -1: none. */
int outlook_line(const outlook *o, double angle_deg);

/*
 * The knowledge that a solved job gives. today: per flat, borrowed; turns: every turn that a setup
 * will have. Release with outlook_release, also after a failure.
 */
fw_status outlook_init(outlook *o, const adjustment *a, const outlook_flat *today, int nturns,
                       const double *turns_deg, fw_error *err);
void outlook_release(outlook *o);

/* Is a ring like another in what a candidate would read there, and in what counts? */
bool outlook_same_use(const outlook *o, int a, int b);

/*
 * Leaves the net's classes as they are while rings of their own are few enough to be ranked in a moment.
 * Else rings of the same use stand for each other: each reading of a scan on a side counts with the
 * mean of its squared weight over those rings, 0 where it is missing, and over both sides where a
 * candidate reads both. What is known of such rings is so the mean of their information.
 * Test: tests/unit/next.c
 */
fw_status outlook_alike(outlook *o, int nturns, fw_error *err);

/* What is read of the datum's parameters: up to 3 entries c0 + rho c1 of place i; their number. */
int outlook_datum(const outlook *o, const cell *c, int i, int index[3], double c0[3], double c1[3]);

/*
 * sum (nflats) <- per flat the sum over its stations of the variance on the datum, nm^2, with
 * `times` repeats of p read besides; p NULL: as it is. Leaves o as it was.
 */
fw_status outlook_foresee(outlook *o, const setup *p, double times, double *sum, fw_error *err);

/* Takes `times` repeats of p as read. */
fw_status outlook_commit(outlook *o, const setup *p, double times, fw_error *err);

#endif
