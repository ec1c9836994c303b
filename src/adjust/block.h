/* block.h - one ring's equations, factored once for all rings of its class. */
#ifndef ADJUST_BLOCK_H
#define ADJUST_BLOCK_H

#include "net.h"

/*
 * With y the weighted readings of a ring at distance rho,
 *     y = H x + (T0 + rho T1) t + e,   e of unit variance,
 * x the ring's heights, t the terms of the scans; rho in units of the largest ring.
 * Of a paired class y+ and y- are replaced by (y+ + y-)/sqrt 2 and (y+ - y-)/sqrt 2, heights alike:
 * two blocks of half the size, the even one without tilts, the odd one without pistons.
 * G, n x m, is the least-norm generalised inverse of H. Where that costs no digits it is K H', and only
 * the smaller K = (H'H)^+ is there: of either, see block_solve, block_column, block_leverage.
 */
typedef struct block {
    int m, n, rank;
    bool pistons, tilts; /* T0, T1 are not zero */
    int *column;         /* 2 m: the two heights of every row of H */
    double *entry;       /* 2 m: and what stands there */
    double *left;        /* (m - rank) x m, orthonormal rows that H does not reach; NULL: see block_left */
    double *inverse;     /* n x n: K; NULL where there is g */
    double *g;           /* n x m: G; NULL where there is K */
    double *null;        /* n x (n - rank), orthonormal */
    double *coef;        /* m; the weight in front of the terms */
} block;

typedef struct factor {
    int nblocks; /* 2: even, odd; 1: general, or the centre */
    block blocks[2];
    size_t bytes;
} factor;

/* Factors a class; owned by the caller, factor_free. */
fw_status factor_new(const net_class *class, factor **out, fw_error *err);
void factor_free(factor *f);

/* x (n x count) <- G y, y (m x count). work: as large as x. */
void block_solve(const block *k, int count, const double *y, double *x, double *work);

/* Column i of G, of n numbers: in work, or where it stands. */
const double *block_column(const block *k, int i, double *work);

/* (H G)_ii: what a reading has of its own adjusted value. */
double block_leverage(const block *k, int i);

/* out (rows x m) <- a H', a (rows x n). */
void block_times_design(const block *k, int rows, const double *a, double *out);

/* left <- orthonormal rows that H does not reach, (m - rank) x m; the caller's to free. */
fw_status block_left(const block *k, double **left, fw_error *err);

/* The row of the class that block row i stands for (paired: the + one; the - one follows). */
static inline int block_row(const factor *f, int i)
{
    return f->nblocks == 2 ? 2 * i : i;
}

/* y (m) <- the weighted readings of a ring, one a row of its class, as block b sees them. */
void block_readings(const factor *f, int b, const double *weighted, double *y);

/*
 * out (rows x nterms, leading dimension ldo) += scale * left (rows x m, ldl) T_power; column 0 of
 * out is term `first`. T has one or two entries a row, so this costs rows x m.
 */
void block_add_terms(const fw_net *net, const net_class *class, const factor *f, int b, int power,
                     int rows, const double *left, int ldl, double scale, int first, double *out,
                     int ldo);

/* The entries of row i of T_power: at most two; returns how many. */
int block_term_entries(const fw_net *net, const net_class *class, const factor *f, int b, int power,
                       int i, int index[2], double value[2]);

/* y (m x count) += scale H x, x n x count. */
void block_add_heights(const block *k, int count, double scale, const double *x, double *y);

/* y (m) <- T_power t. */
void block_terms(const fw_net *net, const net_class *class, const factor *f, int b, int power,
                 const double *t, double *y);

#endif
