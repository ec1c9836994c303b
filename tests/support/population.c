/* population.c - simulated sets of known PV, and how often the verdicts on them are true. Invented. */
#include "population.h"

#include <gsl/gsl_randist.h>
#include <math.h>

#include "close.h"
#include "figure/madeup.h"
#include "flatwright/result.h"
#include "flatwright/warmth.h"
#include "simulate.h"

enum { CLEAR_MM = 100 };
static const double PI = 3.14159265358979323846;

const double band_edge[BANDS + 1] = {0, 0.05, 0.35, 0.65, 0.95, 1.0001};

typedef struct flats {
    madeup flat[3];
} flats;

static double figure(void *context, int flat, int state, double x, double y)
{
    const flats *f = context;
    (void)state;
    return madeup_height(&f->flat[flat], atan2(y, x) * 180 / PI, hypot(x, y));
}

/* Along the diameters; of the whole face on many. */
static double true_pv(flats *f, int flat, int ndiameters)
{
    double high = -INFINITY, low = INFINITY;
    for (int k = 0; k < ndiameters; k++)
        for (int i = -100; i <= 100; i++) {
            double s = CLEAR_MM * i / 100.0, a = PI * k / ndiameters,
                   h = figure(f, flat, 0, s * cos(a), s * sin(a));
            high = fmax(high, h);
            low = fmin(low, h);
        }
    return high - low;
}

static bool has_term(population kind, struct fw_term t)
{
    return kind == POPULATION_POWER    ? t.n == 2 && t.m == 0
           : kind == POPULATION_ZONES  ? t.m == 0
           : kind == POPULATION_COARSE ? t.n <= 3
                                       : true;
}

/* A flat of one family, scaled to the PV wanted. */
static void make_flat(flats *f, int flat, population kind, int family, int ndiameters, double pv,
                      gsl_rng *rng)
{
    madeup *m = &f->flat[flat];
    madeup_draw(m, kind == POPULATION_COARSE ? 0 : family, rng);
    for (int j = 0; j < m->basis->nterms; j++)
        m->c[j] = has_term(kind, m->basis->terms[j]) ? m->c[j] : 0;
    madeup_scale(m, pv / true_pv(f, flat, ndiameters));
}

static void count(tally *t, const fw_figure *figure_told, double pv)
{
    double p = figure_told->probability_within, off = figure_told->pv.value_nm - pv;
    assert_true(isfinite(p) && isfinite(off));
    int k = 0;
    while (p >= band_edge[k + 1])
        k++;
    t->band[k].flats++;
    t->band[k].within += pv <= 10;
    t->band[k].stated += p;
    t->flats++;
    t->covered += fabs(off) <= 2 * figure_told->pv.u_nm;
    t->error += off;
    t->square += off * off;
}

/* Warm faces are convex, each by its own amount in all its readings; the job says how warm they may be. */
static void warm(sim *s, double bow_nm)
{
    double bow[3];
    for (int f = 0; f < 3; f++) {
        fw_flat *flat = &s->job->flats[f];
        flat->thickness_mm = 35;
        flat->glass = (fw_glass){"borosilicate", 64, 0.20, 2230, 3.25, 1.13, 750};
        s->job->gradient_k = fw_warmth_across_k(&flat->glass, flat->clear_mm, 35, bow_nm);
        bow[f] = gsl_ran_gaussian(s->rng, bow_nm);
    }
    for (size_t i = 0; i < s->job->nreadings; i++) {
        fw_reading *r = &s->job->readings[i];
        double x = r->position_mm / CLEAR_MM;
        r->deviation_nm -=
            (bow[s->job->scans[r->scan].bottom] + bow[s->job->scans[r->scan].top]) * x * x;
    }
}

/* Two pairings turned by odd angles, and no station on the same distance as another. */
static void read_faces(sim *s, int n, int stations)
{
    double at[21];
    for (int pair = 0; pair < 5; pair++)
        for (int k = 0; k < n; k++) {
            for (int i = 0; i < stations; i++)
                at[i] = CLEAR_MM * 0.98 * (2.0 * i / (stations - 1) - 1) +
                        (i % 2 ? 1 : -1) * 1.9 * gsl_rng_uniform(s->rng);
            sim_scan(s, 1, pair % 3, (pair + 1) % 3, pair < 3 ? 0 : pair == 3 ? 47 : 111,
                     180.0 * k / n + 7 + 5 * gsl_rng_uniform(s->rng), stations, at);
        }
}

static void run_set(int set, const fw_basis *basis, unsigned long seed, double bow_nm, population kind,
                    tally *t)
{
    bool faces = kind == POPULATION_FACES;
    static const int diameters[] = {4, 6, 8};
    int n = diameters[set % 3], stations = set % 2 ? 21 : 11;
    double positions[21], pv[3];
    flats f;
    fw_result *r = NULL;
    sim s;
    sim_init(&s, 3, 2 * CLEAR_MM, seed + (unsigned long)set);
    s.truth = figure;
    s.context = &f;
    s.sigma_nm = s.stated_nm = 1 + 4 * gsl_rng_uniform(s.rng);
    for (int flat = 0; flat < 3; flat++) {
        pv[flat] = 3 + 22 * gsl_rng_uniform(s.rng);
        f.flat[flat] = (madeup){.basis = basis, .clear_mm = CLEAR_MM};
        make_flat(&f, flat, kind, set / 3 % 3, faces ? 45 : n, pv[flat], s.rng);
    }
    sim_stations(stations, CLEAR_MM, positions);
    if (faces)
        read_faces(&s, n + 2, stations);
    for (int pair = 0; pair < 3 && !faces; pair++)
        sim_fan(&s, 1, pair, (pair + 1) % 3, 0, n, stations, positions);
    for (int pair = 0; pair < 1 + set / 9 % 2 && !faces; pair++)
        sim_fan(&s, 1, pair, pair + 1, 180.0 / n, n, stations, positions);
    if (bow_nm > 0)
        warm(&s, bow_nm);
    assert_int_equal(fw_solve(s.job, NULL, &r, NULL), FW_OK);
    assert_int_equal(r->model, faces ? FW_MODEL_SURFACE : FW_MODEL_PROFILE);
    for (int flat = 0; flat < 3; flat++)
        count(t, &r->faces[r->today[flat]].figure, pv[flat]);
    fw_result_free(r);
    sim_release(&s);
}

void population_run(int sets, unsigned long seed, double bow_nm, population kind, tally *out)
{
    fw_basis *basis = NULL;
    *out = (tally){0};
    assert_int_equal(fw_basis_new(false, MADEUP_ORDER, &basis, NULL), FW_OK);
    for (int set = 0; set < sets; set++)
        run_set(set, basis, seed, bow_nm, kind, out);
    fw_basis_free(basis);
}

double band_z(const band *b)
{
    double p = b->flats ? b->stated / b->flats : 0.5;
    return b->flats ? (b->within - b->stated) / sqrt(b->flats * p * (1 - p)) : 0;
}
