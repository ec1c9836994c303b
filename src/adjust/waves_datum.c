/* waves_datum.c - mean and tilt of every flat, or of every line, as vectors on the waves. */
#include <math.h>

#include "flatwright/alloc.h"
#include "flatwright/mating.h"
#include "waves.h"

/* Opens a vector of the datum with room for all unknowns; NULL: no memory. */
static wave_datum *open_vector(wave *v, int flat)
{
    wave_datum *x = &v->datum[v->ndatum++];
    *x = (wave_datum){.flat = flat, .index = fw_alloc(v->n, sizeof(int)),
                      .value = fw_alloc(v->n, sizeof(double))};
    return x->index && x->value ? x : NULL;
}

static void add_entry(wave_datum *x, int index, double value)
{
    x->index[x->n] = index;
    x->value[x->n++] = value;
}

/* To unit length; a vector of nothing is dropped. */
static void close_vector(wave *v, wave_datum *x)
{
    double sum = 0;
    for (int i = 0; i < x->n; i++)
        sum += x->value[i] * x->value[i];
    for (int i = 0; i < x->n; i++)
        x->value[i] /= sqrt(sum);
    if (sum > 0)
        return;
    fw_free(x->index);
    fw_free(x->value);
    v->ndatum--;
}

/* What a parameter of all lines is on a column's unknown: the mean, or x or y of a plane. */
static double shared(const waves *w, const wave *v, const wave_cell *c, int comb, int part,
                     int axis)
{
    double offset = (w->first_deg + w->offset_deg[comb]) * FW_RAD;
    double line = wave_term(v, c) * (c->centre ? 1 : sqrt(w->n));
    if (!v->parity)
        return line;
    return line * (axis == part ? (axis ? -1 : 1) * cos(offset) : sin(offset));
}

/* The column of a flat's comb in a cell, where it counts: its first unknown; else -1. */
static int scored_at(const waves *w, const wave *v, int among, int flat, int comb)
{
    const wave_cell *c = &w->cells[among];
    int column = c->find[(size_t)flat * w->ncombs + comb];
    if (column < 0 || !c->columns[column].scored)
        return -1;
    return v->first[1][among - v->from] - v->skip + v->phases * c->columns[column].seat;
}

static bool tied(const waves *w, int flat, int comb)
{
    return w->o->tied[(size_t)flat * w->o->nlines + w->line[comb]];
}

/* A parameter of all lines, or of those that the centre ties. */
static fw_status add_shared(const waves *w, wave *v, int flat, int axis, fw_error *err)
{
    wave_datum *x = open_vector(v, flat);
    if (!x)
        return fw_out_of_memory(err);
    for (int i = v->from; i < v->to; i++)
        for (int comb = 0; comb < (w->cells[i].centre ? 1 : w->ncombs); comb++) {
            int at = scored_at(w, v, i, flat, comb);
            if (at < 0 || !(w->o->plane || w->cells[i].centre || tied(w, flat, comb)))
                continue;
            for (int part = 0; part < v->phases; part++)
                add_entry(x, at + part, shared(w, v, &w->cells[i], comb, part, axis));
        }
    close_vector(v, x);
    return FW_OK;
}

/* A parameter of each line of a comb. */
static fw_status add_own(const waves *w, wave *v, int flat, int comb, int phase, fw_error *err)
{
    wave_datum *x = open_vector(v, flat);
    if (!x)
        return fw_out_of_memory(err);
    for (int i = v->from; i < v->to; i++) {
        int at = w->cells[i].centre ? -1 : scored_at(w, v, i, flat, comb);
        if (at >= 0)
            add_entry(x, at + phase, wave_term(v, &w->cells[i]));
    }
    close_vector(v, x);
    return FW_OK;
}

fw_status wave_lay_datum(const waves *w, wave *v, fw_error *err)
{
    const outlook *o = w->o;
    fw_status status = FW_OK;
    int nflats = o->job->nflats, own = o->plane ? 0 : w->ncombs;
    v->datum = fw_alloc((size_t)nflats * (2 * (size_t)own + 2), sizeof *v->datum);
    if (!v->datum)
        return fw_out_of_memory(err);
    for (int f = 0; f < nflats && !status; f++) {
        if (v->m == 0 || (o->plane && v->m == 1))
            for (int axis = 0; axis < v->phases && !status; axis++)
                status = add_shared(w, v, f, axis, err);
        for (int comb = 0; comb < own && !status; comb++)
            for (int phase = 0; phase < v->phases && !status; phase++)
                if (v->parity || !tied(w, f, comb))
                    status = add_own(w, v, f, comb, phase, err);
    }
    return status;
}
