/* terms.c - the pistons and tilts of the scans: what is left when every ring is eliminated. */
#include "terms.h"

#include <math.h>
#include <string.h>

#include "flatwright/alloc.h"
#include "linalg.h"
#include "terms_gram.h"
#include "terms_rows.h"

int terms_ranges(const fw_net *net, term_range range[2])
{
    range[0] = (term_range){0, net->npistons};
    range[1] = (term_range){net->npistons, net->nterms - net->npistons};
    for (int c = 0; c < net->nclasses; c++)
        if (!net->classes[c].paired && !net->classes[c].centre) {
            range[0].count = net->nterms;
            return 1;
        }
    return 2;
}

void terms_lengths(const fw_net *net, double *length)
{
    memset(length, 0, (size_t)net->nterms * sizeof *length);
    for (int c = 0; c < net->nclasses; c++) {
        const net_class *class = &net->classes[c];
        double arm = 0;
        for (int k = 0; k < class->nrings; k++)
            arm += pow(net->ring_mm[class->rings[k]] / net->rmax_mm, 2);
        for (int i = 0; i < class->nrows; i++) {
            const net_scan *scan = &net->scans[class->rows[i].scan];
            double w = class->rows[i].weight;
            length[scan->piston] += w * w * class->nrings;
            for (int q = 0; q < scan->ntilt; q++)
                length[scan->tilt[q]] += w * w * arm;
        }
    }
    for (int j = 0; j < net->nterms; j++)
        length[j] = sqrt(length[j]);
}

/* Equations of one range: their squares n (count x count, packed) and b, and lengths (count). */
typedef struct squares {
    int count;
    double *n, *b;
    const double *length;
} squares;

/* The parts of the waves of a range; *good: there are any, and squares cost nothing. x: by terms. */
static fw_status solve_waves(const squares *s, const term_waves *w, term_part *parts, double *x,
                             bool *good, fw_error *err)
{
    size_t count = (size_t)s->count;
    double *blocks = fw_alloc(count * ((size_t)w->ngroups + 1), sizeof *blocks);
    double *b = fw_alloc(count, sizeof *b), *c = fw_alloc(count, sizeof *c);
    double *length = fw_alloc(count, sizeof *length);
    *good = false;
    fw_status status = blocks && b && c && length ? FW_OK : fw_out_of_memory(err);
    if (status || (status = terms_waves_split(w, s->n, s->length, blocks, good, err)) || !*good ||
        (status = terms_waves_turn(w, 1, s->b, b, err)))
        goto done;
    const double *at = blocks;
    for (int o = 0; o < w->norders && *good && !status; o++) {
        int phases = terms_waves_phases(w, o), size = w->ngroups * phases;
        size_t first = (size_t)w->ngroups * w->first[o];
        for (int i = 0; i < size; i++)
            length[i] = s->length[w->term[(size_t)(i / phases) * w->n]];
        status = terms_part_of_gram(size, at, b + first, length, s->count, &parts[o], c + first,
                                    good, err);
        at += fw_packed(0, size);
    }
    if (!status && *good)
        terms_waves_back(w, c, x);
done:
    fw_free(blocks);
    fw_free(b);
    fw_free(c);
    fw_free(length);
    return status;
}

static void release_parts(int n, term_part *parts)
{
    for (int k = 0; k < n && parts; k++)
        terms_part_release(&parts[k]);
}

/* A range by its waves; *good: it has them, and is made. */
static fw_status try_waves(const fw_net *net, int half, const squares *s, scan_terms *out,
                           bool *good, fw_error *err)
{
    term_waves *w;
    *good = false;
    fw_status status = terms_waves_new(net, half, s->count, &w, err);
    if (status || !w)
        return status;
    term_part *parts = fw_alloc(w->norders, sizeof *parts);
    status = parts ? solve_waves(s, w, parts, out->t + out->range[half].first, good, err)
                   : fw_out_of_memory(err);
    if (!status && *good) {
        out->waves[half] = w;
        out->nparts[half] = w->norders;
        out->parts[half] = parts;
        return FW_OK;
    }
    release_parts(parts ? w->norders : 0, parts);
    fw_free(parts);
    terms_waves_free(w);
    return status;
}

/* A range as one part: of its normal equations where these lose nothing, else of all its equations. */
static fw_status solve_whole(factors *store, int half, const squares *s, scan_terms *out,
                             fw_error *err)
{
    bool good = false;
    double *x = out->t + out->range[half].first;
    term_part *part = out->parts[half] = fw_alloc(1, sizeof *part);
    if (!part)
        return fw_out_of_memory(err);
    out->nparts[half] = 1;
    fw_status status = terms_part_of_gram(s->count, s->n, s->b, s->length, s->count, part, x, &good,
                                          err);
    if (status || good)
        return status;
    fw_qr qr = {0};
    double *c = fw_alloc((size_t)s->count + 1, sizeof *c);
    status = c ? terms_of_rows(store, half, out->nranges, out->range[half], s->length, &qr, c, err)
               : fw_out_of_memory(err);
    if (!status)
        status = terms_part_of_qr(&qr, c, part, x, err);
    fw_qr_release(&qr);
    fw_free(c);
    return status;
}

static fw_status solve_range(factors *store, int half, const double *length, scan_terms *out,
                             fw_error *err)
{
    int count = out->range[half].count;
    squares s = {count, fw_alloc(fw_packed(0, count), sizeof *s.n), fw_alloc(count, sizeof *s.b),
                 length};
    bool good = false;
    fw_status status =
        s.n && s.b ? terms_gram(store, half, out->nranges, out->range[half], s.n, s.b, err)
                   : fw_out_of_memory(err);
    if (!status && out->nranges == 2)
        status = try_waves(store->net, half, &s, out, &good, err);
    if (!status && !good)
        status = solve_whole(store, half, &s, out, err);
    out->roots[half].first = out->rank;
    out->nulls[half].first = out->nnull;
    for (int k = 0; k < out->nparts[half]; k++) {
        out->rank += out->parts[half][k].rank;
        out->nnull += out->parts[half][k].nnull;
    }
    out->roots[half].count = out->rank - out->roots[half].first;
    out->nulls[half].count = out->nnull - out->nulls[half].first;
    fw_free(s.n);
    fw_free(s.b);
    return status;
}

fw_status terms_solve(factors *store, scan_terms *out, fw_error *err)
{
    const fw_net *net = store->net;
    size_t n = (size_t)net->nterms;
    scan_terms made = {.n = net->nterms};
    made.nranges = terms_ranges(net, made.range);
    made.t = fw_alloc(n, sizeof(double));
    double *length = fw_alloc(n, sizeof *length);
    fw_status status = made.t && length ? FW_OK : fw_out_of_memory(err);
    if (!status)
        terms_lengths(net, length);
    for (int half = 0; half < made.nranges && !status; half++)
        status = solve_range(store, half, length + made.range[half].first, &made, err);
    fw_free(length);
    if (status)
        terms_release(&made);
    else
        *out = made;
    return status;
}

void terms_release(scan_terms *t)
{
    fw_free(t->t);
    for (int half = 0; half < 2; half++) {
        release_parts(t->nparts[half], t->parts[half]);
        fw_free(t->parts[half]);
        terms_waves_free(t->waves[half]);
    }
    *t = (scan_terms){0};
}
