/* datum.c - piston and tilt of a flat are not figure: the least-squares datum and its spread. */
#include "datum.h"

#include <math.h>
#include <string.h>

#include "flatwright/alloc.h"
#include "flatwright/mating.h"
#include "linalg.h"
#include "terms_root.h"

bool datum_covers(const adjustment *a, contrast what, int ring)
{
    const net_face *face = &a->net->faces[what.plus];
    double r = a->net->ring_mm[ring];
    return r <= face->clear_mm + FW_POSITION_TOLERANCE_MM &&
           r >= face->bore_mm - FW_POSITION_TOLERANCE_MM;
}

int datum_row(const datum *d, const adjustment *a, int angle, int sign, int index[3], double c0[3],
              double c1[3])
{
    index[0] = angle < 0 ? 0 : d->piston[angle];
    c0[0] = 1;
    c1[0] = 0;
    if (angle < 0)
        return d->centred;
    c0[1] = c0[2] = 0;
    if (!d->plane) {
        index[1] = d->slope[angle];
        c1[1] = sign;
        return 2;
    }
    index[1] = 1;
    index[2] = 2;
    c1[1] = sign * cos(a->net->angles_deg[angle] * FW_RAD);
    c1[2] = sign * sin(a->net->angles_deg[angle] * FW_RAD);
    return 3;
}

void datum_entries(const datum *d, const adjustment *a, const class_spread *s, datum_entry *entry)
{
    for (int i = 0; i < s->n; i++) {
        datum_entry *e = &entry[i];
        *e = (datum_entry){0};
        if (!(d->restricted && s->loose[i]))
            e->count = datum_row(d, a, s->angle[i], s->sign[i], e->index, e->c0, e->c1);
    }
}

/* Marks the diameters of a face, and those tied together by a reading at the centre. */
static void mark_diameters(const adjustment *a, int face, bool *present, bool *tied)
{
    const fw_net *net = a->net;
    for (int c = 0; c < net->nclasses; c++) {
        const net_class *class = &net->classes[c];
        for (int i = 0; i < class->nrows; i++)
            for (int side = 0; side < 2; side++) {
                const net_scan *scan = &net->scans[class->rows[i].scan];
                if (scan->face[side] == face)
                    (class->centre ? tied : present)[scan->angle[side]] = true;
            }
    }
}

static fw_status lay_parameters(const adjustment *a, bool untied, datum *d, fw_error *err)
{
    int nangles = a->net->nangles, faces[2] = {d->what.plus, d->what.minus};
    bool *mark[4], *all = fw_alloc(4 * (size_t)nangles, sizeof *all);
    d->piston = fw_alloc(nangles, sizeof *d->piston);
    d->slope = fw_alloc(nangles, sizeof *d->slope);
    if (!all || !d->piston || !d->slope) {
        fw_free(all);
        return fw_out_of_memory(err);
    }
    for (int i = 0; i < 4; i++)
        mark[i] = all + (size_t)i * nangles;
    for (int i = 0; i < 2 && faces[i] >= 0; i++)
        mark_diameters(a, faces[i], mark[2 * i], mark[2 * i + 1]);
    bool both = d->what.minus >= 0, centre[2] = {false, !both};
    for (int k = 0; k < nangles; k++) {
        centre[0] = centre[0] || mark[1][k];
        centre[1] = centre[1] || mark[3][k];
        mark[0][k] = mark[0][k] && (!both || mark[2][k]);
        mark[1][k] = mark[1][k] && (!both || mark[3][k]);
    }
    d->centred = centre[0] && centre[1] && (!untied || d->plane);
    d->npistons = d->centred || d->plane; /* the one of the centre comes first */
    for (int k = 0; k < nangles; k++) {
        bool here = mark[0][k] || mark[1][k];
        d->piston[k] = !here ? -1 : (mark[1][k] && d->centred) || d->plane ? 0 : d->npistons++;
    }
    d->n = d->plane ? 3 : d->npistons;
    for (int k = 0; k < nangles && !d->plane; k++)
        d->slope[k] = d->piston[k] < 0 ? -1 : d->n++;
    fw_free(all);
    return FW_OK;
}

/* Sums over the datum's stations. */
typedef struct sums {
    double *dd, *dkd; /* n x n */
    double *db;       /* n x nterms */
    double *dx;       /* n */
    datum_entry *entry; /* of one class: its contrasts */
    double *part;       /* contrasts x n, twice */
} sums;

static double height_of(const adjustment *a, const class_spread *s, int ring, int i)
{
    const double *h = a->height + a->net->ring_height[ring];
    return h[s->column[0][i]] - (s->column[1][i] >= 0 ? h[s->column[1][i]] : 0);
}

/* out (p x q) += sum over rings of D' rho^power r, D of n contrasts, from the moments of rho. */
static void add_moments(int n, int p, int q, const datum_entry *entry, int power, const double *r,
                        const double moment[3], double *out)
{
    for (int j = 0; j < q; j++, out += p, r += n)
        for (int i = 0; i < n; i++)
            for (int e = 0; e < entry[i].count; e++)
                out[entry[i].index[e]] += (moment[power] * entry[i].c0[e] +
                                           moment[power + 1] * entry[i].c1[e]) *
                                          r[i];
}

/* out0 + rho out1 (n x p) <- k D. */
static void times_datum(int n, int p, const double *k, const datum_entry *entry, double *out0,
                        double *out1)
{
    memset(out0, 0, (size_t)n * p * sizeof *out0);
    memset(out1, 0, (size_t)n * p * sizeof *out1);
    for (int j = 0; j < n; j++, k += n)
        for (int e = 0; e < entry[j].count; e++) {
            size_t column = (size_t)entry[j].index[e] * n;
            fw_add(n, entry[j].c0[e], k, 1, out0 + column);
            fw_add(n, entry[j].c1[e], k, 1, out1 + column);
        }
}

/* dd (p x p) += sum over rings of D'D. */
static void add_squares(int n, int p, const datum_entry *entry, const double moment[3], double *dd)
{
    for (const datum_entry *x = entry; x < entry + n; x++)
        for (int e = 0; e < x->count; e++)
            for (int f = 0; f < x->count; f++)
                dd[x->index[e] + (size_t)x->index[f] * p] +=
                    moment[0] * x->c0[e] * x->c0[f] +
                    moment[1] * (x->c0[e] * x->c1[f] + x->c1[e] * x->c0[f]) +
                    moment[2] * x->c1[e] * x->c1[f];
}

static void add_class(const adjustment *a, const datum *d, const net_class *class,
                      const class_spread *s, sums *t)
{
    double moment[3] = {0};
    int n = s->n, p = d->n;
    datum_entries(d, a, s, t->entry);
    for (int c = 0; c < class->nrings; c++) {
        int ring = class->rings[c];
        double rho = a->net->ring_mm[ring] / a->net->rmax_mm;
        if (!datum_covers(a, d->what, ring))
            continue;
        moment[0] += 1;
        moment[1] += rho;
        moment[2] += rho * rho;
        for (int i = 0; i < n; i++) {
            const datum_entry *at = &t->entry[i];
            double h = height_of(a, s, ring, i);
            for (int e = 0; e < at->count; e++)
                t->dx[at->index[e]] += (at->c0[e] + rho * at->c1[e]) * h;
        }
    }
    if (moment[0] <= 0)
        return;
    double *k0 = t->part, *k1 = t->part + (size_t)n * p;
    for (int power = 0; power < (s->b1 ? 2 : 1); power++) {
        term_range seen = s->seen[power];
        const double *b = power ? s->b1 : s->b0;
        add_moments(n, p, seen.count, t->entry, power, b + (size_t)seen.first * n, moment,
                    t->db + (size_t)seen.first * p);
    }
    add_squares(n, p, t->entry, moment, t->dd);
    times_datum(n, p, s->k, t->entry, k0, k1);
    add_moments(n, p, p, t->entry, 0, k0, moment, t->dkd);
    add_moments(n, p, p, t->entry, 1, k1, moment, t->dkd);
}

static fw_status accumulate(spreads *store, datum *d, sums *t, fw_error *err)
{
    adjustment *a = store->a;
    fw_status status = FW_OK;
    for (int c = 0; c < a->net->nclasses && !status; c++) {
        class_spread *s;
        if ((status = spreads_get(store, c, SPREAD_COVARIANCE, &s, err)))
            break;
        d->nloose += s->n ? s->nnull : 0;
        t->entry = fw_alloc(s->n, sizeof *t->entry);
        t->part = fw_alloc(2 * (size_t)s->n * d->n, sizeof(double));
        if (!t->entry || !t->part)
            status = fw_out_of_memory(err);
        else if (s->n > 0)
            add_class(a, d, &a->net->classes[c], s, t);
        fw_free(t->entry);
        fw_free(t->part);
        spreads_put(store, c, s);
    }
    return status;
}

/* Share of its entries up to which V is taken as a list of those that are not zero. */
static const double SPARSE = 0.05;

/* out (n x q) <- V x: mostly a diameter's parameters are bound to none of another. */
static fw_status times_inverse(const datum *d, int q, const double *x, double *out, fw_error *err)
{
    size_t n = (size_t)d->n, count = 0, at = 0;
    for (size_t i = 0; i < n * n; i++)
        count += d->inverse[i] != 0;
    if ((double)count > SPARSE * (double)(n * n)) {
        fw_gemm(0, 0, d->n, q, d->n, 1, d->inverse, d->n, x, d->n, 0, out, d->n);
        return FW_OK;
    }
    size_t *entry = fw_alloc(count, sizeof *entry);
    if (!entry)
        return fw_out_of_memory(err);
    for (size_t i = 0; i < n * n; i++)
        if (d->inverse[i] != 0)
            entry[at++] = i;
    memset(out, 0, n * (size_t)q * sizeof *out);
    for (int j = 0; j < q; j++, x += n, out += n)
        for (size_t e = 0; e < count; e++)
            out[entry[e] % n] += d->inverse[entry[e]] * x[entry[e] / n];
    fw_free(entry);
    return FW_OK;
}

/* The parameters that see a range of the terms: row (n) <- which; their number. */
static int rows_in_range(int n, const double *seen, int count, int *row)
{
    int rows = 0;
    for (int i = 0; i < n; i++) {
        int q = 0;
        while (q < count && seen[i + (size_t)q * n] == 0)
            q++;
        if (q < count)
            row[rows++] = i;
    }
    return rows;
}

/*
 * What a range of the terms, independent of the others, adds, C = root root': root' B'D V to with_root,
 * V D'B C B'D V to cov, V D'B z to lifted. seen (n x count) = V D'B.
 */
static fw_status add_range(const adjustment *a, datum *d, int range, const double *seen,
                           fw_error *err)
{
    const scan_terms *t = &a->terms;
    int n = d->n, count = t->range[range].count, z = t->nulls[range].count;
    int rank = t->roots[range].count;
    size_t wide = (size_t)(n > z ? n : z), from = (size_t)t->roots[range].first;
    int *row = fw_alloc(n, sizeof *row);
    double *s = fw_alloc((size_t)n * count, sizeof *s);
    double *with = fw_alloc((size_t)n * rank, sizeof *with);
    double *part = fw_alloc((size_t)n * wide, sizeof *part);
    fw_status status = row && s && with && part ? FW_OK : fw_out_of_memory(err);
    int rows = status ? 0 : rows_in_range(n, seen, count, row);
    for (int q = 0; q < count && rows; q++)
        for (int i = 0; i < rows; i++)
            s[i + (size_t)q * rows] = seen[row[i] + (size_t)q * n];
    if (rows) {
        terms_root_times(t, range, rows, s, rows, with, rank);
        fw_gram(rows, rank, with, rank, part, rows);
    }
    for (int j = 0; j < rows; j++) {
        memcpy(d->with_root + from + (size_t)row[j] * t->rank, with + (size_t)j * rank,
               (size_t)rank * sizeof *with);
        for (int i = 0; i < rows; i++)
            d->cov[row[i] + (size_t)row[j] * n] +=
                part[(i < j ? i : j) + (size_t)(i < j ? j : i) * rows];
    }
    if (rows)
        terms_null_times(t, range, rows, s, rows, part, z);
    for (int i = 0; i < rows; i++)
        memcpy(d->lifted + t->nulls[range].first + (size_t)row[i] * t->nnull, part + (size_t)i * z,
               (size_t)z * sizeof *part);
    fw_free(row);
    fw_free(s);
    fw_free(with);
    fw_free(part);
    return status;
}

/* a = V D'x; Cov(a) = V (D'KD + D'B C B'D) V; root' B'D V; V D'B z for the null vectors z. */
static fw_status conclude(const adjustment *a, datum *d, sums *t, fw_error *err)
{
    int n = d->n, nt = a->net->nterms;
    fw_status status;
    double *work = fw_alloc((size_t)n * (n > nt ? n : nt), sizeof *work);
    if (!work)
        return fw_out_of_memory(err);
    memcpy(d->inverse, t->dd, (size_t)n * n * sizeof *t->dd);
    if ((status = fw_pinv_symmetric(n, d->inverse, 1e-12, err)) ||
        (status = times_inverse(d, 1, t->dx, d->a, err)) ||
        (status = times_inverse(d, n, t->dkd, work, err)))
        goto done;
    for (int j = 0; j < n; j++) /* (V D'KD)' */
        for (int i = 0; i < n; i++)
            t->dkd[j + (size_t)i * n] = work[i + (size_t)j * n];
    if ((status = times_inverse(d, n, t->dkd, d->cov, err)) ||
        (status = times_inverse(d, nt, t->db, work, err)))
        goto done;
    for (int r = 0; r < a->terms.nranges && !status; r++)
        status = add_range(a, d, r, work + (size_t)a->terms.range[r].first * (size_t)n, err);
done:
    fw_free(work);
    return status;
}

fw_status datum_new(spreads *store, int kind, datum *out, fw_error *err)
{
    const adjustment *a = store->a;
    datum d = {.what = store->what,
               .restricted = (kind & DATUM_RESTRICTED) != 0,
               .plane = a->net->job->levelling == FW_LEVELLING_SETUP};
    sums t = {0};
    fw_status status = lay_parameters(a, kind & DATUM_UNTIED, &d, err);
    size_t n = (size_t)d.n, nt = (size_t)a->net->nterms;
    if (status)
        goto done;
    d.a = fw_alloc(n, sizeof(double));
    d.inverse = fw_alloc(n * n, sizeof(double));
    d.cov = fw_alloc(n * n, sizeof(double));
    d.with_root = fw_alloc(n * (size_t)a->terms.rank, sizeof(double));
    d.lifted = fw_alloc(n * (size_t)a->terms.nnull, sizeof(double));
    t.dd = fw_alloc(n * n, sizeof(double));
    t.dkd = fw_alloc(n * n, sizeof(double));
    t.db = fw_alloc(n * nt, sizeof(double));
    t.dx = fw_alloc(n, sizeof(double));
    if (!d.a || !d.inverse || !d.cov || !d.with_root || !d.lifted || !t.dd || !t.dkd || !t.db ||
        !t.dx)
        status = fw_out_of_memory(err);
    else if (!(status = accumulate(store, &d, &t, err)))
        status = conclude(a, &d, &t, err);
done:
    fw_free(t.dd);
    fw_free(t.dkd);
    fw_free(t.db);
    fw_free(t.dx);
    if (status)
        datum_release(&d);
    else
        *out = d;
    return status;
}

void datum_release(datum *d)
{
    fw_free(d->piston);
    fw_free(d->slope);
    fw_free(d->a);
    fw_free(d->inverse);
    fw_free(d->cov);
    fw_free(d->with_root);
    fw_free(d->lifted);
    *d = (datum){0};
}
