/* surface.c - the flats as circle polynomials: all rounds solved together, order by order. */
#include "surface.h"

#include <math.h>
#include <string.h>

#include "flatwright/alloc.h"
#include "linalg.h"
#include "stack.h"
#include "surface_order.h"

/* A term counts as undetermined when the rest can imitate it to this part. */
static const double IMITATED = 1e-6;

/* More columns than this would take seconds: the highest order tried comes down, not below LEAST. */
enum { COLUMNS_MAX = 700, LEAST = 6 };

static int top_order(const fw_net *net, int order)
{
    int top = SURFACE_ORDER_MAX;
    if (order > 0)
        return order < 2 ? 2 : order;
    while (top > LEAST && net->nfaces * ((top + 1) * (top + 2) / 2 - 3) > COLUMNS_MAX)
        top--;
    return top;
}

/* The columns of all faces up to their caps, by order, then face. */
static fw_status lay_columns(surface *s, fw_error *err)
{
    const fw_basis *basis = s->terms.basis;
    int nb = basis->nterms;
    s->column = fw_alloc((size_t)s->net->nfaces * (size_t)nb, sizeof *s->column);
    s->count = fw_alloc((size_t)basis->order + 1, sizeof *s->count);
    s->find = fw_alloc((size_t)s->net->nfaces * (size_t)nb, sizeof *s->find);
    if (!s->column || !s->count || !s->find)
        return fw_out_of_memory(err);
    for (int k = 0, first = 0; k <= basis->order; k++) {
        int next = fw_basis_count(basis, k);
        for (int f = 0; f < s->net->nfaces; f++)
            for (int j = first; j < next; j++) {
                bool there = basis->terms[j].n <= s->cap[f];
                s->find[f * nb + j] = there ? s->ncolumns : -1;
                if (there)
                    s->column[s->ncolumns++] = (surface_column){f, j};
            }
        s->count[k] = s->ncolumns;
        first = next;
    }
    return FW_OK;
}

/* One group's equations into the running triangle of all. */
static fw_status push_group(surface *s, const surface_rows *r, const surface_group *g, stack *all,
                            fw_error *err)
{
    int nb = s->terms.basis->nterms;
    double *to = r->rows ? stack_push(all, r->rows, err) : NULL;
    if (r->rows && !to)
        return FW_SYSTEM;
    for (int side = 0; side < 2 && to; side++)
        for (int j = 0; j < nb; j++) {
            int at = s->find[g->face[side] * nb + j];
            const double *from = r->a + r->from + (size_t)(side * nb + j) * (size_t)r->ld;
            if (at < 0)
                continue;
            for (int i = 0; i < r->rows; i++) /* += : a flat is never on both sides, but let it be */
                to[i + (size_t)at * (size_t)all->size] += from[i];
            s->length[at] += r->length2[side * nb + j];
        }
    if (to)
        memcpy(to + (size_t)s->ncolumns * (size_t)all->size,
               r->a + r->from + (size_t)(2 * nb) * (size_t)r->ld, (size_t)r->rows * sizeof *to);
    s->left += r->left;
    s->scan_rank += r->eliminated;
    s->readings += r->readings;
    return FW_OK;
}

/* raw <- the triangle over all columns and the right-hand side; stairs <- with columns left out. */
static fw_status factor(surface *s, stack *all, fw_error *err)
{
    int n = s->ncolumns;
    fw_status status = stack_compress(all, err);
    if (status)
        return status;
    s->rows = s->ld = all->ncols;
    size_t size = (size_t)s->ld * ((size_t)n + 1);
    s->raw = fw_alloc(size, sizeof *s->raw);
    s->stairs = fw_alloc(size, sizeof *s->stairs);
    s->used = fw_alloc((size_t)n, sizeof *s->used);
    s->used_column = fw_alloc((size_t)n, sizeof *s->used_column);
    if (!s->raw || !s->stairs || !s->used || !s->used_column)
        return fw_out_of_memory(err);
    for (int j = 0; j <= n; j++)
        memcpy(s->raw + (size_t)j * (size_t)s->ld, all->a + (size_t)j * (size_t)all->size,
               (size_t)s->ld * sizeof *s->raw);
    memcpy(s->stairs, s->raw, size * sizeof *s->raw);
    s->rank = fw_qr_stairs(s->rows, n, 1, s->stairs, s->ld, s->length, IMITATED, s->used);
    for (int j = 0, r = 0; j < n; j++)
        if (s->used[j])
            s->used_column[r++] = j;
    const double *rhs = s->stairs + (size_t)n * (size_t)s->ld;
    s->floor = s->left + pow(fw_length(s->rows - s->rank, rhs + s->rank), 2);
    return FW_OK;
}

/* All groups: their equations first for the caps of the faces, then into one triangle. */
static fw_status assemble(surface *s, fw_error *err)
{
    int *scans = NULL, ngroups = 0;
    surface_group *groups = NULL;
    surface_rows *rows = NULL;
    stack all = {0};
    fw_status status = surface_groups(s->net, &scans, &groups, &ngroups, err);
    if (status)
        return status;
    rows = fw_alloc((size_t)ngroups, sizeof *rows);
    if (!rows)
        status = fw_out_of_memory(err);
    for (int k = 0; k < ngroups && !status; k++)
        status = surface_rows_new(s->net, &s->terms, &groups[k], s->skip, &rows[k], err);
    if (status || (status = surface_caps(s, ngroups, groups, rows, err)) ||
        (status = lay_columns(s, err)))
        goto done;
    s->length = fw_alloc((size_t)s->ncolumns, sizeof *s->length);
    status = s->length ? stack_init(&all, s->ncolumns + 1, err) : fw_out_of_memory(err);
    for (int k = 0; k < ngroups && !status; k++)
        status = push_group(s, &rows[k], &groups[k], &all, err);
    for (int j = 0; j < s->ncolumns && !status; j++)
        s->length[j] = sqrt(s->length[j]);
    if (!status)
        status = factor(s, &all, err);
    s->beyond = s->net->nreadings - s->readings;
done:
    for (int k = 0; k < ngroups && rows; k++)
        surface_rows_release(&rows[k]);
    fw_free(rows);
    fw_free(groups);
    fw_free(scans);
    stack_release(&all);
    return status;
}

int surface_rank(const surface *s, int k)
{
    int r = 0;
    while (r < s->rank && s->used_column[r] < s->count[k])
        r++;
    return r;
}

double surface_chi(const surface *s, int k)
{
    int p = surface_rank(s, k);
    return s->floor +
           pow(fw_length(s->rank - p, s->stairs + (size_t)s->ncolumns * (size_t)s->ld + p), 2);
}

/* out (p x p) <- the triangle of the leading p used columns. */
static void used_triangle(const surface *s, int p, double *out)
{
    for (int k = 0; k < p; k++)
        memcpy(out + (size_t)k * (size_t)p,
               s->stairs + (size_t)s->used_column[k] * (size_t)s->ld,
               (size_t)(k + 1) * sizeof *out);
}

fw_status surface_null_new(const surface *s, int k, surface_null *out, fw_error *err)
{
    int n = s->count[k], p = surface_rank(s, k), d = n - p;
    surface_null z = {.n = n, .d = d};
    size_t size = (size_t)n * (size_t)d;
    double *r = fw_alloc((size_t)p * (size_t)p, sizeof *r), *x = fw_alloc((size_t)p, sizeof *x);
    double *v = fw_alloc(size, sizeof *v), *small = fw_alloc((size_t)d * (size_t)d, sizeof *small);
    z.v = fw_alloc(size, sizeof *z.v);
    fw_status status = r && x && v && small && z.v ? FW_OK : fw_out_of_memory(err);
    if (!status)
        used_triangle(s, p, r);
    for (int j = 0, q = 0, above = 0; j < n && !status; j++) {
        if (s->used[j]) {
            above++;
            continue;
        }
        /* column j is R x of the used ones before it: the readings do not see e_j - x */
        memcpy(x, s->stairs + (size_t)j * (size_t)s->ld, (size_t)above * sizeof *x);
        fw_upper_solve(above, 1, r, p, x, p);
        double *to = v + (size_t)q++ * (size_t)n;
        to[j] = 1;
        for (int i = 0; i < above; i++)
            to[s->used_column[i]] = -x[i];
    }
    if (!status && d)
        status = fw_qr_thin(n, d, v, z.v, small, err);
    fw_free(r);
    fw_free(x);
    fw_free(v);
    fw_free(small);
    if (status)
        fw_free(z.v);
    else
        *out = z;
    return status;
}

void surface_null_release(surface_null *z)
{
    fw_free(z->v);
    *z = (surface_null){0};
}

fw_status surface_power_told(const surface *s, int face, bool *out, fw_error *err)
{
    surface_null z = {0};
    int column = s->find[face * s->terms.basis->nterms]; /* term 0 is (2, 0) */
    fw_status status = surface_null_new(s, s->order, &z, err);
    *out = column >= 0 && column < z.n;
    for (int k = 0; k < z.d && *out; k++)
        *out = fabs(z.v[(size_t)column + (size_t)k * (size_t)z.n]) <= IMITATED;
    surface_null_release(&z);
    return status;
}

/* The coefficients of the chosen order, and the root of their covariance. */
static fw_status solve(surface *s, fw_error *err)
{
    int n = s->n = s->count[s->order], p = s->p = surface_rank(s, s->order);
    surface_null z = {0};
    double *r = fw_alloc((size_t)p * (size_t)p, sizeof *r), *x = fw_alloc((size_t)p, sizeof *x);
    double *share = fw_alloc((size_t)(n - p), sizeof *share);
    s->c = fw_alloc((size_t)n, sizeof *s->c);
    s->root = fw_alloc((size_t)p * (size_t)p, sizeof *s->root);
    fw_status status = r && x && share && s->c && s->root ? surface_null_new(s, s->order, &z, err)
                                                          : fw_out_of_memory(err);
    if (status)
        goto done;
    used_triangle(s, p, r);
    fw_upper_inverse(p, r, p, s->root);
    memcpy(x, s->stairs + (size_t)s->ncolumns * (size_t)s->ld, (size_t)p * sizeof *x);
    fw_upper_solve(p, 1, r, p, x, p);
    for (int i = 0; i < p; i++)
        s->c[s->used_column[i]] = x[i];
    fw_gemm(1, 0, z.d, 1, n, 1, z.v, n, s->c, n, 0, share, z.d);
    fw_gemm(0, 0, n, 1, z.d, -1, z.v, n, share, z.d, 1, s->c, n);
done:
    surface_null_release(&z);
    fw_free(r);
    fw_free(x);
    fw_free(share);
    return status;
}

fw_status surface_new(const fw_net *net, int order, const surface *like, bool *skip, surface **out,
                      fw_error *err)
{
    int top = like ? like->terms.basis->order : top_order(net, order);
    surface *s = fw_alloc(1, sizeof *s);
    if (!s) {
        fw_free(skip);
        return fw_out_of_memory(err);
    }
    s->net = net;
    s->skip = skip;
    s->excess_p = s->excess_rms_nm = NAN;
    s->cap = fw_alloc((size_t)net->nfaces, sizeof *s->cap);
    fw_status status = s->cap ? surface_terms_init(&s->terms, net->job, top, err)
                              : fw_out_of_memory(err);
    if (!status)
        status = assemble(s, err);
    if (!status && like) {
        s->highest = like->highest;
        s->order = like->order;
    } else if (!status)
        status = surface_choose(s, order, err);
    if (!status)
        status = solve(s, err);
    if (status)
        surface_free(s);
    else
        *out = s;
    return status;
}

void surface_free(surface *s)
{
    if (!s)
        return;
    surface_terms_release(&s->terms);
    fw_free(s->skip);
    fw_free(s->cap);
    fw_free(s->column);
    fw_free(s->count);
    fw_free(s->find);
    fw_free(s->raw);
    fw_free(s->stairs);
    fw_free(s->length);
    fw_free(s->used);
    fw_free(s->used_column);
    fw_free(s->c);
    fw_free(s->root);
    fw_free(s);
}
