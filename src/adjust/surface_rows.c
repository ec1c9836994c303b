/* surface_rows.c - scans as a few equations in the terms of two faces, pistons and tilts gone. */
#include "surface_rows.h"

#include <math.h>
#include <string.h>

#include "flatwright/alloc.h"
#include "flatwright/mating.h"
#include "linalg.h"
#include "stack.h"

fw_status surface_groups(const fw_net *net, int **scans, surface_group **groups, int *ngroups,
                         fw_error *err)
{
    int n = net->npistons;
    int *list = fw_alloc((size_t)net->nscans, sizeof *list);
    int *first = fw_alloc((size_t)n + 1, sizeof *first);
    surface_group *g = fw_alloc((size_t)n, sizeof *g);
    if (!list || !first || !g) {
        fw_free(list);
        fw_free(first);
        fw_free(g);
        return fw_out_of_memory(err);
    }
    for (int i = 0; i < net->nscans; i++)
        if (net->scans[i].piston >= 0)
            first[net->scans[i].piston + 1]++;
    for (int k = 0; k < n; k++)
        first[k + 1] += first[k];
    for (int k = 0; k < n; k++)
        g[k].scans = list + first[k];
    for (int i = 0; i < net->nscans; i++) {
        const net_scan *s = &net->scans[i];
        if (s->piston < 0)
            continue;
        surface_group *of = &g[s->piston];
        of->face[0] = s->face[0];
        of->face[1] = s->face[1];
        list[first[s->piston] + of->nscans++] = i;
    }
    fw_free(first);
    *scans = list;
    *groups = g;
    *ngroups = n;
    return FW_OK;
}

bool surface_counts(const fw_net *net, int scan, double position_mm)
{
    double s = fabs(position_mm);
    for (int side = 0; side < 2; side++) {
        const net_face *f = &net->faces[net->scans[scan].face[side]];
        if (s > f->clear_mm + FW_POSITION_TOLERANCE_MM || s < f->bore_mm - FW_POSITION_TOLERANCE_MM)
            return false;
    }
    return true;
}

/* One row of [P_0 .. P_order | d], weighted. */
static void put_reading(const fw_net *net, size_t reading, int order, double span, double *p,
                        double *to, int ld)
{
    const fw_reading *r = &net->job->readings[reading];
    double w = net->sigma_known ? 1 / r->sigma_nm : 1;
    surface_legendre(order, r->position_mm / span, p);
    for (int l = 0; l <= order; l++)
        to[(size_t)l * (size_t)ld] = w * p[l];
    to[((size_t)order + 1) * (size_t)ld] = w * r->deviation_nm;
}

/* The readings of one scan over Legendre's polynomials: at most order + 2 rows of [P_0 .. | d]. */
static fw_status reduce_scan(const fw_net *net, int scan, int order, double span, const bool *skip,
                             stack *s, size_t *count, fw_error *err)
{
    const fw_scan *of = &net->job->scans[scan];
    double *p = fw_alloc((size_t)order + 1, sizeof *p);
    fw_status status = p ? FW_OK : fw_out_of_memory(err);
    for (size_t i = of->first; i < of->first + of->count && !status; i++) {
        double *to;
        if ((skip && skip[i]) || !surface_counts(net, scan, net->job->readings[i].position_mm))
            continue;
        if (!(to = stack_push(s, 1, err))) {
            status = FW_SYSTEM;
            continue;
        }
        put_reading(net, i, order, span, p, to, s->size);
        ++*count;
    }
    fw_free(p);
    return status ? status : stack_compress(s, err);
}

/* The scan's rows into those of its group: scan terms, both faces' terms, right-hand side. */
static fw_status add_scan(const fw_net *net, surface_terms *t, const surface_group *g, int scan,
                          const bool *skip, double *along, surface_rows *out, fw_error *err)
{
    const net_scan *at = &net->scans[scan];
    const fw_scan *of = &net->job->scans[scan];
    int order = t->basis->order, nb = t->basis->nterms, nt = 1 + at->ntilt, k = order + 1;
    int flat[2] = {net->faces[g->face[0]].flat, net->faces[g->face[1]].flat};
    double angle[2] = {of->diameter_deg * FW_RAD, (of->turn_deg - of->diameter_deg) * FW_RAD};
    double *to = out->all + out->rows;
    stack s = {0};
    size_t count = 0;
    fw_status status = stack_init(&s, k + 1, err);
    if (status || (status = reduce_scan(net, scan, order, surface_span(t, flat[0], flat[1]), skip,
                                        &s, &count, err)))
        goto done;
    int rows = count < (size_t)k ? (int)count : k;
    for (int i = 0; i < rows; i++) {
        to[i] = s.a[i];
        for (int q = 0; q < at->ntilt; q++)
            to[i + (size_t)(1 + q) * (size_t)out->ld] =
                s.a[i + (size_t)s.size] * at->tilt_coef[q];
        to[i + (size_t)(nt + 2 * nb) * (size_t)out->ld] = s.a[i + (size_t)k * (size_t)s.size];
    }
    out->left += pow(s.a[k + (size_t)k * (size_t)s.size], 2);
    for (int side = 0; side < 2 && rows > 0; side++) {
        double *block = to + (size_t)(nt + side * nb) * (size_t)out->ld;
        if ((status = surface_along(t, flat[side], flat[1 - side], angle[side], false, along, err)))
            goto done;
        fw_gemm(0, 0, rows, nb, k, 1, s.a, s.size, along, k, 0, block, out->ld);
        for (int j = 0; j < nb; j++)
            out->length2[side * nb + j] +=
                pow(fw_length(rows, block + (size_t)j * (size_t)out->ld), 2);
    }
    out->rows += rows;
    out->readings += count;
done:
    stack_release(&s);
    return status;
}

fw_status surface_rows_new(const fw_net *net, surface_terms *t, const surface_group *g,
                           const bool *skip, surface_rows *out, fw_error *err)
{
    int nb = t->basis->nterms, k = t->basis->order + 1;
    int nt = 1 + net->scans[g->scans[0]].ntilt, ncols = nt + 2 * nb + 1;
    surface_rows r = {.ld = g->nscans * k, .scan_terms = nt};
    double length[3];
    r.all = fw_alloc((size_t)r.ld * (size_t)ncols, sizeof *r.all);
    r.length2 = fw_alloc(2 * (size_t)nb, sizeof *r.length2);
    double *along = fw_alloc((size_t)k * (size_t)nb, sizeof *along);
    fw_status status = r.all && r.length2 && along ? FW_OK : fw_out_of_memory(err);
    for (int i = 0; i < g->nscans && !status; i++)
        status = add_scan(net, t, g, g->scans[i], skip, along, &r, err);
    fw_free(along);
    if (status) {
        surface_rows_release(&r);
        return status;
    }
    for (int q = 0; q < nt; q++)
        length[q] = fw_length(r.rows, r.all + (size_t)q * (size_t)r.ld);
    r.eliminated =
        fw_qr_stairs(r.rows, nt, 2 * nb + 1, r.all, r.ld, length, FW_RANK_TOLERANCE, r.used);
    r.from = r.eliminated;
    r.rows -= r.eliminated;
    r.a = r.all + (size_t)nt * (size_t)r.ld;
    *out = r;
    return FW_OK;
}

void surface_rows_release(surface_rows *r)
{
    fw_free(r->all);
    fw_free(r->length2);
    *r = (surface_rows){0};
}
