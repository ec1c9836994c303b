/* waves.c - what is known of every wave around the flats: its covariance, from all readings. */
#include "waves.h"

#include <math.h>
#include <string.h>

#include "flatwright/alloc.h"
#include "flatwright/mating.h"
#include "linalg.h"
#include "outlook_cells.h"

/* Of the centre there is but one height, of frequency 0. */
static bool holds(const wave_cell *c, int m)
{
    return !c->centre || m == 0;
}

/* X + exp(-i a) conj Y, a = m shift pi / N, in real and imaginary parts. */
int wave_entries(const waves *w, const wave *v, int among, const wave_read *r, int phase,
                 int index[4], double value[4], double *apart)
{
    const wave_cell *c = &w->cells[among];
    size_t turned = (size_t)v->m * (size_t)r->shift % (2 * (size_t)w->n);
    double scale = c->centre ? sqrt(w->n) : 1;
    int n = 0;
    for (int side = 0; side < 2 && holds(c, v->m); side++) {
        int surface = r->surface[side], comb = side && !c->centre ? r->comb : 0;
        int column = c->find[(size_t)surface * w->ncombs + comb];
        if (column < 0) {
            *apart += scale * scale;
            continue;
        }
        bool today = surface < w->o->job->nflats;
        int at = v->first[today][among - v->from] + v->phases * c->columns[column].seat;
        for (int part = 0; part < v->phases; part++) {
            double with = !side ? part == phase
                          : part != phase ? -w->sine[turned]
                          : phase == 0    ? w->cosine[turned]
                                          : -w->cosine[turned];
            if (side || part == phase) {
                index[n] = at + part;
                value[n++] = scale * with;
            }
        }
    }
    return n;
}

double wave_term(const wave *v, const wave_cell *c)
{
    return c->centre ? 1 : sqrt(2 * (v->parity ? c->rho2 : c->rings));
}

/* Column j takes tau_j from what the columns before sum up to, and that from tau_j. */
void wave_contrasts(int k, const double *tau, double *q)
{
    double sum = tau[0] * tau[0];
    for (int j = 1; j < k; j++, q += k) {
        double norm = sqrt(sum * (sum + tau[j] * tau[j]));
        for (int i = 0; i < k; i++)
            q[i] = i < j ? tau[i] * tau[j] / norm : i == j ? -sum / norm : 0;
        sum += tau[j] * tau[j];
    }
}

/* The room that makes a wave. */
typedef struct making {
    int most;     /* rows of one term and phase */
    int *read, *cell;
    double *tau, *q, *raw;
    int m, n;     /* rows, unknowns */
    double *h, *gram;
} making;

static void making_release(making *k)
{
    fw_free(k->read);
    fw_free(k->cell);
    fw_free(k->tau);
    fw_free(k->q);
    fw_free(k->raw);
    fw_free(k->h);
    fw_free(k->gram);
}

static fw_status making_new(const waves *w, making *k, fw_error *err)
{
    int columns = 0, readings = 0;
    for (int i = 0; i < w->ncells; i++) {
        columns += 2 * w->cells[i].ncolumns;
        for (int r = 0; r < w->nreads; r++)
            readings += w->cells[i].information[r] > 0;
    }
    size_t most = (size_t)readings, n = (size_t)columns;
    *k = (making){.most = readings};
    k->read = fw_alloc(most, sizeof *k->read);
    k->cell = fw_alloc(most, sizeof *k->cell);
    k->tau = fw_alloc(most, sizeof *k->tau);
    k->q = fw_alloc(most * most, sizeof *k->q);
    k->raw = fw_alloc(most * n, sizeof *k->raw);
    k->h = fw_alloc(2 * most * n, sizeof *k->h);
    k->gram = fw_alloc(n * n, sizeof *k->gram);
    return k->read && k->cell && k->tau && k->q && k->raw && k->h && k->gram
               ? FW_OK
               : fw_out_of_memory(err);
}

/* What saw a term, in the cells of a wave; how many. */
static int see_term(const waves *w, const wave *v, int term, making *k)
{
    int count = 0;
    for (int r = 0; r < w->nreads; r++)
        for (int i = v->from; i < v->to && w->reads[r].term == term; i++)
            if (w->cells[i].information[r] > 0) {
                k->read[count] = r;
                k->cell[count] = i;
                k->tau[count++] = wave_term(v, &w->cells[i]) * sqrt(w->cells[i].information[r]);
            }
    return count;
}

/* Rows of one phase, of unit variance; of all of them what is free of the term. */
static void add_rows(const waves *w, const wave *v, int count, int phase, making *k)
{
    int n = v->skip + v->n, index[4];
    double value[4], apart;
    memset(k->raw, 0, (size_t)count * n * sizeof *k->raw);
    for (int i = 0; i < count; i++) {
        double root = sqrt(w->cells[k->cell[i]].information[k->read[i]]);
        int entries =
            wave_entries(w, v, k->cell[i], &w->reads[k->read[i]], phase, index, value, &apart);
        for (int e = 0; e < entries; e++)
            k->raw[i + (size_t)index[e] * count] += root * value[e];
    }
    int rows = v->terms ? count - 1 : count;
    if (v->terms)
        wave_contrasts(count, k->tau, k->q);
    for (int j = 0; j < n && rows; j++)
        for (int i = 0; i < rows; i++) {
            const double *raw = k->raw + (size_t)j * count;
            k->h[(size_t)(k->m + i) * n + j] =
                v->terms ? fw_dot(count, k->q + (size_t)i * count, 1, raw) : raw[i];
        }
    k->m += rows;
}

/* c <- the block of today's unknowns in (1 / prior^2 + h'h)^-1. */
static fw_status fill_wave(const waves *w, wave *v, making *k, fw_error *err)
{
    int n = v->skip + v->n, phases = v->phases;
    double prior2 = w->o->prior_nm * w->o->prior_nm;
    k->m = 0;
    for (int term = 0; term < w->nterms; term++) {
        int count = see_term(w, v, term, k);
        for (int phase = 0; phase < phases && count; phase++)
            add_rows(w, v, count, phase, k);
    }
    memset(k->gram, 0, (size_t)n * n * sizeof *k->gram);
    fw_gemm(0, 1, n, n, k->m, 1, k->h, n, k->h, n, 0, k->gram, n);
    for (int j = 0; j < n; j++)
        k->gram[j + (size_t)j * n] += 1 / prior2;
    fw_status status = fw_cholesky(n, k->gram, err);
    if (status)
        return status;
    fw_upper_inverse(v->n, k->gram + v->skip + (size_t)v->skip * n, n, v->c);
    fw_upper_square(v->n, v->c, v->c);
    return FW_OK;
}

/* Where each cell's unknowns begin, and whose they are. */
static fw_status lay_wave(const waves *w, wave *v, fw_error *err)
{
    for (int today = 0; today < 2; today++)
        if (!(v->first[today] = fw_alloc(v->to - v->from, sizeof(int))))
            return fw_out_of_memory(err);
    for (int i = v->from; i < v->to; i++) {
        const wave_cell *c = &w->cells[i];
        v->first[0][i - v->from] = v->skip;
        v->first[1][i - v->from] = v->n;
        v->skip += holds(c, v->m) ? v->phases * (c->ncolumns - c->ntoday) : 0;
        v->n += holds(c, v->m) ? v->phases * c->ntoday : 0;
    }
    v->flat = fw_alloc(v->n, sizeof *v->flat);
    v->c = fw_alloc((size_t)v->n * v->n, sizeof *v->c);
    if (!v->flat || !v->c)
        return fw_out_of_memory(err);
    for (int i = v->from; i < v->to; i++) {
        const wave_cell *c = &w->cells[i];
        v->first[1][i - v->from] += v->skip;
        for (int j = 0; j < c->ncolumns && holds(c, v->m); j++)
            for (int p = 0; p < v->phases && c->columns[j].surface < w->o->job->nflats; p++)
                v->flat[v->first[1][i - v->from] - v->skip + v->phases * c->columns[j].seat + p] =
                    c->columns[j].scored ? c->columns[j].surface : -1;
    }
    return v->modes ? wave_lay_datum(w, v, err) : FW_OK;
}

/* now += what a wave's heights have on the datum, per flat. */
static void add_now(const waves *w, const wave *v)
{
    for (int i = 0; i < v->n; i++)
        if (v->flat[i] >= 0)
            w->now[v->flat[i]] += v->times * v->c[i + (size_t)i * v->n];
    for (int d = 0; d < v->ndatum; d++) {
        const wave_datum *x = &v->datum[d];
        for (int i = 0; i < x->n; i++)
            for (int j = 0; j < x->n; j++)
                w->now[x->flat] -= x->value[i] * x->value[j] *
                                   v->c[x->index[i] + (size_t)x->index[j] * v->n];
    }
}

void wave_release(wave *v)
{
    for (int d = 0; d < v->ndatum; d++) {
        fw_free(v->datum[d].index);
        fw_free(v->datum[d].value);
    }
    fw_free(v->datum);
    fw_free(v->first[0]);
    fw_free(v->first[1]);
    fw_free(v->flat);
    fw_free(v->c);
    *v = (wave){0};
}

static fw_status add_wave(waves *w, wave v, making *k, fw_error *err)
{
    wave *made = &w->waves[w->nwaves++];
    bool plane = w->o->plane;
    v.phases = v.m == 0 || v.m == w->n ? 1 : 2;
    v.terms = v.modes && (!plane || v.m == v.parity);
    *made = v;
    fw_status status = lay_wave(w, made, err);
    if (!status && made->n && !(status = fill_wave(w, made, k, err)))
        add_now(w, made);
    return status;
}

fw_status waves_make(waves *w, fw_error *err)
{
    making k;
    fw_status status = making_new(w, &k, err);
    int rings = w->ncells - (w->ncells && w->cells[0].centre);
    for (int i = 0; i < w->nwaves; i++)
        wave_release(&w->waves[i]);
    fw_free(w->waves);
    w->nwaves = 0;
    memset(w->now, 0, (size_t)w->o->job->nflats * sizeof *w->now);
    w->waves = fw_alloc(((size_t)w->n + 1) * ((size_t)rings + 1), sizeof *w->waves);
    if (!status && !w->waves)
        status = fw_out_of_memory(err);
    for (int m = 0; m <= w->n && !status; m++) {
        int ring = w->ncells - rings, first = m % 2 ? ring : 0;
        if (first < w->ncells)
            status = add_wave(w, (wave){.m = m, .parity = m % 2, .modes = true, .from = first,
                                        .to = w->ncells, .times = 1}, &k, err);
        for (int i = ring; i < w->ncells && !status; i++)
            if (w->cells[i].rings > 1)
                status = add_wave(w, (wave){.m = m, .parity = m % 2, .from = i, .to = i + 1,
                                            .times = w->cells[i].rings - 1}, &k, err);
    }
    w->stale = status != FW_OK;
    making_release(&k);
    return status;
}

/* Stations of every flat, on all its lines and rings. */
static void count_stations(const waves *w, double *nstations)
{
    for (int i = 0; i < w->ncells; i++) {
        const wave_cell *c = &w->cells[i];
        for (int j = 0; j < c->ncolumns; j++)
            if (c->columns[j].scored)
                nstations[c->columns[j].surface] += c->centre ? 1 : 2.0 * w->n * c->rings;
    }
}

fw_status waves_new(outlook *o, int nturns, const double *turns_deg, waves **out, fw_error *err)
{
    waves *w = fw_alloc(1, sizeof *w);
    bool even = false;
    fw_status status = FW_OK;
    if (!w)
        return fw_out_of_memory(err);
    w->o = o;
    if ((status = waves_plan(w, nturns, turns_deg, &even, err)) || !even)
        goto done;
    w->now = fw_alloc(o->job->nflats, sizeof *w->now);
    w->cosine = fw_alloc(2 * (size_t)w->n, sizeof *w->cosine);
    w->sine = fw_alloc(2 * (size_t)w->n, sizeof *w->sine);
    if (!w->now || !w->cosine || !w->sine) {
        status = fw_out_of_memory(err);
        goto done;
    }
    for (int i = 0; i < 2 * w->n; i++) {
        w->cosine[i] = cos(i * w->gap_deg * FW_RAD);
        w->sine[i] = sin(i * w->gap_deg * FW_RAD);
    }
    if ((status = waves_make(w, err)))
        goto done;
    count_stations(w, o->nstations);
    *out = w;
    w = NULL;
done:
    waves_free(w);
    return status;
}

void waves_free(waves *w)
{
    if (!w)
        return;
    for (int i = 0; i < w->nwaves; i++)
        wave_release(&w->waves[i]);
    for (int i = 0; i < w->ncells; i++) {
        fw_free(w->cells[i].information);
        fw_free(w->cells[i].columns);
        fw_free(w->cells[i].find);
    }
    fw_free(w->waves);
    fw_free(w->cells);
    fw_free(w->reads);
    fw_free(w->offset_deg);
    fw_free(w->comb);
    fw_free(w->line);
    fw_free(w->cosine);
    fw_free(w->sine);
    fw_free(w->now);
    fw_free(w);
}
