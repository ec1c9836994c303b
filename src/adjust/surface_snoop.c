/* surface_snoop.c - readings that do not fit the surfaces, found scan by scan. */
#include "surface_snoop.h"

#include <math.h>
#include <string.h>

#include "flatwright/alloc.h"
#include "flatwright/mating.h"
#include "linalg.h"
#include "surface.h"

/* Work of one group. k: order + 1 coefficients of a polynomial along a scan. */
typedef struct group_work {
    surface *s;
    const surface_group *g;
    surface_rows rows;
    int k, nt;        /* polynomial coefficients; scan terms that count */
    int term[3];      /* which */
    double inverse[9]; /* nt x nt: T^-1 */
    double value[3];  /* the scan terms */
    double *shift;    /* nt x 2 nterms: T^-1 A */
    double *along;    /* k x 2 nterms: terms of both faces, then less the scan's share */
    double *used, *spread, *leverage; /* k x p, k x p, k x k */
    double *fit;      /* k: the fitted polynomial */
    double *p;        /* k */
    double *residual; /* per reading of the job, weighted; NULL: not wanted */
} group_work;

static void work_release(group_work *w)
{
    surface_rows_release(&w->rows);
    fw_free(w->shift);
    fw_free(w->along);
    fw_free(w->used);
    fw_free(w->spread);
    fw_free(w->leverage);
    fw_free(w->fit);
    fw_free(w->p);
}

/* The coefficient of a column of the group; 0: beyond the chosen order. */
static double coefficient(const group_work *w, int column, int *index)
{
    int nb = w->s->terms.basis->nterms;
    int at = w->s->find[w->g->face[column / nb] * nb + column % nb];
    *index = at < w->s->n ? at : -1;
    return *index < 0 ? 0 : w->s->c[at];
}

/* T^-1, T^-1 A and the scan terms' values T^-1 (z - A c). */
static void solve_scan_terms(group_work *w)
{
    const surface_rows *r = &w->rows;
    int nb2 = 2 * w->s->terms.basis->nterms, at;
    double t[9] = {0};
    w->nt = 0;
    for (int q = 0; q < r->scan_terms; q++)
        if (r->used[q])
            w->term[w->nt++] = q;
    for (int q = 0; q < w->nt; q++)
        for (int i = 0; i <= q; i++)
            t[i + q * w->nt] = r->all[i + (size_t)w->term[q] * (size_t)r->ld];
    for (int q = 0; q < w->nt; q++)
        w->value[q] = r->a[q + (size_t)nb2 * (size_t)r->ld];
    fw_upper_inverse(w->nt, t, w->nt, w->inverse);
    fw_upper_solve(w->nt, 1, t, w->nt, w->value, w->nt);
    for (int j = 0; j < nb2; j++) {
        double *to = w->shift + (size_t)j * (size_t)w->nt;
        memcpy(to, r->a + (size_t)j * (size_t)r->ld, (size_t)w->nt * sizeof *to);
    }
    fw_upper_solve(w->nt, nb2, t, w->nt, w->shift, w->nt);
    for (int j = 0; j < nb2; j++)
        for (int q = 0; q < w->nt; q++)
            w->value[q] -= w->shift[q + (size_t)j * (size_t)w->nt] * coefficient(w, j, &at);
}

/* Scan term q of a scan as a polynomial: its one coefficient, and where that stands. */
static double scan_term(const net_scan *s, int term, int *l)
{
    *l = term > 0;
    return term ? s->tilt_coef[term - 1] : 1;
}

/* Fitted polynomial and leverage of the surface terms along one scan. */
static fw_status fit_scan(group_work *w, int scan, bool leverage, fw_error *err)
{
    surface *s = w->s;
    const net_scan *at = &s->net->scans[scan];
    const fw_scan *of = &s->net->job->scans[scan];
    int nb = s->terms.basis->nterms, k = w->k;
    int flat[2] = {s->net->faces[w->g->face[0]].flat, s->net->faces[w->g->face[1]].flat};
    double angle[2] = {of->diameter_deg * FW_RAD, (of->turn_deg - of->diameter_deg) * FW_RAD};
    memset(w->fit, 0, (size_t)k * sizeof *w->fit);
    memset(w->used, 0, (size_t)k * (size_t)s->p * sizeof *w->used);
    for (int side = 0; side < 2; side++) {
        fw_status status = surface_along(&s->terms, flat[side], flat[1 - side], angle[side], false,
                                         w->along + (size_t)(side * nb) * (size_t)k, err);
        if (status)
            return status;
    }
    for (int j = 0; j < 2 * nb; j++) {
        int index, l;
        double c = coefficient(w, j, &index);
        double *f = w->along + (size_t)j * (size_t)k;
        for (int i = 0; i < k; i++)
            w->fit[i] += c * f[i];
        for (int q = 0; q < w->nt; q++) {
            double unit = scan_term(at, w->term[q], &l);
            f[l] -= unit * w->shift[q + (size_t)j * (size_t)w->nt];
        }
    }
    for (int q = 0; q < w->nt; q++) {
        int l;
        double unit = scan_term(at, w->term[q], &l);
        w->fit[l] += unit * w->value[q];
    }
    for (int r = 0; r < s->p && leverage; r++) {
        const surface_column *c = &s->column[s->used_column[r]];
        for (int side = 0; side < 2; side++)
            for (int i = 0; i < k && c->face == w->g->face[side]; i++)
                w->used[i + (size_t)r * (size_t)k] +=
                    w->along[i + (size_t)(side * nb + c->term) * (size_t)k];
    }
    if (!leverage)
        return FW_OK;
    fw_gemm(0, 0, k, s->p, s->p, 1, w->used, k, s->root, s->p, 0, w->spread, k);
    fw_gemm(0, 1, k, k, s->p, 1, w->spread, k, w->spread, k, 0, w->leverage, k);
    return FW_OK;
}

static double leverage_at(const group_work *w, const net_scan *at)
{
    double sum = 0, t[3];
    int l;
    for (int i = 0; i < w->k; i++)
        sum += w->p[i] * fw_dot(w->k, w->p, 1, w->leverage + (size_t)i * (size_t)w->k);
    for (int q = 0; q < w->nt; q++) {
        double unit = scan_term(at, w->term[q], &l);
        t[q] = unit * w->p[l];
    }
    for (int q = 0; q < w->nt; q++) {
        double share = 0;
        for (int i = 0; i <= q; i++)
            share += t[i] * w->inverse[i + q * w->nt];
        sum += share * share;
    }
    return sum;
}

static fw_status snoop_group(group_work *w, const bool *skip, double sd, snoop *out, fw_error *err)
{
    const fw_net *net = w->s->net;
    const fw_job *job = net->job;
    fw_status status = surface_rows_new(net, &w->s->terms, w->g, skip, &w->rows, err);
    if (status)
        return status;
    solve_scan_terms(w);
    double span = surface_span(&w->s->terms, net->faces[w->g->face[0]].flat,
                               net->faces[w->g->face[1]].flat);
    for (int i = 0; i < w->g->nscans && !status; i++) {
        int scan = w->g->scans[i];
        const fw_scan *of = &job->scans[scan];
        status = fit_scan(w, scan, out != NULL, err);
        for (size_t r = of->first; r < of->first + of->count && !status; r++) {
            const fw_reading *x = &job->readings[r];
            double weight = net->sigma_known ? 1 / x->sigma_nm : 1;
            if (skip && skip[r])
                continue;
            if (!surface_counts(net, scan, x->position_mm)) {
                if (out)
                    out->unchecked++;
                continue;
            }
            surface_legendre(w->k - 1, x->position_mm / span, w->p);
            double residual = weight * (x->deviation_nm - fw_dot(w->k, w->p, 1, w->fit));
            if (w->residual)
                w->residual[r] = residual;
            if (out)
                snoop_take(out, r, 1 - weight * weight * leverage_at(w, &net->scans[scan]),
                           residual, weight, sd);
        }
    }
    surface_rows_release(&w->rows);
    return status;
}

/* out: NULL, only the residuals are wanted. */
static fw_status go_through(adjustment *a, double *residual, double sd, snoop *out, fw_error *err)
{
    surface *s = a->surface;
    size_t nb2 = 2 * (size_t)s->terms.basis->nterms, k = (size_t)s->terms.basis->order + 1;
    int *scans = NULL, ngroups = 0;
    surface_group *groups = NULL;
    group_work w = {.s = s, .k = (int)k, .residual = residual};
    fw_status status = surface_groups(a->net, &scans, &groups, &ngroups, err);
    if (status)
        return status;
    w.shift = fw_alloc(3 * nb2, sizeof *w.shift);
    w.along = fw_alloc(k * nb2, sizeof *w.along);
    w.used = fw_alloc(k * (size_t)s->p, sizeof *w.used);
    w.spread = fw_alloc(k * (size_t)s->p, sizeof *w.spread);
    w.leverage = fw_alloc(k * k, sizeof *w.leverage);
    w.fit = fw_alloc(k, sizeof *w.fit);
    w.p = fw_alloc(k, sizeof *w.p);
    if (!w.shift || !w.along || !w.used || !w.spread || !w.leverage || !w.fit || !w.p)
        status = fw_out_of_memory(err);
    for (int i = 0; i < ngroups && !status; i++) {
        w.g = &groups[i];
        status = snoop_group(&w, s->skip, sd, out, err);
    }
    work_release(&w);
    fw_free(scans);
    fw_free(groups);
    return status;
}

fw_status surface_snoop(adjustment *a, snoop *out, fw_error *err)
{
    snoop found;
    double sd = snoop_start(a, &found);
    fw_status status = go_through(a, NULL, sd, &found, err);
    if (!status) {
        snoop_end(&found);
        *out = found;
    }
    return status;
}

fw_status surface_residuals(adjustment *a, double *out, fw_error *err)
{
    const fw_net *net = a->net;
    double *residual = fw_alloc(net->job->nreadings, sizeof *residual);
    fw_status status = residual ? go_through(a, residual, 1, NULL, err) : fw_out_of_memory(err);
    for (size_t i = 0; i < net->nreadings && !status; i++)
        out[i] = residual[net->ring_reading[i]];
    fw_free(residual);
    return status;
}
