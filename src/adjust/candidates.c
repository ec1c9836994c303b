/* candidates.c - every pairing that could be read next, those that are the same readings once. */
#include "candidates.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "flatwright/alloc.h"
#include "flatwright/mating.h"

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

/* The pairings of one ordered pair: where they stand in the list, and what they read. */
typedef struct fan {
    int from, to;
    long long *keys; /* ndiameters for each */
} fan;

/* The contender of a fan that reads the same; -1. */
static int same_reading(const fan *f, size_t nd, const long long *key)
{
    for (int i = f->from; i < f->to; i++)
        if (memcmp(key, f->keys + (size_t)(i - f->from) * nd, nd * sizeof *key) == 0)
            return i;
    return -1;
}

/*
 * Lists bottom and top at every turn, but what is there already: exchanged has the top below, or
 * nothing. keys: room for both ways.
 */
static void list_pair(const outlook *o, candidates *c, int bottom, int top, fan exchanged,
                      long long *keys)
{
    size_t nd = (size_t)o->ndiameters;
    fan own = {c->count, c->count, keys + (size_t)c->nturns * nd};
    exchanged.keys = keys;
    for (int i = exchanged.from; i < exchanged.to; i++)
        reading_key(o, c, &c->list[i], keys + (size_t)(i - exchanged.from) * nd);
    for (int k = 0; k < c->nturns; k++) {
        contender x = {bottom, top, k, false};
        long long *key = own.keys + (size_t)(own.to - own.from) * nd;
        reading_key(o, c, &x, key);
        int other = same_reading(&exchanged, nd, key);
        if (other >= 0)
            c->list[other].either_way = true;
        else if (same_reading(&own, nd, key) < 0) {
            c->list[c->count++] = x;
            own.to++;
        }
    }
}

fw_status candidates_list(const outlook *o, candidates *c, fw_error *err)
{
    int nflats = o->job->nflats;
    size_t most = (size_t)nflats * nflats * c->nturns;
    fw_status status = meet_lines(o, c, err);
    long long *keys = fw_alloc(2 * (size_t)c->nturns * o->ndiameters, sizeof *keys);
    fan *fans = fw_alloc((size_t)nflats * nflats, sizeof *fans);
    c->list = fw_alloc(most, sizeof *c->list);
    if (!status && (!keys || !fans || !c->list))
        status = fw_out_of_memory(err);
    for (int b = 0; b < nflats && !status; b++)
        for (int t = 0; t < nflats; t++) {
            fan *own = &fans[(size_t)b * nflats + t];
            own->from = c->count;
            if (t != b)
                list_pair(o, c, b, t, fans[(size_t)t * nflats + b], keys);
            own->to = c->count;
        }
    fw_free(keys);
    fw_free(fans);
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
