/* smallest.c - the smallest measuring plan that is enough: fans tried from few scans to many. */
#include <math.h>

#include "figure/madeup.h"
#include "flatwright/alloc.h"
#include "flatwright/mating.h"
#include "flatwright/next.h"
#include "planned.h"
#include "rehearse.h"
#include "trials.h"

/* Stations on which pairings are chosen; which one tells most hardly hangs on their number. */
enum { CHOOSING = 9, MATES_MAX = FW_SCANS_MAX };

/* A fan and the pairings to be read on it, in the order in which they tell most. */
typedef struct fan {
    int ndiameters;
    double *diameters_deg;
    int nmates;
    fw_mate mates[MATES_MAX];
    double surest_nm; /* the least u of PV among the flats, at tried_mates; 0: not known */
    int tried_mates;
} fan;

typedef struct search {
    const fw_job *job;
    const fw_wish *wish;
    int nfans;
    fan fans[FW_DIAMETERS_MAX];
    int tried;
    fw_rehearsal *best; /* enough: the smallest; else the surest */
} search;

/* The three pairs, and every further flat on the first; two flats have one pair only. */
static void first_pairs(fan *to, int nflats)
{
    static const fw_mate ring[] = {{0, 1, 0}, {1, 2, 0}, {2, 0, 0}};
    to->nmates = nflats < 3 ? nflats - 1 : 3;
    for (int i = 0; i < to->nmates; i++)
        to->mates[i] = ring[i];
    for (int f = 3; f < nflats && to->nmates < MATES_MAX; f++)
        to->mates[to->nmates++] = (fw_mate){0, f, 0};
}

static fw_status lay_fan(search *s, int ndiameters, fw_error *err)
{
    fan *to = &s->fans[s->nfans];
    double *angles = fw_alloc(ndiameters, sizeof *angles);
    if (!angles)
        return fw_out_of_memory(err);
    for (int i = 0; i < ndiameters; i++)
        angles[i] = s->wish->diameters_deg ? s->wish->diameters_deg[i] : 180.0 * i / ndiameters;
    to->ndiameters = ndiameters;
    to->diameters_deg = angles;
    first_pairs(to, s->job->nflats);
    s->nfans++;
    return FW_OK;
}

/* The stations wished for, or at most n of the program's choosing; room: FW_STATIONS_MAX. */
static int stations_of(const search *s, int n, double *room, const double **stations)
{
    *stations = s->wish->stations_mm ? s->wish->stations_mm : room;
    return s->wish->stations_mm ? s->wish->nstations : fw_stations(s->job, n, room);
}

/* One pairing more: the one that leaves the least uncertainty. */
static fw_status grow(search *s, fan *f, fw_error *err)
{
    double room[FW_STATIONS_MAX];
    const double *stations;
    int n = stations_of(s, CHOOSING, room, &stations);
    fw_scheme scheme = {f->nmates, f->mates, f->ndiameters, f->diameters_deg, n,
                        (double *)stations, s->wish->sigma_nm, s->wish->model};
    fw_solve_options options = {.order = s->job->order ? s->job->order : MADEUP_ORDER};
    fw_job *planned = NULL;
    fw_result *result = NULL;
    fw_next *next = NULL;
    fw_status status = planned_new(s->job, &scheme, &planned, err);
    if (!status)
        status = fw_solve(planned, &options, &result, err);
    if (!status)
        status = fw_next_pairing(result, &next, err);
    if (!status) {
        const fw_candidate *c = next->ncandidates ? &next->candidates[0] : NULL;
        f->mates[f->nmates] = c ? (fw_mate){c->bottom, c->top, c->turn_deg} : f->mates[0];
        f->nmates++;
    }
    fw_next_free(next);
    fw_result_free(result);
    fw_job_free(planned);
    return status;
}

/* Is `r` the better answer: enough, then fewer scans, then fewer readings; else surer? */
static bool is_better(const fw_rehearsal *r, const fw_rehearsal *best)
{
    if (!best || r->enough != best->enough)
        return !best || r->enough;
    if (r->enough)
        return r->nscans != best->nscans ? r->nscans < best->nscans
                                         : r->nreadings < best->nreadings;
    double u = 0, least = 0;
    for (int f = 0; f < r->job->nflats; f++) {
        u = fmax(u, r->expected[f].determined ? r->expected[f].mean_u_nm : INFINITY);
        least = fmax(least, best->expected[f].determined ? best->expected[f].mean_u_nm : INFINITY);
    }
    return u < least;
}

/* Rehearses the first `nmates` pairings of a fan at n stations; keeps it when it is the best so far. */
static fw_status try(search *s, fan *f, int nmates, int n, bool *enough, fw_error *err)
{
    double room[FW_STATIONS_MAX];
    const double *stations;
    fw_rehearsal *r = NULL;
    int nstations = stations_of(s, n, room, &stations);
    fw_scheme scheme = {nmates, (fw_mate *)f->mates, f->ndiameters, f->diameters_deg, nstations,
                        (double *)stations, s->wish->sigma_nm, s->wish->model};
    fw_status status = rehearse(s->job, &scheme, true, &r, err);
    if (status)
        return status;
    s->tried++;
    *enough = r->enough;
    f->surest_nm = INFINITY;
    f->tried_mates = nmates;
    for (int i = 0; i < s->job->nflats; i++) /* NAN where not determined: 0 then */
        f->surest_nm = r->expected[i].pv_u_nm < f->surest_nm ? r->expected[i].pv_u_nm : f->surest_nm;
    if (!isfinite(f->surest_nm))
        f->surest_nm = 0;
    if (is_better(r, s->best)) {
        fw_rehearsal_free(s->best);
        s->best = r;
    } else
        fw_rehearsal_free(r);
    return FW_OK;
}

/* A fan with so many pairings: enough at the most stations? Then with how few? */
static fw_status try_fan(search *s, fan *f, int nmates, fw_error *err)
{
    bool enough = false;
    fw_status status = FW_OK;
    while (f->nmates < nmates && !status)
        status = grow(s, f, err);
    if (s->wish->progress)
        s->wish->progress(s->wish->context, s->tried, (size_t)f->ndiameters * nmates);
    if (!status)
        status = try(s, f, nmates, FW_STATIONS_MAX, &enough, err);
    if (status || !enough || s->wish->stations_mm)
        return status;
    enough = false;
    for (int n = FW_STATIONS_LEAST; n < FW_STATIONS_MAX && !enough && !status; n += 2)
        status = try(s, f, nmates, n, &enough, err);
    return status;
}

/* Even if u fell in proportion to the pairings (repeats bring its square down so), it would not do. */
static bool far_off(const search *s, const fan *f, int nmates)
{
    return trials_unsure(s->job, f->surest_nm * f->tried_mates / nmates);
}

static fw_status run(search *s, fw_error *err)
{
    fw_status status = FW_OK;
    for (int scans = 1; scans <= FW_SCANS_MAX && !status; scans++) {
        for (int k = 0; k < s->nfans && !status; k++) {
            fan *f = &s->fans[k];
            int nmates = scans / f->ndiameters, least = s->job->nflats < 3 ? 1 : s->job->nflats;
            if (scans % f->ndiameters == 0 && nmates >= least && !far_off(s, f, nmates))
                status = try_fan(s, f, nmates, err);
        }
        if (s->best && s->best->enough)
            break;
    }
    return status;
}

/* Leaves out what the plan can do without: a pairing chosen early may be needless beside later ones. */
static fw_status prune(search *s, fw_error *err)
{
    fw_status status = FW_OK;
    int first = s->job->nflats < 3 ? 1 : s->job->nflats;
    for (int left = first; left < s->best->scheme.nmates && !status; left++) {
        const fw_scheme *whole = &s->best->scheme;
        fan fewer = {.ndiameters = whole->ndiameters, .diameters_deg = whole->diameters_deg};
        bool enough = false;
        for (int m = 0; m < whole->nmates; m++)
            if (m != left)
                fewer.mates[fewer.nmates++] = whole->mates[m];
        status = try(s, &fewer, fewer.nmates, whole->nstations, &enough, err);
        if (enough) /* it is the best now */
            left = first - 1;
    }
    return status;
}

fw_status fw_rehearse_search(const fw_job *job, const fw_wish *wish, fw_rehearsal **rehearsal,
                             fw_error *err)
{
    fw_status status = FW_OK;
    fw_rehearsal *whole = NULL;
    search *s = fw_alloc(1, sizeof *s);
    if (!s)
        return fw_out_of_memory(err);
    s->job = job;
    s->wish = wish;
    if (wish->ndiameters)
        status = lay_fan(s, wish->ndiameters, err);
    for (int n = FW_DIAMETERS_LEAST; n <= FW_DIAMETERS_MAX && !wish->ndiameters && !status; n++)
        status = lay_fan(s, n, err);
    if (!status && !(status = run(s, err)) && s->best && s->best->enough)
        status = prune(s, err);
    if (!status) {
        if (!s->best)
            status = fw_fail(err, FW_INPUT, "no plan of up to %d scans has so many diameters",
                             FW_SCANS_MAX);
        else /* once more, with every trial counted */
            status = fw_rehearse(job, &s->best->scheme, &whole, err);
    }
    if (!status) {
        whole->searched = true;
        *rehearsal = whole;
    }
    for (int k = 0; k < s->nfans; k++)
        fw_free(s->fans[k].diameters_deg);
    fw_rehearsal_free(s->best);
    fw_free(s);
    return status;
}
