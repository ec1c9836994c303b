/* decide.c - measure, work or stop, and the lists that go with it. */
#include <math.h>

#include "flatwright/advice.h"
#include "flatwright/alloc.h"
#include "flatwright/conform.h"
#include "flatwright/mating.h"
#include "flatwright/warmth.h"

#define FRACTION 0.6
/* Glass as it comes off the lap, assumed: warm by hand, slurry and friction. */
#define ACROSS_K 1.0
#define ABOVE_K 2.0
#define BOW_PART 4.0 /* of the target: a bow that no longer matters */
/*
 * A plan is chosen to fit, so it finds its pattern in noise too: of 100 made-up sets of noise alone
 * a tenth gave a plan above twice the pattern's uncertainty.
 */
#define SURE 3.0

const char *fw_decision_name(fw_decision decision)
{
    static const char *const names[] = {"measure", "work", "stop"};
    return names[decision];
}

int fw_clock_of(double angle_deg)
{
    /* angles run counter-clockwise from the mark, hours the other way */
    int hour = (int)lround(12 - fmod(fmod(angle_deg, 360) + 360, 360) / 30);
    return hour < 1 ? hour + 12 : hour;
}

static double wait_of(const fw_job *job, bool both)
{
    double longest = 0;
    for (int f = 0; f < job->nflats; f++) {
        const fw_flat *flat = &job->flats[f];
        double allowed = fw_warmth_across_k(&flat->glass, flat->clear_mm, flat->thickness_mm,
                                            job->flatness_nm / BOW_PART);
        fw_cooling cooling = {flat->thickness_mm, both, ACROSS_K, ABOVE_K, NAN};
        double wait = fw_warmth_wait_s(&flat->glass, &cooling, allowed);
        if (isnan(wait))
            return NAN;
        longest = fmax(longest, wait);
    }
    return longest;
}

/* The first flat that keeps the set from being judged; -1: none. */
static int find_open(const fw_result *result, fw_reason *reason)
{
    for (int pass = 0; pass < 2; pass++)
        for (int f = 0; f < result->job->nflats; f++) {
            const fw_face *face = &result->faces[result->today[f]];
            if (pass == 0 && face->last_round == 0) {
                *reason = FW_REASON_UNREAD;
                return f;
            }
            if (pass == 1 && face->figure.verdict == FW_UNDETERMINED) {
                *reason = FW_REASON_UNDETERMINED;
                return f;
            }
        }
    return -1;
}

static fw_verdict verdict_of(const fw_result *result, int flat)
{
    return result->faces[result->today[flat]].figure.verdict;
}

/*
 * A trial is there to learn a rate that may be anything, so that it cannot promise a gain; all else
 * has to. Says why not in the plan's warnings.
 */
static bool is_worth(fw_plan *plan)
{
    bool sure = plan->z > SURE, trial = plan->nrows > 0 && (plan->warnings & FW_WARN_TRIAL);
    plan->warnings |= sure ? 0 : FW_WARN_NOISE;
    if (!sure || !(plan->significant || trial))
        return false;
    plan->warnings &= ~(unsigned)FW_WARN_NO_GAIN;
    plan->significant = true;
    return true;
}

/* A plan for every flat that is not within and whose figure is known. */
static fw_status plan_all(const fw_result *result, const fw_advise_options *o, fw_advice *a,
                          fw_error *err)
{
    const fw_job *job = result->job;
    double fraction = o && o->fraction > 0 ? o->fraction : FRACTION;
    fw_status status = FW_OK;
    fw_menu *own = NULL;
    fw_disc made_for = {0, 0};
    double made_clear = 0;
    bool made_line = false;
    for (int f = 0; f < job->nflats && !status; f++) {
        const fw_face *face = &result->faces[result->today[f]];
        fw_verdict verdict = face->figure.verdict;
        fw_disc disc = {job->flats[f].diameter_mm / 2, job->flats[f].bore_mm / 2};
        double clear = job->flats[f].clear_mm / 2;
        bool line = face->profile.ndiameters == 1;
        fw_plan plan;
        if (verdict == FW_WITHIN || verdict == FW_UNDETERMINED || !(face->figure.pv.u_nm >= 0))
            continue;
        if (!(o && o->menu) && (!own || disc.radius_mm != made_for.radius_mm || line != made_line ||
                                disc.bore_mm != made_for.bore_mm || clear != made_clear)) {
            fw_menu_free(own);
            own = NULL;
            status = fw_menu_new(&disc, clear, line, &own, err);
            made_for = disc;
            made_clear = clear;
            made_line = line;
        }
        if (!status)
            status = fw_plan_flat(result, f, &a->habit, o && o->menu ? o->menu : own, fraction,
                                  &plan, err);
        if (status)
            continue;
        if (is_worth(&plan))
            a->plans[a->nplans++] = plan;
        else
            a->idle[a->nidle++] = plan;
    }
    fw_menu_free(own);
    for (int i = 1; i < a->nplans; i++)
        for (int k = i; k > 0 && a->plans[k].gain_nm_per_h > a->plans[k - 1].gain_nm_per_h; k--) {
            fw_plan t = a->plans[k];
            a->plans[k] = a->plans[k - 1];
            a->plans[k - 1] = t;
        }
    return status;
}

static void decide(const fw_result *result, fw_advice *a)
{
    int within = 0, nflats = result->job->nflats;
    bool told = true;
    for (int f = 0; f < nflats; f++) {
        within += verdict_of(result, f) == FW_WITHIN;
        told = told && isfinite(result->faces[result->today[f]].figure.pv.u_nm);
    }
    a->decision = FW_DECIDE_MEASURE;
    a->flat = find_open(result, &a->reason);
    if (result->fit.readings == 0) {
        a->reason = FW_REASON_NO_READINGS;
        a->flat = -1;
    } else if (a->flat >= 0)
        return;
    else if (within == nflats) {
        a->decision = FW_DECIDE_STOP;
        a->reason = FW_REASON_WITHIN;
    } else if (a->nplans > 0) {
        a->decision = FW_DECIDE_WORK;
        a->reason = FW_REASON_DEPARTS;
        a->flat = a->plans[0].flat;
    } else {
        a->reason = told ? FW_REASON_NOISE : FW_REASON_NO_SIGMA;
        for (int f = nflats - 1; f >= 0; f--)
            if (verdict_of(result, f) != FW_WITHIN)
                a->flat = f;
        for (int i = a->nidle - 1; i >= 0; i--) /* none without sigma */
            if (!(a->idle[i].warnings & FW_WARN_NOISE) ||
                verdict_of(result, a->idle[i].flat) == FW_OUTSIDE) {
                a->reason = FW_REASON_NO_GAIN;
                a->flat = a->idle[i].flat;
            }
    }
}

fw_status fw_advise(const fw_result *result, const fw_advise_options *options, fw_advice **advice,
                    fw_error *err)
{
    fw_status status = FW_OK;
    size_t nflats = (size_t)result->job->nflats;
    fw_advice *a = fw_alloc(1, sizeof *a);
    if (!a)
        return fw_out_of_memory(err);
    *a = (fw_advice){.result = result, .flat = -1};
    a->plans = fw_alloc(nflats, sizeof *a->plans);
    a->idle = fw_alloc(nflats, sizeof *a->idle);
    if (!a->plans || !a->idle)
        status = fw_out_of_memory(err);
    else if (options && options->habit)
        a->habit = *options->habit;
    else
        status = fw_habit_learn(result, &a->habit, err);
    if (!status)
        status = plan_all(result, options, a, err);
    if (!status)
        decide(result, a);
    if (!status && !(options && options->unranked) && result->adjustment)
        status = fw_next_pairing(result, &a->next, err);
    a->wait_both_s = wait_of(result->job, true);
    a->wait_one_s = wait_of(result->job, false);
    if (status)
        fw_advice_free(a);
    else
        *advice = a;
    return status;
}

void fw_advice_free(fw_advice *advice)
{
    if (!advice)
        return;
    fw_free(advice->plans);
    fw_free(advice->idle);
    fw_next_free(advice->next);
    fw_free(advice);
}
