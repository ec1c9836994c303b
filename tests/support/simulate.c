/* simulate.c - made-up sets with known truth. All data from here are invented. */
#include "simulate.h"

#include <gsl/gsl_randist.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "flatwright/alloc.h"

#define RAD 0.017453292519943295769

double sim_rough(void *context, int flat, int state, double x, double y)
{
    (void)context;
    double a = 1 + 0.37 * flat + 0.11 * state;
    return 60 * cos(0.031 * a * x + 0.7 * flat + 1) * cos(0.043 * y - a) +
           30 * sin(0.09 * x * a + 0.05 * y) + 15 * cos(0.21 * y + 0.13 * x + 2 * a) -
           25 * exp(-(x * x + y * y) / 900) * a;
}

void sim_init(sim *s, int nflats, double diameter_mm, unsigned long seed)
{
    *s = (sim){.truth = sim_rough, .stated_nm = 1, .level_nm = 300};
    s->rng = gsl_rng_alloc(gsl_rng_mt19937);
    gsl_rng_set(s->rng, seed);
    s->job = fw_alloc(1, sizeof *s->job);
    s->job->folder = fw_copy_text("invented");
    s->job->title = fw_copy_text("Invented set");
    s->job->nflats = nflats;
    s->job->flats = fw_alloc(nflats, sizeof *s->job->flats);
    for (int i = 0; i < nflats; i++) {
        char name[] = {(char)('A' + i), 0};
        s->job->flats[i] = (fw_flat){.name = fw_copy_text(name),
                                     .diameter_mm = diameter_mm,
                                     .clear_mm = diameter_mm,
                                     .thickness_mm = NAN};
    }
    s->job->flatness_nm = 10;
    s->job->confidence = 0.95;
    s->job->sigma_nm = NAN;
    s->job->prior_nm = 1000;
    s->job->light.wavelength_nm = NAN;
    s->job->gradient_k = s->job->gap_um = s->job->eye_mm = NAN;
}

void sim_release(sim *s)
{
    gsl_rng_free(s->rng);
    fw_job_free(s->job);
}

double sim_height(sim *s, int flat, int state, double angle_deg, double position)
{
    return s->truth(s->context, flat, state, position * cos(angle_deg * RAD),
                    position * sin(angle_deg * RAD));
}

static void *more(void *old, size_t *room, size_t count, size_t size)
{
    if (count < *room)
        return old;
    *room = *room ? 2 * *room : 64;
    return realloc(old, *room * size);
}

size_t sim_scan(sim *s, int round, int bottom, int top, double turn, double diameter, int n,
                const double *positions)
{
    fw_job *job = s->job;
    double p = s->level_nm * (2 * gsl_rng_uniform(s->rng) - 1),
           q = s->level_nm * (2 * gsl_rng_uniform(s->rng) - 1);
    int sb = fw_job_state(job, bottom, round), st = fw_job_state(job, top, round);
    job->scans = more(job->scans, &s->scan_room, job->nscans, sizeof *job->scans);
    job->scans[job->nscans] = (fw_scan){.round = round,
                                        .bottom = bottom,
                                        .top = top,
                                        .turn_deg = turn,
                                        .diameter_deg = diameter,
                                        .label = fw_copy_text(""),
                                        .first = job->nreadings};
    for (int i = 0; i < n; i++) {
        if (isnan(positions[i]))
            continue;
        double d = sim_height(s, bottom, sb, diameter, positions[i]) +
                   sim_height(s, top, st, turn - diameter, positions[i]) + p +
                   q * positions[i] / (job->flats[bottom].diameter_mm / 2);
        if (s->sigma_nm > 0)
            d += gsl_ran_gaussian(s->rng, s->sigma_nm);
        job->readings = more(job->readings, &s->room, job->nreadings, sizeof *job->readings);
        job->readings[job->nreadings] = (fw_reading){.position_mm = positions[i],
                                                     .deviation_nm = d,
                                                     .sigma_nm = s->stated_nm,
                                                     .scan = (int)job->nscans,
                                                     .line = (int)job->nreadings + 2};
        job->nreadings++;
        job->scans[job->nscans].count++;
    }
    return job->nscans++;
}

void sim_fan(sim *s, int round, int bottom, int top, double turn, int ndiam, int n,
             const double *positions)
{
    for (int k = 0; k < ndiam; k++)
        sim_scan(s, round, bottom, top, turn, 180.0 * k / ndiam, n, positions);
}

void sim_stations(int n, double r, double *positions)
{
    for (int i = 0; i < n; i++)
        positions[i] = n > 1 ? r * (2.0 * i - (n - 1)) / (n - 1) : 0;
}

void sim_work(sim *s, int round, int flat, double hours)
{
    fw_job *job = s->job;
    job->work = realloc(job->work, (job->nwork + 1) * sizeof *job->work);
    job->work[job->nwork++] = (fw_work){.round = round,
                                        .flat = flat,
                                        .hours = hours,
                                        .method = FW_LAP_ON_TOP,
                                        .inner_mm = NAN,
                                        .outer_mm = NAN,
                                        .side_deg = NAN,
                                        .stroke = NAN,
                                        .note = fw_copy_text("")};
}
