/* result.c - what a solved job says, put together and given back. */
#include "flatwright/result.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "bench_notes.h"
#include "budget.h"
#include "choose.h"
#include "closure.h"
#include "flatwright/alloc.h"
#include "judge.h"
#include "linalg.h"
#include "model.h"
#include "profile.h"
#include "response.h"
#include "surface.h"
#include "surface_profile.h"
#include "unknowns.h"
#include "unread.h"

/* After so many suspects it is the noise that is larger than stated, not a misreading. */
enum { SUSPECTS_MAX = 8 };

const char *fw_verdict_name(fw_verdict verdict)
{
    static const char *const names[] = {"within", "outside", "undecided", "undetermined"};
    return names[verdict];
}

const char *fw_source_name(fw_source source)
{
    static const char *const names[] = {"noise", "spread", "bending", "warmth", "view",
                                        "undetermined"};
    return names[source];
}

static fw_status add_note(fw_result *r, const char *text, fw_error *err)
{
    char(*notes)[240] = fw_resize(r->notes, (size_t)r->nnotes + 1, sizeof *notes);
    if (!notes)
        return fw_out_of_memory(err);
    r->notes = notes;
    snprintf(notes[r->nnotes++], sizeof *notes, "%s", text);
    return FW_OK;
}

static void fill_fit(const adjustment *a, fw_fit *fit)
{
    bool tested = a->net->sigma_known && a->redundancy > 0;
    *fit = (fw_fit){.readings = a->net->nreadings,
                    .unknowns = a->unknowns,
                    .rank = a->rank,
                    .redundancy = a->redundancy,
                    .sigma_known = a->net->sigma_known,
                    .sigma0 = a->sigma0,
                    .chi_square = tested ? a->chi_square : NAN,
                    .p_value = a->p_value,
                    .birge = a->birge};
}

/* The faces that were read, and today's where they were not, by flat then state. */
static void list_faces(const adjustment *a, fw_result *r, int *source)
{
    const fw_job *job = r->job;
    const fw_net *net = a->net;
    for (int flat = 0, i = 0; flat < job->nflats; flat++) {
        int state = fw_job_state(job, flat, r->round);
        bool read = false;
        for (; i < net->nfaces && net->faces[i].flat == flat; i++) {
            const net_face *f = &net->faces[i];
            read = f->state == state;
            source[r->nfaces] = i;
            r->faces[r->nfaces++] =
                (fw_face){.flat = flat, .state = f->state, .first_round = f->first_round,
                          .last_round = f->last_round};
        }
        if (!read) {
            source[r->nfaces] = -1;
            r->faces[r->nfaces++] = (fw_face){.flat = flat, .state = state};
        }
        r->today[flat] = r->nfaces - 1;
    }
}

static fw_status fill_faces(adjustment *a, fw_result *r, const int *source, fw_error *err)
{
    fw_status status = FW_OK;
    for (int i = 0; i < r->nfaces && !status; i++) {
        fw_face *face = &r->faces[i];
        if (source[i] >= 0)
            status = a->model->profile(a, (contrast){source[i], -1}, &face->profile, err);
        if (!status)
            status = judge_face(a, source[i], &face->profile, &face->figure, &face->budget, err);
        if (!status && source[i] >= 0) /* the judge wants the noise by itself */
            status = response_widen(a, (contrast){source[i], -1}, &face->profile,
                                    &face->budget.bench_nm, err);
        if (!status && source[i] >= 0 && a->surface)
            status = surface_terms_of(a, source[i], &face->surface, err);
    }
    if (!status)
        budget_advise(r);
    return status;
}

static fw_status list_work(const fw_job *job, fw_removal *m, fw_error *err)
{
    int state = 0;
    m->work = fw_alloc(job->nwork, sizeof *m->work);
    if (!m->work)
        return fw_out_of_memory(err);
    /* The spells of a flat in the order of their rounds, ties as in the file. */
    for (int round = 0, next = 0; next >= 0; round = next) {
        next = -1;
        for (size_t i = 0; i < job->nwork; i++) {
            const fw_work *w = &job->work[i];
            if (w->flat != m->flat)
                continue;
            if (w->round > round && (next < 0 || w->round < next))
                next = w->round;
            if (w->round != round)
                continue;
            if (state >= m->from_state && state < m->to_state) {
                m->work[m->nwork++] = i;
                m->hours += w->hours;
            }
            state++;
        }
    }
    return FW_OK;
}

/* rms of the figure removed, noise taken off: mean h^2 - mean u^2 over the determined clear points. */
static void removal_rms(const fw_profile *p, fw_quantity *rms)
{
    double square = 0, noise = 0, with = 0;
    size_t n = 0;
    *rms = (fw_quantity){NAN, NAN};
    for (int k = 0; k < p->ndiameters; k++)
        for (size_t i = 0; i < p->diameters[k].npoints; i++) {
            const fw_point *pt = &p->diameters[k].points[i];
            if (!pt->determined || !pt->clear || isnan(pt->u_nm))
                continue;
            double u2 = pt->u_nm * pt->u_nm;
            square += pt->height_nm * pt->height_nm;
            noise += u2;
            with += u2 * (4 * pt->height_nm * pt->height_nm + 2 * u2);
            n++;
        }
    if (!n)
        return;
    double mean = fmax(square - noise, 0) / (double)n;
    rms->value_nm = sqrt(mean);
    /* d(rms) = d(rms^2) / (2 rms); neighbouring points taken as independent; never above rms of the noise */
    rms->u_nm =
        fmin(sqrt(with) / (double)n / (2 * fmax(rms->value_nm, 1e-300)), sqrt(noise / (double)n));
}

static fw_status fill_removals(adjustment *a, fw_result *r, const int *source, fw_error *err)
{
    fw_status status = FW_OK;
    for (int i = 1; i < r->nfaces && !status; i++) {
        const fw_face *from = &r->faces[i - 1], *to = &r->faces[i];
        if (from->flat != to->flat || source[i] < 0 || source[i - 1] < 0)
            continue;
        fw_removal *m = &r->removals[r->nremovals++];
        double bench;
        *m = (fw_removal){.flat = to->flat, .from_state = from->state, .to_state = to->state};
        if (!(status = list_work(r->job, m, err)) &&
            !(status =
                  a->model->profile(a, (contrast){source[i - 1], source[i]}, &m->profile, err)) &&
            !(status = response_widen(a, (contrast){source[i - 1], source[i]}, &m->profile, &bench,
                                      err)))
            removal_rms(&m->profile, &m->rms);
    }
    return status;
}

static fw_status add_suspects(const fw_job *job, const snoop *found, fw_result *r, fw_error *err)
{
    fw_suspect *list =
        fw_resize(r->suspects, (size_t)r->nsuspects + (size_t)found->nhits, sizeof *list);
    if (!list)
        return fw_out_of_memory(err);
    r->suspects = list;
    for (int i = 0; i < found->nhits; i++) {
        const snoop_hit *hit = &found->hits[i];
        const fw_reading *reading = &job->readings[hit->reading];
        list[r->nsuspects++] = (fw_suspect){.line = reading->line,
                                            .scan = (size_t)reading->scan,
                                            .position_mm = reading->position_mm,
                                            .standardised = hit->standardised,
                                            .critical = found->critical,
                                            .error_nm = hit->error_nm,
                                            .mdb_nm = hit->mdb_nm,
                                            .tied = found->nhits > 1};
    }
    if (found->ntied <= (size_t)found->nhits)
        return FW_OK;
    char text[120];
    snprintf(text, sizeof text, "%zu more readings than are listed would explain the same misfit",
             found->ntied - (size_t)found->nhits);
    return add_note(r, text, err);
}

/*
 * One suspect at a time: the largest is set aside and the rest tried again, since one misreading
 * makes its neighbours look bad.
 */
static fw_status find_suspects(adjustment *a, fw_result *r, fw_error *err)
{
    const fw_job *job = a->net->job; /* without what the bench adds */
    size_t aside[SUSPECTS_MAX], n = 0;
    adjustment *again = NULL;
    snoop found;
    fw_status status = a->model->snoop(a, &found, err);
    if (status)
        return status;
    r->unchecked = found.unchecked;
    r->worst_mdb_nm = found.worst_mdb_nm;
    while (!status && found.nhits && n < SUSPECTS_MAX) {
        if ((status = add_suspects(job, &found, r, err)))
            break;
        size_t at = n++, worst = found.hits[0].reading;
        for (; at > 0 && aside[at - 1] > worst; at--)
            aside[at] = aside[at - 1];
        aside[at] = worst;
        adjustment_free(again);
        again = NULL;
        if (!(status = a->model->again(a, n, aside, &again, err)))
            status = a->model->snoop(again, &found, err);
    }
    adjustment_free(again);
    if (!status && n == SUSPECTS_MAX && found.nhits)
        status = add_note(r,
                          "more readings do not fit than are listed: the stations may be mixed up, "
                          "or sigma too small",
                          err);
    return status;
}

/* Flats whose diameters each have a zero of their own. */
static fw_status note_untied(const fw_job *job, fw_result *r, fw_error *err)
{
    char text[240] = "";
    int n = 0;
    for (int flat = 0; flat < job->nflats; flat++) {
        size_t used = strlen(text);
        const fw_profile *profile = &r->faces[r->today[flat]].profile;
        int told = 0;
        for (int k = 0; k < profile->ndiameters; k++)
            told += profile->diameters[k].determined;
        if (told < 2 || profile->tied) /* one diameter needs no tie */
            continue;
        if (used < 60)
            snprintf(text + used, sizeof text - used, "%s%s", n ? ", " : "", job->flats[flat].name);
        n++;
    }
    size_t used = strlen(text);
    snprintf(text + used, sizeof text - used,
             "%s: no centre ties the diameters together, so each has a zero of its own; "
             "the smooth figure joins them, raw PV does not",
             used >= 60 ? " and others" : "");
    return n ? add_note(r, text, err) : FW_OK;
}

static fw_status note_bench(const fw_job *job, fw_result *r, fw_error *err)
{
    fw_status status = FW_OK;
    bench_text *text = fw_alloc(BENCH_NOTES(job->nflats), sizeof *text);
    int n = text ? bench_notes(r, text) : 0;
    if (!text)
        return fw_out_of_memory(err);
    for (int k = 0; k < n && !status; k++)
        status = add_note(r, text[k], err);
    fw_free(text);
    return status;
}

/* What the surfaces leave aside, and what they cannot tell. */
static fw_status note_surface(const surface *s, fw_result *r, fw_error *err)
{
    char text[240];
    fw_status status = FW_OK;
    if (s->beyond) {
        snprintf(text, sizeof text,
                 "%zu readings lie outside the clear aperture of a flat: the surface model has no "
                 "use for them",
                 s->beyond);
        status = add_note(r, text, err);
    }
    if (!status && s->lowered) {
        snprintf(text, sizeof text,
                 "the readings carry terms up to order %d, not the order asked for", s->order);
        status = add_note(r, text, err);
    }
    if (!status && r->fit.birge > 1 && isnan(s->excess_p))
        status = add_note(r,
                          "sigma too small, or structure finer than the terms: no station was read "
                          "twice, so the readings cannot tell which",
                          err);
    return status;
}

static fw_status write_notes(const adjustment *a, fw_result *r, fw_error *err)
{
    const fw_job *job = r->job;
    char text[240];
    fw_status status = FW_OK;
    if (r->fit.birge > 1) {
        snprintf(text, sizeof text,
                 "the residuals are %.2g times what sigma says (p = %.2g): every uncertainty is "
                 "enlarged by that",
                 r->fit.birge, r->fit.p_value);
        status = add_note(r, text, err);
    } else if (r->fit.sigma_known && r->fit.p_value > 1 - FW_SIGMA_TEST_LEVEL)
        status = add_note(r,
                          "the residuals are smaller than sigma says: sigma may be set too large, "
                          "uncertainties are kept",
                          err);
    if (!status && !r->fit.sigma_known && r->fit.readings && !r->fit.redundancy)
        status = add_note(
            r,
            "no reading checks another and sigma is not given, so no uncertainty can be told: "
            "give sigma in [readings], or repeat a scan",
            err);
    if (!status && r->unread[0]) {
        snprintf(text, sizeof text, "unread: %s", r->unread);
        status = add_note(r, text, err);
    }
    if (!status)
        status = note_bench(job, r, err);
    if (!status)
        status = a->surface ? note_surface(a->surface, r, err) : note_untied(job, r, err);
    return status;
}

static fw_status result_new(const fw_job *job, fw_result **out, fw_error *err)
{
    fw_result *r = fw_alloc(1, sizeof *r);
    if (!r)
        return fw_out_of_memory(err);
    r->job = job;
    r->round = fw_job_round(job);
    r->worst_mdb_nm = NAN;
    r->today = fw_alloc(job->nflats, sizeof *r->today);
    *out = r;
    return r->today ? FW_OK : fw_out_of_memory(err);
}

static fw_status fill(adjustment *a, fw_result *r, fw_error *err)
{
    size_t most = (size_t)a->net->nfaces + (size_t)r->job->nflats;
    fw_status status;
    int *source = fw_alloc(most, sizeof *source);
    r->faces = fw_alloc(most, sizeof *r->faces);
    r->removals = fw_alloc(most, sizeof *r->removals);
    if (!source || !r->faces || !r->removals)
        status = fw_out_of_memory(err);
    else {
        fill_fit(a, &r->fit);
        list_faces(a, r, source);
        if (!(status = fill_faces(a, r, source, err)) &&
            !(status = fill_removals(a, r, source, err)) &&
            !(status = closures_find(a->net, &r->closures, &r->nclosures, err)) &&
            !(status = unknowns_find(a, r, err)) && !(status = find_suspects(a, r, err))) {
            unread_name(r);
            status = write_notes(a, r, err);
        }
    }
    fw_free(source);
    return status;
}

fw_status fw_solve(const fw_job *job, const fw_solve_options *options, fw_result **result,
                   fw_error *err)
{
    fw_result *r = NULL;
    choice chosen = {0};
    fw_status status = fw_linalg_ready(err);
    if (!status)
        status = result_new(job, &r, err);
    if (!status)
        status = choose_model(job, options, &chosen, err);
    if (r) {
        r->adjustment = chosen.a;
        r->bench = chosen.bench;
    }
    if (!status) {
        r->model = chosen.a->model->kind;
        snprintf(r->why, sizeof r->why, "%s", chosen.why);
        if (!*chosen.against || !(status = add_note(r, chosen.against, err)))
            status = fill(chosen.a, r, err);
    }
    if (status)
        fw_result_free(r);
    else
        *result = r;
    return status;
}

void fw_result_free(fw_result *r)
{
    if (!r)
        return;
    for (int i = 0; i < r->nfaces; i++) {
        profile_release(&r->faces[i].profile);
        fw_free(r->faces[i].figure.terms);
        fw_free(r->faces[i].surface.terms);
    }
    for (int i = 0; i < r->nremovals; i++) {
        profile_release(&r->removals[i].profile);
        fw_free(r->removals[i].work);
    }
    for (int i = 0; i < r->nunknowns; i++) {
        fw_free(r->unknowns[i].flats);
        fw_free(r->unknowns[i].diameters_deg);
    }
    fw_free(r->faces);
    fw_free(r->today);
    fw_free(r->removals);
    fw_free(r->unknowns);
    fw_free(r->suspects);
    fw_free(r->closures);
    fw_free(r->notes);
    fw_free(r->bench.flats);
    adjustment_free(r->adjustment);
    fw_free(r);
}
