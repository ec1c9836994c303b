/* choose.c - profile or surface: which model a job is solved with, and why. */
#include "choose.h"

#include <math.h>
#include <stdio.h>

#include "compare.h"
#include "flatwright/alloc.h"
#include "model.h"
#include "profile.h"
#include "response.h"
#include "surface.h"

/* Closing: profile without asking. Below FEW they are not tried where surfaces will do. */
static const double CLOSING = 0.5, FEW = 0.1;

/* The other model is not solved for comparison above this many readings, */
enum { COMPARED_MAX = 50000 };
/* nor surfaces on so few diameters that their order would be too low anyway. */
enum { COMPARED_ORDER = 6 };

static bool is_today(const fw_net *net, int face)
{
    const net_face *f = &net->faces[face];
    return f->state == fw_job_state(net->job, f->flat, fw_job_round(net->job));
}

/* Was a column of a class read against two or more different heights? */
static bool closes(const net_class *class, int column)
{
    int other = -1;
    for (int i = 0; i < class->nrows; i++)
        for (int side = 0; side < 2; side++) {
            if (class->rows[i].column[side] != column)
                continue;
            int partner = class->rows[i].column[1 - side];
            if (other >= 0 && other != partner)
                return true;
            other = partner;
        }
    return false;
}

double choose_closing(const fw_net *net)
{
    double all = 0, met = 0;
    for (int c = 0; c < net->nclasses; c++) {
        const net_class *class = &net->classes[c];
        for (int j = 0; j < class->ncolumns; j++) {
            if (!is_today(net, class->columns[j].face))
                continue;
            all += class->nrings;
            met += closes(class, j) ? class->nrings : 0;
        }
    }
    return met / all;
}

/* 2 for a flat of today that is determined, 1 for one of which part is told. */
static fw_status told(adjustment *a, int *out, fw_error *err)
{
    fw_status status = FW_OK;
    *out = 0;
    for (int f = 0; f < a->net->nfaces && !status; f++) {
        fw_profile p = {0};
        bool part = false;
        if (!is_today(a->net, f))
            continue;
        status = a->model->profile(a, (contrast){f, -1}, &p, err);
        for (int k = 0; k < p.ndiameters; k++)
            for (size_t i = 0; i < p.diameters[k].npoints; i++)
                part = part || p.diameters[k].points[i].determined;
        if (a->surface && part == p.determined && !part) /* its terms may tell where heights do not */
            status = surface_power_told(a->surface, f, &part, err);
        *out += p.determined ? 2 : part;
        profile_release(&p);
    }
    return status;
}

static void tell_excess(const fw_job *job, const surface *s, const comparison *c, char *text,
                        size_t size)
{
    int used = 0;
    if (c->p < FW_SIGMA_TEST_LEVEL)
        used = snprintf(text, size,
                        "circle polynomials up to order %d leave %.2g nm rms a flat that the "
                        "stations' own scatter does not explain (p %s%.2g): the order is too low, or "
                        "a scan is bad",
                        s->order, c->rms_nm, c->p < 1e-4 ? "below " : "", fmax(c->p, 1e-4));
    if (c->worst_scan < 0 || used < 0 || (size_t)used >= size)
        return;
    const fw_scan *scan = &job->scans[c->worst_scan];
    snprintf(text + used, size - (size_t)used,
             "%smost of the misfit is in one scan: %s under %s, turn %g, diameter %g",
             used ? "; " : "", job->flats[scan->bottom].name, job->flats[scan->top].name,
             scan->turn_deg, scan->diameter_deg);
}

/* Puts what the comparison says where it is wanted: surfaces judge by it, the reader is told. */
static fw_status compare_both(const adjustment *rings, adjustment *surfaces, choice *out,
                              fw_error *err)
{
    comparison c = {0};
    fw_status status = compare_models(rings, surfaces, &c, err);
    if (status)
        return status;
    surfaces->surface->excess_p = c.p;
    surfaces->surface->excess_rms_nm = c.rms_nm;
    tell_excess(rings->net->job, surfaces->surface, &c, out->against, sizeof out->against);
    return FW_OK;
}

/* Surfaces beside rings of the same readings, where that is worth its time. */
static fw_status beside_surfaces(adjustment *surfaces, choice *out, fw_error *err)
{
    const fw_job *job = surfaces->net->job;
    adjustment *rings = NULL;
    size_t *beyond = NULL, n = 0;
    if (job->nreadings > COMPARED_MAX)
        return FW_OK;
    fw_status status = compare_beyond(surfaces, &beyond, &n, err);
    if (!status && n < job->nreadings)
        status = adjustment_new(job, n, beyond, &rings, err);
    if (!status && rings)
        status = compare_both(rings, surfaces, out, err);
    adjustment_free(rings);
    fw_free(beyond);
    return status;
}

static fw_status beside_rings(const adjustment *rings, int order, choice *out, fw_error *err)
{
    const fw_job *job = rings->net->job; /* without what the bench adds */
    adjustment *surfaces = NULL;
    if (job->nreadings > COMPARED_MAX || job->nreadings == 0)
        return FW_OK;
    fw_status status = adjustment_of_surfaces(job, order, 0, NULL, &surfaces, err);
    if (!status && surfaces->surface->highest >= COMPARED_ORDER && surfaces->surface->beyond == 0)
        status = compare_both(rings, surfaces, out, err);
    adjustment_free(surfaces);
    return status;
}

static void say_why(const adjustment *a, double closing, choice *out)
{
    if (a->surface)
        snprintf(out->why, sizeof out->why,
                 "%.0f %% of the stations were read in two different pairings, so the diameters do "
                 "not close on themselves",
                 100 * closing);
    else if (closing >= CLOSING)
        snprintf(out->why, sizeof out->why,
                 "%.0f %% of the stations were read in two different pairings or more, so the "
                 "diameters close on themselves",
                 100 * closing);
    else
        snprintf(out->why, sizeof out->why, "surfaces would tell no more of these readings");
}

/* The diameters hardly close, if at all: the model that tells more. out has the rings' answer. */
static fw_status better_of(const fw_job *job, int order, double closing, choice *out, fw_error *err)
{
    choice other = {0};
    int by_rings = 0, by_surfaces = 0;
    fw_status status = response_adjust(job, &model_surface, order, &other.bench, &other.a, err);
    if (!status && !(status = told(other.a, &by_surfaces, err)))
        status = told(out->a, &by_rings, err);
    if (!status && by_surfaces > by_rings) {
        if (closing > FEW && other.a->surface->beyond == 0)
            status = compare_both(out->a, other.a, &other, err);
        choice rings = *out;
        *out = other;
        other = rings;
    }
    adjustment_free(other.a);
    fw_free(other.bench.flats);
    return status;
}

fw_status choose_planned(const fw_job *planned, int order, adjustment **out, fw_error *err)
{
    const adjust_model *first = planned->model == FW_MODEL_SURFACE ? &model_surface : &model_rings;
    adjustment *a = NULL, *other = NULL;
    int by_rings = 0, by_surfaces = 0;
    fw_status status = first->solve(planned, order, &a, err);
    if (!status && planned->model == FW_MODEL_AUTO && choose_closing(a->net) < CLOSING &&
        !(status = model_surface.solve(planned, order, &other, err)) &&
        !(status = told(other, &by_surfaces, err)) && !(status = told(a, &by_rings, err)) &&
        by_surfaces > by_rings) {
        adjustment *rings = a;
        a = other;
        other = rings;
    }
    adjustment_free(other);
    if (status)
        adjustment_free(a);
    else
        *out = a;
    return status;
}

fw_status choose_model(const fw_job *job, const fw_solve_options *options, choice *out,
                       fw_error *err)
{
    fw_model asked = options && options->model != FW_MODEL_AUTO ? options->model : job->model;
    int order = options && options->order ? options->order : job->order;
    const adjust_model *first = asked == FW_MODEL_SURFACE ? &model_surface : &model_rings;
    *out = (choice){0};
    fw_status status = response_adjust(job, first, order, &out->bench, &out->a, err);
    if (status || asked == FW_MODEL_PROFILE)
        return status;
    double closing = choose_closing(out->a->net);
    if (asked == FW_MODEL_SURFACE)
        return closing > FEW ? beside_surfaces(out->a, out, err) : FW_OK;
    if (isnan(closing))
        return FW_OK;
    status = closing >= CLOSING ? beside_rings(out->a, order, out, err)
                                : better_of(job, order, closing, out, err);
    if (!status)
        say_why(out->a, closing, out);
    return status;
}
