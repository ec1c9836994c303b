/* candidates.c - every pairing that could be read next, those that are the same readings once. */
#include "candidates.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "flatwright/alloc.h"
#include "flatwright/mating.h"

/* Nobody sets a turn finer than this without being asked to. */
static const double FINEST_STEP_DEG = 1;

/* The smallest gap between the diameters that were typed; 0: there are none. */
static double smallest_gap(const fw_net *net)
{
    double first = NAN, last = NAN, gap = 180;
    for (int k = 0; k < net->nangles; k++) {
        bool typed = false;
        for (int i = 0; i < net->nscans && !typed; i++)
            typed = net->scans[i].piston >= 0 && net->scans[i].angle[0] == k;
        if (!typed)
            continue;
        if (!isnan(last))
            gap = fmin(gap, net->angles_deg[k] - last);
        first = isnan(first) ? net->angles_deg[k] : first;
        last = net->angles_deg[k];
    }
    return isnan(first) ? 0 : first < last ? fmin(gap, first + 180 - last) : gap;
}

static void add_turn(candidates *c, double turn_deg)
{
    double turn = fmod(turn_deg, 360);
    turn = turn < 0 ? turn + 360 : turn;
    for (int t = 0; t < c->nturns; t++)
        if (fabs(remainder(c->turns_deg[t] - turn, 360)) <= FW_ANGLE_TOLERANCE_DEG)
            return;
    c->turns_deg[c->nturns++] = turn;
}

fw_status candidates_turns(const adjustment *a, candidates *c, fw_error *err)
{
    const fw_job *job = a->net->job;
    double step = smallest_gap(a->net);
    while (step > 0 && step < FINEST_STEP_DEG)
        step *= 2;
    int n = step <= 0 ? 0 : job->nturns ? job->nturns : (int)ceil(360 / step - 1e-6);
    c->turns_deg = fw_alloc(n, sizeof *c->turns_deg);
    if (!c->turns_deg)
        return fw_out_of_memory(err);
    for (int t = 0; t < n; t++)
        add_turn(c, job->nturns ? job->turns_deg[t] : t * step);
    return FW_OK;
}

static fw_status meet_lines(const outlook *o, candidates *c, fw_error *err)
{
    size_t size = (size_t)c->nturns * o->ndiameters;
    c->line = fw_alloc(size, sizeof *c->line);
    c->flip = fw_alloc(size, sizeof *c->flip);
    if (!c->line || !c->flip)
        return fw_out_of_memory(err);
    for (int t = 0; t < c->nturns; t++)
        for (int k = 0; k < o->ndiameters; k++) {
            size_t at = (size_t)t * o->ndiameters + k;
            double on_top = c->turns_deg[t] - o->line_deg[o->diameter[k]];
            c->line[at] = outlook_line(
                o, fw_line_of_top(c->turns_deg[t], o->line_deg[o->diameter[k]]).angle_deg);
            /* The sense on the line as it is named there, which may be 0 where this one is just below 180. */
            c->flip[at] = cos((on_top - o->line_deg[c->line[at]]) * FW_RAD) > 0 ? 1 : -1;
        }
    return FW_OK;
}

static int ascending(const void *a, const void *b)
{
    long long x = *(const long long *)a, y = *(const long long *)b;
    return (x > y) - (x < y);
}

/*
 * What a setup reads: per scan the line of the flat that comes first in the set, of the other, their
 * senses to each other, and, where the stations are not as many to both sides, along the first.
 */
static void reading_key(const outlook *o, const candidates *c, const contender *x, long long *key)
{
    for (int k = 0; k < o->ndiameters; k++) {
        size_t at = (size_t)x->turn * o->ndiameters + k;
        bool bottom_first = x->bottom < x->top;
        const int line[2] = {o->diameter[k], c->line[at]};
        int along = o->symmetric || bottom_first ? 1 : c->flip[at];
        long long first = line[!bottom_first], second = line[bottom_first];
        key[k] = ((first * o->nlines + second) * 2 + (c->flip[at] < 0)) * 2 + (along < 0);
    }
    qsort(key, o->ndiameters, sizeof *key, ascending);
}

fw_status candidates_list(const outlook *o, candidates *c, fw_error *err)
{
    int nflats = o->job->nflats;
    size_t nd = (size_t)o->ndiameters, most = (size_t)nflats * nflats * c->nturns;
    fw_status status = meet_lines(o, c, err);
    long long *keys = fw_alloc(most * nd, sizeof *keys);
    c->list = fw_alloc(most, sizeof *c->list);
    if (!status && (!keys || !c->list))
        status = fw_out_of_memory(err);
    for (int b = 0; b < nflats && !status; b++)
        for (int t = 0; t < nflats; t++)
            for (int k = 0; k < c->nturns && t != b; k++) {
                contender x = {b, t, k, false};
                long long *key = keys + (size_t)c->count * nd;
                int same = 0;
                reading_key(o, c, &x, key);
                for (; same < c->count; same++) {
                    const contender *y = &c->list[same];
                    bool pair = (y->bottom == b && y->top == t) || (y->bottom == t && y->top == b);
                    if (pair && memcmp(key, keys + (size_t)same * nd, nd * sizeof *key) == 0)
                        break;
                }
                if (same == c->count)
                    c->list[c->count++] = x;
                else if (c->list[same].bottom == t)
                    c->list[same].either_way = true;
            }
    fw_free(keys);
    return status;
}

setup candidates_setup(const outlook *o, const candidates *c, int index)
{
    const contender *x = &c->list[index];
    size_t at = (size_t)x->turn * o->ndiameters;
    return (setup){x->bottom, x->top, c->line + at, c->flip + at};
}

void candidates_release(candidates *c)
{
    fw_free(c->turns_deg);
    fw_free(c->line);
    fw_free(c->flip);
    fw_free(c->list);
    *c = (candidates){0};
}
