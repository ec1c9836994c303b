/* next_surface_sets.c - the ranking by the surface model on random sets, against a dense system. */
#include <lapacke.h>
#include <math.h>
#include <stdlib.h>

#include "../support/close.h"
#include "../support/simulate.h"
#include "adjust/adjustment.h"
#include "adjust/surface.h"
#include "flatwright/next.h"

#define RAD 0.017453292519943295769

enum { MOST = 700, TURNS = 4 };

/* Terms of every face known so far and of every flat today, then pistons and tilts. Invented. */
typedef struct worked {
    sim s;
    fw_result *result;
    fw_next *next;
    const surface *model;
    double variance;
    int nterms, nfaces, nflats, nscan_terms; /* terms: up to the judged order */
    double normal[MOST * MOST]; /* size x size, terms first */
} worked;

/* Half the clear aperture of a flat that a place lies within; 0: outside. */
static double clear_of(const worked *w, int flat, double position)
{
    double half = w->s.job->flats[flat].clear_mm / 2;
    return fabs(position) <= half + 1e-9 ? half : 0;
}

/* Block of a flat's state: faces that were read, then flats never read today. */
static int block_of(const worked *w, int flat, int state)
{
    const fw_net *net = w->result->adjustment->net;
    for (int f = 0; f < net->nfaces; f++)
        if (net->faces[f].flat == flat && net->faces[f].state == state)
            return f;
    return w->nfaces + flat;
}

static int today(const fw_job *job, int flat)
{
    return fw_job_state(job, flat, fw_job_round(job));
}

/* Adds 1 / sigma^2 of one reading's row. The model has no column for what a face does not carry. */
static void observe(worked *w, int bottom, int bottom_state, int top, int top_state, double turn,
                    double diameter, double x, int term, double sigma, bool planned)
{
    double row[MOST] = {0};
    int base = (w->nfaces + w->nflats) * w->nterms;
    if (!clear_of(w, bottom, x) || !clear_of(w, top, x))
        return;
    for (int side = 0; side < 2; side++) {
        int flat = side ? top : bottom;
        int face = block_of(w, flat, side ? top_state : bottom_state);
        double angle = (side ? turn - diameter : diameter) * RAD + (x < 0 ? 180 * RAD : 0);
        for (int j = 0; j < w->nterms; j++)
            if (planned || w->model->find[face * w->model->terms.basis->nterms + j] >= 0)
                row[face * w->nterms + j] = fw_basis_value(
                    w->model->terms.basis, j, fabs(x) / clear_of(w, flat, x), angle);
    }
    bool plane = w->s.job->levelling == FW_LEVELLING_SETUP;
    row[base + term] = 1;
    row[base + term + 1] = x / 100 * (plane ? cos(diameter * RAD) : 1);
    row[base + term + 2] = plane ? x / 100 * sin(diameter * RAD) : 0;
    for (int i = 0; i < base + w->nscan_terms; i++)
        for (int j = 0; j < base + w->nscan_terms && row[i] != 0; j++)
            w->normal[i + j * MOST] += row[i] * row[j] / (sigma * sigma);
}

/* Number of the scan's piston: its own, or that of the first scan of its setting. */
static int term_of(const fw_job *job, int scan)
{
    const fw_scan *s = &job->scans[scan];
    for (int k = 0; k < scan && job->levelling == FW_LEVELLING_SETUP; k++) {
        const fw_scan *o = &job->scans[k];
        if (o->round == s->round && o->bottom == s->bottom && o->top == s->top &&
            fabs(remainder(o->turn_deg - s->turn_deg, 360)) < 0.03)
            return 3 * k;
    }
    return 3 * scan;
}

/* The mean variance over the flats' areas with a pairing read besides (bottom < 0: none). */
static double dense_score(worked *w, int bottom, int top, double turn, double *u)
{
    const fw_job *job = w->s.job;
    bool plane = job->levelling == FW_LEVELLING_SETUP;
    int base = (w->nfaces + w->nflats) * w->nterms;
    w->nscan_terms = 3 * ((int)job->nscans + w->next->ndiameters);
    int size = base + w->nscan_terms;
    assert_true(size <= MOST);
    for (int i = 0; i < MOST * MOST; i++)
        w->normal[i] = 0;
    for (size_t i = 0; i < job->nreadings; i++) {
        const fw_reading *r = &job->readings[i];
        const fw_scan *s = &job->scans[r->scan];
        observe(w, s->bottom, fw_job_state(job, s->bottom, s->round), s->top,
                fw_job_state(job, s->top, s->round), s->turn_deg, s->diameter_deg, r->position_mm,
                term_of(job, r->scan), sqrt(w->variance) * r->sigma_nm, false);
    }
    for (int k = 0; k < w->next->ndiameters && bottom >= 0; k++)
        for (int i = 0; i < w->next->nstations; i++)
            observe(w, bottom, today(job, bottom), top, today(job, top), turn,
                    w->next->diameters_deg[k], w->next->stations_mm[i],
                    3 * ((int)job->nscans + (plane ? 0 : k)), w->next->sigma_nm, true);
    for (int i = 0; i < size; i++) { /* prior on the terms; terms of no scan stand by themselves */
        double *d = &w->normal[i * (MOST + 1)];
        *d = i < base ? *d + w->nterms / (job->prior_nm * job->prior_nm) : *d > 0 ? *d : 1;
    }
    assert_int_equal(LAPACKE_dpotrf(LAPACK_COL_MAJOR, 'U', size, w->normal, MOST), 0);
    assert_int_equal(LAPACKE_dpotri(LAPACK_COL_MAJOR, 'U', size, w->normal, MOST), 0);
    double mean = 0;
    for (int f = 0; f < w->nflats; f++) {
        double sum = 0;
        int face = block_of(w, f, today(job, f));
        for (int j = face * w->nterms; j < (face + 1) * w->nterms; j++)
            sum += w->normal[j * (MOST + 1)];
        u[f] = sqrt(sum);
        mean += sum / w->nflats;
    }
    return mean;
}

static double even(gsl_rng *g, double low, double high)
{
    return low + (high - low) * gsl_rng_uniform(g);
}

/* Diameters at odd angles, stations that never meet; in half the sets one flat was worked. */
static void make(worked *w, unsigned long seed)
{
    double angles[5], at[16], turns[TURNS];
    int scan = 0;
    sim_init(&w->s, 3, 200, seed);
    gsl_rng *g = w->s.rng;
    w->s.sigma_nm = w->s.stated_nm = even(g, 1, 4);
    w->s.job->model = FW_MODEL_SURFACE;
    w->s.job->levelling = seed % 3 == 0 ? FW_LEVELLING_SETUP : FW_LEVELLING_SCAN;
    w->s.level_nm = seed % 3 == 0 ? 0 : 300;
    for (int f = 0; f < 3; f++)
        w->s.job->flats[f].clear_mm = seed % 2 ? 200 : 180 + 5 * f;
    w->s.job->nturns = TURNS;
    w->s.job->turns_deg = malloc(sizeof turns);
    for (int k = 0; k < TURNS; k++)
        w->s.job->turns_deg[k] = 90 * k + even(g, 3, 87);
    int nd = 3 + (int)gsl_rng_uniform_int(g, 3), n = 9 + (int)gsl_rng_uniform_int(g, 6);
    for (int k = 0; k < nd; k++)
        angles[k] = 180.0 * k / nd + even(g, 0, 100.0 / nd);
    for (int round = 1; round <= 1 + (int)(seed % 2); round++) {
        for (int pair = 0; pair < (round == 1 ? 4 : 1 + (int)(seed % 4) / 2); pair++)
            for (int k = 0; k < nd; k++, scan++) {
                for (int i = 0; i < n; i++)
                    at[i] = -97 + 194.0 * i / (n - 1) + 2.6 * sin(1.1 * scan + 0.7 * i);
                sim_scan(&w->s, round, pair % 3, (pair + 1) % 3, pair == 3 ? 47 : 0, angles[k], n,
                         at);
            }
        if (round == 1 && seed % 2)
            sim_work(&w->s, 1, (int)(seed / 2) % 3, 0.5);
    }
}

static void release(worked *w)
{
    fw_next_free(w->next);
    fw_result_free(w->result);
    sim_release(&w->s);
    free(w);
}

/* Every candidate's score, and that the first is the best of all ordered pairs at every turn. */
static void against_dense(void **state)
{
    (void)state;
    int compared = 0, unread = 0;
    for (unsigned long seed = 1; seed <= 12; seed++) {
        worked *w = calloc(1, sizeof *w);
        double u[3], best = INFINITY;
        assert_non_null(w);
        make(w, seed);
        assert_int_equal(fw_solve(w->s.job, NULL, &w->result, NULL), FW_OK);
        assert_int_equal(fw_next_pairing(w->result, &w->next, NULL), FW_OK);
        w->model = w->result->adjustment->surface;
        assert_non_null(w->model);
        w->variance = w->result->adjustment->variance;
        w->nterms = (w->model->highest + 1) * (w->model->highest + 2) / 2 - 3;
        w->nfaces = w->result->adjustment->net->nfaces;
        w->nflats = 3;
        assert_close(w->next->score_nm2, dense_score(w, -1, 0, 0, u), 1e-5, 0);
        for (int f = 0; f < 3; f++) {
            assert_close(w->next->u_nm[f], u[f], 1e-5, 0);
            unread += block_of(w, f, today(w->s.job, f)) >= w->nfaces;
        }
        assert_true(w->next->ncandidates >= 3 * TURNS);
        for (int i = 0; i < w->next->ncandidates; i++, compared++) {
            const fw_candidate *c = &w->next->candidates[i];
            double score = dense_score(w, c->bottom, c->top, c->turn_deg, u);
            assert_close(c->score_after_nm2, score, 1e-5, 0);
            for (int f = 0; f < 3; f++)
                assert_close(c->u_after_nm[f], u[f], 1e-5, 0);
        }
        for (int b = 0; b < 3; b++)
            for (int t = 0; t < 3; t++)
                for (int k = 0; k < TURNS && b != t; k++)
                    best = fmin(best, dense_score(w, b, t, w->s.job->turns_deg[k], u));
        assert_close(w->next->candidates[0].score_after_nm2, best, 1e-5, 0);
        release(w);
    }
    print_message("%d scores as those of the dense system; %d flats not read today\n", compared,
                  unread);
    assert_true(compared > 100 && unread > 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(against_dense)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
