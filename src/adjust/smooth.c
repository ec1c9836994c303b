/* smooth.c - a flat's smooth figure by generalised least squares, all orders at once. */
#include "smooth.h"

#include <cblas.h>
#include <math.h>
#include <string.h>

#include "datum.h"
#include "flatwright/alloc.h"
#include "flatwright/mating.h"
#include "linalg.h"
#include "stack.h"

/* A term counts as undetermined when the rest can imitate it to this part. */
static const double IMITATED = 1e-6;

/* The rings of one class on one side of the clear aperture's edge, and one of their blocks. */
typedef struct group {
    const net_class *class;
    const factor *f;
    int b;
    int nrings, *rings;
    bool inside; /* the figure stands for the face's heights here */
} group;

typedef struct fit {
    adjustment *a;
    int face;
    const fw_basis *basis;
    double clear_mm;
    int nterms, ncols; /* scan terms; scan terms + basis terms + right-hand side */
    stack stacks[2];   /* even and odd apart where they are, else only the first */
    int nstacks;
    double *length; /* ncols: of each column before anything is eliminated */
    double floor;
    long rows; /* equations left when the other heights are eliminated */
} fit;

/* Angular part of a basis term along a line, for its + side. */
static double angular(const fw_basis *basis, int j, double theta)
{
    int n = basis->terms[j].n, m = basis->terms[j].m;
    if (basis->line)
        return 1;
    return fw_zernike_norm(n, m) * (m >= 0 ? cos(m * theta) : sin(-m * theta));
}

static double radial(const fw_basis *basis, int j, double rho)
{
    int n = basis->terms[j].n, m = basis->terms[j].m;
    return basis->line ? fw_legendre(n, rho) : fw_zernike_radial(n, m < 0 ? -m : m, rho);
}

/* x (m x basis terms) <- what a unit of each term's radial part adds to each equation of the block. */
static void angular_matrix(const fit *t, const group *g, double *x)
{
    const block *k = &g->f->blocks[g->b];
    bool paired = g->f->nblocks == 2;
    memset(x, 0, (size_t)k->m * t->basis->nterms * sizeof *x);
    for (int i = 0; i < k->m; i++) {
        const net_row *row = &g->class->rows[block_row(g->f, i)];
        for (int side = 0; side < 2; side++) {
            const net_column *c = &g->class->columns[row->column[side]];
            if (c->face != t->face)
                continue;
            double theta = c->angle < 0 ? 0 : t->a->net->angles_deg[c->angle] * FW_RAD;
            for (int j = 0; j < t->basis->nterms; j++) {
                bool odd = t->basis->terms[j].n % 2;
                double sign = odd && c->sign < 0 ? -1 : 1;
                if (!paired ||
                    odd == (g->b == 1)) /* k->coef holds the weight, and sqrt 2 of the pair */
                    x[i + (size_t)j * k->m] += sign * k->coef[i] * angular(t->basis, j, theta);
            }
        }
    }
}

/* Functions of rho that span all radial parts of the block: Legendre in 2 rho^2 - 1, times rho if odd. */
static int span_of(const fit *t, const group *g, double *v)
{
    const block *k = &g->f->blocks[g->b];
    int nv = 0, most = g->inside ? t->basis->order : 1;
    for (int n = 0; n <= most; n++) {
        if (!(n % 2 ? k->tilts : k->pistons))
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

/* The modes of a group: q over its rings; and its readings in them, z (m x modes). */
typedef struct modes {
    int n;
    double *q, *z, *left, *angular, *onto;
} modes;

static void modes_release(modes *m)
{
    fw_free(m->q);
    fw_free(m->z);
    fw_free(m->left);
    fw_free(m->angular);
    fw_free(m->onto);
    *m = (modes){0};
}

static fw_status modes_new(fit *t, const group *g, modes *out, fw_error *err)
{
    const block *k = &g->f->blocks[g->b];
    int m = k->m, nr = g->nrings, rows = m - k->rank, most = t->basis->order + 1;
    size_t nb = (size_t)t->basis->nterms;
    fw_status status = FW_OK;
    double *v = fw_alloc((size_t)nr * most, sizeof *v),
           *r = fw_alloc((size_t)most * most, sizeof *r);
    double *y = fw_alloc(m, sizeof *y), *reach = fw_alloc(rows, sizeof *reach);
    out->q = fw_alloc((size_t)nr * most, sizeof(double));
    out->z = fw_alloc((size_t)m * most, sizeof(double));
    out->left = fw_alloc((size_t)rows * m, sizeof(double));
    out->angular = fw_alloc((size_t)m * nb, sizeof(double));
    out->onto = fw_alloc((size_t)rows * (nb + (size_t)most), sizeof(double));
    if (!v || !r || !y || !reach || !out->q || !out->z || !out->left || !out->angular ||
        !out->onto) {
        status = fw_out_of_memory(err);
        goto done;
    }
    int nv = span_of(t, g, v);
    out->n = nr < nv ? nr : nv;
    if ((status = fw_qr_thin(nr, nv, v, out->q, r, err)))
        goto done;
    for (int j = 0; j < m; j++)
        for (int i = 0; i < rows; i++)
            out->left[i + (size_t)j * rows] = k->q[j + (size_t)(k->rank + i) * m];
    for (int c = 0; c < nr; c++) {
        block_readings(t->a->net, g->class, g->f, g->b, g->rings[c], y);
        for (int j = 0; j < out->n; j++)
            cblas_daxpy(m, out->q[c + (size_t)j * nr], y, 1, out->z + (size_t)j * m, 1);
        if (rows) {
            fw_gemm(0, 0, rows, 1, m, 1, out->left, rows, y, m, 0, reach, rows);
            t->floor += cblas_ddot(rows, reach, 1, reach, 1);
        }
    }
    if (g->inside)
        angular_matrix(t, g, out->angular);
done:
    fw_free(v);
    fw_free(r);
    fw_free(y);
    fw_free(reach);
    return status;
}

/* Projection of a function of the rings onto mode i. */
static double project(const fit *t, const group *g, const modes *m, int i, int term)
{
    double sum = 0;
    for (int c = 0; c < g->nrings; c++) {
        double mm = t->a->net->ring_mm[g->rings[c]];
        double f = term == -2   ? 1
                   : term == -1 ? mm / t->a->net->rmax_mm
                                : radial(t->basis, term, mm / t->clear_mm);
        sum += m->q[c + (size_t)i * g->nrings] * f;
    }
    return sum;
}

static fw_status push_modes(fit *t, const group *g, const modes *md, stack *s, fw_error *err)
{
    const block *k = &g->f->blocks[g->b];
    int m = k->m, rows = m - k->rank, nb = g->inside ? t->basis->nterms : 0;
    double *onto = md->onto, *shown = onto + (size_t)rows * t->basis->nterms;
    fw_gemm(0, 0, rows, nb, m, 1, md->left, rows, md->angular, m, 0, onto, rows);
    fw_gemm(0, 0, rows, md->n, m, 1, md->left, rows, md->z, m, 0, shown, rows);
    t->floor -= cblas_ddot(rows * md->n, shown, 1, shown, 1);
    for (int i = 0; i < md->n; i++) {
        double *at = stack_push(s, rows, err);
        if (!at)
            return FW_SYSTEM;
        if (k->pistons)
            block_add_terms(t->a->net, g->class, g->f, g->b, 0, rows, md->left, rows,
                            project(t, g, md, i, -2), 0, at, s->size);
        if (k->tilts)
            block_add_terms(t->a->net, g->class, g->f, g->b, 1, rows, md->left, rows,
                            project(t, g, md, i, -1), 0, at, s->size);
        for (int j = 0; j < nb; j++) {
            double length = cblas_dnrm2(m, md->angular + (size_t)j * m, 1);
            double share = length > 0 ? project(t, g, md, i, j) : 0;
            t->length[t->nterms + j] += pow(length * share, 2);
            for (int r = 0; r < rows && share != 0; r++)
                at[r + (size_t)(t->nterms + j) * s->size] = share * onto[r + (size_t)j * rows];
        }
        for (int r = 0; r < rows; r++)
            at[r + (size_t)(t->ncols - 1) * s->size] = shown[r + (size_t)i * rows];
    }
    return FW_OK;
}

static fw_status push_group(fit *t, group *g, fw_error *err)
{
    fw_status status = FW_OK;
    for (g->b = 0; g->b < g->f->nblocks && !status; g->b++) {
        const block *k = &g->f->blocks[g->b];
        modes md = {0};
        t->rows += (long)(k->m - k->rank) * g->nrings;
        if (k->m == k->rank)
            continue;
        if (!(status = modes_new(t, g, &md, err)))
            status = push_modes(t, g, &md, &t->stacks[t->nstacks == 2 ? g->b : 0], err);
        modes_release(&md);
    }
    return status;
}

/* One class: its rings inside the clear aperture with the figure, those outside with free heights. */
static fw_status push_class(fit *t, int c, fw_error *err)
{
    const net_class *class = &t->a->net->classes[c];
    contrast what = {t->face, -1};
    bool *keep = fw_alloc(class->ncolumns, sizeof *keep), any = false;
    group g = {.class = class, .rings = fw_alloc(class->nrings, sizeof *g.rings)};
    fw_status status = keep && g.rings ? FW_OK : fw_out_of_memory(err);
    for (int j = 0; j < class->ncolumns && !status; j++) {
        keep[j] = class->columns[j].face != t->face;
        any = any || !keep[j];
    }
    for (int side = 0; side < 2 && !status; side++) {
        factor *f = NULL;
        g.inside = side == 0 && any;
        g.nrings = 0;
        for (int r = 0; r < class->nrings; r++)
            if ((any && datum_covers(t->a, what, class->rings[r])) == (side == 0))
                g.rings[g.nrings++] = class->rings[r];
        if (!g.nrings)
            continue;
        status =
            g.inside ? factor_new(class, keep, &f, err) : factors_get(&t->a->store, c, &f, err);
        g.f = f;
        if (!status)
            status = push_group(t, &g, err);
        if (g.inside)
            factor_free(f);
        else
            factors_put(&t->a->store, c, f);
    }
    fw_free(keep);
    fw_free(g.rings);
    return status;
}

/* From the triangle over [scan terms | basis terms | rhs] to R and z over the determined basis terms. */
static fw_status conclude(fit *t, stack *s, smooth *out, fw_error *err)
{
    int n = t->ncols - 1, nb = t->basis->nterms, r;
    char *used = fw_alloc(n, 1);
    fw_status status = used ? stack_compress(s, err) : fw_out_of_memory(err);
    if (status)
        goto done;
    r = fw_qr_stairs(s->rows, n, 1, s->a, s->size, t->length, IMITATED, used);
    int skip = 0;
    for (int j = 0; j < t->nterms; j++)
        skip += used[j];
    out->nused = r - skip;
    out->used = fw_alloc(out->nused, sizeof *out->used);
    out->r = fw_alloc((size_t)out->nused * out->nused, sizeof *out->r);
    out->z = fw_alloc(out->nused, sizeof *out->z);
    if (!out->used || !out->r || !out->z) {
        status = fw_out_of_memory(err);
        goto done;
    }
    for (int j = 0, k = 0; j < nb; j++)
        if (used[t->nterms + j]) {
            for (int i = 0; i <= k; i++)
                out->r[i + (size_t)k * out->nused] =
                    s->a[skip + i + (size_t)(t->nterms + j) * s->size];
            out->used[k++] = j;
        }
    const double *rhs = s->a + (size_t)n * s->size;
    memcpy(out->z, rhs + skip, (size_t)out->nused * sizeof *out->z);
    out->floor = t->floor + cblas_ddot(s->rows - r, rhs + r, 1, rhs + r, 1);
    out->ndata = (int)(t->rows - skip - (long)t->a->redundancy);
done:
    fw_free(used);
    return status;
}

/* All rows of both stacks into the first. */
static fw_status merge(fit *t, fw_error *err)
{
    fw_status status = stack_compress(&t->stacks[1], err);
    stack *from = &t->stacks[1], *to = &t->stacks[0];
    double *at = status ? NULL : stack_push(to, from->rows, err);
    for (int j = 0; at && j < t->ncols; j++)
        memcpy(at + (size_t)j * to->size, from->a + (size_t)j * from->size,
               (size_t)from->rows * sizeof *at);
    return at ? FW_OK : FW_SYSTEM;
}

fw_status smooth_new(adjustment *a, int face, bool line, int order, smooth *out, fw_error *err)
{
    term_range range[2];
    smooth made = {0};
    fit t = {
        .a = a, .face = face, .clear_mm = a->net->faces[face].clear_mm, .nterms = a->net->nterms};
    fw_status status = fw_basis_new(line, order, &made.basis, err);
    if (status)
        return status;
    t.basis = made.basis;
    t.ncols = t.nterms + t.basis->nterms + 1;
    t.nstacks = terms_ranges(a->net, range);
    t.length = fw_alloc(t.ncols, sizeof *t.length);
    if (!t.length)
        status = fw_out_of_memory(err);
    for (int k = 0; k < t.nstacks && !status; k++)
        status = stack_init(&t.stacks[k], t.ncols, err);
    for (int c = 0; c < a->net->nclasses && !status; c++)
        status = push_class(&t, c, err);
    if (!status && t.nstacks == 2)
        status = merge(&t, err);
    if (!status) {
        terms_lengths(a->net, t.length);
        for (int j = t.nterms; j < t.ncols; j++)
            t.length[j] = sqrt(t.length[j]);
        status = conclude(&t, &t.stacks[0], &made, err);
    }
    made.free_chi = a->chi_square;
    stack_release(&t.stacks[0]);
    stack_release(&t.stacks[1]);
    fw_free(t.length);
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
    return s->floor + cblas_ddot(s->nused - count, s->z + count, 1, s->z + count, 1);
}

void smooth_solve(const smooth *s, int count, double *c)
{
    memcpy(c, s->z, (size_t)count * sizeof *c);
    fw_upper_solve(count, 1, s->r, s->nused, c, count);
}
