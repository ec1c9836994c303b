/* equations.h - the normal equations of a plan's strokes under one set of weights. */
#ifndef SHOP_EQUATIONS_H
#define SHOP_EQUATIONS_H

#include "shop/draft.h"

/*
 * What n strokes leave of the figure in times t: the least of t'Gt - 2 b't + 2 price sum t, t >= 0.
 * Few strokes ever come into question, so a column of G is made when its stroke does.
 */
typedef struct equations {
    const draft *d; /* its weights: d->weighed */
    int n;          /* d->nseen */
    double *g;      /* n x n */
    bool *made;     /* n: columns of g */
    double *b, *c;  /* n; b less the price of the glass, c less that of the hours */
    double *on;     /* n x FW_MENU_FREE: inner products with what is no figure */
    double square;  /* of the figure, weighted */
    double *t;      /* n: the solution */
    double *work;   /* npoints */
    double root[FW_HABIT_METHODS][FW_HABIT_MODES * FW_HABIT_MODES]; /* of what is not known of an hour */
} equations;

/* Room, and the roots. FW_OK, FW_SYSTEM: also for a covariance that none can be. Release always. */
fw_status equations_init(equations *p, const draft *d, fw_error *err);
void equations_release(equations *p);

/* The equations under the present weights, without a column of G. */
void equations_pose(equations *p);

/*
 * Column j of G: inner products with stroke j, less those of what is no figure, and on the diagonal
 * the mean square of its own error. Only the circles that it reaches have a part in them. A
 * normal_column. Test: tests/unit/draft.c.
 */
const double *equations_column(void *context, int j);

#endif
