/* next_surface.c - what to read next of surfaces, against one dense covariance of all their terms. */
#include <math.h>
#include <stdlib.h>

#include "../support/close.h"
#include "../support/faces.h"
#include "flatwright/lstsq.h"
#include "flatwright/mating.h"
#include "flatwright/next.h"

enum { ORDER = 3, TERMS = 7, FACES = 4, SCANS_MAX = 70, ROWS_MAX = 600 };

/* Unknowns: terms of A before and after work, B, C; a line for every scan. Rows weighed by 1/sigma. */
typedef struct plan {
    const fw_basis *basis;
    int rows, scans;
    double a[ROWS_MAX][FACES * TERMS + 2 * SCANS_MAX];
} plan;

static void add_reading(plan *p, int bottom, int top, double turn, double diameter, double at,
                        double sigma)
{
    int face[2] = {bottom, top};
    double angle[2] = {diameter * FW_RAD, (turn - diameter) * FW_RAD};
    double *row = p->a[p->rows++];
    assert_true(p->rows < ROWS_MAX && p->scans <= SCANS_MAX);
    for (int side = 0; side < 2; side++)
        for (int j = 0; j < TERMS; j++)
            row[face[side] * TERMS + j] =
                fw_basis_value(p->basis, j, at / FACES_CLEAR_MM, angle[side]) / sigma;
    row[FACES * TERMS + 2 * (p->scans - 1)] = 1 / sigma;
    row[FACES * TERMS + 2 * (p->scans - 1) + 1] = at / 100 / sigma;
}

/* Face of today's flat: A's second state comes last but first among today's. */
static int face_of(int flat, int round)
{
    return flat == 0 ? round == 1 ? 0 : 1 : flat + 1;
}

static void add_job(plan *p, const fw_job *job)
{
    for (size_t k = 0; k < job->nscans; k++) {
        const fw_scan *s = &job->scans[k];
        p->scans++;
        for (size_t i = s->first; i < s->first + s->count; i++)
            add_reading(p, face_of(s->bottom, s->round), face_of(s->top, s->round), s->turn_deg,
                        s->diameter_deg, job->readings[i].position_mm, job->readings[i].sigma_nm);
    }
}

static void add_candidate(plan *p, const fw_next *next, const fw_candidate *c, double times)
{
    for (int d = 0; d < next->ndiameters; d++) {
        p->scans++;
        for (int i = 0; i < next->nstations; i++)
            add_reading(p, face_of(c->bottom, 2), face_of(c->top, 2), c->turn_deg,
                        next->diameters_deg[d], next->stations_mm[i], next->sigma_nm / sqrt(times));
    }
}

/* u2 (today's flats) <- variance, mean over the area: the basis is orthonormal there. */
static void variances(const plan *p, double prior_nm, double u2[3])
{
    int n = FACES * TERMS + 2 * p->scans, m = p->rows + FACES * TERMS;
    double *a = calloc((size_t)m * (size_t)n, sizeof *a), *b = calloc((size_t)m, sizeof *b);
    double *x = calloc((size_t)n, sizeof *x), *q = calloc((size_t)n * (size_t)n, sizeof *q);
    for (int i = 0; i < p->rows; i++)
        for (int j = 0; j < n; j++)
            a[i + (size_t)j * (size_t)m] = p->a[i][j];
    for (int j = 0; j < FACES * TERMS; j++)
        a[p->rows + j + (size_t)j * (size_t)m] = sqrt(TERMS) / prior_nm;
    assert_int_equal(fw_lstsq(m, n, a, b, 0, x, q, NULL, NULL, NULL), FW_OK);
    for (int f = 0; f < 3; f++) {
        u2[f] = 0;
        for (int j = (f + 1) * TERMS; j < (f + 2) * TERMS; j++)
            u2[f] += q[(size_t)j * ((size_t)n + 1)];
    }
    free(a);
    free(b);
    free(x);
    free(q);
}

static void read_rounds(sim *s)
{
    static const double angles[] = {7, 43, 75, 116, 151}, at[] = {-91, -60, -23, 3, 42, 88};
    static const double turns[] = {0, 0, 0, 47};
    for (int round = 1; round <= 2; round++) {
        for (int pair = 0; pair < (round == 1 ? 4 : 2); pair++)
            for (int k = 0; k < 5; k++)
                sim_scan(s, round, pair % 3, (pair + 1) % 3, turns[pair], angles[k], 6, at);
        if (round == 1)
            sim_work(s, 1, 0, 0.5);
    }
}

static void of_surfaces(void **state)
{
    (void)state;
    faces f;
    sim s;
    static plan p, with;
    double u2[3];
    fw_result *r = NULL;
    fw_next *next = NULL;
    sim_init(&s, 3, 2 * FACES_CLEAR_MM, 8);
    faces_make(&f, ORDER, 20, s.rng);
    s.truth = faces_height;
    s.context = &f;
    s.sigma_nm = 0.5; /* too well to be enlarged */
    s.stated_nm = 2;
    s.job->flatness_nm = 4;
    s.job->prior_nm = 300;
    read_rounds(&s);
    fw_solve_options options = {FW_MODEL_SURFACE, ORDER};
    assert_int_equal(fw_solve(s.job, &options, &r, NULL), FW_OK);
    assert_int_equal(fw_next_pairing(r, &next, NULL), FW_OK);
    assert_int_equal(f.basis->nterms, TERMS);
    p.basis = f.basis;
    add_job(&p, s.job);
    variances(&p, next->prior_nm, u2);
    assert_close(next->sigma_nm, 2, 1e-12, 0);
    assert_close(next->score_nm2, (u2[0] + u2[1] + u2[2]) / 3, 1e-8, 0);
    for (int flat = 0; flat < 3; flat++)
        assert_close(next->u_nm[flat], sqrt(u2[flat]), 1e-8, 0);
    assert_true(next->ncandidates > 5);
    for (int k = 0; k < next->ncandidates; k += 2) {
        const fw_candidate *c = &next->candidates[k];
        with = p;
        add_candidate(&with, next, c, 1);
        variances(&with, next->prior_nm, u2);
        assert_close(c->score_after_nm2, (u2[0] + u2[1] + u2[2]) / 3, 1e-8, 0);
        for (int flat = 0; flat < 3; flat++)
            assert_close(c->u_after_nm[flat], sqrt(u2[flat]), 1e-8, 0);
    }
    assert_true(next->enough.possible && next->enough.nrepeats > 0);
    with = p;
    for (int k = 0; k < next->enough.nrepeats; k++)
        add_candidate(&with, next, &next->candidates[next->enough.repeats[k].candidate],
                      next->enough.repeats[k].times);
    variances(&with, next->prior_nm, u2);
    for (int flat = 0; flat < 3; flat++)
        assert_close(next->enough.u_nm[flat], sqrt(u2[flat]), 1e-8, 0);
    fw_next_free(next);
    fw_result_free(r);
    fw_basis_free(f.basis);
    sim_release(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(of_surfaces)};
    return cmocka_run_group_tests_name("next_surface", tests, NULL, NULL);
}
