/* waves.h - diameters evenly spaced and read alike: what goes round the flats at one frequency. */
#ifndef ADJUST_WAVES_H
#define ADJUST_WAVES_H

#include "outlook.h"

/*
 * N diameters stand pi / N apart; every pairing was read on all of them with one weight, or on none:
 * all was read alike turned by pi / N. The sums over lines
 *     X(m) = N^-1/2 sum over lines of x(theta) exp(-i m (theta - offset)),
 * m even for even halves and odd for odd ones, of different m then know nothing of each other. Each m
 * is a system of a few unknowns: the cost goes with N, not its cube. A reading of bottom and top at
 * turn tau is X(m) + exp(-i m (tau - both offsets)) conj Y(m). All terms see one mode of a cell's R
 * rings only; the other R - 1 are one system, R - 1 times.
 */

/* N scans, one on each of the job's diameters, at one turn. */
typedef struct wave_read {
    int surface[2]; /* bottom, top: today's flats by number, then earlier states */
    int comb;       /* which of the top's lines; of the bottom it is 0, the job's diameters */
    int shift;      /* tau less both offsets, in pi / N; [0, 2N) */
    int term;       /* reads of one number share piston and tilts */
} wave_read;

/* N heights of a surface on each ring, or its centre. */
typedef struct wave_column {
    int surface, comb;
    bool scored;
    int seat; /* among the cell's columns of today's flats, or among those of earlier states */
} wave_column;

/* Rings alike in what was read and what counts; or the centre. */
typedef struct wave_cell {
    bool centre;
    int ring, sides;     /* one of them; of a candidate's scan */
    double rings, rho2;  /* how many; sum of rho^2 */
    double *information; /* per read: 1 / variance of a reading, nm^-2; 0: none */
    int ncolumns, ntoday;
    wave_column *columns; /* surfaces x combs at most */
    int *find;            /* surface * ncombs + comb -> index; -1 */
} wave_cell;

/* A vector of the datum: entries of unit length together. */
typedef struct wave_datum {
    int flat, n;
    int *index;
    double *value;
} wave_datum;

/* One system: a frequency, and the terms' mode of all cells or what is left of one. */
typedef struct wave {
    int m, parity, phases; /* phases: real and imaginary part, or one where that is all */
    bool modes, terms;
    int from, to; /* cells */
    double times; /* rings that have this very system */
    int skip, n;      /* unknowns of earlier states, which come first; of today's flats */
    int *first[2];    /* per cell from `from`: its first unknown, of an earlier state or of today */
    int *flat;        /* n: that scores it; -1 */
    double *c;        /* n x n: covariance of today's */
    int ndatum;
    wave_datum *datum;
} wave;

typedef struct waves {
    const outlook *o;
    int n; /* N */
    double first_deg, gap_deg;
    int ncombs;
    double *offset_deg;
    int *comb; /* per line of the outlook */
    int *line; /* per comb: one of its lines */
    int nsurfaces;
    int nreads, nterms;
    wave_read *reads;
    int ncells;
    wave_cell *cells;
    double *cosine, *sine; /* of multiples of pi / N, 2N of them */
    int nwaves;
    wave *waves;
    double *now; /* per flat: as outlook_foresee says with nothing read besides */
    bool stale;  /* waves are to be made anew */
} waves;

/*
 * *out <- the waves of an outlook whose lines, sides, datum, noise and classes are known, and its
 * nstations; NULL where the plan is not even in that sense. Where classes stand for rings that
 * differ in what is missing, mean weights on one diameter and another may differ a little.
 * turns: every turn that a setup will have.
 * Test: tests/unit/waves.c
 */
fw_status waves_new(outlook *o, int nturns, const double *turns_deg, waves **out,
                    fw_error *err);
void waves_free(waves *w);

/* As outlook_foresee and outlook_commit. */
fw_status waves_foresee(waves *w, const setup *p, double times, double *sum, fw_error *err);
fw_status waves_commit(waves *w, const setup *p, double times, fw_error *err);

/* Finds combs, reads and cells; *even: the plan is as above. */
fw_status waves_plan(waves *w, int nturns, const double *turns_deg, bool *even,
                     fw_error *err);

/* A pairing as a read, its term not set. */
wave_read waves_read_of(const waves *w, const setup *p);

/* Would a candidate's scan read a cell? */
bool waves_meets(const waves *w, const wave_cell *c, const wave_read *r);

/* The column of a surface's comb in a cell, laid where it is not there. Room is there for all. */
void waves_lay_column(const waves *w, wave_cell *c, int surface, int comb, bool scored);

/* Lays the waves' unknowns and makes their covariances from all reads. */
fw_status waves_make(waves *w, fw_error *err);
void wave_release(wave *v);

/* The datum's vectors of a wave. */
fw_status wave_lay_datum(const waves *w, wave *v, fw_error *err);

/*
 * What a phase of a read is made of in a cell, `among` the waves' cells: up to 4 unknowns and their
 * coefficients; their number.
 * Heights that are not in the cell add the square of theirs to *apart.
 */
int wave_entries(const waves *w, const wave *v, int among, const wave_read *r, int phase,
                 int index[4], double value[4], double *apart);

/* What a term adds to the readings of a cell. */
double wave_term(const wave *v, const wave_cell *c);

/* q (k x (k - 1)) <- orthonormal columns that are free of a term seen as tau (k, not zero). */
void wave_contrasts(int k, const double *tau, double *q);

#endif
