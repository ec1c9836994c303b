/* trials.c - would a good flat be judged within, and a poor one not? Made-up flats, read by a plan. */
#include "trials.h"

#include <math.h>

#include "adjustment.h"
#include "base/draws.h"
#include "figure/madeup.h"
#include "flatwright/alloc.h"
#include "judge.h"
#include "planned.h"
#include "profile.h"

enum { SEED = 20110307 };

/* In every set some flats are good and some poor: what one is does not touch what is known of another. */
typedef struct trials {
    fw_job *planned;
    const adjust_model *model;
    fw_basis *basis;
    gsl_rng *rng;
    madeup *flats;    /* per flat */
    int *good, *good_failed; /* per flat: good ones judged, and those not judged within */
    double *square;   /* per flat: sum of squares of the u of PV */
} trials;

static bool is_good(int set, int flat)
{
    return (set + flat) % 2 == 0;
}

static fw_status make_flats(trials *t, int set, fw_error *err)
{
    const fw_job *job = t->planned;
    fw_status status = FW_OK;
    for (int f = 0; f < job->nflats && !status; f++) {
        madeup *m = &t->flats[f];
        double size = 0, part = is_good(set, f) ? FW_GOOD_PART : FW_POOR_PART;
        *m = (madeup){.basis = t->basis, .clear_mm = job->flats[f].clear_mm / 2};
        madeup_draw(m, set / 2 % MADEUP_FAMILIES, t->rng);
        status = madeup_size(m, job->flats[f].bore_mm / 2, job->measure, &size, err);
        madeup_scale(m, part * job->flatness_nm / size);
    }
    return status;
}

/* The verdict on one face of a set that was read. */
static fw_status judge_one(trials *t, adjustment *a, int set, int face, fw_expected *expected,
                           fw_error *err)
{
    int flat = a->net->faces[face].flat;
    fw_profile profile = {0};
    fw_figure figure = {0};
    fw_budget budget = {0};
    fw_status status = a->model->profile(a, (contrast){face, -1}, &profile, err);
    if (!status)
        status = judge_face(a, face, &profile, &figure, &budget, err);
    profile_release(&profile);
    fw_free(figure.terms);
    if (status)
        return status;
    bool within = figure.verdict == FW_WITHIN;
    if (!is_good(set, flat)) {
        expected[flat].poor_within += within;
        return FW_OK;
    }
    expected[flat].good_within += within;
    t->good[flat]++;
    t->good_failed[flat] += !within;
    t->square[flat] += figure.pv.u_nm * figure.pv.u_nm;
    return FW_OK;
}

static bool failed(const trials *t, const fw_expected *expected)
{
    for (int f = 0; f < t->planned->nflats; f++)
        if (t->good_failed[f] > FW_TRIALS - FW_GOOD_LEAST ||
            expected[f].poor_within > FW_POOR_MOST)
            return true;
    return false;
}

/*
 * A good flat's PV lies half a target below the limit: with u above a quarter of the target it is at
 * most two u away, and its estimate, u off itself, falls in the last tenth far too often.
 */
bool trials_unsure(const fw_job *job, double pv_u_nm)
{
    return job->measure == FW_MEASURE_PV && pv_u_nm > job->flatness_nm * FW_GOOD_PART / 2;
}

static bool is_hopeless(const trials *t)
{
    for (int f = 0; f < t->planned->nflats; f++)
        if (!trials_unsure(t->planned, sqrt(t->square[f] / t->good[f])))
            return false;
    return true;
}

static fw_status run_set(trials *t, int set, fw_expected *expected, fw_error *err)
{
    adjustment *a = NULL;
    fw_status status = make_flats(t, set, err);
    if (status)
        return status;
    planned_read(t->planned, t->flats, 0, t->rng);
    status = t->model->solve(t->planned, t->planned->order, &a, err);
    for (int face = 0; !status && face < a->net->nfaces; face++)
        status = judge_one(t, a, set, face, expected, err);
    adjustment_free(a);
    return status;
}

fw_status trials_run(fw_job *planned, const adjust_model *model, bool hurry, fw_expected *expected,
                     bool *enough, fw_error *err)
{
    int n = planned->nflats;
    trials t = {.planned = planned, .model = model, .rng = draws_new(SEED)};
    fw_status status = fw_basis_new(false, MADEUP_ORDER, &t.basis, err);
    t.flats = fw_alloc(n, sizeof *t.flats);
    t.good = fw_alloc(n, sizeof *t.good);
    t.good_failed = fw_alloc(n, sizeof *t.good_failed);
    t.square = fw_alloc(n, sizeof *t.square);
    if (!status && (!t.rng || !t.flats || !t.good || !t.good_failed || !t.square))
        status = fw_out_of_memory(err);
    for (int f = 0; f < n; f++)
        expected[f].good_within = expected[f].poor_within = 0;
    for (int set = 0; set < 2 * FW_TRIALS && !status; set++) {
        if ((status = run_set(&t, set, expected, err)))
            break;
        *enough = !failed(&t, expected);
        *enough = *enough && !(hurry && set == 1 && is_hopeless(&t));
        if (hurry && !*enough)
            break;
    }
    for (int f = 0; f < n && !status; f++)
        expected[f].pv_u_nm = sqrt(t.square[f] / t.good[f]);
    draws_free(t.rng);
    fw_basis_free(t.basis);
    fw_free(t.flats);
    fw_free(t.good);
    fw_free(t.good_failed);
    fw_free(t.square);
    return status;
}
