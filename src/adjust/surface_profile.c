/* surface_profile.c - heights along the lines a face was read on, and its terms, from the surface. */
#include "surface_profile.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "flatwright/alloc.h"
#include "flatwright/mating.h"
#include "linalg.h"
#include "profile.h"
#include "response.h"

/* Part of its null vector below which a height counts as untouched. */
static const double UNTOUCHED = 1e-6;

/* One or two faces of the solution: what their terms' coefficients, covariance and null are. */
typedef struct source {
    const adjustment *a;
    surface *s;
    int face[2], nfaces; /* the second is subtracted */
    surface_null null;
    int rows; /* order + 1 of the basis: a polynomial's coefficients */
    double *along, *used, *spread, *open; /* rows x nterms, p, p, d */
} source;

/* A polynomial of the position: height, variance and what is undetermined of it. */
typedef struct line {
    double *height;   /* rows */
    double *variance; /* rows x rows */
    double *open;     /* rows x d */
} line;

static void source_release(source *q)
{
    surface_null_release(&q->null);
    fw_free(q->along);
    fw_free(q->used);
    fw_free(q->spread);
    fw_free(q->open);
}

static fw_status source_init(source *q, const adjustment *a, int plus, int minus, fw_error *err)
{
    surface *s = a->surface;
    *q = (source){.a = a, .s = s, .face = {plus, minus}, .nfaces = minus < 0 ? 1 : 2};
    q->rows = s->terms.basis->order + 1;
    fw_status status = surface_null_new(s, s->order, &q->null, err);
    if (status)
        return status;
    size_t rows = (size_t)q->rows;
    q->along = fw_alloc(rows * (size_t)s->terms.basis->nterms, sizeof *q->along);
    q->used = fw_alloc(rows * (size_t)s->p, sizeof *q->used);
    q->spread = fw_alloc(rows * (size_t)s->p, sizeof *q->spread);
    q->open = fw_alloc(rows * (size_t)q->null.d, sizeof *q->open);
    return q->along && q->used && q->spread && q->open ? FW_OK : fw_out_of_memory(err);
}

static void line_release(line *l)
{
    fw_free(l->height);
    fw_free(l->variance);
    fw_free(l->open);
}

static fw_status line_init(line *l, const source *q, fw_error *err)
{
    size_t rows = (size_t)q->rows;
    l->height = fw_alloc(rows, sizeof *l->height);
    l->variance = fw_alloc(rows * rows, sizeof *l->variance);
    l->open = fw_alloc(rows * (size_t)q->null.d, sizeof *l->open);
    return l->height && l->variance && l->open ? FW_OK : fw_out_of_memory(err);
}

/* Adds one face's terms along a line to the height, to the rows of the used columns, to the null. */
static void add_face(source *q, int which, line *l)
{
    const surface *s = q->s;
    int nb = s->terms.basis->nterms;
    size_t rows = (size_t)q->rows;
    double sign = which ? -1 : 1;
    for (int r = 0; r < s->n; r++) {
        const surface_column *c = &s->column[r];
        const double *f = q->along + (size_t)c->term * rows;
        if (c->face != q->face[which] || c->term >= nb)
            continue;
        for (size_t i = 0; i < rows; i++) {
            l->height[i] += sign * f[i] * s->c[r];
            for (int k = 0; k < q->null.d; k++)
                l->open[i + (size_t)k * rows] +=
                    sign * f[i] * q->null.v[(size_t)r + (size_t)k * (size_t)s->n];
        }
    }
    for (int r = 0; r < s->p; r++) {
        const surface_column *c = &s->column[s->used_column[r]];
        for (size_t i = 0; i < rows && c->face == q->face[which]; i++)
            q->used[i + (size_t)r * rows] += sign * q->along[i + (size_t)c->term * rows];
    }
}

/* The polynomials of a line at an angle of the faces' own. */
static fw_status lay_line(source *q, double theta_rad, line *l, fw_error *err)
{
    surface *s = q->s;
    size_t rows = (size_t)q->rows;
    memset(l->height, 0, rows * sizeof *l->height);
    memset(l->open, 0, rows * (size_t)q->null.d * sizeof *l->open);
    memset(q->used, 0, rows * (size_t)s->p * sizeof *q->used);
    for (int which = 0; which < q->nfaces; which++) {
        int flat = s->net->faces[q->face[which]].flat;
        fw_status status = surface_along(&s->terms, flat, flat, theta_rad, true, q->along, err);
        if (status)
            return status;
        add_face(q, which, l);
    }
    fw_gemm(0, 0, q->rows, s->p, s->p, 1, q->used, q->rows, s->root, s->p, 0, q->spread, q->rows);
    fw_gemm(0, 1, q->rows, q->rows, s->p, 1, q->spread, q->rows, q->spread, q->rows, 0, l->variance,
            q->rows);
    return FW_OK;
}

/* Height and variance at x, NAN where undetermined; p is room for rows. */
static void at_position(const source *q, const line *l, double x, double *p, double *height,
                        double *u2)
{
    int rows = q->rows;
    double sum = 0;
    surface_legendre(rows - 1, x, p);
    *height = *u2 = NAN;
    for (int k = 0; k < q->null.d; k++)
        if (fabs(fw_dot(rows, p, 1, l->open + (size_t)k * (size_t)rows)) > UNTOUCHED)
            return;
    for (int k = 0; k < rows; k++)
        sum += p[k] * fw_dot(rows, p, 1, l->variance + (size_t)k * (size_t)rows);
    *height = fw_dot(rows, p, 1, l->height);
    *u2 = fmax(sum, 0) * q->a->variance;
}

fw_status surface_heights(const adjustment *a, int face, int n, const double *r_mm,
                          const double *theta_rad, double *height, double *u2, fw_error *err)
{
    source q = {0};
    line l = {0};
    double *p = NULL, radius = a->net->faces[face].clear_mm;
    fw_status status = source_init(&q, a, face, -1, err);
    if (!status)
        status = line_init(&l, &q, err);
    if (!status && !(p = fw_alloc((size_t)q.rows, sizeof *p)))
        status = fw_out_of_memory(err);
    for (int i = 0; i < n && !status; i++) { /* points of one angle stand together */
        if (i == 0 || fabs(theta_rad[i] - theta_rad[i - 1]) > 0)
            status = lay_line(&q, theta_rad[i], &l, err);
        if (!status)
            at_position(&q, &l, r_mm[i] / radius, p, &height[i], &u2[i]);
    }
    line_release(&l);
    source_release(&q);
    fw_free(p);
    return status;
}

static int by_position(const void *x, const void *y)
{
    double a = ((const fw_point *)x)->position_mm, b = ((const fw_point *)y)->position_mm;
    return (a > b) - (a < b);
}

static bool reads(const source *q, const net_scan *s, int side)
{
    return s->piston >= 0 && (s->face[side] == q->face[0] ||
                              (q->nfaces == 2 && s->face[side] == q->face[1]));
}

/* Room for every station on every line: counted first. */
static fw_status lay_points(const source *q, fw_profile *p, int *diameter, fw_error *err)
{
    const fw_net *net = q->a->net;
    size_t *count = fw_alloc((size_t)net->nangles, sizeof *count);
    p->diameters = fw_alloc((size_t)net->nangles, sizeof *p->diameters);
    fw_status status = count && p->diameters ? FW_OK : fw_out_of_memory(err);
    for (int i = 0; i < net->nscans && !status; i++)
        for (int side = 0; side < 2; side++)
            if (reads(q, &net->scans[i], side))
                count[net->scans[i].angle[side]] += net->job->scans[i].count;
    for (int k = 0; k < net->nangles && !status; k++) {
        diameter[k] = -1;
        if (!count[k])
            continue;
        fw_diameter *d = &p->diameters[p->ndiameters];
        diameter[k] = p->ndiameters++;
        d->angle_deg = net->angles_deg[k];
        d->points = fw_alloc(count[k], sizeof *d->points);
        status = d->points ? FW_OK : fw_out_of_memory(err);
    }
    fw_free(count);
    return status;
}

/* The stations inside the clear aperture; what lies outside is not on the surface. */
static void place_points(const source *q, const int *diameter, fw_profile *p)
{
    const fw_net *net = q->a->net;
    const net_face *face = &net->faces[q->face[0]];
    for (int i = 0; i < net->nscans; i++)
        for (int side = 0; side < 2; side++) {
            const net_scan *s = &net->scans[i];
            const fw_scan *scan = &net->job->scans[i];
            if (!reads(q, s, side))
                continue;
            fw_diameter *d = &p->diameters[diameter[s->angle[side]]];
            for (size_t r = scan->first; r < scan->first + scan->count; r++) {
                double at = net->job->readings[r].position_mm;
                if (fabs(at) <= face->clear_mm + FW_POSITION_TOLERANCE_MM &&
                    fabs(at) >= face->bore_mm - FW_POSITION_TOLERANCE_MM)
                    d->points[d->npoints++] =
                        (fw_point){.position_mm = s->flip[side] * at + 0.0, .clear = true};
            }
        }
    for (int k = 0; k < p->ndiameters; k++) {
        fw_diameter *d = &p->diameters[k];
        size_t n = 0;
        qsort(d->points, d->npoints, sizeof *d->points, by_position);
        for (size_t i = 0; i < d->npoints; i++)
            if (!n || d->points[i].position_mm - d->points[n - 1].position_mm >
                          FW_POSITION_TOLERANCE_MM)
                d->points[n++] = d->points[i];
        d->npoints = n;
    }
}

static fw_status fill_points(source *q, line *l, double *p, fw_diameter *d, fw_error *err)
{
    double radius = q->a->net->faces[q->face[0]].clear_mm;
    fw_status status = lay_line(q, d->angle_deg * FW_RAD, l, err);
    d->determined = true;
    for (size_t i = 0; i < d->npoints && !status; i++) {
        fw_point *pt = &d->points[i];
        double u2;
        at_position(q, l, pt->position_mm / radius, p, &pt->height_nm, &u2);
        pt->determined = !isnan(pt->height_nm);
        pt->u_nm = pt->determined ? sqrt(u2) : NAN;
        d->determined = d->determined && pt->determined;
    }
    return status;
}

/* Does anything undetermined in the orders that are judged touch the face? */
static fw_status untouched(const source *q, bool *out, fw_error *err)
{
    const surface *s = q->s;
    surface_null z = {0};
    fw_status status = surface_null_new(s, s->highest, &z, err);
    *out = true;
    for (int j = 0; j < z.n && !status; j++)
        for (int which = 0; which < q->nfaces; which++)
            for (int k = 0; k < z.d && s->column[j].face == q->face[which]; k++)
                if (fabs(z.v[(size_t)j + (size_t)k * (size_t)z.n]) > UNTOUCHED)
                    *out = false;
    surface_null_release(&z);
    return status;
}

fw_status surface_profile(adjustment *a, contrast what, fw_profile *out, fw_error *err)
{
    fw_profile p = {.tied = true};
    source q = {0};
    line l = {0};
    double *room = NULL;
    int *diameter = fw_alloc((size_t)a->net->nangles, sizeof *diameter);
    fw_status status = diameter ? source_init(&q, a, what.plus, what.minus, err)
                                : fw_out_of_memory(err);
    if (status || (status = line_init(&l, &q, err)) ||
        (status = lay_points(&q, &p, diameter, err)))
        goto done;
    place_points(&q, diameter, &p);
    room = fw_alloc((size_t)q.rows, sizeof *room);
    if (!room)
        status = fw_out_of_memory(err);
    else
        status = untouched(&q, &p.determined, err);
    for (int k = 0; k < p.ndiameters && !status; k++) {
        status = fill_points(&q, &l, room, &p.diameters[k], err);
        p.determined = p.determined && p.diameters[k].determined;
    }
    p.determined = p.determined && p.ndiameters > 0;
done:
    line_release(&l);
    source_release(&q);
    fw_free(room);
    fw_free(diameter);
    if (status)
        profile_release(&p);
    else
        *out = p;
    return status;
}

/* A term's value and variance from a row over the face's columns of the chosen order. */
static fw_surface_term tell_term(const source *q, struct fw_term term, const double *row,
                                 double *used)
{
    const surface *s = q->s;
    fw_surface_term t = {.n = term.n, .m = term.m, .determined = true};
    int p = s->p;
    double *spread = used + p, sum = 0;
    memset(used, 0, (size_t)p * sizeof *used);
    for (int k = 0; k < q->null.d; k++) {
        double touch = 0;
        for (int j = 0; j < s->n; j++)
            if (s->column[j].face == q->face[0])
                touch += row[s->column[j].term] * q->null.v[(size_t)j + (size_t)k * (size_t)s->n];
        t.determined = t.determined && fabs(touch) <= UNTOUCHED;
    }
    for (int j = 0; j < s->n; j++)
        if (s->column[j].face == q->face[0])
            t.nm += row[s->column[j].term] * s->c[j];
    for (int r = 0; r < p; r++)
        if (s->column[s->used_column[r]].face == q->face[0])
            used[r] = row[s->column[s->used_column[r]].term];
    fw_gemm(0, 0, 1, p, p, 1, used, 1, s->root, p, 0, spread, 1);
    sum = p ? fw_dot(p, spread, 1, spread) : 0;
    t.u_nm = t.determined ? sqrt(sum * q->a->variance) : NAN;
    t.nm = t.determined ? t.nm : NAN;
    return t;
}

/* row <- piston (m = 0) or tilt of the face's datum as a coefficient of Z(0,0) or Z(1,m). */
static void plane_row(const source *q, int m, int nb, double *row)
{
    const fw_basis *basis = q->s->terms.basis;
    const double *held = q->s->terms.held[q->s->net->faces[q->face[0]].flat];
    for (int j = 0; j < nb; j++) /* Z(1,1) = 2 rho cos theta */
        row[j] = basis->terms[j].m == m ? -held[j] / (m ? 2 : 1) : 0;
}

/* Adds what the bench makes uncertain of the terms. */
static fw_status widen_terms(const adjustment *a, int face, fw_surface *terms, fw_error *err)
{
    fw_status status = FW_OK;
    for (int k = 0; k < a->nresponses && !status; k++) {
        fw_surface add = {0};
        status = surface_terms_of(a->responses[k].a, face, &add, err);
        for (int j = 0; j < add.nterms; j++)
            terms->terms[j].u_nm = hypot(terms->terms[j].u_nm, add.terms[j].nm);
        fw_free(add.terms);
    }
    return status;
}

fw_status surface_terms_of(const adjustment *a, int face, fw_surface *out, fw_error *err)
{
    surface *s = a->surface;
    const fw_basis *basis = s->terms.basis;
    int flat = a->net->faces[face].flat, order = s->order < s->cap[face] ? s->order : s->cap[face];
    int nb = fw_basis_count(basis, order), full = basis->nterms;
    bool bored = s->terms.triangle[flat];
    fw_surface made = {.radius_mm = a->net->faces[face].clear_mm};
    source q = {0};
    fw_status status = source_init(&q, a, face, -1, err);
    double *rows = fw_alloc((size_t)full * (size_t)full, sizeof *rows);
    double *used = fw_alloc(2 * (size_t)s->p, sizeof *used);
    double *row = fw_alloc((size_t)full, sizeof *row);
    made.terms = fw_alloc((size_t)nb + 3, sizeof *made.terms);
    if (!status && (!rows || !used || !row || !made.terms))
        status = fw_out_of_memory(err);
    if (status)
        goto done;
    for (int m = 0; m <= 1 && bored; m++)
        for (int sign = 1; sign >= (m ? -1 : 1); sign -= 2) {
            plane_row(&q, sign * m, nb, row);
            made.terms[made.nterms++] = tell_term(&q, (struct fw_term){m, sign * m}, row, used);
        }
    for (int j = 0; j < nb; j++)
        rows[(size_t)j * ((size_t)full + 1)] = 1;
    surface_to_circle(&s->terms, flat, nb, nb, rows, full);
    for (int j = 0; j < nb; j++) {
        for (int i = 0; i < full; i++)
            row[i] = i < nb ? rows[(size_t)j + (size_t)i * (size_t)full] : 0;
        made.terms[made.nterms++] = tell_term(&q, basis->terms[j], row, used);
    }
    status = widen_terms(a, face, &made, err);
done:
    source_release(&q);
    fw_free(rows);
    fw_free(used);
    fw_free(row);
    if (status)
        fw_free(made.terms);
    else
        *out = made;
    return status;
}
