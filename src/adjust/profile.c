/* profile.c - heights on the datum with their uncertainty, and which of them are determined. */
#include "profile.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "datum.h"
#include "flatwright/alloc.h"
#include "linalg.h"
#include "terms_root.h"

/* Part of its null vector below which a height counts as untouched. */
static const double UNTOUCHED = 1e-6;

/* Which contrasts the readings determine: per class, per contrast. */
typedef struct told {
    bool **known; /* nclasses arrays of its contrasts */
    size_t count; /* determined heights, rings counted */
    size_t total;
    double *moves; /* n x n, sum of m m' over the moves m of the datum by a ring's null vectors */
} told;

static void told_release(const adjustment *a, told *t)
{
    for (int c = 0; t->known && c < a->net->nclasses; c++)
        fw_free(t->known[c]);
    fw_free(t->known);
    fw_free(t->moves);
    *t = (told){0};
}

/* Adds how the null vectors of a class move the datum in one of its rings: V D'z. */
static fw_status add_ring_moves(const datum *d, const class_spread *s, const datum_entry *entry,
                                double rho, told *t, fw_error *err)
{
    int p = d->n, z = s->nnull;
    double *met = fw_alloc((size_t)p * z, sizeof *met);
    double *move = fw_alloc((size_t)p * z, sizeof *move);
    fw_status status = met && move ? FW_OK : fw_out_of_memory(err);
    for (int q = 0; q < z && !status; q++)
        for (int i = 0; i < s->n; i++)
            for (int e = 0; e < entry[i].count; e++)
                met[entry[i].index[e] + (size_t)q * p] +=
                    (entry[i].c0[e] + rho * entry[i].c1[e]) * s->null[i + (size_t)q * s->n];
    if (!status) {
        fw_gemm(0, 0, p, z, p, 1, d->inverse, p, met, p, 0, move, p);
        fw_gram_rows(p, z, move, p, t->moves, p);
    }
    fw_free(met);
    fw_free(move);
    return status;
}

/* A move is linear in rho: the first and the last ring of a class on the datum stand for all. */
static fw_status add_moves(const adjustment *a, const datum *d, const net_class *class,
                           const class_spread *s, told *t, fw_error *err)
{
    int first = 0, last = class->nrings - 1;
    while (first <= last && !datum_covers(a, d->what, class->rings[first]))
        first++;
    while (last > first && !datum_covers(a, d->what, class->rings[last]))
        last--;
    datum_entry *entry = fw_alloc(s->n, sizeof *entry);
    fw_status status = entry ? FW_OK : fw_out_of_memory(err);
    if (!status)
        datum_entries(d, a, s, entry);
    for (int c = first; c <= last && !status; c += last > first ? last - first : 1) {
        double rho = a->net->ring_mm[class->rings[c]] / a->net->rmax_mm;
        status = add_ring_moves(d, s, entry, rho, t, err);
    }
    fw_free(entry);
    return status;
}

/*
 * Do the null vectors of rings move the datum where a height stands? m = V D'z with a unit vector z,
 * so that at row d of D it is (d m)^2 <= d V d'.
 */
static bool shifts(const datum *d, const told *t, int count, const int *index, const double *c0,
                   const double *c1, double rho)
{
    double sum = 0, most = 0;
    for (int e = 0; e < count; e++)
        for (int f = 0; f < count; f++) {
            double cc = (c0[e] + rho * c1[e]) * (c0[f] + rho * c1[f]);
            size_t at = index[e] + (size_t)index[f] * d->n;
            sum += cc * t->moves[at];
            most += cc * d->inverse[at];
        }
    return sum > UNTOUCHED * UNTOUCHED * most;
}

/*
 * Does a null vector of the terms, lifted to the heights, move contrast i against the datum? The
 * move is linear in rho: it vanishes on all rings of the class if it does on the first and the last.
 */
static bool floats(const adjustment *a, const datum *d, const net_class *class,
                   const class_spread *s, int i, const double *lift0, const double *lift1)
{
    int index[3];
    double c0[3], c1[3];
    double first = a->net->ring_mm[class->rings[0]] / a->net->rmax_mm;
    double last = a->net->ring_mm[class->rings[class->nrings - 1]] / a->net->rmax_mm;
    int count = datum_row(d, a, s->angle[i], s->sign[i], index, c0, c1);
    for (int q = 0; q < a->terms.nnull; q++) {
        double move0 = lift0[q], move1 = lift1[q];
        for (int e = 0; e < count; e++) {
            double shift = d->lifted[q + (size_t)index[e] * a->terms.nnull];
            move0 -= c0[e] * shift;
            move1 -= c1[e] * shift;
        }
        if (fabs(move0 + first * move1) > UNTOUCHED || fabs(move0 + last * move1) > UNTOUCHED)
            return true;
    }
    return false;
}

/* lift (nnull x n) <- what the null vectors of the terms, of some of their ranges, do by b. */
static void lift_nulls(const scan_terms *t, int range, int end, int n, const double *b,
                       double *lift)
{
    for (int r = range; r < end; r++)
        terms_null_times(t, r, n, b + (size_t)t->range[r].first * n, n, lift + t->nulls[r].first,
                         t->nnull);
}

static fw_status tell_class(const adjustment *a, const datum *d, const net_class *class,
                            const class_spread *s, told *t, bool *known, fw_error *err)
{
    int n = s->n, z = a->terms.nnull; /* without z the terms are not there */
    int index[3];
    double c0[3], c1[3];
    double first = a->net->ring_mm[class->rings[0]] / a->net->rmax_mm;
    double last = a->net->ring_mm[class->rings[class->nrings - 1]] / a->net->rmax_mm;
    double *lift = fw_alloc(2 * (size_t)n * z, sizeof *lift);
    if (!lift)
        return fw_out_of_memory(err);
    double *lift1 = lift + (size_t)n * z;
    if (z) /* with b1, b0 has pistons only, b1 tilts */
        lift_nulls(&a->terms, 0, s->b1 ? 1 : a->terms.nranges, n, s->b0, lift);
    if (z && s->b1)
        lift_nulls(&a->terms, a->terms.nranges - 1, a->terms.nranges, n, s->b1, lift1);
    for (int i = 0; i < n; i++) {
        int count = datum_row(d, a, s->angle[i], s->sign[i], index, c0, c1);
        known[i] = count > 0 && !s->loose[i] &&
                   !floats(a, d, class, s, i, lift + (size_t)i * z, lift1 + (size_t)i * z) &&
                   !shifts(d, t, count, index, c0, c1, first) &&
                   !shifts(d, t, count, index, c0, c1, last);
        t->count += known[i] ? (size_t) class->nrings : 0;
        t->total += count > 0 ? (size_t) class->nrings : 0;
    }
    fw_free(lift);
    return FW_OK;
}

static fw_status tell(spreads *store, const datum *d, told *t, fw_error *err)
{
    const adjustment *a = store->a;
    spread_depth depth = d->nloose || a->terms.nnull ? SPREAD_TERMS : SPREAD_PLACES;
    t->known = fw_alloc(a->net->nclasses, sizeof *t->known);
    t->moves = fw_alloc((size_t)d->n * d->n, sizeof *t->moves);
    if (!t->known || !t->moves)
        return fw_out_of_memory(err);
    for (int pass = d->nloose ? 0 : 1; pass < 2; pass++)
        for (int c = 0; c < a->net->nclasses; c++) {
            const net_class *class = &a->net->classes[c];
            class_spread *s;
            fw_status status = spreads_get(store, c, depth, &s, err);
            if (status)
                return status;
            if (pass == 0 && s->n && s->nnull)
                status = add_moves(a, d, class, s, t, err);
            if (pass == 1) {
                t->known[c] = fw_alloc(s->n, sizeof(bool));
                status = t->known[c] ? tell_class(a, d, class, s, t, t->known[c], err)
                                     : fw_out_of_memory(err);
            }
            spreads_put(store, c, s);
            if (status)
                return status;
        }
    return FW_OK;
}

/* The datum that lets most be told, the plainer one where two tell the same. */
static fw_status choose_datum(spreads *store, datum *d, told *t, fw_error *err)
{
    fw_status status = FW_OK;
    for (int kind = 0; kind < DATUM_KINDS && !status; kind++) {
        datum other = {0};
        told says = {0};
        if (kind > 0 && t->count == t->total)
            break;
        if (!(status = datum_new(store, kind, &other, err)) &&
            !(status = tell(store, &other, &says, err)) && (kind == 0 || says.count > t->count)) {
            datum keep = *d;
            told kept = *t;
            *d = other;
            *t = says;
            other = keep;
            says = kept;
        }
        datum_release(&other);
        told_release(store->a, &says);
    }
    return status;
}

static int by_position(const void *x, const void *y)
{
    double a = ((const fw_point *)x)->position_mm, b = ((const fw_point *)y)->position_mm;
    return (a > b) - (a < b);
}

/*
 * A diameter's points from one rim to the other. Ring by ring as they mostly come, those below 0
 * turned round and the others behind them are in order; where they are not, they are sorted.
 */
static fw_status order_points(fw_diameter *d, fw_error *err)
{
    size_t n = d->npoints, below = 0, rest;
    fw_point *ordered = fw_alloc(n, sizeof *ordered);
    if (!ordered)
        return fw_out_of_memory(err);
    for (size_t i = 0; i < n; i++)
        below += d->points[i].position_mm < 0;
    rest = below;
    for (size_t i = 0; i < n; i++)
        ordered[d->points[i].position_mm < 0 ? --below : rest++] = d->points[i];
    bool ascend = true;
    for (size_t i = 1; i < n && ascend; i++)
        ascend = ordered[i - 1].position_mm < ordered[i].position_mm;
    if (ascend)
        memcpy(d->points, ordered, n * sizeof *ordered);
    else
        qsort(d->points, n, sizeof *d->points, by_position);
    fw_free(ordered);
    return FW_OK;
}

/* Room for every diameter's points, counted first; the centre lies on every tied diameter. */
static fw_status lay_points(adjustment *a, const datum *d, fw_profile *p, int *diameter,
                            fw_error *err)
{
    size_t *count = fw_alloc(a->net->nangles, sizeof *count);
    fw_status status = count ? FW_OK : fw_out_of_memory(err);
    for (int c = 0; c < a->net->nclasses && !status; c++) {
        const net_class *class = &a->net->classes[c];
        for (int j = 0; j < class->ncolumns; j++)
            for (int k = 0; k < a->net->nangles && spread_contrasts(class, j, d->what); k++)
                if (class->columns[j].angle == k ||
                    (class->columns[j].angle < 0 && d->centred && d->piston[k] == 0))
                    count[k] += (size_t) class->nrings;
    }
    if (status)
        goto done;
    p->diameters = fw_alloc(a->net->nangles, sizeof *p->diameters);
    if (!p->diameters)
        status = fw_out_of_memory(err);
    for (int k = 0; k < a->net->nangles && !status; k++) {
        diameter[k] = -1;
        if (!count[k])
            continue;
        fw_diameter *diam = &p->diameters[p->ndiameters];
        diameter[k] = p->ndiameters++;
        diam->angle_deg = a->net->angles_deg[k];
        diam->points = fw_alloc(count[k], sizeof *diam->points);
        if (!diam->points)
            status = fw_out_of_memory(err);
    }
done:
    fw_free(count);
    return status;
}

/* The pieces of a contrast's variance on the datum as a polynomial in rho. */
typedef struct variance {
    double k, b[3]; /* own ring; terms: constant, rho, rho^2 */
    int count, index[3];
    double c0[3], c1[3]; /* its row of the datum */
    double l0[3], l1[3]; /* k D V: only inside the datum */
    double f0[3], f1[3]; /* b C B'D V */
} variance;

static double variance_at(const variance *v, const datum *d, double rho, bool inside)
{
    double sum = v->k + v->b[0] + rho * (v->b[1] + rho * v->b[2]);
    for (int p = 0; p < v->count; p++) {
        double row = v->c0[p] + rho * v->c1[p];
        double with = v->f0[p] + rho * v->f1[p] + (inside ? v->l0[p] + rho * v->l1[p] : 0);
        sum -= 2 * row * with;
        for (int q = 0; q < v->count; q++)
            sum += row * (v->c0[q] + rho * v->c1[q]) *
                   d->cov[v->index[p] + (size_t)v->index[q] * d->n];
    }
    return sum > 0 ? sum : 0;
}

/* l0 + rho l1 = K D V, the columns of a contrast's own parameters, row i. */
static void local_part(const datum *d, const class_spread *s, const datum_entry *entry, int i,
                       variance *v)
{
    memset(v->l0, 0, sizeof v->l0);
    memset(v->l1, 0, sizeof v->l1);
    for (int j = 0; j < s->n; j++) {
        const datum_entry *at = &entry[j];
        double k = s->k[i + (size_t)j * s->n];
        for (int q = 0; q < v->count && k != 0; q++)
            for (int e = 0; e < at->count; e++) {
                double w = d->inverse[at->index[e] + (size_t)v->index[q] * d->n];
                v->l0[q] += k * at->c0[e] * w;
                v->l1[q] += k * at->c1[e] * w;
            }
    }
}

/*
 * b0 C b0', b0 C b1' twice, b1 C b1' of every height, and b C B'D V at its parameters; of a single ring
 * all in the first.
 */
static fw_status term_variances(const adjustment *a, const datum *d, const class_spread *s,
                                variance *v, fw_error *err)
{
    int n = s->n, nc = a->terms.rank;
    double *x = fw_alloc(2 * (size_t)n * nc, sizeof *x);
    if (!x)
        return fw_out_of_memory(err);
    /* b0 has pistons only, b1 tilts, where these are ranges of their own */
    bool apart = s->b1 && a->terms.nranges == 2;
    for (int r = 0; r < a->terms.nranges; r++) {
        size_t from = (size_t)a->terms.range[r].first * (size_t)n;
        double *to = x + a->terms.roots[r].first;
        if (!apart || r == 0)
            terms_root_times(&a->terms, r, n, s->b0 + from, n, to, nc);
        if (s->b1 && (!apart || r == 1))
            terms_root_times(&a->terms, r, n, s->b1 + from, n, to + (size_t)n * nc, nc);
    }
    for (int i = 0; i < n; i++) {
        const double *at = x + (size_t)i * nc, *at1 = at + (size_t)n * nc;
        v[i].b[0] = fw_dot(nc, at, 1, at);
        v[i].b[1] = 2 * fw_dot(nc, at, 1, at1);
        v[i].b[2] = fw_dot(nc, at1, 1, at1);
        for (int q = 0; q < v[i].count; q++) {
            const double *with = d->with_root + (size_t)v[i].index[q] * nc;
            v[i].f0[q] = fw_dot(nc, at, 1, with);
            v[i].f1[q] = fw_dot(nc, at1, 1, with);
        }
    }
    fw_free(x);
    return FW_OK;
}

static fw_status class_variances(const adjustment *a, const datum *d, const class_spread *s,
                                 variance *v, fw_error *err)
{
    int n = s->n;
    datum_entry *entry = fw_alloc(n, sizeof *entry);
    if (!entry)
        return fw_out_of_memory(err);
    datum_entries(d, a, s, entry);
    for (int i = 0; i < n; i++) {
        variance *w = &v[i];
        w->k = s->k[i + (size_t)i * n];
        w->count = datum_row(d, a, s->angle[i], s->sign[i], w->index, w->c0, w->c1);
        local_part(d, s, entry, i, w);
    }
    fw_free(entry);
    return term_variances(a, d, s, v, err);
}

static fw_point point_of(const adjustment *a, const datum *d, const class_spread *s,
                         const variance *v, int ring, int i, bool known)
{
    const double *h = a->height + a->net->ring_height[ring];
    double rho = a->net->ring_mm[ring] / a->net->rmax_mm;
    fw_point point = {.position_mm = s->sign[i] * a->net->ring_mm[ring],
                      .height_nm = NAN,
                      .u_nm = NAN,
                      .determined = known,
                      .clear = datum_covers(a, d->what, ring)};
    if (!known)
        return point;
    point.height_nm = h[s->column[0][i]] - (s->column[1][i] >= 0 ? h[s->column[1][i]] : 0);
    for (int q = 0; q < v->count; q++)
        point.height_nm -= (v->c0[q] + rho * v->c1[q]) * d->a[v->index[q]];
    point.u_nm = sqrt(a->variance * variance_at(v, d, rho, point.clear));
    return point;
}

static void add_points(const adjustment *a, const datum *d, const net_class *class,
                       const class_spread *s, const variance *v, const bool *known,
                       const int *diameter, fw_profile *p)
{
    for (int c = 0; c < class->nrings; c++)
        for (int i = 0; i < s->n; i++) {
            fw_point point = point_of(a, d, s, &v[i], class->rings[c], i, known[i]);
            int first = s->angle[i] < 0 ? 0 : s->angle[i],
                last = s->angle[i] < 0 ? a->net->nangles - 1 : first;
            for (int k = first; k <= last; k++)
                if (diameter[k] >= 0 && (s->angle[i] == k || (d->centred && d->piston[k] == 0))) {
                    fw_diameter *diam = &p->diameters[diameter[k]];
                    diam->points[diam->npoints++] = point;
                }
        }
}

static fw_status fill_points(spreads *store, const datum *d, const told *t, fw_profile *p,
                             fw_error *err)
{
    adjustment *a = store->a;
    fw_status status;
    int *diameter = fw_alloc(a->net->nangles, sizeof *diameter);
    if (!diameter)
        return fw_out_of_memory(err);
    status = lay_points(a, d, p, diameter, err);
    for (int c = 0; c < a->net->nclasses && !status; c++) {
        class_spread *s = NULL;
        variance *v = NULL;
        if (!(status = spreads_get(store, c, SPREAD_COVARIANCE, &s, err)) &&
            !(v = fw_alloc(s->n, sizeof *v)))
            status = fw_out_of_memory(err);
        if (!status && s->n && !(status = class_variances(a, d, s, v, err)))
            add_points(a, d, &a->net->classes[c], s, v, t->known[c], diameter, p);
        fw_free(v);
        spreads_put(store, c, s);
    }
    fw_free(diameter);
    return status;
}

fw_status profile_new(adjustment *a, contrast what, fw_profile *out, fw_error *err)
{
    fw_profile p = {0};
    datum d = {0};
    told t = {0};
    spreads store;
    fw_status status = spreads_init(&store, a, what, err);
    if (status || (status = choose_datum(&store, &d, &t, err)) ||
        (status = fill_points(&store, &d, &t, &p, err)))
        goto done;
    p.determined = p.ndiameters > 0;
    p.tied = d.npistons <= 1;
    for (int k = 0; k < p.ndiameters; k++) {
        fw_diameter *diam = &p.diameters[k];
        if ((status = order_points(diam, err)))
            goto done;
        diam->determined = true;
        for (size_t i = 0; i < diam->npoints; i++)
            diam->determined = diam->determined && diam->points[i].determined;
        p.determined = p.determined && diam->determined;
    }
    *out = p;
    p = (fw_profile){0};
done:
    profile_release(&p);
    told_release(a, &t);
    datum_release(&d);
    spreads_release(&store);
    return status;
}

void profile_release(fw_profile *p)
{
    for (int k = 0; k < p->ndiameters; k++)
        fw_free(p->diameters[k].points);
    fw_free(p->diameters);
    *p = (fw_profile){0};
}
