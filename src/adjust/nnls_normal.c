/* nnls_normal.c - non-negative least squares from normal equations, made as far as they are needed. */
#include "adjust/nnls_normal.h"

#include <math.h>
#include <stdbool.h>
#include <string.h>

#include "adjust/linalg.h"
#include "flatwright/alloc.h"

#define DEPENDENT 1e-14 /* of a diagonal: what is left of it outside the others' span */
#define GAIN 1e-13      /* of the largest c: a smaller dual does not let a column in */

/* Columns inside the set, G = R'R of them. */
typedef struct set {
    int n, count;
    int most;         /* that can be inside */
    const double *c;
    double *x;
    const double **g; /* n: columns of G asked for so far, else NULL */
    int *inside;      /* column numbers in the order of R's columns */
    bool *passed;     /* n: inside, or passed over for now */
    double *r;        /* most x most */
    double *z;        /* n: the least over those inside, in their order */
    double *dual;     /* n */
} set;

static fw_status set_init(set *s, int n, const double *c, double *x, fw_error *err)
{
    size_t size = (size_t)n, most = 0;
    for (int j = 0; j < n; j++)
        most += isfinite(c[j]) ? 1 : 0;
    *s = (set){.n = n,
               .most = (int)most,
               .c = c,
               .x = x,
               .g = fw_alloc(size, sizeof *s->g),
               .inside = fw_alloc(size, sizeof *s->inside),
               .passed = fw_alloc(size, sizeof *s->passed),
               .r = fw_alloc(most * most, sizeof *s->r),
               .z = fw_alloc(size, sizeof *s->z),
               .dual = fw_alloc(size, sizeof *s->dual)};
    return s->g && s->inside && s->passed && s->r && s->z && s->dual ? FW_OK
                                                                     : fw_out_of_memory(err);
}

static void set_release(set *s)
{
    fw_free(s->g);
    fw_free(s->inside);
    fw_free(s->passed);
    fw_free(s->r);
    fw_free(s->z);
    fw_free(s->dual);
}

/* Takes column j in; false when it depends on those inside. */
static bool enter(set *s, int j)
{
    int k = s->count;
    double *r = s->r + (size_t)k * (size_t)s->most;
    for (int i = 0; i < k; i++)
        r[i] = s->g[j][s->inside[i]];
    fw_upper_solve_transposed(k, 1, s->r, s->most, r, s->most);
    double left = s->g[j][j] - fw_dot(k, r, 1, r);
    if (!(left > DEPENDENT * s->g[j][j]))
        return false;
    r[k] = sqrt(left);
    s->inside[s->count++] = j;
    s->passed[j] = true;
    return true;
}

/* Those at 0 leave; R is made again of the others. */
static void let_out(set *s)
{
    int count = s->count;
    s->count = 0;
    for (int k = 0; k < count; k++) {
        int j = s->inside[k];
        s->passed[j] = false;
        if (!(s->x[j] > 0 && enter(s, j)))
            s->x[j] = 0;
    }
}

/* z = R^-1 R^-T c */
static void solve(set *s)
{
    for (int k = 0; k < s->count; k++)
        s->z[k] = s->c[s->inside[k]];
    fw_upper_solve_transposed(s->count, 1, s->r, s->most, s->z, s->n);
    fw_upper_solve(s->count, 1, s->r, s->most, s->z, s->n);
}

/* Goes from x toward z until something would turn negative, lets that out, until z is reached. */
static void settle(set *s)
{
    for (;;) {
        double step = 1;
        int stop = -1;
        solve(s);
        for (int k = 0; k < s->count; k++) {
            double x = s->x[s->inside[k]];
            if (s->z[k] > 0 || (stop >= 0 && x / (x - s->z[k]) >= step))
                continue;
            step = x > 0 ? x / (x - s->z[k]) : 0;
            stop = k;
        }
        for (int k = 0; k < s->count; k++) {
            double *x = &s->x[s->inside[k]];
            *x = stop < 0 ? s->z[k] : k == stop ? 0 : *x + step * (s->z[k] - *x);
        }
        if (stop < 0)
            return;
        let_out(s);
    }
}

/* c'x: at the least over those inside it is x'Gx, so that what is minimised is -c'x. */
static double worth(const set *s)
{
    double sum = 0;
    for (int k = 0; k < s->count; k++)
        sum += s->c[s->inside[k]] * s->x[s->inside[k]];
    return sum;
}

/* The column with the largest dual that is not inside nor passed over; -1: none is worth it. */
static int best_column(set *s)
{
    double most = 0;
    int best = -1;
    memcpy(s->dual, s->c, (size_t)s->n * sizeof *s->c);
    for (int k = 0; k < s->count; k++)
        fw_add(s->n, -s->x[s->inside[k]], s->g[s->inside[k]], 1, s->dual);
    for (int j = 0; j < s->n; j++)
        most = fmax(most, GAIN * s->c[j]);
    for (int j = 0; j < s->n; j++)
        if (!s->passed[j] && s->dual[j] > most) {
            most = s->dual[j];
            best = j;
        }
    return best;
}

/* Column j, asked for once, comes in; passed over where it depends on those inside. */
static void take_in(set *s, int j, normal_column *column, void *context)
{
    if (!s->g[j])
        s->g[j] = column(context, j);
    if (!enter(s, j)) {
        s->x[j] = 0;
        s->passed[j] = true;
    }
}

static void forget_passed(set *s)
{
    memset(s->passed, 0, (size_t)s->n * sizeof *s->passed);
    for (int k = 0; k < s->count; k++)
        s->passed[s->inside[k]] = true;
}

static fw_status minimise(set *s, normal_column *column, void *context, fw_error *err)
{
    for (int j = 0; j < s->n; j++)
        if (s->x[j] > 0)
            take_in(s, j, column, context);
    settle(s);
    for (long step = 0; step < 10L * s->n + 100; step++) {
        double before = worth(s);
        int j = best_column(s);
        if (j < 0)
            return FW_OK;
        take_in(s, j, column, context);
        settle(s);
        if (worth(s) > before)
            forget_passed(s);
        else
            s->passed[j] = true;
    }
    return fw_fail(err, FW_SYSTEM, "non-negative least squares did not end");
}

fw_status nnls_normal(int n, const double *c, normal_column *column, void *context, double *x,
                      fw_error *err)
{
    set s;
    fw_status status = set_init(&s, n, c, x, err);
    if (!status)
        status = minimise(&s, column, context, err);
    set_release(&s);
    return status;
}
