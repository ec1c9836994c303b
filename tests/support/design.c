/* design.c - made-up measuring plans of every kind: pairs, turns, stations, rounds of work. */
#include "design.h"

#include <math.h>

static bool chance(gsl_rng *g, double p)
{
    return gsl_rng_uniform(g) < p;
}

static int pick(gsl_rng *g, int n)
{
    return (int)gsl_rng_uniform_int(g, (unsigned long)n);
}

design design_random(unsigned long seed)
{
    gsl_rng *g = gsl_rng_alloc(gsl_rng_mt19937);
    gsl_rng_set(g, seed);
    design d = {.nflats = 2 + pick(g, 4),
                .ndiam = 1 + pick(g, 4),
                .nstations = 5 + pick(g, 5),
                .rounds = chance(g, 0.3) ? 2 + pick(g, 2) : 1,
                .turned = 1 + pick(g, 2)};
    d.setup = chance(g, 0.3);
    d.bored = chance(g, 0.25);
    d.reversed = chance(g, 0.4);
    d.swapped = chance(g, 0.4);
    d.clear = chance(g, 0.3);
    d.lossy = chance(g, 0.2);
    d.weights = chance(g, 0.2);
    d.repeats = pick(g, 2);
    gsl_rng_free(g);
    return d;
}

static void read_scan(const design *d, sim *s, int round, int bottom, int top, double turn,
                      double diameter)
{
    double x[32], keep[2] = {s->sigma_nm, s->stated_nm};
    bool flip = d->swapped && (bottom + top) % 2; /* a whole pair: a setup has one plane */
    bool hole = d->bored && (bottom == d->nflats - 1 || top == d->nflats - 1);
    sim_stations(d->nstations, 95, x);
    for (int i = 0; i < d->nstations; i++)
        if ((hole && fabs(x[i]) < 21) || (d->lossy && chance(s->rng, 1 / 12.0)))
            x[i] = NAN;
    if (d->reversed && chance(s->rng, 0.4))
        diameter += chance(s->rng, 0.5) ? 180 : -180;
    if (d->weights) {
        double factor = 1 + 2 * gsl_rng_uniform(s->rng);
        s->sigma_nm *= factor;
        s->stated_nm *= factor;
    }
    sim_scan(s, round, flip ? top : bottom, flip ? bottom : top, turn, diameter, d->nstations, x);
    s->sigma_nm = keep[0];
    s->stated_nm = keep[1];
}

static void read_fan(const design *d, sim *s, int round, int bottom, int top, double turn)
{
    for (int k = 0; k < d->ndiam; k++)
        read_scan(d, s, round, bottom, top, turn, 180.0 * k / d->ndiam);
}

/* One plane for all scans of a pairing in a round, instead of a line for each. */
static void tilt_setups(sim *s)
{
    fw_job *job = s->job;
    for (size_t i = 0; i < job->nscans; i++) {
        fw_scan *scan = &job->scans[i];
        double key =
            7 * scan->round + 3 * scan->bottom + 11 * scan->top + 0.1 * fmod(scan->turn_deg, 360);
        double t = scan->diameter_deg * 0.017453292519943295769;
        for (size_t k = 0; k < scan->count; k++) {
            fw_reading *r = &job->readings[scan->first + k];
            r->deviation_nm += 200 * sin(key) +
                               r->position_mm * (3 * cos(key) * cos(t) - 2 * sin(2 * key) * sin(t));
        }
    }
}

void design_read(const design *d, sim *s)
{
    int n = d->nflats;
    s->job->levelling = d->setup ? FW_LEVELLING_SETUP : FW_LEVELLING_SCAN;
    s->level_nm = d->setup ? 0 : 300;
    for (int i = 0; i < n && d->clear; i++)
        s->job->flats[i].clear_mm = 160 - 5 * i;
    if (d->bored)
        s->job->flats[n - 1].bore_mm = 42;
    for (int r = 1; r <= d->rounds; r++) {
        for (int pass = 0; pass <= d->repeats; pass++)
            for (int i = 0; i < n; i++) /* a ring, and beyond three flats some chords */
                for (int k = i + 1; k < n; k++)
                    if (n < 4 || k == i + 1 || k == n - 1 || k == i + 2)
                        read_fan(d, s, r, i, k, 0);
        for (int t = 0; t < d->turned; t++) {
            int a = t == 0 ? 0 : pick(s->rng, n), b = (a + 1) % n;
            int step = t == 0 ? 1 : 1 + pick(s->rng, 2 * d->ndiam);
            read_fan(d, s, r, a, b, 180.0 * step / d->ndiam);
        }
        if (r < d->rounds)
            sim_work(s, r, pick(s->rng, n), 0.5);
    }
    if (d->setup)
        tilt_setups(s);
}

void design_plain(sim *s, int ndiam, int n, double sigma_nm, double stated_nm, unsigned long seed)
{
    double x[64];
    sim_init(s, 3, 200, seed);
    s->sigma_nm = sigma_nm;
    s->stated_nm = stated_nm;
    sim_stations(n, 95, x);
    for (int i = 0; i < 3; i++)
        sim_fan(s, 1, i, (i + 1) % 3, 0, ndiam, n, x);
    sim_fan(s, 1, 0, 1, 180.0 / ndiam, ndiam, n, x);
}

/* Other diameters and turns, and every station moved a little. */
static void shift(sim *s)
{
    fw_job *job = s->job;
    for (size_t i = 0; i < job->nscans; i++) {
        job->scans[i].turn_deg *= 0.73;
        job->scans[i].diameter_deg += 11 * gsl_rng_uniform(s->rng);
    }
    for (size_t i = 0; i < job->nreadings; i++)
        job->readings[i].position_mm += 4 * gsl_rng_uniform(s->rng) - 2;
}

void design_surfaces(sim *s, unsigned long seed)
{
    design d = design_random(seed);
    d.nflats = 2 + (seed % 8 != 0);
    d.ndiam = 2 + (int)(seed / 3 % 4);
    d.nstations += 2;
    d.turned = 1 + (int)(seed / 5 % 3);
    d.rounds = d.rounds > 2 ? 2 : d.rounds;
    d.repeats = 0;
    d.weights = d.weights && seed % 5;
    sim_init(s, d.nflats, 200, seed);
    s->sigma_nm = seed % 3 ? 2 : 0;
    s->stated_nm = seed % 5 ? 2 : NAN;
    design_read(&d, s);
    if (seed % 2)
        shift(s);
}
