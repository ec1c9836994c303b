/* smooth.c - a flat's smooth figure by generalised least squares, all orders at once. */
#include "smooth.h"

#include <math.h>
#include <string.h>

#include "datum.h"
#include "flatwright/alloc.h"
#include "flatwright/mating.h"
#include "linalg.h"
#include "stack.h"
#include "terms_root.h"
#include "whiten.h"

/* A term counts as undetermined when the rest can imitate it to this part. */
static const double IMITATED = 1e-6;

/* Rings whose heights are whitened in one matrix product. */
enum { BATCH = 64 };

/*
 * One triangle of the fit. With x^ the solved heights of the face on a ring, X X' the covariance of
 * the terms, N what is undetermined of them, w the ring's whitening and f c the figure:
 *     u = 0 + e                                     one row a column of X
 *     w (f c - (b0 + rho b1) (X u + N v)) = w x^ + e    rings
 * Even parts of the heights see only pistons and terms of even order, odd ones the others; where
 * every ring is paired there is a triangle for each.
 */
typedef struct triangle {
    stack rows;
    stack aside; /* rows that see neither u nor v: the terms and the heights only */
    int count;   /* of rows pushed */
    int half;              /* the range of the terms it sees; -1: all */
    term_range root, null; /* rows of all roots, columns of all nulls */
    int nterms, *terms;    /* of the basis */
    double *length;        /* per column behind u: v's own, a term's before all elimination */
    double *rest;          /* rows and columns left when u is eliminated, leading dimension rows.size */
} triangle;

typedef struct fit {
    adjustment *a;
    int face;
    const fw_basis *basis;
    double clear_mm;
    int ntriangles;
    triangle triangles[2];
    double floor;
    long ndata;
} fit;

/* One part of the face's heights on the rings of a class inside the clear aperture. */
typedef struct group {
    const class_spread *s;
    const whiten *w;
    triangle *t;
    int nrings, *rings;
    int nmodes;
    double *q;          /* nrings x nmodes: orthonormal functions of the ring */
    double *project;    /* nmodes x (2 + terms): 1, rho and every term's radial part in them */
    double *squares;    /* per term: sum over the rings of its squared radial part */
    double *angular;    /* n x terms */
    double *shown;      /* n x nmodes: the heights in the modes */
    double *u, *v;      /* columns x d, twice: (b0 X)', (b1 X)'; (b0 N)', (b1 N)' */
    double *on;         /* d x terms: w angular */
} group;

/* A height of the part for a unit of each term's radial part. */
static void fill_angular(const fit *t, group *g)
{
    double root2 = g->w->part == WHITEN_ALL ? 1 : sqrt(2);
    for (int i = 0; i < g->w->n; i++) {
        int at = whiten_first(g->w->part, i), angle = g->s->angle[at];
        double theta = angle < 0 ? 0 : t->a->net->angles_deg[angle] * FW_RAD;
        for (int k = 0; k < g->t->nterms; k++) {
            int j = g->t->terms[k];
            bool odd = t->basis->terms[j].n % 2;
            double sign = odd && g->s->sign[at] < 0 ? -1 : 1;
            bool sees = g->w->part == WHITEN_ALL || odd == (g->w->part == WHITEN_ODD);
            g->angular[i + (size_t)k * g->w->n] =
                sees ? sign * root2 * fw_basis_around(t->basis, j, theta) : 0;
        }
    }
}

/* Functions of rho that span all radial parts: Legendre in 2 rho^2 - 1, times rho if odd. */
static int span_of(const fit *t, const group *g, double *v)
{
    int nv = 0;
    for (int n = 0; n <= t->basis->order; n++) {
        if (g->w->part != WHITEN_ALL && (n % 2 == 1) != (g->w->part == WHITEN_ODD))
            continue;
        for (int c = 0; c < g->nrings; c++) {
            double rho = t->a->net->ring_mm[g->rings[c]] / t->clear_mm;
            v[c + (size_t)nv * g->nrings] =
                fw_legendre(n / 2, 2 * rho * rho - 1) * (n % 2 ? rho : 1);
        }
        nv++;
    }
    return nv;
}

/* f (nrings) <- 1, rho, or the radial part of a term. */
static void function_of(const fit *t, const group *g, int which, double *f)
{
    for (int c = 0; c < g->nrings; c++) {
        double mm = t->a->net->ring_mm[g->rings[c]];
        f[c] = which == 0   ? 1
               : which == 1 ? mm / t->a->net->rmax_mm
                            : fw_basis_radial(t->basis, g->t->terms[which - 2], mm / t->clear_mm);
    }
}

/* The same radial part as an earlier term's: sine after cosine. */
static bool seen_before(const fit *t, const group *g, int k)
{
    const struct fw_term *x = &t->basis->terms[g->t->terms[k]];
    return k > 0 && x[-1].n == x->n && x[-1].m == -x->m && g->t->terms[k - 1] + 1 == g->t->terms[k];
}

static fw_status find_modes(const fit *t, group *g, fw_error *err)
{
    int nr = g->nrings, most = t->basis->order + 1, columns = 2 + g->t->nterms;
    double *v = fw_alloc((size_t)nr * most, sizeof *v), *f = fw_alloc(nr, sizeof *f);
    double *r = fw_alloc((size_t)most * most, sizeof *r);
    g->q = fw_alloc((size_t)nr * most, sizeof(double));
    g->project = fw_alloc((size_t)most * columns, sizeof(double));
    g->squares = fw_alloc(g->t->nterms, sizeof(double));
    fw_status status = v && f && r && g->q && g->project && g->squares ? FW_OK
                                                                      : fw_out_of_memory(err);
    if (status)
        goto done;
    int nv = span_of(t, g, v);
    g->nmodes = nr < nv ? nr : nv;
    if ((status = fw_qr_thin(nr, nv, v, g->q, r, err)))
        goto done;
    for (int k = 0; k < columns; k++) {
        double *at = g->project + (size_t)k * g->nmodes;
        if (k > 2 && seen_before(t, g, k - 2)) {
            memcpy(at, at - g->nmodes, (size_t)g->nmodes * sizeof *at);
            g->squares[k - 2] = g->squares[k - 3];
            continue;
        }
        function_of(t, g, k, f);
        fw_gemm(1, 0, g->nmodes, 1, nr, 1, g->q, nr, f, nr, 0, at, g->nmodes);
        if (k >= 2)
            g->squares[k - 2] = fw_dot(nr, f, 1, f);
    }
done:
    fw_free(v);
    fw_free(f);
    fw_free(r);
    return status;
}

/* x (n) <- the part of the face's solved heights on a ring; work has one number a contrast. */
static void heights_of(const fit *t, const group *g, int ring, double *work, double *x)
{
    const double *h = t->a->height + t->a->net->ring_height[ring];
    for (int i = 0; i < g->s->n; i++)
        work[i] = h[g->s->column[0][i]];
    whiten_take(g->w->part, g->w->n, work, 1, x);
}

/* shown = heights in the modes; what the modes do not show of the whitened heights is for no order. */
static fw_status show_heights(fit *t, group *g, fw_error *err)
{
    int n = g->w->n, d = g->w->d, nr = g->nrings;
    double *work = fw_alloc(g->s->n, sizeof *work);
    double *x = fw_alloc((size_t)n * BATCH, sizeof *x), *y = fw_alloc((size_t)d * BATCH, sizeof *y);
    g->shown = fw_alloc((size_t)n * g->nmodes, sizeof(double));
    fw_status status = work && x && y && g->shown ? FW_OK : fw_out_of_memory(err);
    for (int pass = 0; pass < (nr > g->nmodes ? 2 : 1) && !status; pass++)
        for (int first = 0; first < nr; first += BATCH) {
            int count = nr - first < BATCH ? nr - first : BATCH;
            for (int c = 0; c < count; c++)
                heights_of(t, g, g->rings[first + c], work, x + (size_t)c * n);
            if (pass == 0) {
                fw_gemm(0, 0, n, g->nmodes, count, 1, x, n, g->q + first, nr, 1, g->shown, n);
                continue;
            }
            fw_gemm(0, 1, n, count, g->nmodes, -1, g->shown, n, g->q + first, nr, 1, x, n);
            fw_gemm(0, 0, d, count, n, 1, g->w->w, d, x, n, 0, y, d);
            t->floor += fw_dot(d * count, y, 1, y);
        }
    fw_free(work);
    fw_free(x);
    fw_free(y);
    return status;
}

/* What one ring and a unit of every column of u and v do to the whitened heights, and of angular. */
static fw_status meet_columns(const fit *t, group *g, fw_error *err)
{
    int n = g->w->n, d = g->w->d;
    int nu = g->t->root.count, nv = g->t->null.count, nb = g->t->nterms;
    const scan_terms *terms = &t->a->terms;
    g->u = fw_alloc(2 * (size_t)d * nu, sizeof(double));
    g->v = fw_alloc(2 * (size_t)d * nv, sizeof(double));
    g->angular = fw_alloc((size_t)n * nb, sizeof(double));
    g->on = fw_alloc((size_t)d * nb, sizeof(double));
    if (!g->u || !g->v || !g->angular || !g->on)
        return fw_out_of_memory(err);
    for (int power = 0; power < 2; power++) {
        const double *b = power ? g->w->b1 : g->w->b0;
        if (!b || !g->w->seen[power].count) /* of a single ring: nothing before rho */
            continue;
        double *u = g->u + (size_t)power * d * nu, *v = g->v + (size_t)power * d * nv;
        for (int r = 0; r < terms->nranges; r++) {
            const double *seen = b + (size_t)terms->range[r].first * d;
            if (g->t->half >= 0 && g->t->half != r)
                continue;
            terms_root_times(terms, r, d, seen, d, u + terms->roots[r].first - g->t->root.first,
                             nu);
            terms_null_times(terms, r, d, seen, d, v + terms->nulls[r].first - g->t->null.first,
                             nv);
        }
    }
    fill_angular(t, g);
    fw_gemm(0, 0, d, nb, n, 1, g->w->w, d, g->angular, n, 0, g->on, d);
    return FW_OK;
}

/* at (d rows, leading dimension ld) <- -(one x0 + rho x1)' in a mode, x0 and x1 count x d. */
static void put_mixed(int d, int count, double one, double rho, const double *x, double *at, int ld)
{
    const double *x1 = x + (size_t)d * count;
    for (int j = 0; j < count; j++)
        for (int i = 0; i < d; i++)
            at[i + (size_t)j * ld] =
                -one * x[j + (size_t)i * count] - rho * x1[j + (size_t)i * count];
}

/* at (d rows, leading dimension ld) <- the terms, and the whitened heights, in mode i. */
static void put_terms(const group *g, int i, double *at, int ld)
{
    int n = g->w->n, d = g->w->d, nb = g->t->nterms;
    for (int k = 0; k < nb; k++)
        for (int r = 0; r < d; r++)
            at[r + (size_t)k * ld] = g->project[i + (2 + k) * g->nmodes] * g->on[r + (size_t)k * d];
    fw_gemm(0, 0, d, 1, n, 1, g->w->w, d, g->shown + (size_t)i * n, n, 0, at + (size_t)nb * ld, ld);
}

/* The first modes are 1 and rho, or one of them: the others do not see the scan terms. */
static fw_status push_modes(const group *g, fw_error *err)
{
    triangle *t = g->t;
    int n = g->w->n, d = g->w->d, nu = t->root.count, nv = t->null.count;
    int seeing = g->w->part == WHITEN_ALL ? 2 : 1;
    for (int i = 0; i < g->nmodes; i++) {
        const double *p = g->project + i;
        stack *to = i < seeing ? &t->rows : &t->aside;
        double *at = stack_push(to, d, err);
        size_t ld = (size_t)to->size;
        if (!at)
            return FW_SYSTEM;
        if (i >= seeing) {
            put_terms(g, i, at, to->size);
            continue;
        }
        t->count += d;
        put_mixed(d, nu, p[0], p[g->nmodes], g->u, at, to->size);
        put_mixed(d, nv, p[0], p[g->nmodes], g->v, at + (size_t)nu * ld, to->size);
        for (int j = 0; j < nv; j++)
            t->length[j] += pow(fw_length(d, at + (size_t)(nu + j) * ld), 2);
        put_terms(g, i, at + (size_t)(nu + nv) * ld, to->size);
    }
    for (int k = 0; k < t->nterms; k++)
        for (int i = 0; i < n; i++)
            t->length[nv + k] += g->w->weight2[i] * g->squares[k] *
                                 pow(g->angular[i + (size_t)k * n], 2);
    return FW_OK;
}

static void group_release(group *g)
{
    fw_free(g->q);
    fw_free(g->project);
    fw_free(g->squares);
    fw_free(g->angular);
    fw_free(g->shown);
    fw_free(g->u);
    fw_free(g->v);
    fw_free(g->on);
}

static fw_status push_part(fit *t, const class_spread *s, const whiten *w,
                           int nrings, int *rings, fw_error *err)
{
    group g = {.s = s, .w = w, .nrings = nrings, .rings = rings};
    fw_status status;
    g.t = &t->triangles[t->ntriangles == 2 && w->part == WHITEN_ODD];
    t->ndata += (long)w->d * nrings;
    if (!(status = find_modes(t, &g, err)) && !(status = show_heights(t, &g, err)) &&
        !(status = meet_columns(t, &g, err)))
        status = push_modes(&g, err);
    group_release(&g);
    return status;
}

/* One class: its rings inside the clear aperture; the others leave the heights free. */
static fw_status push_class(fit *t, int c, int *rings, fw_error *err)
{
    const net_class *class = &t->a->net->classes[c];
    contrast what = {t->face, -1};
    class_spread s = {0};
    int nrings = 0;
    bool any = false;
    for (int j = 0; j < class->ncolumns; j++)
        any = any || class->columns[j].face == t->face;
    for (int r = 0; r < class->nrings && any; r++)
        if (datum_covers(t->a, what, class->rings[r]))
            rings[nrings++] = class->rings[r];
    if (!nrings)
        return FW_OK;
    fw_status status = class_spread_new(t->a, c, what, SPREAD_COVARIANCE, &s, err);
    for (int part = class->paired ? WHITEN_EVEN : WHITEN_ALL;
         part <= (class->paired ? WHITEN_ODD : WHITEN_ALL) && !status; part++) {
        whiten w = {0};
        if (!(status = whiten_new(t->a, c, &s, part, &w, err)) && w.d)
            status = push_part(t, &s, &w, nrings, rings, err);
        whiten_release(&w);
    }
    class_spread_release(&s);
    return status;
}

/* The columns of a triangle. */
static fw_status triangle_init(const fit *t, int half, triangle *x, fw_error *err)
{
    const scan_terms *terms = &t->a->terms;
    bool apart = t->ntriangles == 2;
    *x = (triangle){.terms = fw_alloc(t->basis->nterms, sizeof *x->terms),
                    .half = apart ? half : -1,
                    .root = apart ? terms->roots[half] : (term_range){0, terms->rank},
                    .null = apart ? terms->nulls[half] : (term_range){0, terms->nnull}};
    if (!x->terms)
        return fw_out_of_memory(err);
    for (int j = 0; j < t->basis->nterms; j++)
        if (!apart || t->basis->terms[j].n % 2 == half)
            x->terms[x->nterms++] = j;
    int behind = x->null.count + x->nterms + 1;
    fw_status status = stack_init(&x->rows, x->root.count + behind, err);
    if (!status)
        status = stack_init(&x->aside, x->nterms + 1, err);
    x->length = fw_alloc(behind, sizeof *x->length);
    return status || x->length ? status : fw_out_of_memory(err);
}

static void triangle_release(triangle *x)
{
    stack_release(&x->rows);
    stack_release(&x->aside);
    fw_free(x->terms);
    fw_free(x->length);
}

/* What was kept aside, as rows like the others. */
static fw_status join_aside(triangle *x, fw_error *err)
{
    int n = x->aside.ncols, behind = x->root.count + x->null.count;
    fw_status status = stack_compress(&x->aside, err);
    double *at = status ? NULL : stack_push(&x->rows, n, err);
    if (!at)
        return FW_SYSTEM;
    for (int j = 0; j < n; j++)
        memcpy(at + (size_t)(behind + j) * x->rows.size, x->aside.a + (size_t)j * x->aside.size,
               (size_t)n * sizeof *at);
    x->count += n;
    return FW_OK;
}

/*
 * Eliminates u with its own rows. Rows y = A u + r + e, fewer than u has columns, are those of
 *     R^-T r,  R'R = 1 + A A',
 * else QR of them all. *m <- the rows left.
 */
static fw_status eliminate_u(triangle *x, int *m, fw_error *err)
{
    stack *s = &x->rows;
    int nu = x->root.count, n = s->fresh, behind = s->ncols - nu;
    size_t ld = (size_t)s->size;
    fw_status status;
    if (x->count == n && n < nu) {
        double *a = s->a + s->above, *g = fw_alloc((size_t)n * n, sizeof *g);
        if (!g)
            return fw_out_of_memory(err);
        for (int i = 0; i < n; i++)
            g[i + (size_t)i * n] = 1;
        fw_gemm(0, 1, n, n, nu, 1, a, s->size, a, s->size, 1, g, n);
        x->rest = a + (size_t)nu * ld;
        *m = n;
        if (!(status = fw_cholesky(n, g, err)))
            fw_upper_solve_transposed(n, behind, g, n, x->rest, s->size);
        fw_free(g);
        return status;
    }
    double *at = stack_push(s, nu, err);
    if (!at)
        return FW_SYSTEM;
    for (int i = 0; i < nu; i++)
        at[i + (size_t)i * s->size] = 1;
    status = stack_compress(s, err);
    x->rest = s->a + nu + (size_t)nu * (size_t)s->size;
    *m = behind;
    return status;
}

/* Eliminates u, then v, then takes the terms in order; row[j] <- the row of term j, -1: undetermined. */
static fw_status reduce(fit *t, triangle *x, int *row, fw_error *err)
{
    int nv = x->null.count, n = nv + x->nterms;
    int m = 0, at = 0;
    char *used = fw_alloc(n, 1);
    fw_status status = used ? join_aside(x, err) : fw_out_of_memory(err);
    if (status || (status = eliminate_u(x, &m, err))) {
        fw_free(used);
        return status;
    }
    for (int j = 0; j < n; j++)
        x->length[j] = sqrt(x->length[j]);
    int ld = x->rows.size, r = fw_qr_stairs(m, n, 1, x->rest, ld, x->length, IMITATED, used);
    for (int j = 0; j < n; j++) {
        t->ndata -= j < nv && used[j];
        if (j >= nv)
            row[x->terms[j - nv]] = used[j] ? at : -1;
        at += used[j];
    }
    const double *rest = x->rest + r + (size_t)n * ld;
    t->floor += fw_dot(m - r, rest, 1, rest);
    fw_free(used);
    return FW_OK;
}

/* R and z over the determined terms of both triangles, in the order of the basis. */
static fw_status conclude(fit *t, const int *row, smooth *out, fw_error *err)
{
    int n = 0, nb = t->basis->nterms;
    for (int j = 0; j < nb; j++)
        n += row[j] >= 0;
    out->nused = n;
    out->used = fw_alloc(n, sizeof *out->used);
    out->r = fw_alloc((size_t)n * n, sizeof *out->r);
    out->z = fw_alloc(n, sizeof *out->z);
    if (!out->used || !out->r || !out->z)
        return fw_out_of_memory(err);
    for (int j = 0, k = 0; j < nb; j++)
        if (row[j] >= 0)
            out->used[k++] = j;
    for (int which = 0; which < t->ntriangles; which++) {
        const triangle *x = &t->triangles[which];
        size_t ld = (size_t)x->rows.size;
        const double *a = x->rest + (size_t)x->null.count * ld;
        for (int i = 0; i < n; i++) {
            const double *at = a + row[out->used[i]];
            for (int c = 0, k = 0; c < x->nterms; c++) {
                while (k < n && out->used[k] < x->terms[c])
                    k++;
                bool own = t->ntriangles == 1 ||
                           t->basis->terms[out->used[i]].n % 2 == which;
                if (own && k < n && k >= i && out->used[k] == x->terms[c])
                    out->r[i + (size_t)k * n] = at[(size_t)c * ld];
                if (own)
                    out->z[i] = at[(size_t)x->nterms * ld];
            }
        }
    }
    out->floor = t->floor;
    out->ndata = (int)t->ndata;
    return FW_OK;
}

static fw_status fit_all(fit *t, smooth *out, fw_error *err)
{
    const fw_net *net = t->a->net;
    fw_status status = FW_OK;
    int *rings = fw_alloc(net->nrings, sizeof *rings);
    int *row = fw_alloc(t->basis->nterms, sizeof *row);
    if (!rings || !row)
        status = fw_out_of_memory(err);
    for (int k = 0; k < t->ntriangles && !status; k++)
        status = triangle_init(t, k, &t->triangles[k], err);
    for (int c = 0; c < net->nclasses && !status; c++)
        status = push_class(t, c, rings, err);
    for (int k = 0; k < t->ntriangles && !status; k++)
        status = reduce(t, &t->triangles[k], row, err);
    if (!status)
        status = conclude(t, row, out, err);
    fw_free(rings);
    fw_free(row);
    return status;
}

fw_status smooth_new(adjustment *a, int face, bool line, int order, smooth *out, fw_error *err)
{
    term_range range[2];
    smooth made = {.free_chi = a->chi_square};
    fit t = {.a = a,
             .face = face,
             .clear_mm = a->net->faces[face].clear_mm,
             .ntriangles = terms_ranges(a->net, range),
             .floor = a->chi_square};
    fw_status status = fw_basis_new(line, order, &made.basis, err);
    if (status)
        return status;
    t.basis = made.basis;
    status = fit_all(&t, &made, err);
    triangle_release(&t.triangles[0]);
    triangle_release(&t.triangles[1]);
    if (status)
        smooth_release(&made);
    else
        *out = made;
    return status;
}

void smooth_release(smooth *s)
{
    fw_basis_free(s->basis);
    fw_free(s->used);
    fw_free(s->r);
    fw_free(s->z);
    *s = (smooth){0};
}

int smooth_count(const smooth *s, int k)
{
    int count = 0;
    while (count < s->nused && s->basis->terms[s->used[count]].n <= k)
        count++;
    return count;
}

double smooth_chi(const smooth *s, int count)
{
    const double *rest = s->z + count;
    return s->floor + fw_dot(s->nused - count, rest, 1, rest);
}

void smooth_solve(const smooth *s, int count, double *c)
{
    memcpy(c, s->z, (size_t)count * sizeof *c);
    fw_upper_solve(count, 1, s->r, s->nused, c, count);
}
