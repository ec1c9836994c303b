/* grind.c - three plates ground true: powers from sags, the next two, the turns against a twist. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "flatwright/alloc.h"
#include "flatwright/conform.h"
#include "flatwright/grind.h"
#include "flatwright/mating.h"
#include "flatwright/sag.h"
#include "flatwright/show.h"
#include "flatwright/stats.h"

static const double TURNS[] = {0, 90, 45, 135};
enum { NTURNS = sizeof TURNS / sizeof TURNS[0] };

/* A departure is significant beyond so many standard uncertainties. */
static const double SIGNIFICANT = 2;

/* A row of sag.csv with the state that it speaks of. */
typedef struct row {
    const fw_sag *sag;
    int state;
} row;

static int compare(const void *a, const void *b)
{
    const row *p = a, *q = b;
    if (p->sag->flat != q->sag->flat)
        return p->sag->flat < q->sag->flat ? -1 : 1;
    if (p->state != q->state)
        return p->state < q->state ? -1 : 1;
    if (p->sag->ring_mm != q->sag->ring_mm)
        return p->sag->ring_mm < q->sag->ring_mm ? -1 : 1;
    return p->sag->line < q->sag->line ? -1 : p->sag->line > q->sag->line;
}

static bool same_state(const row *a, const row *b)
{
    return a->sag->flat == b->sag->flat && a->state == b->state;
}

/* sigma of one sag from repeats, pooled: s^2 = sum (x - mean)^2 / dof. NAN without repeats. */
static double pooled_sigma(size_t n, const row *rows, double *dof)
{
    double square = 0;
    *dof = 0;
    for (size_t i = 0, k; i < n; i = k) {
        double mean = 0;
        for (k = i; k < n && same_state(&rows[i], &rows[k]) &&
                    rows[k].sag->ring_mm == rows[i].sag->ring_mm;
             k++)
            mean += rows[k].sag->sag_um;
        mean /= (double)(k - i);
        for (size_t j = i; j < k; j++)
            square += (rows[j].sag->sag_um - mean) * (rows[j].sag->sag_um - mean);
        *dof += (double)(k - i - 1);
    }
    return *dof > 0 && square > 0 ? sqrt(square / *dof) : NAN;
}

/* P(|power| <= limit), and the verdict. */
static void judge(const fw_job *job, fw_grind_power *p)
{
    double u = p->power.u_nm, value = p->power.value_nm;
    p->probability_true = NAN;
    if (u > 0)
        p->probability_true = 1 - fw_student_tail((FW_GRIND_TRUE_NM - value) / u, p->dof) -
                              fw_student_tail((FW_GRIND_TRUE_NM + value) / u, p->dof);
    p->verdict = fw_conform_verdict(p->probability_true, job->confidence);
}

/* The weighted mean of the n sags of one state. */
static fw_status mean_power(const fw_job *job, size_t n, const row *rows, double sigma, double dof,
                            fw_grind_power *p, fw_error *err)
{
    double weights = 0, sum = 0;
    bool known = true;
    *p = (fw_grind_power){.flat = rows->sag->flat, .state = rows->state, .nsags = n,
                          .first_round = rows->sag->round, .dof = INFINITY};
    for (size_t i = 0; i < n; i++) {
        const fw_sag *sag = rows[i].sag;
        double own = isnan(sag->sigma_um) ? sigma : sag->sigma_um;
        fw_sphere sphere;
        fw_error why;
        /* sigma not known: all sags are taken as equally good, whatever their rings */
        if (fw_sag_sphere(sag->ring_mm, 0, sag->sag_um, isnan(own) ? 1 : own,
                          job->flats[sag->flat].clear_mm, &sphere, &why) != FW_OK)
            return fw_fail(err, FW_INPUT, "%s, in line %d of 'sag.csv'", why.text, sag->line);
        double weight = 1 / (sphere.u_power_nm * sphere.u_power_nm);
        weights += weight;
        sum += weight * sphere.power_nm;
        known = known && !isnan(own);
        p->dof = isnan(sag->sigma_um) ? dof : p->dof;
        p->first_round = sag->round < p->first_round ? sag->round : p->first_round;
        p->last_round = sag->round > p->last_round ? sag->round : p->last_round;
    }
    p->power = (fw_quantity){sum / weights, known ? 1 / sqrt(weights) : NAN};
    judge(job, p);
    return FW_OK;
}

static fw_status find_powers(fw_grind *g, fw_error *err)
{
    const fw_job *job = g->job;
    size_t n = job->nsag;
    fw_status status = FW_OK;
    double dof;
    row *rows = fw_alloc(n, sizeof *rows);
    g->powers = fw_alloc(n, sizeof *g->powers);
    if (!rows || !g->powers) {
        status = fw_out_of_memory(err);
        goto done;
    }
    for (size_t i = 0; i < n; i++)
        rows[i] = (row){&job->sag[i], fw_job_state(job, job->sag[i].flat, job->sag[i].round)};
    qsort(rows, n, sizeof *rows, compare);
    double sigma = pooled_sigma(n, rows, &dof);
    for (size_t i = 0, k; i < n && !status; i = k) {
        for (k = i + 1; k < n && same_state(&rows[i], &rows[k]);)
            k++;
        status = mean_power(job, k - i, rows + i, sigma, dof, &g->powers[g->npowers], err);
        g->npowers += !status;
    }
    for (int p = 0; p < g->npowers; p++)
        if (g->powers[p].state == fw_job_state(job, g->powers[p].flat, g->round))
            g->today[g->powers[p].flat] = p;
done:
    fw_free(rows);
    return status;
}

static void find_round(fw_grind *g)
{
    const fw_job *job = g->job;
    int sags = 0, scans = 0;
    for (size_t i = 0; i < job->nsag; i++)
        sags = job->sag[i].round > sags ? job->sag[i].round : sags;
    for (size_t i = 0; i < job->nscans; i++)
        scans = job->scans[i].round > scans ? job->scans[i].round : scans;
    g->round = fw_job_round(job);
    g->round = sags > g->round ? sags : g->round;
    g->due = sags > scans;
}

static bool significant(const fw_grind_power *p)
{
    double least = isnan(p->power.u_nm) ? FW_GRIND_TRUE_NM : SIGNIFICANT * p->power.u_nm;
    return p->verdict != FW_WITHIN && fabs(p->power.value_nm) > least;
}

static fw_grind_decision decide(const fw_grind *g)
{
    bool all = true, any = false, known = true;
    for (int f = 0; f < g->job->nflats; f++) {
        if (g->today[f] < 0)
            return FW_GRIND_READ;
        const fw_grind_power *p = &g->powers[g->today[f]];
        all = all && p->verdict == FW_WITHIN;
        known = known && p->verdict != FW_UNDETERMINED;
        any = any || significant(p);
    }
    return all ? FW_GRIND_POLISH : any ? FW_GRIND_WORK : known ? FW_GRIND_REPEAT : FW_GRIND_READ;
}

/* The square of what is certain of a power. */
static double certain(fw_quantity power)
{
    double u = isnan(power.u_nm) ? 0 : power.u_nm;
    return fmax(power.value_nm * power.value_nm - u * u, 0);
}

static fw_grind_pairing pair_up(const fw_grind *g, int i, int j)
{
    fw_quantity a = g->powers[g->today[i]].power, b = g->powers[g->today[j]].power;
    bool first = a.value_nm >= b.value_nm; /* the more convex goes on top, and wears hollow */
    double larger = fmax(fabs(a.value_nm), fabs(b.value_nm));
    return (fw_grind_pairing){.bottom = first ? j : i,
                              .top = first ? i : j,
                              .top_less_nm = first ? a.value_nm : b.value_nm,
                              .bottom_more_nm = first ? -b.value_nm : -a.value_nm,
                              .gain_nm = larger > 0 ? (certain(a) + certain(b)) / larger : 0};
}

static double misfit(const fw_grind_pairing *p)
{
    return fabs(p->top_less_nm - p->bottom_more_nm);
}

static int better(const void *a, const void *b)
{
    const fw_grind_pairing *p = a, *q = b;
    if (p->gain_nm != q->gain_nm)
        return p->gain_nm > q->gain_nm ? -1 : 1;
    if (misfit(p) != misfit(q))
        return misfit(p) < misfit(q) ? -1 : 1;
    return p->bottom != q->bottom ? p->bottom - q->bottom : p->top - q->top;
}

static void rank_pairings(fw_grind *g)
{
    for (int i = 0; i < g->job->nflats; i++)
        for (int j = i + 1; j < g->job->nflats; j++) {
            fw_grind_pairing p = pair_up(g, i, j);
            if (p.gain_nm > 0)
                g->pairings[g->npairings++] = p;
        }
    qsort(g->pairings, (size_t)g->npairings, sizeof *g->pairings, better);
}

/* Neighbours first: of three flats AB, BC, CA, so that each is on top once. */
static void list_steps(fw_grind *g)
{
    int n = g->job->nflats;
    for (int t = 0; t < NTURNS; t++)
        for (int apart = 1; apart < n; apart++)
            for (int i = 0; i + apart < n; i++)
                g->steps[g->nsteps++] = apart % 2 ? (fw_grind_step){i, i + apart, TURNS[t]}
                                                  : (fw_grind_step){i + apart, i, TURNS[t]};
}

/*
 * Two flats that were ground together mate: their true powers sum to 0, and half the sum of those
 * read is the spherometer's zero. work.csv names no partner: two flats ground in one round, and
 * no third, are taken for a pair.
 */
static void find_mated(fw_grind *g)
{
    const fw_job *job = g->job;
    int last = 0, n = 0;
    for (size_t i = 0; i < job->nwork; i++)
        if (job->work[i].method == FW_GRIND && job->work[i].round > last)
            last = job->work[i].round;
    for (int f = 0; f < job->nflats; f++) {
        int spells = 0, after = 0;
        for (size_t i = 0; i < job->nwork; i++) {
            const fw_work *w = &job->work[i];
            spells += w->flat == f && w->round == last && w->method == FW_GRIND;
            after += w->flat == f && w->round >= last;
        }
        if (spells == 0)
            continue;
        if (spells > 1 || after > 1 || g->today[f] < 0 || n == 2) {
            g->mated[0] = g->mated[1] = -1;
            return;
        }
        g->mated[n++] = f;
    }
    if (n < 2 || job->flats[g->mated[0]].clear_mm != job->flats[g->mated[1]].clear_mm) {
        g->mated[0] = g->mated[1] = -1;
        return;
    }
    fw_quantity a = g->powers[g->today[g->mated[0]]].power;
    fw_quantity b = g->powers[g->today[g->mated[1]]].power;
    g->zero = (fw_quantity){(a.value_nm + b.value_nm) / 2, hypot(a.u_nm, b.u_nm) / 2};
}

fw_status fw_grind_new(const fw_job *job, fw_grind **out, fw_error *err)
{
    size_t n = (size_t)job->nflats, pairs = n * (n - 1) / 2;
    fw_status status = FW_OK;
    fw_grind *g = fw_alloc(1, sizeof *g);
    if (!g)
        return fw_out_of_memory(err);
    *g = (fw_grind){.job = job, .mated = {-1, -1}, .zero = {NAN, NAN}};
    g->today = fw_alloc(n, sizeof *g->today);
    g->pairings = fw_alloc(pairs, sizeof *g->pairings);
    g->steps = fw_alloc(NTURNS * pairs, sizeof *g->steps);
    if (!g->today || !g->pairings || !g->steps) {
        status = fw_out_of_memory(err);
        goto done;
    }
    for (size_t f = 0; f < n; f++)
        g->today[f] = -1;
    find_round(g);
    if ((status = find_powers(g, err)) != FW_OK)
        goto done;
    g->decision = decide(g);
    if (g->decision == FW_GRIND_WORK)
        rank_pairings(g);
    list_steps(g);
    find_mated(g);
    *out = g;
    g = NULL;
done:
    fw_grind_free(g);
    return status;
}

void fw_grind_free(fw_grind *grind)
{
    if (!grind)
        return;
    fw_free(grind->powers);
    fw_free(grind->today);
    fw_free(grind->pairings);
    fw_free(grind->steps);
    fw_free(grind);
}

double fw_grind_shown(int order, double turn_deg)
{
    return fabs(sin(0.5 * order * turn_deg * FW_RAD));
}

const char *fw_grind_decision_name(fw_grind_decision decision)
{
    static const char *const names[] = {"read", "repeat", "grind", "polish"};
    return names[decision];
}

/* The first flat whose present state was not read; -1: none. */
static int unread(const fw_grind *g)
{
    for (int f = 0; f < g->job->nflats; f++)
        if (g->today[f] < 0)
            return f;
    return -1;
}

void fw_grind_sentence(const fw_grind *grind, char text[FW_GRIND_TEXT])
{
    const fw_flat *flats = grind->job->flats;
    char top[64], bottom[64];
    const fw_grind_pairing *best = grind->pairings;
    int missing = unread(grind);
    switch (grind->decision) {
    case FW_GRIND_READ:
        if (missing >= 0)
            snprintf(text, FW_GRIND_TEXT, "read the sag of %s, its present surface has none",
                     fw_show(top, sizeof top, flats[missing].name));
        else
            snprintf(text, FW_GRIND_TEXT,
                     "read each sag again, or give sigma_um: no uncertainty is known");
        return;
    case FW_GRIND_REPEAT:
        snprintf(text, FW_GRIND_TEXT, "read the sags again, do not grind: no power is larger than "
                                      "its uncertainty, and not all are sure to be true");
        return;
    case FW_GRIND_POLISH:
        snprintf(text, FW_GRIND_TEXT, "go on to polish: every power is true to a micrometre");
        return;
    case FW_GRIND_WORK:
        snprintf(text, FW_GRIND_TEXT, "grind %s on top of %s: the upper wears hollow, the lower "
                                      "toward a hump",
                 fw_show(top, sizeof top, flats[best->top].name),
                 fw_show(bottom, sizeof bottom, flats[best->bottom].name));
        return;
    }
}
