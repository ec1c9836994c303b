/* enough.c - pairing after pairing is taken as read until every flat is known well enough. */
#include "enough.h"

#include <math.h>
#include <string.h>

#include "flatwright/alloc.h"

/* Settings that somebody would make one after the other; more are told as repeats of a few. */
enum { SETTINGS_MAX = 8 };
/* Different pairings tried before it counts as out of reach. */
enum { PAIRINGS_MAX = 16 };
/* A pairing that takes less than this part off the excess does not help. */
static const double NO_GAIN = 1e-3;
/* Gains that differ by less than this part of them are equal but for rounding. */
static const double TIE = 1e-6;

typedef struct chase {
    outlook o;
    const candidates *c;
    const int *of;
    int n;            /* candidates */
    const double *after; /* nflats for each of c: sums over stations when it is read once */
    double limit2;    /* nm^2 */
    const double *bench; /* nflats: what no repeat makes smaller, nm */
    int *times;       /* n: taken as read */
    int leaves;       /* n at least, a power of two */
    double *bound;    /* 2 leaves: what each took off when it was last tried, see set_bound */
    int *fresh;       /* n: the step in which that was */
    double *u2, *try; /* nflats */
    double excess;    /* sum over the flats of u^2 above the limit */
} chase;

/* sum <- u^2 of every flat, the bench's part included; returns what is above the limit. */
static double means(const chase *h, double *sum)
{
    const outlook *o = &h->o;
    double excess = 0;
    for (int f = 0; f < o->job->nflats; f++) {
        sum[f] = o->nstations[f] > 0 ? fmax(sum[f], 0) / o->nstations[f] : 0;
        sum[f] += h->bench[f] * h->bench[f];
        excess += fmax(sum[f] - h->limit2, 0);
    }
    return excess;
}

static fw_status look(chase *h, fw_error *err)
{
    fw_status status = outlook_foresee(&h->o, NULL, 1, h->u2, err);
    h->excess = status ? NAN : means(h, h->u2);
    return status;
}

static fw_status start(chase *h, const adjustment *a, const outlook_flat *today, fw_error *err)
{
    outlook_release(&h->o);
    memset(h->times, 0, (size_t)h->n * sizeof *h->times);
    fw_status status = outlook_init(&h->o, a, today, h->c->nturns, h->c->turns_deg, err);
    return status ? status : look(h, err);
}

/*
 * What candidate i took off stands at leaves + i, and at every k the greater of those at 2k and 2k + 1, so
 * that of thousands the greatest is at 1, and the first that took off so much is a few steps down.
 */
static void set_bound(chase *h, int i, double bound)
{
    int k = h->leaves + i;
    for (h->bound[k] = bound; k > 1; k /= 2)
        h->bound[k / 2] = fmax(h->bound[k], h->bound[k ^ 1]);
}

/* The first candidate that took off so much, which is no more than the greatest. */
static int first_bound(const chase *h, double least)
{
    int k = 1;
    while (k < h->leaves)
        k = 2 * k + (h->bound[2 * k] < least);
    return k - h->leaves;
}

static fw_status try_again(chase *h, double times, int step, int i, fw_error *err)
{
    setup p = candidates_setup(&h->o, h->c, h->of[i]);
    fw_status status = outlook_foresee(&h->o, &p, times, h->try, err);
    if (status)
        return status;
    set_bound(h, i, h->excess - means(h, h->try));
    h->fresh[i] = step;
    return FW_OK;
}

/*
 * The candidate that takes most off the excess: tried again only while an older trial promises
 * more. Of those that take as much but for rounding, the first of the list.
 */
static fw_status best_next(chase *h, double times, int step, int *best, fw_error *err)
{
    for (;;) {
        double most = h->bound[1];
        *best = first_bound(h, most);
        if (h->fresh[*best] == step) {
            *best = first_bound(h, most - TIE * fabs(most));
            if (h->fresh[*best] == step)
                return FW_OK;
        }
        fw_status status = try_again(h, times, step, *best, err);
        if (status)
            return status;
    }
}

/* Takes pairings as read, `times` repeats at once, until all is within the limit or nothing helps. */
static fw_status run(chase *h, int times, int steps, fw_error *err)
{
    fw_status status = FW_OK;
    size_t nflats = (size_t)h->o.job->nflats;
    for (int i = 0; i < h->n; i++) {
        memcpy(h->try, h->after + (size_t)h->of[i] * nflats, nflats * sizeof *h->try);
        set_bound(h, i, times == 1 ? h->excess - means(h, h->try) : INFINITY);
        h->fresh[i] = times == 1 ? 0 : -1; /* one reading each was tried when they were ranked */
    }
    for (int step = 0; step < steps && h->excess > 0 && !status; step++) {
        int best = 0;
        if ((status = best_next(h, times, step, &best, err)) ||
            h->bound[h->leaves + best] < NO_GAIN * h->excess)
            break;
        setup p = candidates_setup(&h->o, h->c, h->of[best]);
        h->times[best] += times;
        if (!(status = outlook_commit(&h->o, &p, times, err)))
            status = look(h, err);
    }
    return status;
}

/* Would `times` repeats of every chosen pairing but `without` do? */
static fw_status would_do(chase *h, const adjustment *a, const outlook_flat *today,
                          const bool *chosen, int times, int without, bool *yes, fw_error *err)
{
    fw_status status = start(h, a, today, err);
    for (int i = 0; i < h->n && !status; i++) {
        if (!chosen[i] || i == without)
            continue;
        setup p = candidates_setup(&h->o, h->c, h->of[i]);
        h->times[i] = times;
        status = outlook_commit(&h->o, &p, times, err);
    }
    if (!status)
        status = look(h, err);
    *yes = !status && h->excess <= 0;
    return status;
}

/* The fewest repeats of all chosen pairings, then without those that can be done without. */
static fw_status fewest(chase *h, const adjustment *a, const outlook_flat *today, fw_error *err)
{
    bool *chosen = fw_alloc(h->n, sizeof *chosen), yes;
    int low = 0, high = FW_REPEATS_MAX;
    fw_status status = chosen ? FW_OK : fw_out_of_memory(err);
    for (int i = 0; i < h->n && !status; i++)
        chosen[i] = h->times[i] > 0;
    while (high - low > 1 && !status) {
        int middle = (low + high) / 2;
        status = would_do(h, a, today, chosen, middle, -1, &yes, err);
        *(yes ? &high : &low) = middle;
    }
    for (int i = 0; i < h->n && !status; i++)
        if (chosen[i] && !(status = would_do(h, a, today, chosen, high, i, &yes, err)))
            chosen[i] = !yes;
    if (!status)
        status = would_do(h, a, today, chosen, high, -1, &yes, err);
    fw_free(chosen);
    return status;
}

/*
 * info (nflats) <- the most that readings of today's surface tell of one of its heights, were all other
 * heights and terms known, 1 / nm^2. The centre, which every scan reads, is left out.
 */
static fw_status most_told(const outlook *o, double *info, fw_error *err)
{
    const fw_net *net = o->a->net;
    int most = 0;
    for (int c = 0; c < net->nclasses; c++)
        most = net->classes[c].ncolumns > most ? net->classes[c].ncolumns : most;
    double *of = fw_alloc(most, sizeof *of);
    if (!of)
        return fw_out_of_memory(err);
    for (int c = 0; c < net->nclasses; c++) {
        const net_class *class = &net->classes[c];
        for (int j = 0; j < class->ncolumns; j++)
            of[j] = 0;
        for (int i = 0; i < class->nrows && !class->centre; i++)
            for (int side = 0; side < 2; side++)
                of[class->rows[i].column[side]] += pow(class->rows[i].weight, 2) / o->variance;
        for (int j = 0; j < class->ncolumns; j++) {
            const net_face *f = &net->faces[class->columns[j].face];
            if (o->today[f->flat].state == f->state)
                info[f->flat] = fmax(info[f->flat], of[j]);
        }
    }
    fw_free(of);
    return FW_OK;
}

fw_status enough_least(const outlook *o, int settings, double *u2, fw_error *err)
{
    int nflats = o->job->nflats;
    double *info = fw_alloc(nflats, sizeof *info);
    fw_status status = info ? most_told(o, info, err) : fw_out_of_memory(err);
    for (int f = 0; f < nflats && !status; f++) {
        double free = o->nstations[f] - o->nparams[f] - 1; /* but for the centre's */
        info[f] += settings / pow(o->sigma_nm, 2) + 1 / pow(o->prior_nm, 2);
        u2[f] = free > 0 ? free / o->nstations[f] / info[f] : 0;
    }
    fw_free(info);
    return status;
}

/* The settings that somebody would make one after the other, where they can be enough. */
static fw_status one_by_one(chase *h, fw_error *err)
{
    bool hope = true;
    fw_status status = FW_OK;
    if (!h->o.faces) { /* over the area a height is known from those beside it */
        status = enough_least(&h->o, SETTINGS_MAX, h->try, err);
        for (int f = 0; f < h->o.job->nflats; f++)
            hope = hope && h->try[f] + h->bench[f] * h->bench[f] <= h->limit2;
    }
    return status || !hope ? status : run(h, 1, SETTINGS_MAX, err);
}

static fw_status tell(const chase *h, fw_enough *out, fw_error *err)
{
    out->repeats = fw_alloc(h->n, sizeof *out->repeats);
    if (!out->repeats)
        return fw_out_of_memory(err);
    for (int i = 0; i < h->n; i++)
        if (h->times[i])
            out->repeats[out->nrepeats++] = (fw_repeat){i, h->times[i]};
    return FW_OK;
}

static fw_status chase_limit(chase *h, const adjustment *a, const outlook_flat *today,
                             fw_enough *out, fw_error *err)
{
    int nflats = a->net->job->nflats;
    fw_status status = start(h, a, today, err);
    if (status)
        return status;
    out->already = h->excess <= 0;
    if (!out->already && (status = one_by_one(h, err)))
        return status;
    if (h->excess > 0) {
        if ((status = start(h, a, today, err)) ||
            (status = run(h, FW_REPEATS_MAX, PAIRINGS_MAX, err)))
            return status;
        for (int f = 0; f < nflats; f++)
            out->floor_nm[f] = sqrt(h->u2[f]);
        if (h->excess <= 0)
            status = fewest(h, a, today, err);
    }
    out->possible = h->excess <= 0;
    for (int f = 0; f < nflats && out->possible; f++)
        out->u_nm[f] = sqrt(h->u2[f]);
    return status || !out->possible ? status : tell(h, out, err);
}

fw_status enough_find(const adjustment *a, const outlook_flat *today, const candidates *c,
                      const int *of, const double *after, fw_next *next, fw_error *err)
{
    const fw_job *job = a->net->job;
    fw_enough *out = &next->enough;
    size_t nflats = (size_t)job->nflats;
    chase h = {
        .c = c, .of = of, .n = next->ncandidates, .after = after, .bench = next->bench_nm};
    fw_status status = FW_OK;
    h.limit2 = out->limit_nm * out->limit_nm;
    out->u_nm = fw_alloc(nflats, sizeof *out->u_nm);
    out->floor_nm = fw_alloc(nflats, sizeof *out->floor_nm);
    h.times = fw_alloc(h.n, sizeof *h.times);
    for (h.leaves = 1; h.leaves < h.n;)
        h.leaves *= 2;
    h.bound = fw_alloc(2 * (size_t)h.leaves, sizeof *h.bound);
    h.fresh = fw_alloc(h.n, sizeof *h.fresh);
    h.u2 = fw_alloc(nflats, sizeof *h.u2);
    h.try = fw_alloc(nflats, sizeof *h.try);
    if (!out->u_nm || !out->floor_nm || !h.times || !h.bound || !h.fresh || !h.u2 || !h.try)
        status = fw_out_of_memory(err);
    for (int i = 0; i < 2 * h.leaves && !status; i++)
        h.bound[i] = -INFINITY;
    for (size_t f = 0; f < nflats && !status; f++) {
        out->u_nm[f] = NAN;
        out->floor_nm[f] = next->bench_limits ? next->bench_nm[f] : NAN;
    }
    if (!status && !next->bench_limits && h.n && next->sigma_source != FW_SIGMA_UNKNOWN)
        status = chase_limit(&h, a, today, out, err);
    outlook_release(&h.o);
    fw_free(h.times);
    fw_free(h.bound);
    fw_free(h.fresh);
    fw_free(h.u2);
    fw_free(h.try);
    return status;
}
