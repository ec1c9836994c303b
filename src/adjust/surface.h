/* surface.h - the flats as circle polynomials: all rounds solved together, order by order. */
#ifndef ADJUST_SURFACE_H
#define ADJUST_SURFACE_H

#include "surface_rows.h"

/* The highest order tried, and the highest that figures are judged with. */
enum { SURFACE_ORDER_MAX = 10, SURFACE_JUDGED_MAX = 8 };

/* An order is not taken when the condition number passes this. */
#define SURFACE_CONDITION_MAX 1e6

/* An unknown: a term of the basis of a face of the net. */
typedef struct surface_column {
    int face, term;
} surface_column;

/*
 * min | A c - d | over the coefficients c of every face's terms, pistons and tilts of the scans
 * eliminated. Columns stand by order, then face, so that one triangle holds the solution of every
 * order. A column that those before it imitate is not used.
 */
typedef struct surface {
    const fw_net *net; /* borrowed */
    bool *skip;        /* per reading: left out; NULL: none. Owned */
    surface_terms terms;
    size_t readings, beyond; /* that count, and that lie outside a clear aperture */
    int *cap;                /* per face: the highest order its own stations carry */
    int highest;             /* order that all the readings together carry; the judged one */
    int order;               /* chosen */
    bool lowered;            /* the order asked for is not carried */
    double condition;        /* of the chosen order */

    int ncolumns;
    surface_column *column;
    int *count; /* top + 1: columns of orders up to k */
    int *find;  /* faces x nterms: its column, -1 */

    int rows, ld;   /* of the triangle */
    double *raw;    /* before columns were left out: [columns | rhs], upper triangular */
    double *stairs; /* after; the r-th used column has its diagonal in row r */
    double *length; /* ncolumns */
    char *used;
    int rank;
    int *used_column; /* rank */
    int scan_rank;    /* of the scans' pistons and tilts */
    double left;      /* chi-square that no polynomial along a scan takes away */
    double floor;     /* chi-square that no order takes away */

    /* the chosen order */
    int n;        /* its columns */
    int p;        /* its used columns, the leading ones */
    double *c;    /* n: coefficients, of least norm in what is undetermined */
    double *root; /* p x p: R^-1; covariance of the used ones R^-1 R^-T for unit variance */

    /* beside the ring-by-ring fit, where stations meet; NAN: not compared */
    double excess_p;      /* chance of so much more misfit */
    double excess_rms_nm; /* of a flat's structure that would make it */
} surface;

/* Directions of the coefficients that change no reading: null (n x d), orthonormal. */
typedef struct surface_null {
    int n, d;
    double *v;
} surface_null;

/*
 * net    in  borrowed, must outlive s
 * order  in  fixed; 0: chosen
 * like   in  of the same equations: its orders are taken; NULL: none
 * skip   in  per reading: left out; NULL: none. Kept, and freed with s
 */
fw_status surface_new(const fw_net *net, int order, const surface *like, bool *skip, surface **out,
                      fw_error *err);
void surface_free(surface *s);

/* Used columns of orders up to k. */
int surface_rank(const surface *s, int k);

/* Chi-square left by the orders up to k. */
double surface_chi(const surface *s, int k);

fw_status surface_null_new(const surface *s, int k, surface_null *out, fw_error *err);
void surface_null_release(surface_null *z);

/* Is the power of a face told, whatever else is not? */
fw_status surface_power_told(const surface *s, int face, bool *out, fw_error *err);

#endif
