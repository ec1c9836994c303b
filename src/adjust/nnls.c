/* nnls.c - non-negative least squares by active sets on a QR factorisation that follows them. */
#include <math.h>
#include <stdbool.h>
#include <string.h>

#include "adjust/linalg.h"
#include "flatwright/alloc.h"
#include "flatwright/nnls.h"

#define DEPENDENT 1e-12 /* of a column's length: what is left of it outside the others' span */
#define GAIN 1e-13      /* of |a_j| |b|: a smaller dual does not let a column in */

/* Columns inside the set, A_P = Q R with columns of unit length. */
typedef struct set {
    int m, n, count;
    const double *a;
    double *length;   /* n, of A's columns */
    int *inside;      /* column numbers in the order of R's columns */
    bool *passed;     /* n: inside, or passed over for now */
    double *q;        /* m x min(m, n) */
    double *r;        /* n x n, leading dimension n */
    double *qb;       /* Q'b */
    double *x, *z;    /* n, for the columns of unit length; z in the order of `inside` */
    double *residual; /* m */
    double *dual;     /* n */
} set;

static fw_status set_init(set *s, int m, int n, const double *a)
{
    int most = m < n ? m : n;
    memset(s, 0, sizeof *s);
    s->m = m;
    s->n = n;
    s->a = a;
    s->length = fw_alloc(n, sizeof *s->length);
    s->inside = fw_alloc(n, sizeof *s->inside);
    s->passed = fw_alloc(n, sizeof *s->passed);
    s->q = fw_alloc((size_t)m * most, sizeof *s->q);
    s->r = fw_alloc((size_t)n * n, sizeof *s->r);
    s->qb = fw_alloc(n, sizeof *s->qb);
    s->x = fw_alloc(n, sizeof *s->x);
    s->z = fw_alloc(n, sizeof *s->z);
    s->residual = fw_alloc(m, sizeof *s->residual);
    s->dual = fw_alloc(n, sizeof *s->dual);
    if (!s->length || !s->inside || !s->passed || !s->q || !s->r || !s->qb || !s->x || !s->z ||
        !s->residual || !s->dual)
        return FW_SYSTEM;
    for (int j = 0; j < n; j++)
        s->length[j] = sqrt(fw_dot(m, a + (size_t)j * m, 1, a + (size_t)j * m));
    return FW_OK;
}

static void set_release(set *s)
{
    fw_free(s->length);
    fw_free(s->inside);
    fw_free(s->passed);
    fw_free(s->q);
    fw_free(s->r);
    fw_free(s->qb);
    fw_free(s->x);
    fw_free(s->z);
    fw_free(s->residual);
    fw_free(s->dual);
}

/* Takes column j in; false when it depends on those inside. */
static bool enter(set *s, int j, const double *b)
{
    int m = s->m, k = s->count;
    const double *column = s->a + (size_t)j * m;
    double *r = s->r + (size_t)k * s->n;
    if (k == m || s->length[j] == 0)
        return false;
    double *v = s->q + (size_t)k * m;
    for (int i = 0; i < m; i++)
        v[i] = column[i] / s->length[j];
    memset(r, 0, (size_t)s->n * sizeof *r);
    for (int pass = 0; pass < 2; pass++)
        for (int p = 0; p < k; p++) {
            const double *q = s->q + (size_t)p * m;
            double c = fw_dot(m, q, 1, v);
            r[p] += c;
            fw_add(m, -c, q, 1, v);
        }
    double left = sqrt(fw_dot(m, v, 1, v));
    if (!(left > DEPENDENT))
        return false;
    for (int i = 0; i < m; i++)
        v[i] /= left;
    r[k] = left;
    s->qb[k] = fw_dot(m, v, 1, b);
    s->inside[k] = j;
    s->passed[j] = true;
    s->count++;
    return true;
}

/* Turns rows k and k + 1 of R, with Q and Q'b, so that R(k + 1, k) vanishes. */
static void rotate(set *s, int k)
{
    double *r = s->r + k + (size_t)k * s->n, h = hypot(r[0], r[1]);
    double c = r[0] / h, d = r[1] / h;
    for (int j = k; j < s->count; j++) {
        double *p = s->r + k + (size_t)j * s->n, top = p[0];
        p[0] = c * top + d * p[1];
        p[1] = c * p[1] - d * top;
    }
    double *u = s->q + (size_t)k * s->m, *v = u + s->m;
    for (int i = 0; i < s->m; i++) {
        double top = u[i];
        u[i] = c * top + d * v[i];
        v[i] = c * v[i] - d * top;
    }
    double top = s->qb[k];
    s->qb[k] = c * top + d * s->qb[k + 1];
    s->qb[k + 1] = c * s->qb[k + 1] - d * top;
}

static void leave(set *s, int place)
{
    int j = s->inside[place];
    s->passed[j] = false;
    s->x[j] = 0;
    s->count--;
    for (int k = place; k < s->count; k++) {
        s->inside[k] = s->inside[k + 1];
        memcpy(s->r + (size_t)k * s->n, s->r + (size_t)(k + 1) * s->n, (size_t)s->n * sizeof *s->r);
    }
    for (int k = place; k < s->count; k++)
        rotate(s, k);
}

/* z = R^-1 Q'b */
static void solve(set *s)
{
    for (int k = s->count - 1; k >= 0; k--) {
        double sum = s->qb[k];
        for (int j = k + 1; j < s->count; j++)
            sum -= s->r[k + (size_t)j * s->n] * s->z[j];
        s->z[k] = sum / s->r[k + (size_t)k * s->n];
    }
}

/* residual = b - A x and its length; dual = A' residual, both for columns of unit length. */
static double look(set *s, const double *b)
{
    memcpy(s->residual, b, (size_t)s->m * sizeof *b);
    for (int k = 0; k < s->count; k++) {
        int j = s->inside[k];
        const double *column = s->a + (size_t)j * s->m;
        fw_add(s->m, -s->x[j] / s->length[j], column, 1, s->residual);
    }
    for (int j = 0; j < s->n; j++)
        s->dual[j] = s->length[j] > 0
                         ? fw_dot(s->m, s->a + (size_t)j * s->m, 1, s->residual) / s->length[j]
                         : 0;
    return sqrt(fw_dot(s->m, s->residual, 1, s->residual));
}

/* Goes from x toward z until something would turn negative, lets that out, until z is reached. */
static void settle(set *s, int nfree)
{
    for (;;) {
        double step = 1;
        int stop = -1;
        for (int k = 0; k < s->count; k++) {
            int j = s->inside[k];
            if (j < nfree || s->z[k] > 0)
                continue;
            double t = s->x[j] / (s->x[j] - s->z[k]); /* z <= 0 <= x, not both 0 after `leave` */
            if (stop < 0 || !(t >= step)) {
                step = t;
                stop = k;
            }
        }
        for (int k = 0; k < s->count; k++) {
            double *x = &s->x[s->inside[k]];
            *x = stop < 0 ? s->z[k] : *x + step * (s->z[k] - *x);
        }
        if (stop < 0)
            return;
        s->x[s->inside[stop]] = 0;
        for (int k = s->count - 1; k >= 0; k--)
            if (s->inside[k] >= nfree && s->x[s->inside[k]] <= 0)
                leave(s, k);
        solve(s);
    }
}

/* The column with the largest dual that is not inside nor passed over; -1: none is worth it. */
static int best_column(const set *s, int nfree, double floor)
{
    int best = -1;
    for (int j = nfree; j < s->n; j++)
        if (!s->passed[j] && s->dual[j] > floor && (best < 0 || s->dual[j] > s->dual[best]))
            best = j;
    return best;
}

static void forget_passed(set *s)
{
    memset(s->passed, 0, (size_t)s->n * sizeof *s->passed);
    for (int k = 0; k < s->count; k++)
        s->passed[s->inside[k]] = true;
}

/*
 * Where every column has its place and a positive x, the plain least squares is the answer. Else
 * nothing is inside. Not tried where some column alone would go the wrong way: it is dear.
 */
static bool all_inside(set *s, int nfree, const double *b, double *norm)
{
    bool all = s->n <= s->m;
    *norm = look(s, b);
    for (int j = nfree; j < s->n && all; j++)
        all = s->dual[j] > 0;
    for (int j = 0; j < s->n && all; j++)
        all = enter(s, j, b);
    if (all)
        solve(s);
    for (int j = nfree; j < s->n && all; j++)
        all = s->z[j] > 0;
    if (!all) {
        s->count = 0;
        memset(s->passed, 0, (size_t)s->n * sizeof *s->passed);
        return false;
    }
    memcpy(s->x, s->z, (size_t)s->n * sizeof *s->x);
    *norm = look(s, b);
    return true;
}

static fw_status minimise(set *s, int nfree, const double *b, double *norm, fw_error *err)
{
    double floor = GAIN * sqrt(fw_dot(s->m, b, 1, b));
    if (all_inside(s, nfree, b, norm))
        return FW_OK;
    for (int j = 0; j < nfree; j++)
        enter(s, j, b);
    solve(s);
    settle(s, nfree);
    *norm = look(s, b);
    for (long step = 0; step < 10L * s->n + 100; step++) {
        int j = best_column(s, nfree, floor);
        if (j < 0)
            return FW_OK;
        if (!enter(s, j, b)) {
            s->passed[j] = true;
            continue;
        }
        solve(s);
        if (s->z[s->count - 1] <= 0) { /* rounding alone called it in */
            leave(s, s->count - 1);
            s->passed[j] = true;
            continue;
        }
        settle(s, nfree);
        double before = *norm;
        *norm = look(s, b);
        if (*norm < before)
            forget_passed(s);
        else
            s->passed[j] = true;
    }
    return fw_fail(err, FW_SYSTEM, "non-negative least squares did not end");
}

static bool all_finite(size_t n, const double *v)
{
    for (size_t i = 0; i < n; i++)
        if (!isfinite(v[i]))
            return false;
    return true;
}

fw_status fw_nnls(int m, int n, int nfree, const double *a, const double *b, double *x,
                  double *dual, double *residual, fw_error *err)
{
    set s;
    double norm;
    if (m < 1 || n < 1 || nfree < 0 || nfree > n)
        return fw_fail(err, FW_SYSTEM, "no least-squares problem of %d rows and %d columns", m, n);
    if (!all_finite((size_t)m * n, a) || !all_finite(m, b))
        return fw_fail(err, FW_SYSTEM, "a number in the least-squares problem is not finite");
    fw_status status = set_init(&s, m, n, a);
    if (status) {
        fw_fail(err, status, "out of memory");
        goto done;
    }
    status = minimise(&s, nfree, b, &norm, err);
    if (status)
        goto done;
    for (int j = 0; j < n; j++) {
        x[j] = s.x[j] != 0 ? s.x[j] / s.length[j] : 0;
        if (dual)
            dual[j] = s.dual[j] * s.length[j];
    }
    if (residual)
        *residual = norm;
done:
    set_release(&s);
    return status;
}
