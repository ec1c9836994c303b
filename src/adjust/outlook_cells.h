/* outlook_cells.h - the cells of an outlook, laid and filled. */
#ifndef ADJUST_OUTLOOK_CELLS_H
#define ADJUST_OUTLOOK_CELLS_H

#include "outlook.h"

/* Has a flat glass on a ring of the net; and is that a station of its datum? */
bool outlook_has_glass(const outlook *o, int flat, int ring);
bool outlook_counts(const outlook *o, int flat, int ring);

/* Can a class be taken apart into even and odd halves, a candidate's scan with it? */
bool outlook_apart(const outlook *o, const net_class *class);

/* Fills knots and nstations of an outlook whose lines, sides and datum are known. */
fw_status outlook_cells(outlook *o, fw_error *err);

/*
 * The squares of mix[k][0] b0 + mix[k][1] b1 over k sum to those of b0 + rho b1 over all the cell's rings,
 * and so do products of two such; returns how many k there are, 1 or 2.
 */
int cell_mix(const cell *c, double mix[2][2]);

/*
 * out[0] and out[1] <- rows whose squares sum to those of b0 + rho b1 over all the cell's rings, each of
 * `size` numbers; returns 1 or 2. A b that the cell has not is not read. out may be b.
 */
int cell_modes(const cell *c, size_t size, double *const b[2], double *const out[2]);

/* Modes of all places of all cells. */
int knot_modes(const knot *s);

/*
 * The modes of a cell of n x nt matrices b one under the other, at the head of a part of a matrix of
 * `rows` rows; how many they are.
 */
int cell_stack(const cell *c, double *const b[2], int nt, int rows, double *stack);

/* A mode of a place that counts for a flat, and what it brings to a parameter of the datum. */
typedef struct share {
    int row, index; /* among the knot's modes; of the parameter */
    double value;
    bool first; /* of its row: each row of a flat has one of these */
} share;

/* list (3 knot_modes at most) <- those of one flat, row by row; how many. */
int knot_shares(const outlook *o, const knot *s, int flat, share *list);

/* Takes out of the nt columns of b what no height needs. */
fw_status knot_compress(knot *s, fw_error *err);

/* The datum: half of the knot, W and kept of its cells; adds to the outlook's nstations. */
fw_status knot_weigh(outlook *o, knot *s, fw_error *err);

/* kept <- <K, W> by flat. */
void cell_keep(cell *c, int nflats);

/*
 * The covariance K (n x n) after `rows` readings y = H x + e of covariance V is K - u'u.
 * kh  in  n x rows: K H'
 * m   in  rows x rows, upper triangle: H K H' + V; becomes its triangle R, m = R'R
 * u   out rows x n: R^-T H K
 * Source: Sherman & Morrison 1950, Woodbury 1950; tests/reference/design.c.
 */
fw_status foresee_update(int n, int rows, const double *kh, double *m, double *u, fw_error *err);

#endif
