/* terms_waves.c - even diameters: what goes round the flats at one frequency is solved by itself. */
#include "terms_waves.h"

#include <math.h>
#include <string.h>

#include "flatwright/alloc.h"
#include "flatwright/mating.h"

/* Fewer lines fall into orders that are no smaller than what they are taken from. */
enum { LINES_LEAST = 4 };

/*
 * What orders share, beside the lengths of two terms and for each line, up to which it is rounding, of
 * which there is a hundredth of that, and a third at 360 lines. It could cost 1e-10 of a figure.
 */
static const double ROUNDING = 3e-15;

/* The diameters of the bottoms. */
typedef struct lines {
    int n;
    double first_deg, gap_deg;
} lines;

static fw_status find_lines(const fw_net *net, lines *out, fw_error *err)
{
    bool *read = fw_alloc(net->nangles, sizeof *read);
    if (!read)
        return fw_out_of_memory(err);
    for (int i = 0; i < net->nscans; i++)
        if (net->scans[i].piston >= 0)
            read[net->scans[i].angle[0]] = true;
    *out = (lines){0};
    for (int k = net->nangles - 1; k >= 0; k--)
        if (read[k]) {
            out->n++;
            out->first_deg = net->angles_deg[k];
        }
    out->gap_deg = out->n ? 180.0 / out->n : 0;
    fw_free(read);
    return FW_OK;
}

/* What two scans have in common that one pairing makes on two diameters. */
static double turn_of(const fw_net *net, const net_scan *s)
{
    double turn = 0;
    for (int side = 0; side < 2; side++)
        turn += net->angles_deg[s->angle[side]] + (s->flip[side] < 0 ? 180 : 0);
    return turn;
}

/* The same flats one on the other at one turn. */
static bool same_pairing(const fw_net *net, const lines *l, const net_scan *a, const net_scan *b)
{
    return a->face[0] == b->face[0] && a->face[1] == b->face[1] &&
           fabs(remainder(turn_of(net, a) - turn_of(net, b), 360)) <= l->gap_deg / 4;
}

/* Seats a scan in the first group of its pairing and turn where its line is free; false: none is. */
static bool seat(const fw_net *net, const lines *l, int scan, int half, int *first, term_waves *w)
{
    const net_scan *s = &net->scans[scan];
    int k = (int)lround((net->angles_deg[s->angle[0]] - l->first_deg) / l->gap_deg) % l->n;
    for (int g = 0; g < w->ngroups; g++) {
        int *term = w->term + (size_t)g * l->n + k;
        if (*term >= 0 || !same_pairing(net, l, s, &net->scans[first[g]]))
            continue;
        *term = half ? s->tilt[0] - net->npistons : s->piston;
        w->sign[(size_t)g * l->n + k] = half ? s->flip[0] : 1;
        w->place[*term] = g * l->n + k;
        return true;
    }
    return false;
}

/* Seats are as many as terms: in `most` groups, all scans leave none free. false: they take more. */
static bool seat_all(const fw_net *net, const lines *l, int half, int most, int *first,
                     term_waves *w)
{
    for (int i = 0; i < net->nscans; i++) {
        if (net->scans[i].piston < 0 || seat(net, l, i, half, first, w))
            continue;
        if (w->ngroups == most)
            return false;
        first[w->ngroups++] = i;
        seat(net, l, i, half, first, w);
    }
    return true;
}

/* Orders m of one parity: m = 0 and m = N have a cosine only. */
static void fill_waves(int half, term_waves *w)
{
    int n = w->n, column = 0;
    for (int m = half; m <= n; m += 2) {
        bool single = m == 0 || m == n;
        w->first[w->norders++] = column;
        for (int k = 0; k < n; k++) {
            double angle = FW_RAD * 180 * ((long)m * k % (2 * n)) / n;
            double *at = w->wave + k + (size_t)column * n;
            at[0] = cos(angle) * sqrt((single ? 1.0 : 2.0) / n);
            if (!single)
                at[n] = sin(angle) * sqrt(2.0 / n);
        }
        column += single ? 1 : 2;
    }
    w->first[w->norders] = column;
}

fw_status terms_waves_new(const fw_net *net, int half, int count, term_waves **out, fw_error *err)
{
    lines l;
    *out = NULL;
    if (net->job->levelling == FW_LEVELLING_SETUP)
        return FW_OK;
    fw_status status = find_lines(net, &l, err);
    if (status || l.n < LINES_LEAST || count % l.n)
        return status;
    term_waves *w = fw_alloc(1, sizeof *w);
    int most = count / l.n, *first = fw_alloc(most, sizeof *first);
    if (!w || !first) {
        status = fw_out_of_memory(err);
        goto done;
    }
    w->n = l.n;
    w->term = fw_alloc(count, sizeof *w->term);
    w->sign = fw_alloc(count, sizeof *w->sign);
    w->place = fw_alloc(count, sizeof *w->place);
    w->wave = fw_alloc((size_t)l.n * l.n, sizeof *w->wave);
    w->first = fw_alloc(l.n + 1, sizeof *w->first);
    if (!w->term || !w->sign || !w->place || !w->wave || !w->first) {
        status = fw_out_of_memory(err);
        goto done;
    }
    memset(w->term, -1, (size_t)count * sizeof *w->term);
    if (!seat_all(net, &l, half, most, first, w))
        goto done;
    fill_waves(half, w);
    *out = w;
    w = NULL;
done:
    terms_waves_free(w);
    fw_free(first);
    return status;
}

void terms_waves_free(term_waves *w)
{
    if (!w)
        return;
    fw_free(w->term);
    fw_free(w->sign);
    fw_free(w->place);
    fw_free(w->wave);
    fw_free(w->first);
    fw_free(w);
}

fw_status terms_waves_turn(const term_waves *w, int nrows, const double *b, double *out,
                           fw_error *err)
{
    int n = w->n;
    size_t size = (size_t)nrows * n;
    double *apart = fw_alloc(size, sizeof *apart), *turned = fw_alloc(size, sizeof *turned);
    fw_status status = apart && turned ? FW_OK : fw_out_of_memory(err);
    for (int g = 0; g < w->ngroups && !status; g++) {
        const int *term = w->term + (size_t)g * n;
        const double *sign = w->sign + (size_t)g * n;
        for (int k = 0; k < n; k++)
            for (int i = 0; i < nrows; i++)
                apart[i + (size_t)k * nrows] = sign[k] * b[i + (size_t)term[k] * nrows];
        fw_gemm(0, 0, nrows, n, n, 1, apart, nrows, w->wave, n, 0, turned, nrows);
        for (int o = 0; o < w->norders; o++) {
            size_t phases = terms_waves_phases(w, o), from = (size_t)w->first[o];
            memcpy(out + ((size_t)w->ngroups * from + (size_t)g * phases) * nrows,
                   turned + from * nrows, phases * nrows * sizeof *out);
        }
    }
    fw_free(apart);
    fw_free(turned);
    return status;
}

void terms_waves_back(const term_waves *w, const double *c, double *x)
{
    for (int i = 0; i < w->ngroups * w->n; i++) {
        int term = w->term[i], group = i / w->n;
        x[term] = 0;
        for (int o = 0; o < w->norders; o++)
            for (int p = 0, phases = terms_waves_phases(w, o); p < phases; p++)
                x[term] += terms_waves_share(w, term, w->first[o] + p) *
                           c[w->ngroups * w->first[o] + group * phases + p];
    }
}

/* Have all scans of a group one length? */
static bool same_lengths(const term_waves *w, const double *length)
{
    for (int g = 0; g < w->ngroups; g++)
        for (int k = 1; k < w->n; k++) {
            const int *term = w->term + (size_t)g * w->n;
            if (fabs(length[term[k]] - length[term[0]]) > ROUNDING * length[term[0]])
                return false;
        }
    return true;
}

/* apart (rows of groups up to g, n columns) <- the equations between them and the scans of g. */
static void gather(const term_waves *w, const double *gram, int g, double *apart)
{
    int n = w->n, rows = (g + 1) * n;
    for (int k = g * n; k < rows; k++)
        for (int i = 0; i < rows; i++) {
            int a = w->term[i], b = w->term[k];
            *apart++ = w->sign[i] * w->sign[k] * gram[a < b ? fw_packed(a, b) : fw_packed(b, a)];
        }
}

/*
 * What groups up to g share with g of an order, to its block, from the columns of that order (lines x
 * groups each); false: they hold more of other orders than rounding. share: 2 x groups.
 */
static bool deal(const term_waves *w, int order, int g, const double *length, double *column,
                 double *share, double *block)
{
    int n = w->n, phases = terms_waves_phases(w, order);
    const double *own = w->wave + (size_t)w->first[order] * n;
    for (int q = 0; q < phases; q++) {
        fw_gemm(1, 0, phases, g + 1, n, 1, own, n, column, n, 0, share, phases);
        fw_gemm(0, 0, n, g + 1, phases, -1, own, n, share, phases, 1, column, n);
        for (int h = 0; h <= g; h++, column += n) {
            double unit = length[w->term[(size_t)h * n]] * length[w->term[(size_t)g * n]];
            for (int k = 0; k < n; k++)
                if (fabs(column[k]) > ROUNDING * n * unit)
                    return false;
            for (int p = 0; p < phases && h * phases + p <= g * phases + q; p++)
                block[fw_packed(h * phases + p, g * phases + q)] = share[p + (size_t)h * phases];
        }
    }
    return true;
}

fw_status terms_waves_split(const term_waves *w, const double *gram, const double *length,
                            double *block, bool *even, fw_error *err)
{
    int n = w->n;
    size_t size = (size_t)w->ngroups * n * n;
    double *apart = fw_alloc(size, sizeof *apart), *turned = fw_alloc(size, sizeof *turned);
    double *share = fw_alloc(2 * (size_t)w->ngroups, sizeof *share);
    fw_status status = apart && turned && share ? FW_OK : fw_out_of_memory(err);
    *even = !status && same_lengths(w, length);
    for (int g = 0; g < w->ngroups && *even; g++) {
        int rows = (g + 1) * n;
        gather(w, gram, g, apart);
        fw_gemm(0, 0, rows, n, n, 1, apart, rows, w->wave, n, 0, turned, rows);
        double *at = block, *column = turned;
        for (int o = 0; o < w->norders && *even; o++) {
            *even = deal(w, o, g, length, column, share, at);
            at += fw_packed(0, w->ngroups * terms_waves_phases(w, o));
            column += (size_t)rows * terms_waves_phases(w, o);
        }
    }
    fw_free(share);
    fw_free(apart);
    fw_free(turned);
    return status;
}
