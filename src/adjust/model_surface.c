/* model_surface.c - flats as circle polynomials: figures are judged over the whole face. */
#include <string.h>

#include "flatwright/alloc.h"
#include "model.h"
#include "surface.h"
#include "surface_figure.h"
#include "surface_profile.h"
#include "surface_snoop.h"

/* Takes the net's job's readings but those to skip, which it owns, and tells misfit and residuals. */
static fw_status settle(adjustment *a, int order, const surface *like, bool *skip, fw_error *err)
{
    fw_status status = surface_new(a->net, order, like, skip, &a->surface, err);
    if (status)
        return status;
    surface *s = a->surface;
    a->unknowns = (size_t)s->n + (size_t)a->net->nterms;
    a->rank = (size_t)s->p + (size_t)s->scan_rank;
    a->redundancy = s->readings - a->rank;
    a->chi_square = surface_chi(s, s->order);
    a->residual = fw_alloc(a->net->nreadings, sizeof *a->residual);
    return a->residual ? surface_residuals(a, a->residual, err) : fw_out_of_memory(err);
}

fw_status adjustment_of_surfaces(const fw_job *job, int order, size_t n, const size_t *without,
                                 adjustment **out, fw_error *err)
{
    bool *skip = NULL;
    adjustment *a = fw_alloc(1, sizeof *a);
    if (!a)
        return fw_out_of_memory(err);
    a->model = &model_surface;
    fw_status status = net_new(job, n, without, &a->net, err);
    if (!status && n && !(skip = fw_alloc(job->nreadings, sizeof *skip)))
        status = fw_out_of_memory(err);
    for (size_t i = 0; i < n && !status; i++)
        skip[without[i]] = true;
    if (!status)
        status = settle(a, order, NULL, skip, err);
    if (status)
        adjustment_free(a);
    else {
        adjustment_judge(a);
        *out = a;
    }
    return status;
}

static fw_status solve(const fw_job *job, int order, adjustment **out, fw_error *err)
{
    return adjustment_of_surfaces(job, order, 0, NULL, out, err);
}

/* The order stays: a reading set aside must not change what is asked of the others. */
static fw_status again(const adjustment *a, size_t n, const size_t *without, adjustment **out,
                       fw_error *err)
{
    return adjustment_of_surfaces(a->net->job, a->surface->order, n, without, out, err);
}

static fw_status copy_with(const fw_job *job, const double *nm, fw_job **out, fw_error *err)
{
    fw_job *copy = fw_alloc(1, sizeof *copy);
    fw_reading *readings = fw_alloc(job->nreadings, sizeof *readings);
    if (!copy || !readings) {
        fw_free(copy);
        fw_free(readings);
        return fw_out_of_memory(err);
    }
    *copy = *job;
    copy->readings = readings;
    memcpy(readings, job->readings, job->nreadings * sizeof *readings);
    for (size_t i = 0; i < job->nreadings; i++)
        readings[i].deviation_nm = nm[i];
    *out = copy;
    return FW_OK;
}

static fw_status column(adjustment *a, const double *nm, adjustment **out, fw_error *err)
{
    size_t size = a->net->job->nreadings;
    bool *skip = NULL;
    adjustment *b = fw_alloc(1, sizeof *b);
    if (!b)
        return fw_out_of_memory(err);
    b->model = &model_surface;
    fw_status status = copy_with(a->net->job, nm, &b->corrected, err);
    if (!status)
        status = net_new(b->corrected, 0, NULL, &b->net, err);
    if (!status && a->surface->skip && !(skip = fw_alloc(size, sizeof *skip)))
        status = fw_out_of_memory(err);
    if (skip)
        memcpy(skip, a->surface->skip, size * sizeof *skip);
    if (!status)
        status = settle(b, 0, a->surface, skip, err);
    if (status)
        adjustment_free(b);
    else
        *out = b;
    return status;
}

static fw_status moved(adjustment *a, int face, const smooth *like, smooth *out, fw_error *err)
{
    return surface_smooth(a, face, NULL, like->basis->order, out, err);
}

const adjust_model model_surface = {
    .kind = FW_MODEL_SURFACE,
    .solve = solve,
    .again = again,
    .column = column,
    .profile = surface_profile,
    .smooth = surface_smooth,
    .moved = moved,
    .countable = surface_countable,
    .form = surface_form,
    .finer = surface_finer,
    .snoop = surface_snoop,
    .open = surface_open,
};
