/* surface_outlook.c - what is known of today's surfaces as terms, and what a pairing would add. */
#include "surface_outlook.h"

#include <math.h>
#include <string.h>

#include "flatwright/alloc.h"
#include "flatwright/mating.h"
#include "linalg.h"
#include "outlook_cells.h"

/* The net's face of a flat today; -1: not read. */
static int face_today(const outlook *o, int flat)
{
    const fw_net *net = o->a->net;
    for (int f = 0; f < net->nfaces; f++)
        if (net->faces[f].flat == flat && net->faces[f].state == o->today[flat].state)
            return f;
    return -1;
}

/* Column of a term of a face: earlier states first, then today's flats in order. */
static int column_of(const surface_outlook *s, const int *seat, int face, int term)
{
    return seat[face] * s->terms.basis->nterms + term;
}

/* seat (nfaces) <- seat of each face; returns how many earlier states there are. */
static int place_faces(const outlook *o, int *seat)
{
    const fw_net *net = o->a->net;
    int earlier = 0;
    for (int f = 0; f < net->nfaces; f++)
        if (face_today(o, net->faces[f].flat) != f)
            seat[f] = earlier++;
    for (int f = 0; f < net->nfaces; f++)
        if (face_today(o, net->faces[f].flat) == f)
            seat[f] = earlier + net->faces[f].flat;
    return earlier;
}

/* The readings so far over the prior, as one triangle; cov <- that of today's flats. */
static fw_status knowledge(const outlook *o, surface_outlook *s, fw_error *err)
{
    const surface *from = o->a->surface;
    int nb = s->terms.basis->nterms;
    int *seat = fw_alloc((size_t)o->a->net->nfaces, sizeof *seat);
    if (!seat)
        return fw_out_of_memory(err);
    int earlier = place_faces(o, seat), skip = earlier * nb, n = skip + s->n;
    int ld = from->rows + n;
    double sd = sqrt(o->variance), tau = o->prior_nm / sqrt(nb);
    double *t = fw_alloc((size_t)ld * (size_t)n, sizeof *t);
    fw_status status = t ? FW_OK : fw_out_of_memory(err);
    if (status)
        goto done;
    for (int j = 0; j < from->count[s->terms.basis->order]; j++) {
        const surface_column *c = &from->column[j];
        double *to = t + (size_t)column_of(s, seat, c->face, c->term) * (size_t)ld;
        for (int i = 0; i < from->rows; i++)
            to[i] = from->raw[i + (size_t)j * (size_t)from->ld] / sd;
    }
    for (int j = 0; j < n; j++)
        t[from->rows + j + (size_t)j * (size_t)ld] = 1 / tau;
    if ((status = fw_qr_reduce(ld, n, t, ld, err)))
        goto done;
    fw_upper_inverse(s->n, t + skip + (size_t)skip * (size_t)ld, ld, s->cov);
    fw_upper_square(s->n, s->cov, s->cov);
done:
    fw_free(seat);
    fw_free(t);
    return status;
}

fw_status surface_outlook_new(const outlook *o, surface_outlook **out, fw_error *err)
{
    surface_outlook *s = fw_alloc(1, sizeof *s);
    if (!s)
        return fw_out_of_memory(err);
    fw_status status = surface_terms_init(&s->terms, o->job, o->a->surface->highest, err);
    if (!status) {
        s->n = o->job->nflats * s->terms.basis->nterms;
        s->cov = fw_alloc((size_t)s->n * (size_t)s->n, sizeof *s->cov);
        status = s->cov ? knowledge(o, s, err) : fw_out_of_memory(err);
    }
    if (status)
        surface_outlook_free(s);
    else
        *out = s;
    return status;
}

void surface_outlook_free(surface_outlook *s)
{
    if (!s)
        return;
    surface_terms_release(&s->terms);
    fw_free(s->cov);
    fw_free(s);
}

/* A made-up net of one pairing: what surface_rows_new needs of it. */
typedef struct sketch {
    fw_net net;
    fw_job job;
    net_face faces[2];
    int *scans; /* 0, 1, .. */
} sketch;

static void sketch_release(sketch *k)
{
    fw_free(k->net.scans);
    fw_free(k->job.scans);
    fw_free(k->job.readings);
    fw_free(k->scans);
}

static size_t list_stations(const outlook *o, double *at)
{
    size_t n = 0;
    for (int r = 0; r < o->a->net->nrings; r++)
        for (int side = 1; side <= 2; side++)
            if (o->sides[r] & side)
                at[n++] = side == 1 ? o->a->net->ring_mm[r] : -o->a->net->ring_mm[r];
    return n;
}

/* One scan of the pairing: along the bottom's diameter, the top's line in its own sense. */
static void draw_scan(const outlook *o, const setup *p, sketch *k, int scan, size_t n,
                      const double *at, double sigma)
{
    double bottom = o->line_deg[o->diameter[scan]];
    double top = o->line_deg[p->line[scan]] + (p->flip[scan] < 0 ? 180 : 0);
    net_scan *s = &k->net.scans[scan];
    k->scans[scan] = scan;
    k->job.scans[scan] = (fw_scan){.bottom = p->bottom,
                                   .top = p->top,
                                   .turn_deg = bottom + top,
                                   .diameter_deg = bottom,
                                   .first = (size_t)scan * n,
                                   .count = n};
    *s = (net_scan){.face = {0, 1}, .ntilt = o->plane ? 2 : 1, .tilt_coef = {1, 0}};
    if (o->plane) {
        s->tilt_coef[0] = cos(bottom * FW_RAD);
        s->tilt_coef[1] = sin(bottom * FW_RAD);
    }
    for (size_t i = 0; i < n; i++)
        k->job.readings[(size_t)scan * n + i] =
            (fw_reading){.position_mm = at[i], .sigma_nm = sigma, .scan = scan};
}

static fw_status sketch_init(sketch *k, const outlook *o, const setup *p, double times,
                             fw_error *err)
{
    const fw_flat *flat[2] = {&o->job->flats[p->bottom], &o->job->flats[p->top]};
    double *at = fw_alloc(2 * (size_t)o->a->net->nrings, sizeof *at);
    if (!at)
        return fw_out_of_memory(err);
    size_t n = list_stations(o, at), nd = (size_t)o->ndiameters;
    *k = (sketch){.job = *o->job};
    k->job.nscans = nd;
    k->job.nreadings = nd * n;
    k->job.scans = fw_alloc(nd, sizeof *k->job.scans);
    k->job.readings = fw_alloc(nd * n, sizeof *k->job.readings);
    k->net.scans = fw_alloc(nd, sizeof *k->net.scans);
    k->scans = fw_alloc(nd, sizeof *k->scans);
    fw_status status = k->job.scans && k->job.readings && k->net.scans && k->scans
                           ? FW_OK
                           : fw_out_of_memory(err);
    for (int side = 0; side < 2; side++)
        k->faces[side] = (net_face){.flat = side ? p->top : p->bottom,
                                    .clear_mm = flat[side]->clear_mm / 2,
                                    .bore_mm = flat[side]->bore_mm / 2};
    k->net.nfaces = 2;
    k->net.faces = k->faces;
    k->net.job = &k->job;
    k->net.sigma_known = true;
    for (int scan = 0; scan < o->ndiameters && !status; scan++)
        draw_scan(o, p, k, scan, n, at, o->sigma_nm / sqrt(times));
    fw_free(at);
    return status;
}

/* u (rows x n), caller frees: the covariance after the pairing is cov - u'u. */
static fw_status look_ahead(const outlook *o, const setup *p, double times, double **out, int *rows,
                            fw_error *err)
{
    surface_outlook *s = o->faces;
    int nb = s->terms.basis->nterms, n = s->n, per_scan = !o->plane;
    sketch k = {0};
    double *j = NULL, *kh = NULL, *m = NULL, *u = NULL;
    int most = o->ndiameters * (s->terms.basis->order + 1), r = 0;
    fw_status status = sketch_init(&k, o, p, times, err);
    j = fw_alloc((size_t)most * (size_t)n, sizeof *j);
    kh = fw_alloc((size_t)n * (size_t)most, sizeof *kh);
    m = fw_alloc((size_t)most * (size_t)most, sizeof *m);
    u = fw_alloc((size_t)most * (size_t)n, sizeof *u);
    if (!status && (!j || !kh || !m || !u))
        status = fw_out_of_memory(err);
    for (int g = 0; g < (per_scan ? o->ndiameters : 1) && !status; g++) {
        surface_group group = {{0, 1}, per_scan ? 1 : o->ndiameters, k.scans + g};
        surface_rows x = {0};
        if ((status = surface_rows_new(&k.net, &s->terms, &group, NULL, &x, err)))
            break;
        for (int side = 0; side < 2; side++)
            for (int t = 0; t < nb; t++)
                memcpy(j + r + (size_t)((side ? p->top : p->bottom) * nb + t) * (size_t)most,
                       x.a + x.from + (size_t)(side * nb + t) * (size_t)x.ld,
                       (size_t)x.rows * sizeof *j);
        r += x.rows;
        surface_rows_release(&x);
    }
    if (!status) {
        fw_gemm(0, 1, n, r, n, 1, s->cov, n, j, most, 0, kh, n);
        for (int i = 0; i < r; i++)
            m[(size_t)i * ((size_t)r + 1)] = 1;
        fw_gemm(0, 0, r, r, n, 1, j, most, kh, n, 1, m, r);
        status = foresee_update(n, r, kh, m, u, err);
    }
    sketch_release(&k);
    fw_free(j);
    fw_free(kh);
    fw_free(m);
    if (status)
        fw_free(u);
    else {
        *out = u;
        *rows = r;
    }
    return status;
}

fw_status surface_foresee(const outlook *o, const setup *p, double times, double *sum,
                          fw_error *err)
{
    const surface_outlook *s = o->faces;
    int nb = s->terms.basis->nterms, rows = 0;
    double *u = NULL;
    fw_status status = p ? look_ahead(o, p, times, &u, &rows, err) : FW_OK;
    for (int f = 0; f < o->job->nflats && !status; f++) {
        sum[f] = 0;
        for (int t = f * nb; t < (f + 1) * nb; t++) {
            const double *c = u ? u + (size_t)t * (size_t)rows : NULL;
            sum[f] += s->cov[(size_t)t * ((size_t)s->n + 1)] - (c ? fw_dot(rows, c, 1, c) : 0);
        }
    }
    fw_free(u);
    return status;
}

fw_status surface_commit(const outlook *o, const setup *p, double times, fw_error *err)
{
    surface_outlook *s = o->faces;
    double *u = NULL;
    int rows = 0;
    fw_status status = look_ahead(o, p, times, &u, &rows, err);
    if (!status)
        fw_gemm(1, 0, s->n, s->n, rows, -1, u, rows, u, rows, 1, s->cov, s->n);
    fw_free(u);
    return status;
}
