/* outlook.c - today's surfaces as cells: which places there are, what counts, what is known. */
#include "outlook.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "flatwright/alloc.h"
#include "flatwright/mating.h"
#include "flatwright/stats.h"
#include "foresee.h"
#include "outlook_cells.h"
#include "surface_outlook.h"
#include "waves.h"

/* Steps of half a turn. One is finer than the tolerance, so holds one line; two are coarser. */
enum { STEPS = 4000 };

static int step_of(double angle_deg)
{
    double part = angle_deg / 180 - floor(angle_deg / 180);
    return (int)(part * STEPS) % STEPS;
}

int outlook_line(const outlook *o, double angle_deg)
{
    int found = -1;
    for (int step = step_of(angle_deg) + STEPS - 2, i = 0; i < 5; i++) {
        int k = o->line_near[(step + i) % STEPS] - 1;
        if (k >= 0 && (found < 0 || k < found) &&
            fabs(remainder(o->line_deg[k] - angle_deg, 180)) <= FW_ANGLE_TOLERANCE_DEG)
            found = k;
    }
    return found;
}

static int add_line(outlook *o, double angle_deg)
{
    int found = outlook_line(o, angle_deg);
    if (found >= 0)
        return found;
    o->line_deg[o->nlines++] = angle_deg;
    o->line_near[step_of(angle_deg)] = o->nlines;
    return o->nlines - 1;
}

static int ascending(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* The job's diameters, then the net's lines and those that some turn puts over a diameter. */
static fw_status find_lines(outlook *o, int nturns, const double *turns_deg, fw_error *err)
{
    const fw_net *net = o->a->net;
    size_t most = (size_t)net->nangles * ((size_t)nturns + 2) + 1;
    o->line_deg = fw_alloc(most, sizeof *o->line_deg);
    o->line_near = fw_alloc(STEPS, sizeof *o->line_near);
    o->diameter = fw_alloc(net->nangles, sizeof *o->diameter);
    bool *typed = fw_alloc(net->nangles, sizeof *typed);
    if (!o->line_deg || !o->line_near || !o->diameter || !typed) {
        fw_free(typed);
        return fw_out_of_memory(err);
    }
    for (int i = 0; i < net->nscans; i++)
        if (net->scans[i].piston >= 0)
            typed[net->scans[i].angle[0]] = true;
    for (int k = 0; k < net->nangles; k++)
        if (typed[k])
            o->diameter[o->ndiameters++] = add_line(o, net->angles_deg[k]);
    for (int k = 0; k < net->nangles; k++)
        add_line(o, net->angles_deg[k]);
    for (int t = 0; t < nturns; t++)
        for (int k = 0; k < o->ndiameters; k++)
            add_line(o, fw_line_of_top(turns_deg[t], o->line_deg[o->diameter[k]]).angle_deg);
    fw_free(typed);
    return FW_OK;
}

/*
 * The stations of the scan with most readings: of a candidate's scans. Where it has one side only, and
 * others have the other, a reading was lost: both.
 */
static void find_sides(outlook *o)
{
    const fw_net *net = o->a->net;
    int densest = -1;
    for (int i = 0; i < net->nscans; i++)
        if (net->scans[i].piston >= 0 &&
            (densest < 0 || o->job->scans[i].count > o->job->scans[densest].count))
            densest = i;
    o->symmetric = true;
    for (int r = 0; r < net->nrings; r++) {
        const net_class *class = &net->classes[net->ring_class[r]];
        int any = 0;
        for (int i = 0; i < class->nrows; i++) {
            const net_row *row = &class->rows[i];
            int side = row->sign * net->scans[row->scan].flip[0] < 0 ? 2 : 1;
            any |= side;
            if (row->scan == densest)
                o->sides[r] |= side;
        }
        o->sides[r] = o->sides[r] ? any : 0;
        o->symmetric = o->symmetric && (class->centre || o->sides[r] == 0 || o->sides[r] == 3);
    }
}

static bool is_today(const outlook *o, int face)
{
    const net_face *f = &o->a->net->faces[face];
    return o->today[f->flat].state == f->state;
}

bool outlook_has_glass(const outlook *o, int flat, int ring)
{
    const fw_flat *f = &o->job->flats[flat];
    double r = o->a->net->ring_mm[ring];
    return r <= f->diameter_mm / 2 + FW_POSITION_TOLERANCE_MM &&
           r >= f->bore_mm / 2 - FW_POSITION_TOLERANCE_MM;
}

bool outlook_counts(const outlook *o, int flat, int ring)
{
    return outlook_has_glass(o, flat, ring) &&
           o->a->net->ring_mm[ring] <= o->job->flats[flat].clear_mm / 2 + FW_POSITION_TOLERANCE_MM;
}

static void mark_reading(outlook *o, const net_class *class, const net_row *row)
{
    const fw_net *net = o->a->net;
    const net_scan *scan = &net->scans[row->scan];
    for (int side = 0; side < 2; side++) {
        if (!is_today(o, scan->face[side]))
            continue;
        int flat = net->faces[scan->face[side]].flat,
            line = outlook_line(o, net->angles_deg[scan->angle[side]]);
        o->read[(size_t)flat * o->nlines + line] = true;
        if (class->centre)
            o->tied[(size_t)flat * o->nlines + line] = o->centre[flat] = true;
    }
}

/* What was read today, and the job's diameters that were not: a candidate's scan stands for those. */
static void mark_lines(outlook *o)
{
    const fw_net *net = o->a->net;
    for (int c = 0; c < net->nclasses; c++)
        for (int i = 0; i < net->classes[c].nrows; i++)
            mark_reading(o, &net->classes[c], &net->classes[c].rows[i]);
    for (int flat = 0; flat < o->job->nflats; flat++) {
        bool centre =
            net->nrings && net->ring_mm[0] <= 0 && o->sides[0] && outlook_counts(o, flat, 0);
        for (int k = 0; k < o->ndiameters; k++) {
            size_t at = (size_t)flat * o->nlines + o->diameter[k];
            if (o->read[at])
                continue;
            o->read[at] = o->fresh[at] = true;
            o->tied[at] = centre;
            o->centre[flat] = o->centre[flat] || centre;
        }
        o->centre[flat] = o->centre[flat] && outlook_counts(o, flat, 0) && !o->today[flat].untied;
        for (int k = 0; k < o->nlines && o->today[flat].untied; k++)
            o->tied[(size_t)flat * o->nlines + k] = false;
    }
}

/* As datum.c lays them: the centre's piston first, a piston for each line not tied, slopes. */
static void lay_datum(outlook *o)
{
    for (int flat = 0; flat < o->job->nflats; flat++) {
        int *piston = o->piston + (size_t)flat * o->nlines,
            *slope = o->slope + (size_t)flat * o->nlines;
        const bool *read = o->read + (size_t)flat * o->nlines,
                   *tied = o->tied + (size_t)flat * o->nlines;
        int n = 1;
        for (int k = 0; k < o->nlines; k++)
            piston[k] = !read[k] ? -1 : tied[k] ? 0 : n++;
        for (int k = 0; k < o->nlines; k++)
            slope[k] = read[k] ? n++ : -1;
        o->nparams[flat] = o->plane ? 3 : n;
    }
}

int outlook_datum(const outlook *o, const cell *c, int i, int index[3], double c0[3], double c1[3])
{
    const place *at = &c->at[i];
    double even = c->kind == CELL_EVEN ? sqrt(2) : c->kind == CELL_ODD ? 0 : 1;
    double odd = c->kind == CELL_EVEN ? 0 : c->kind == CELL_ODD ? sqrt(2) : at->sign;
    size_t line = (size_t)at->flat * o->nlines + (at->line < 0 ? 0 : (size_t)at->line);
    c0[0] = even;
    c0[1] = c0[2] = c1[0] = 0;
    index[0] = at->line < 0 || o->plane ? 0 : o->piston[line];
    if (at->line < 0)
        return 1;
    if (!o->plane) {
        index[1] = o->slope[line];
        c1[1] = odd;
        return 2;
    }
    index[1] = 1;
    index[2] = 2;
    c1[1] = odd * cos(o->line_deg[at->line] * FW_RAD);
    c1[2] = odd * sin(o->line_deg[at->line] * FW_RAD);
    return 3;
}

static fw_status find_noise(outlook *o, fw_error *err)
{
    const fw_job *job = o->job;
    bool known = o->a->net->sigma_known;
    double median = 1;
    if (known) {
        double *sigma = fw_alloc(job->nreadings, sizeof *sigma);
        if (!sigma)
            return fw_out_of_memory(err);
        for (size_t i = 0; i < job->nreadings; i++)
            sigma[i] = job->readings[i].sigma_nm;
        qsort(sigma, job->nreadings, sizeof *sigma, ascending);
        median = sigma[job->nreadings / 2];
        fw_free(sigma);
    }
    o->prior_nm = job->prior_nm;
    o->variance = isnan(o->a->variance) ? 1 : o->a->variance;
    o->variance = fmax(o->variance, pow(o->prior_nm / OUTLOOK_RATIO_MAX / median, 2));
    o->sigma_nm = median * sqrt(o->variance);
    return FW_OK;
}

fw_status outlook_init(outlook *o, const adjustment *a, const outlook_flat *today, int nturns,
                       const double *turns_deg, fw_error *err)
{
    const fw_job *job = a->net->job;
    *o = (outlook){
        .a = a, .job = job, .today = today, .plane = job->levelling == FW_LEVELLING_SETUP};
    fw_status status = find_lines(o, nturns, turns_deg, err);
    if (status)
        return status;
    size_t nflats = (size_t)job->nflats, size = nflats * (size_t)o->nlines;
    o->sides = fw_alloc(a->net->nrings, sizeof *o->sides);
    o->read = fw_alloc(size, sizeof *o->read);
    o->tied = fw_alloc(size, sizeof *o->tied);
    o->fresh = fw_alloc(size, sizeof *o->fresh);
    o->centre = fw_alloc(nflats, sizeof *o->centre);
    o->nparams = fw_alloc(nflats, sizeof *o->nparams);
    o->piston = fw_alloc(size, sizeof *o->piston);
    o->slope = fw_alloc(size, sizeof *o->slope);
    o->nstations = fw_alloc(nflats, sizeof *o->nstations);
    if (!o->sides || !o->read || !o->tied || !o->fresh || !o->centre || !o->nparams || !o->piston ||
        !o->slope || !o->nstations)
        return fw_out_of_memory(err);
    if ((status = find_noise(o, err)))
        return status;
    find_sides(o);
    mark_lines(o);
    lay_datum(o);
    if (!a->surface) {
        o->nclasses = a->net->nclasses;
        o->classes = a->net->classes;
        if (!(status = waves_new(o, nturns, turns_deg, &o->waves, err)) && !o->waves &&
            !(status = outlook_alike(o, nturns, err)) && o->alike)
            status = waves_new(o, nturns, turns_deg, &o->waves, err);
        return status || o->waves ? status : outlook_cells(o, err);
    }
    for (size_t f = 0; f < nflats; f++)
        o->nstations[f] = 1; /* means over the area */
    return surface_outlook_new(o, &o->faces, err);
}

static void cell_release(cell *c)
{
    fw_free(c->glass);
    fw_free(c->at);
    fw_free(c->first);
    fw_free(c->scored);
    fw_free(c->find);
    fw_free(c->k);
    fw_free(c->b[0]);
    fw_free(c->b[1]);
    fw_free(c->w);
    fw_free(c->kept);
}

void outlook_release(outlook *o)
{
    for (int q = 0; q < o->nknots; q++) {
        knot *s = &o->knots[q];
        for (int i = 0; i < s->ncells; i++)
            cell_release(&s->cells[i]);
        for (int f = 0; s->half && f < o->job->nflats; f++)
            fw_free(s->half[f]);
        foresee_forget(s);
        fw_free(s->cells);
        fw_free(s->half);
        fw_free(s->rank);
    }
    waves_free(o->waves);
    surface_outlook_free(o->faces);
    for (int c = 0; o->alike && o->classes && c < o->nclasses; c++) {
        fw_free(o->classes[c].rows);
        fw_free(o->classes[c].columns);
        fw_free(o->classes[c].rings);
    }
    if (o->alike)
        fw_free(o->classes);
    fw_free(o->line_deg);
    fw_free(o->line_near);
    fw_free(o->diameter);
    fw_free(o->sides);
    fw_free(o->read);
    fw_free(o->tied);
    fw_free(o->fresh);
    fw_free(o->centre);
    fw_free(o->nparams);
    fw_free(o->piston);
    fw_free(o->slope);
    fw_free(o->nstations);
    *o = (outlook){0};
}
