/* waves_foresee.c - what a pairing would add to every wave, and pairings taken as read. */
#include <math.h>
#include <string.h>

#include "flatwright/alloc.h"
#include "linalg.h"
#include "outlook_cells.h"
#include "waves.h"

bool waves_meets(const waves *w, const wave_cell *c, const wave_read *r)
{
    return c->sides && outlook_has_glass(w->o, r->surface[0], c->ring) &&
           outlook_has_glass(w->o, r->surface[1], c->ring);
}

/* A pairing before a wave: its readings, by phase then cell, and what they know of the heights. */
typedef struct trial {
    const waves *w;
    wave_read read;
    double noise; /* variance of a reading */
    int ncells;
    int *cell;    /* those it reads, the centre first */
    int rows;
    double *tau, *q;
    double *kh, *s;   /* n x rows: C H'; rows x rows: H C H' + noise */
    double *part;     /* room for one of these */
    double *u;
    double *gain;     /* per flat */
} trial;

static void trial_release(trial *t)
{
    fw_free(t->cell);
    fw_free(t->tau);
    fw_free(t->q);
    fw_free(t->kh);
    fw_free(t->s);
    fw_free(t->part);
    fw_free(t->u);
    fw_free(t->gain);
}

static fw_status trial_new(const waves *w, const setup *p, double times, trial *t, fw_error *err)
{
    size_t cells = (size_t)w->ncells, rows = 2 * cells, n = 0;
    for (int i = 0; i < w->ncells; i++)
        n += 2 * (size_t)w->cells[i].ntoday;
    *t = (trial){.w = w, .read = waves_read_of(w, p),
                 .noise = w->o->sigma_nm * w->o->sigma_nm / times};
    t->cell = fw_alloc(cells, sizeof *t->cell);
    t->tau = fw_alloc(cells, sizeof *t->tau);
    t->q = fw_alloc(cells * cells, sizeof *t->q);
    t->kh = fw_alloc(n * rows, sizeof *t->kh);
    t->s = fw_alloc(rows * rows, sizeof *t->s);
    t->part = fw_alloc((n + rows) * rows, sizeof *t->part);
    t->u = fw_alloc(n * rows, sizeof *t->u);
    t->gain = fw_alloc(w->o->job->nflats, sizeof *t->gain);
    if (!t->cell || !t->tau || !t->q || !t->kh || !t->s || !t->part || !t->u || !t->gain)
        return fw_out_of_memory(err);
    for (int i = 0; i < w->ncells; i++)
        if (waves_meets(w, &w->cells[i], &t->read))
            t->cell[t->ncells++] = i;
    return FW_OK;
}

/* The cells of the trial that a wave has: from *first on; their number. */
static int cells_of(const trial *t, const wave *v, int *first)
{
    int n = 0;
    *first = 0;
    for (int i = 0; i < t->ncells; i++) {
        *first += t->cell[i] < v->from;
        n += t->cell[i] >= v->from && t->cell[i] < v->to;
    }
    return n;
}

/* kh and s for all readings, as if there were no term. */
static void meet(trial *t, const wave *v, int first, int count)
{
    int rows = v->phases * count, n = v->n, index[4];
    double value[4];
    memset(t->kh, 0, (size_t)n * rows * sizeof *t->kh);
    memset(t->s, 0, (size_t)rows * rows * sizeof *t->s);
    for (int i = 0; i < rows; i++) {
        double *kh = t->kh + (size_t)i * n, apart = 0;
        int entries = wave_entries(t->w, v, t->cell[first + i % count], &t->read, i / count, index,
                                   value, &apart);
        for (int e = 0; e < entries; e++) {
            const double *c = v->c + (size_t)(index[e] - v->skip) * n;
            for (int j = 0; j < n; j++)
                kh[j] += value[e] * c[j];
        }
        t->s[i + (size_t)i * rows] = t->noise + apart * t->w->o->prior_nm * t->w->o->prior_nm;
        for (int l = 0; l <= i; l++) {
            const double *with = t->kh + (size_t)l * n;
            for (int e = 0; e < entries; e++)
                t->s[l + (size_t)i * rows] += value[e] * with[index[e] - v->skip];
        }
    }
}

/* kh and s of what is free of the term: of each phase one reading less; how many are left. */
static int set_free(trial *t, const wave *v, int first, int count)
{
    int rows = v->phases * count, left = count - 1, all = v->phases * left, n = v->n;
    for (int i = 0; i < count; i++)
        t->tau[i] = wave_term(v, &t->w->cells[t->cell[first + i]]);
    wave_contrasts(count, t->tau, t->q);
    for (int j = 0; j < rows; j++)
        for (int i = j + 1; i < rows; i++)
            t->s[i + (size_t)j * rows] = t->s[j + (size_t)i * rows];
    /* Q stands once for each phase: columns of kh and of s, then the rows of s. */
    for (int p = 0; p < v->phases; p++) {
        size_t from = (size_t)p * count, to = (size_t)p * left;
        fw_gemm(0, 0, n, left, count, 1, t->kh + from * n, n, t->q, count, 0, t->part + to * n, n);
    }
    memcpy(t->kh, t->part, (size_t)n * all * sizeof *t->kh);
    for (int p = 0; p < v->phases; p++) {
        size_t from = (size_t)p * count, to = (size_t)p * left;
        fw_gemm(0, 0, rows, left, count, 1, t->s + from * rows, rows, t->q, count, 0,
                t->part + to * rows, rows);
    }
    for (int p = 0; p < v->phases; p++)
        fw_gemm(1, 0, left, all, count, 1, t->q, count, t->part + (size_t)p * count, rows, 0,
                t->s + (size_t)p * left, all);
    return all;
}

/* gain += what the trial takes off every flat's sum in this wave. */
static fw_status try_wave(trial *t, const wave *v, fw_error *err)
{
    int first, count = cells_of(t, v, &first);
    if (!v->n || count < (v->terms ? 2 : 1))
        return FW_OK;
    meet(t, v, first, count);
    int rows = v->terms ? set_free(t, v, first, count) : v->phases * count;
    fw_status status = foresee_update(v->n, rows, t->kh, t->s, t->u, err);
    if (status)
        return status;
    for (int j = 0; j < v->n; j++)
        for (int i = 0; i < rows && v->flat[j] >= 0; i++)
            t->gain[v->flat[j]] += v->times * pow(t->u[i + (size_t)j * rows], 2);
    for (int d = 0; d < v->ndatum; d++) {
        const wave_datum *x = &v->datum[d];
        for (int i = 0; i < rows; i++) {
            double sum = 0;
            for (int e = 0; e < x->n; e++)
                sum += x->value[e] * t->u[i + (size_t)x->index[e] * rows];
            t->gain[x->flat] -= sum * sum;
        }
    }
    return FW_OK;
}

fw_status waves_foresee(waves *w, const setup *p, double times, double *sum, fw_error *err)
{
    size_t nflats = (size_t)w->o->job->nflats;
    trial t = {0};
    fw_status status = w->stale ? waves_make(w, err) : FW_OK;
    if (status)
        return status;
    memcpy(sum, w->now, nflats * sizeof *sum);
    if (!p)
        return FW_OK;
    status = trial_new(w, p, times, &t, err);
    for (int i = 0; i < w->nwaves && !status; i++)
        status = try_wave(&t, &w->waves[i], err);
    for (size_t f = 0; f < nflats && !status; f++)
        sum[f] -= t.gain[f];
    trial_release(&t);
    return status;
}

fw_status waves_commit(waves *w, const setup *p, double times, fw_error *err)
{
    size_t n = (size_t)w->nreads + 1;
    wave_read *reads = fw_resize(w->reads, n, sizeof *reads);
    if (!reads)
        return fw_out_of_memory(err);
    w->reads = reads;
    for (int i = 0; i < w->ncells; i++) {
        double *information = fw_resize(w->cells[i].information, n, sizeof *information);
        if (!information)
            return fw_out_of_memory(err);
        w->cells[i].information = information;
        information[w->nreads] = 0;
    }
    wave_read *r = &reads[w->nreads++];
    *r = waves_read_of(w, p);
    r->term = w->nterms++;
    for (int i = 0; i < w->ncells; i++) {
        wave_cell *c = &w->cells[i];
        if (!waves_meets(w, c, r))
            continue;
        c->information[w->nreads - 1] = times / (w->o->sigma_nm * w->o->sigma_nm);
        waves_lay_column(w, c, r->surface[0], 0, false);
        waves_lay_column(w, c, r->surface[1], r->comb, false);
    }
    w->stale = true;
    return FW_OK;
}
