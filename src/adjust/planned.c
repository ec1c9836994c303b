/* planned.c - a measuring plan as a job: every scan and reading in its place, nothing read yet. */
#include "planned.h"

#include <gsl/gsl_randist.h>
#include <math.h>
#include <stdio.h>

#include "flatwright/alloc.h"
#include "flatwright/mating.h"

/* Has the flat glass at that distance from its centre? */
static bool on_glass(const fw_flat *flat, double position_mm)
{
    double r = fabs(position_mm);
    return r <= flat->diameter_mm / 2 + FW_POSITION_TOLERANCE_MM &&
           r >= flat->bore_mm / 2 - FW_POSITION_TOLERANCE_MM;
}

/* The set, its target and its plan; no readings. */
static fw_status copy_set(const fw_job *job, fw_model model, fw_job *to, fw_error *err)
{
    *to = *job;
    to->nscans = to->nreadings = to->nskipped = to->nwork = to->nsag = 0;
    to->scans = NULL;
    to->readings = NULL;
    to->work = NULL;
    to->sag = NULL;
    to->nflats = 0;
    if (model != FW_MODEL_AUTO)
        to->model = model;
    /* What the bench does to the glass is neither in made-up readings nor to be taken off them. */
    to->support_bottom = to->support_top = (fw_support){FW_SUPPORT_NONE, 0, 0};
    to->bending = FW_BENDING_IGNORE;
    to->gradient_k = to->gap_um = to->eye_mm = NAN;
    to->folder = fw_copy_text(job->folder);
    to->title = fw_copy_text(job->title);
    to->flats = fw_alloc(job->nflats, sizeof *to->flats);
    to->turns_deg = fw_alloc(job->nturns, sizeof *to->turns_deg);
    if (!to->folder || !to->title || !to->flats || !to->turns_deg)
        return fw_out_of_memory(err);
    for (int i = 0; i < job->nturns; i++)
        to->turns_deg[i] = job->turns_deg[i];
    for (int i = 0; i < job->nflats; i++) {
        to->flats[i] = job->flats[i];
        to->flats[i].name = fw_copy_text(job->flats[i].name);
        to->nflats++;
        if (!to->flats[i].name)
            return fw_out_of_memory(err);
    }
    return FW_OK;
}

/* The n-th scan of a pairing that is read more than once carries a label. */
static fw_status lay_scan(fw_job *to, const fw_scheme *scheme, int m, int d, fw_error *err)
{
    const fw_mate *mate = &scheme->mates[m];
    const fw_flat *bottom = &to->flats[mate->bottom], *top = &to->flats[mate->top];
    fw_scan *scan = &to->scans[to->nscans];
    char label[16] = "";
    int before = 0;
    for (int k = 0; k < m; k++)
        before += scheme->mates[k].bottom == mate->bottom && scheme->mates[k].top == mate->top &&
                  scheme->mates[k].turn_deg == mate->turn_deg;
    if (before)
        snprintf(label, sizeof label, "%d", before + 1);
    *scan = (fw_scan){.round = 1,
                      .bottom = mate->bottom,
                      .top = mate->top,
                      .turn_deg = mate->turn_deg,
                      .diameter_deg = scheme->diameters_deg[d],
                      .label = fw_copy_text(label),
                      .first = to->nreadings};
    if (!scan->label)
        return fw_out_of_memory(err);
    to->nscans++;
    for (int i = 0; i < scheme->nstations; i++) {
        double at = scheme->stations_mm[i];
        if (!on_glass(bottom, at) || !on_glass(top, at))
            continue;
        to->readings[to->nreadings] = (fw_reading){.position_mm = at,
                                                   .sigma_nm = scheme->sigma_nm,
                                                   .scan = (int)to->nscans - 1,
                                                   .line = (int)to->nreadings + 2};
        to->nreadings++;
        scan->count++;
    }
    return FW_OK;
}

fw_status planned_new(const fw_job *job, const fw_scheme *scheme, fw_job **out, fw_error *err)
{
    size_t nscans = (size_t)scheme->nmates * scheme->ndiameters;
    fw_job *to = fw_alloc(1, sizeof *to);
    if (!to)
        return fw_out_of_memory(err);
    fw_status status = copy_set(job, scheme->model, to, err);
    to->sigma_nm = scheme->sigma_nm;
    to->scans = fw_alloc(nscans, sizeof *to->scans);
    to->readings = fw_alloc(nscans * scheme->nstations, sizeof *to->readings);
    if (!status && (!to->scans || !to->readings))
        status = fw_out_of_memory(err);
    for (int m = 0; m < scheme->nmates && !status; m++)
        for (int d = 0; d < scheme->ndiameters && !status; d++)
            status = lay_scan(to, scheme, m, d, err);
    if (!status && to->nreadings == 0)
        status = fw_fail(err, FW_INPUT, "the plan has no readings: no station has glass on both flats");
    if (status)
        fw_job_free(to);
    else
        *out = to;
    return status;
}

/* Are two scans of one plane? */
static bool same_plane(const fw_job *job, const fw_scan *a, const fw_scan *b)
{
    return a == b || (job->levelling == FW_LEVELLING_SETUP && a->bottom == b->bottom &&
                      a->top == b->top && a->turn_deg == b->turn_deg);
}

/* plane: piston, and tilts at the rim; levelling = scan: the first tilt is along the diameter. */
static void read_scan(fw_job *planned, const fw_scan *scan, const madeup *flats,
                      const double plane[3], gsl_rng *rng)
{
    double radius = planned->flats[scan->bottom].diameter_mm / 2;
    double theta = planned->levelling == FW_LEVELLING_SETUP ? scan->diameter_deg * FW_RAD : 0;
    double tilt = plane[1] * cos(theta) + plane[2] * sin(theta);
    for (size_t i = scan->first; i < scan->first + scan->count; i++) {
        fw_reading *r = &planned->readings[i];
        double s = r->position_mm;
        r->deviation_nm =
            madeup_height(&flats[scan->bottom], scan->diameter_deg, s) +
            madeup_height(&flats[scan->top], scan->turn_deg - scan->diameter_deg, s) + plane[0] +
            tilt * s / radius + gsl_ran_gaussian(rng, r->sigma_nm);
    }
}

void planned_read(fw_job *planned, const madeup *flats, double level_nm, gsl_rng *rng)
{
    double plane[3];
    for (size_t k = 0; k < planned->nscans; k++) {
        const fw_scan *first = planned->scans;
        while (!same_plane(planned, first, &planned->scans[k]))
            first++;
        if (first < &planned->scans[k]) /* read with the first of its plane */
            continue;
        for (int i = 0; i < 3; i++)
            plane[i] = level_nm > 0 ? level_nm * (2 * gsl_rng_uniform(rng) - 1) : 0;
        for (size_t j = k; j < planned->nscans; j++)
            if (same_plane(planned, first, &planned->scans[j]))
                read_scan(planned, &planned->scans[j], flats, plane, rng);
    }
}
