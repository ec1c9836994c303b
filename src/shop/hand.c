/* hand.c - a made-up person at the lap: what the rows of a work list truly take off. */
#include "shop/hand.h"

#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <math.h>

#include "base/draws.h"
#include "flatwright/alloc.h"
#include "shop/plan.h"

/* Spread of persons, of the methods of one, of the shapes, of one spell and the next; in parts. */
static const double PERSONS = 0.3, METHODS = 0.15, SHAPES = 0.15, SPELLS = 0.05;

/* About one, never far below it. */
static double about_one(gsl_rng *rng, double spread)
{
    return fmax(1 + gsl_ran_gaussian(rng, spread), 0.3);
}

fw_status hand_draw(unsigned long seed, hand *out, fw_error *err)
{
    fw_habit usual;
    gsl_rng *rng = draws_new(seed);
    if (!rng)
        return fw_out_of_memory(err);
    fw_habit_start(&usual);
    *out = (hand){.seed = seed};
    double person = about_one(rng, PERSONS);
    for (int m = 0; m < FW_HABIT_METHODS; m++) {
        out->rate[m] = usual.mean[m * FW_HABIT_MODES] * person * about_one(rng, METHODS);
        for (int q = 1; q < FW_HABIT_MODES; q++) /* slow ones are larger; squares add up to one */
            out->shape[m][q] = gsl_ran_gaussian(rng, SHAPES * exp2(-q / 2.0));
    }
    draws_free(rng);
    return FW_OK;
}

/* Row number w of the work list, as it truly went. */
static double luck(const hand *h, size_t w, double *factor)
{
    gsl_rng *rng = draws_new(h->seed * 7919 + w + 1);
    *factor = rng ? about_one(rng, SPELLS) : NAN;
    draws_free(rng);
    return *factor;
}

static fw_status take_off(const hand *h, const fw_job *job, size_t w, size_t n, const double *r_mm,
                          const double *theta_rad, double *unit, fw_error *err)
{
    const fw_work *work = &job->work[w];
    const fw_flat *flat = &job->flats[work->flat];
    fw_disc disc = {flat->diameter_mm / 2, flat->bore_mm / 2};
    fw_stroke stroke = fw_stroke_of_work(work);
    fw_error why;
    double t[FW_HABIT_MODES], spell;
    fw_status status = fw_stroke_by_hand(&stroke, &disc, n, r_mm, theta_rad, unit, &why);
    if (status == FW_INPUT)
        return fw_fail(err, FW_INPUT, "line %d of work.csv takes off nobody knows what from a made-up "
                       "flat: %s", work->line, why.text);
    if (status || isnan(luck(h, w, &spell)))
        return status ? fw_fail(err, status, "%s", why.text) : fw_out_of_memory(err);
    for (size_t i = 0; i < n; i++) {
        double factor = 1;
        fw_habit_modes(&stroke, &disc, r_mm[i], t);
        for (int q = 1; q < FW_HABIT_MODES; q++)
            factor += h->shape[work->method][q] * t[q];
        unit[i] *= work->hours * h->rate[work->method] * spell * fmax(factor, 0);
    }
    return FW_OK;
}

fw_status hand_removed(const hand *h, const fw_job *job, int flat, size_t n, const double *r_mm,
                       const double *theta_rad, const int *round, double *removed, fw_error *err)
{
    double *unit = fw_alloc(n, sizeof *unit), *sum = fw_alloc(n, sizeof *sum);
    fw_status status = unit && sum ? FW_OK : fw_out_of_memory(err);
    for (size_t w = 0; w < job->nwork && !status; w++) {
        if (job->work[w].flat != flat)
            continue;
        status = take_off(h, job, w, n, r_mm, theta_rad, unit, err);
        for (size_t i = 0; i < n && !status; i++)
            sum[i] += job->work[w].round < round[i] ? unit[i] : 0;
    }
    for (size_t i = 0; i < n && !status; i++)
        removed[i] += sum[i];
    fw_free(unit);
    fw_free(sum);
    return status;
}
