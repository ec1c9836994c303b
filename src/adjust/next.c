/* next.c - the pairings ranked, the stale ones told, and whether it is enough. */
#include "flatwright/next.h"

#include <math.h>
#include <stdlib.h>

#include "enough.h"
#include "flatwright/alloc.h"
#include "flatwright/mating.h"

/* Scores that differ less are equal but for rounding. */
static const double TIE = 1e-9;

static bool same_setup(const fw_pairing *p, const fw_scan *s)
{
    return p->round == s->round && p->bottom == s->bottom && p->top == s->top &&
           fabs(remainder(p->turn_deg - s->turn_deg, 360)) <= FW_ANGLE_TOLERANCE_DEG;
}

/* Pairings in the order of the file. */
static int list_pairings(const fw_job *job, const outlook_flat *today, fw_pairing *list)
{
    int n = 0;
    for (size_t i = 0; i < job->nscans; i++) {
        const fw_scan *s = &job->scans[i];
        int k = n; /* most scans belong to the pairing before */
        while (k > 0 && !same_setup(&list[k - 1], s))
            k--;
        if (!s->count)
            continue;
        if (k > 0)
            list[k - 1].nscans++;
        else
            list[n++] =
                (fw_pairing){s->round,
                             s->bottom,
                             s->top,
                             s->turn_deg,
                             fw_job_state(job, s->bottom, s->round) != today[s->bottom].state,
                             fw_job_state(job, s->top, s->round) != today[s->top].state,
                             1};
    }
    return n;
}

static fw_status find_stale(fw_next *next, const outlook_flat *today, fw_error *err)
{
    const fw_job *job = next->result->job;
    fw_pairing *list = fw_alloc(job->nscans, sizeof *list);
    next->stale = fw_alloc(job->nscans, sizeof *next->stale);
    next->good = fw_alloc(job->nscans, sizeof *next->good);
    if (!list || !next->stale || !next->good) {
        fw_free(list);
        return fw_out_of_memory(err);
    }
    int n = list_pairings(job, today, list);
    for (int round = 0, last = 0; round <= last;
         round++) /* rounds in order, in a round the file's */
        for (int i = 0; i < n; i++) {
            last = list[i].round > last ? list[i].round : last;
            if (list[i].round != round)
                continue;
            if (list[i].bottom_changed || list[i].top_changed)
                next->stale[next->nstale++] = list[i];
            else
                next->good[next->ngood++] = list[i];
        }
    fw_free(list);
    return FW_OK;
}

static int ascending(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* What every candidate reads: the diameters, and the stations on each. */
static fw_status tell_scan(fw_next *next, const outlook *o, fw_error *err)
{
    const fw_net *net = o->a->net;
    next->prior_nm = o->prior_nm;
    next->sigma_nm = o->sigma_nm;
    next->sigma_source = net->sigma_known        ? FW_SIGMA_GIVEN
                         : isnan(o->a->variance) ? FW_SIGMA_UNKNOWN
                                                 : FW_SIGMA_ESTIMATED;
    next->diameters_deg = fw_alloc(o->ndiameters, sizeof *next->diameters_deg);
    next->stations_mm = fw_alloc(2 * (size_t)net->nrings, sizeof *next->stations_mm);
    if (!next->diameters_deg || !next->stations_mm)
        return fw_out_of_memory(err);
    for (int k = 0; k < o->ndiameters; k++)
        next->diameters_deg[next->ndiameters++] = o->line_deg[o->diameter[k]];
    for (int r = 0; r < net->nrings; r++)
        for (int side = 1; side <= 2; side++)
            if (o->sides[r] & side)
                next->stations_mm[next->nstations++] =
                    side == 1 ? net->ring_mm[r] : -net->ring_mm[r];
    qsort(next->stations_mm, next->nstations, sizeof *next->stations_mm, ascending);
    return FW_OK;
}

/* Sums over stations become the score, which is returned, and each flat's uncertainty. */
static double score_of(const outlook *o, const double *sum, double *u)
{
    double all = 0, stations = 0;
    for (int f = 0; f < o->job->nflats; f++) {
        double var = fmax(sum[f], 0);
        u[f] = o->nstations[f] > 0 ? sqrt(var / o->nstations[f]) : o->prior_nm;
        all += var;
        stations += o->nstations[f];
    }
    return stations > 0 ? all / stations : o->prior_nm * o->prior_nm;
}

static fw_status score_now(fw_next *next, outlook *o, double *sum, fw_error *err)
{
    fw_status status = outlook_foresee(o, NULL, 1, sum, err);
    if (status)
        return status;
    next->score_nm2 = score_of(o, sum, next->u_nm);
    for (int f = 1; f < o->job->nflats; f++)
        if (next->u_nm[f] > next->u_nm[next->worst_flat] * (1 + TIE))
            next->worst_flat = f;
    return FW_OK;
}

static fw_status score_candidate(const fw_next *next, outlook *o, const candidates *c, int index,
                                 double *sum, fw_candidate *out, fw_error *err)
{
    const contender *x = &c->list[index];
    setup p = candidates_setup(o, c, index);
    fw_status status = outlook_foresee(o, &p, 1, sum, err);
    if (status)
        return status;
    out->bottom = x->bottom;
    out->top = x->top;
    out->turn_deg = c->turns_deg[x->turn];
    out->either_way = x->either_way;
    out->score_before_nm2 = next->score_nm2;
    out->score_after_nm2 = score_of(o, sum, out->u_after_nm);
    out->worst_flat = next->worst_flat;
    out->worst_u_before_nm = next->u_nm[next->worst_flat];
    out->worst_u_after_nm = out->u_after_nm[next->worst_flat];
    return FW_OK;
}

typedef struct ranked {
    fw_candidate candidate;
    int index; /* by bottom, top, turn */
} ranked;

static int by_score(const void *a, const void *b)
{
    const ranked *x = a, *y = b;
    double s = x->candidate.score_after_nm2, t = y->candidate.score_after_nm2;
    return s < t ? -1 : s > t ? 1 : (x->index > y->index) - (x->index < y->index);
}

static int by_index(const void *a, const void *b)
{
    const ranked *x = a, *y = b;
    return (x->index > y->index) - (x->index < y->index);
}

/* Best first; runs of scores that are equal but for rounding in the order of the list. */
static void rank(int n, ranked *list)
{
    qsort(list, n, sizeof *list, by_score);
    for (int from = 0, to; from < n; from = to) {
        for (to = from + 1; to < n; to++)
            if (list[to].candidate.score_after_nm2 >
                list[to - 1].candidate.score_after_nm2 * (1 + TIE))
                break;
        qsort(list + from, to - from, sizeof *list, by_index);
    }
}

/* of <- index of every candidate, by rank; after (nflats for each, by index) <- sums over stations. */
static fw_status rank_all(fw_next *next, outlook *o, const candidates *c, int *of, double *after,
                          fw_error *err)
{
    size_t nflats = (size_t)o->job->nflats;
    double *sum = fw_alloc(nflats, sizeof *sum);
    ranked *list = fw_alloc(c->count, sizeof *list);
    next->candidates = fw_alloc(c->count, sizeof *next->candidates);
    fw_status status =
        sum && list && next->candidates ? score_now(next, o, sum, err) : fw_out_of_memory(err);
    for (int i = 0; i < c->count && !status; i++) {
        list[i].index = i;
        list[i].candidate.u_after_nm = fw_alloc(nflats, sizeof(double));
        status = list[i].candidate.u_after_nm
                     ? score_candidate(next, o, c, i, after + (size_t)i * nflats,
                                       &list[i].candidate, err)
                     : fw_out_of_memory(err);
    }
    if (!status)
        rank(c->count, list);
    for (int i = 0; i < c->count && list && next->candidates; i++) {
        next->candidates[next->ncandidates++] = list[i].candidate;
        of[i] = list[i].index;
    }
    fw_free(sum);
    fw_free(list);
    return status;
}

/* What bending brings into a flat, where it is above the limit and the largest of all; else 0. */
static double bent(const fw_next *next, int flat)
{
    const fw_budget *b = &next->result->faces[next->result->today[flat]].budget;
    const fw_share *most = &b->shares[0];
    if (!b->nshares || most->source != FW_SOURCE_BENDING)
        return 0;
    double size = next->result->job->measure == FW_MEASURE_IRREGULARITY ? most->irregularity_nm
                                                                        : most->pv_nm;
    return size > next->enough.limit_nm ? size : 0;
}

static bool read_exchanged(const fw_next *next, const fw_pairing *p)
{
    for (int i = 0; i < next->ngood; i++)
        if (next->good[i].bottom == p->top && next->good[i].top == p->bottom)
            return true;
    return false;
}

/* The bench's own limits, and the pairing whose exchange would tell the bending that limits most. */
static void tell_bench(fw_next *next)
{
    const fw_result *r = next->result;
    double most = 0;
    next->exchange = -1;
    for (int f = 0; f < r->job->nflats; f++) {
        next->bench_nm[f] = r->faces[r->today[f]].budget.bench_nm;
        next->bench_limits = next->bench_limits || next->bench_nm[f] > next->enough.limit_nm;
    }
    for (int i = 0; i < next->ngood; i++) {
        const fw_pairing *p = &next->good[i];
        double size = fmax(bent(next, p->bottom), bent(next, p->top));
        if (size > most && !read_exchanged(next, p)) {
            most = size;
            next->exchange = i;
        }
    }
}

static fw_status fill(fw_next *next, const outlook_flat *today, fw_error *err)
{
    const adjustment *a = next->result->adjustment;
    candidates c = {0};
    outlook o = {0};
    int *of = NULL;
    double *after = NULL;
    fw_status status = find_stale(next, today, err);
    if (!status)
        status = fw_slips_find(a->net->job, &next->slips, &next->nslips, err);
    next->enough.limit_nm = a->net->job->flatness_nm / FW_ENOUGH_PART;
    if (!status)
        tell_bench(next);
    if (status || (status = candidates_turns(a, &c, err)) ||
        (status = outlook_init(&o, a, today, c.nturns, c.turns_deg, err)) ||
        (status = candidates_list(&o, &c, err)) || (status = tell_scan(next, &o, err)))
        goto done;
    of = fw_alloc(c.count, sizeof *of);
    after = fw_alloc((size_t)c.count * (size_t)o.job->nflats, sizeof *after);
    if (!of || !after)
        status = fw_out_of_memory(err);
    else if (!(status = rank_all(next, &o, &c, of, after, err)))
        status = enough_find(a, today, &c, of, after, next, err);
done:
    fw_free(of);
    fw_free(after);
    outlook_release(&o);
    candidates_release(&c);
    return status;
}

fw_status fw_next_pairing(const fw_result *result, fw_next **next, fw_error *err)
{
    const fw_job *job = result->job;
    fw_next *made = fw_alloc(1, sizeof *made);
    outlook_flat *today = fw_alloc(job->nflats, sizeof *today);
    fw_status status = made && today ? FW_OK : fw_out_of_memory(err);
    if (status)
        goto done;
    made->result = result;
    for (int f = 0; f < job->nflats; f++) {
        const fw_face *face = &result->faces[result->today[f]];
        today[f] = (outlook_flat){face->state, face->profile.determined && !face->profile.tied};
    }
    made->u_nm = fw_alloc(job->nflats, sizeof *made->u_nm);
    made->bench_nm = fw_alloc(job->nflats, sizeof *made->bench_nm);
    status = made->u_nm && made->bench_nm ? fill(made, today, err) : fw_out_of_memory(err);
done:
    fw_free(today);
    if (status)
        fw_next_free(made);
    else
        *next = made;
    return status;
}

void fw_next_free(fw_next *next)
{
    if (!next)
        return;
    for (int i = 0; i < next->ncandidates; i++)
        fw_free(next->candidates[i].u_after_nm);
    fw_free(next->candidates);
    fw_free(next->diameters_deg);
    fw_free(next->stations_mm);
    fw_free(next->u_nm);
    fw_free(next->bench_nm);
    fw_free(next->stale);
    fw_free(next->good);
    fw_free(next->slips);
    fw_free(next->enough.repeats);
    fw_free(next->enough.u_nm);
    fw_free(next->enough.floor_nm);
    fw_free(next);
}
