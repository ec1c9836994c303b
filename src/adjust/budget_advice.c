/* budget_advice.c - the shares of a budget ranked, each with the cheapest way to make it smaller. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "budget.h"
#include "flatwright/next.h"

/* A share below this part of the target is left alone. */
static const double SMALL = 0.1;
/* A support that bends the flat so many times the best one's is worth changing. */
static const double WORTH = 1.5;

static double judged(const fw_share *s, fw_measure measure)
{
    return measure == FW_MEASURE_IRREGULARITY ? s->irregularity_nm : s->pv_nm;
}

/* Largest first, what has no bound before all. */
static void sort_shares(fw_budget *b, fw_measure measure)
{
    for (int i = 1; i < b->nshares; i++) {
        fw_share one = b->shares[i];
        double size = judged(&one, measure);
        int k = i;
        for (; k > 0; k--) {
            double before = judged(&b->shares[k - 1], measure);
            if (isnan(before) || (!isnan(size) && size <= before))
                break;
            b->shares[k] = b->shares[k - 1];
        }
        b->shares[k] = one;
    }
}

static const char *say_time(double seconds, char text[32])
{
    if (seconds < 5400)
        snprintf(text, 32, "%.0f minutes", fmax(ceil(seconds / 60), 1));
    else
        snprintf(text, 32, "%.1f hours", seconds / 3600);
    return text;
}

static void advise_noise(const fw_share *s, const fw_job *job, char *text, size_t room)
{
    double part = judged(s, job->measure) / (job->flatness_nm / FW_ENOUGH_PART);
    if (part > 1)
        snprintf(text, room, "read every pairing %.0f times as often, each time laid anew: then it "
                             "is a third of the target",
                 ceil(part * part));
    else
        snprintf(text, room, "read every pairing once more, laid anew: it falls by three tenths");
}

static void advise_bending(const fw_bench_flat *b, const fw_job *job, char *text, size_t room)
{
    double now = fmax(isnan(b->sag_nm[0]) ? 0 : b->sag_nm[0], isnan(b->sag_nm[1]) ? 0 : b->sag_nm[1]);
    if (now > WORTH * b->ring_nm)
        snprintf(text, room, "carry it on a ring of %.0f mm radius: it sinks %.2g nm there instead of "
                             "%.2g nm (on three points at %.0f mm %.2g nm)",
                 b->ring_mm, b->ring_nm, now, b->points_mm, b->points_nm);
    else if (job->bending != FW_BENDING_SOLVE)
        snprintf(text, room, "read the pairings with bottom and top exchanged as well, and set bending "
                             "= solve");
    else
        snprintf(text, room, "read the exchanged pairings once more");
}

static void advise_warmth(const fw_bench_flat *b, const fw_job *job, char *text, size_t room)
{
    char time[32];
    if (b->wait_s > 0)
        snprintf(text, room, "wait %s: %.2g K from front to back, now %.2g K, bows it by a third of "
                             "the target",
                 say_time(b->wait_s, time), b->allowed_k, job->gradient_k);
    else
        snprintf(text, room, "wait: every %s make it 2.7 times smaller", say_time(b->across_s, time));
}

static void advise_view(const fw_share *s, const fw_job *job, char *text, size_t room)
{
    double far = sqrt(judged(s, job->measure) / (SMALL * job->flatness_nm));
    snprintf(text, room, "move the eye from %.2g m to %.2g m, or bring the flats %.2g times nearer",
             job->eye_mm / 1e3, far * job->eye_mm / 1e3, far * far);
}

static void advise(const fw_result *r, int flat, fw_share *s)
{
    const fw_job *job = r->job;
    const fw_bench_flat *b = &r->bench.flats[flat];
    char *text = s->remedy;
    size_t room = sizeof s->remedy;
    if (judged(s, job->measure) <= SMALL * job->flatness_nm)
        snprintf(text, room, "small beside the target: leave it");
    else if (s->source == FW_SOURCE_NOISE)
        advise_noise(s, job, text, room);
    else if (s->source == FW_SOURCE_SPREAD)
        snprintf(text, room, "find what changed between the settings (suspects, closures), then read "
                             "those again");
    else if (s->source == FW_SOURCE_BENDING)
        advise_bending(b, job, text, room);
    else if (s->source == FW_SOURCE_WARMTH)
        advise_warmth(b, job, text, room);
    else if (s->source == FW_SOURCE_VIEW)
        advise_view(s, job, text, room);
    else
        snprintf(text, room, "read the pairing that is named with what is undetermined");
}

void budget_advise(fw_result *result)
{
    for (int i = 0; i < result->nfaces; i++) {
        fw_face *face = &result->faces[i];
        sort_shares(&face->budget, result->job->measure);
        for (int k = 0; k < face->budget.nshares; k++)
            advise(result, face->flat, &face->budget.shares[k]);
    }
}
