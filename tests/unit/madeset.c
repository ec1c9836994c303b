/* madeset.c - made-up flats looked at whole: size, datum and wear against a fit of its own. */
#include <gsl/gsl_multifit.h>
#include <math.h>

#include "../support/close.h"
#include "../support/refuse.h"
#include "../support/simulate.h"
#include "flatwright/basis.h"
#include "flatwright/mating.h"
#include "shop/madeset.h"

enum { NODES = 160, AROUND = 40, N = NODES * AROUND, ROUND = 2, FLATS = 3 };

/* Flat B has a hole, C was worked in round 1. */
static void begin(sim *s, madeset *set, fw_measure measure, unsigned long seed)
{
    sim_init(s, FLATS, 200, seed);
    s->job->measure = measure;
    s->job->flatness_nm = 20;
    for (int f = 0; f < FLATS; f++)
        s->job->flats[f].clear_mm = 190;
    s->job->flats[1].bore_mm = 40;
    sim_work(s, 1, 2, 0.2);
    s->job->work[0].method = FW_LAP_ON_TOP;
    gsl_rng_set(s->rng, seed);
    assert_int_equal(madeset_draw(set, s->job, seed, s->rng, NULL), FW_OK);
}

static void end(sim *s, madeset *set)
{
    madeset_release(set);
    sim_release(s);
}

/* A face on nodes of Gauss's rule in r^2: heights, and what is left of them on the datum. */
typedef struct face {
    double r[N], theta[N], weight[N], h[N], left[N];
    double c[4]; /* 1, x, y and, where it is fitted, r^2; in mm */
    double rms, pv;
} face;

static double term(int k, double r, double theta)
{
    return k == 0 ? 1 : k == 1 ? r * cos(theta) : k == 2 ? r * sin(theta) : r * r;
}

static void look(const sim *s, const madeset *set, int flat, int terms, face *all)
{
    double t[NODES], w[NODES], removed[N] = {0}, chi;
    double low = pow(s->job->flats[flat].bore_mm / 2, 2);
    double high = pow(s->job->flats[flat].clear_mm / 2, 2), top = -INFINITY, bottom = INFINITY;
    int round[N];
    fw_gauss(NODES, t, w);
    for (int i = 0; i < N; i++) {
        int node = i / AROUND;
        all->r[i] = sqrt(0.5 * (low + high) + 0.5 * (high - low) * t[node]);
        all->theta[i] = 2 * acos(-1) * (i % AROUND) / AROUND;
        all->weight[i] = w[node] / 2 / AROUND;
        round[i] = ROUND;
    }
    assert_int_equal(hand_removed(&set->hand, s->job, flat, N, all->r, all->theta, round, removed,
                                  NULL), FW_OK);
    gsl_matrix *a = gsl_matrix_alloc(N, (size_t)terms);
    gsl_matrix *cov = gsl_matrix_alloc((size_t)terms, (size_t)terms);
    gsl_vector *c = gsl_vector_alloc((size_t)terms);
    gsl_multifit_linear_workspace *work = gsl_multifit_linear_alloc(N, (size_t)terms);
    for (int i = 0; i < N; i++) {
        all->h[i] = madeup_height(&set->flats[flat], all->theta[i] / FW_RAD, all->r[i]) -
                    removed[i];
        for (int k = 0; k < terms; k++)
            gsl_matrix_set(a, (size_t)i, (size_t)k, term(k, all->r[i], all->theta[i]));
    }
    gsl_vector_view weight = gsl_vector_view_array(all->weight, N);
    gsl_vector_view h = gsl_vector_view_array(all->h, N);
    assert_int_equal(gsl_multifit_wlinear(a, &weight.vector, &h.vector, c, cov, &chi, work), 0);
    for (int k = 0; k < terms; k++)
        all->c[k] = gsl_vector_get(c, (size_t)k);
    for (int i = 0; i < N; i++) {
        all->left[i] = all->h[i];
        for (int k = 0; k < terms; k++)
            all->left[i] -= all->c[k] * term(k, all->r[i], all->theta[i]);
        top = fmax(top, all->left[i]);
        bottom = fmin(bottom, all->left[i]);
    }
    all->rms = sqrt(chi);
    all->pv = top - bottom;
    gsl_multifit_linear_free(work);
    gsl_matrix_free(a);
    gsl_matrix_free(cov);
    gsl_vector_free(c);
}

/* Sizes as they are told, by every measure; those not worked lie between 0.5 and 15 targets. */
static void sizes(void **state)
{
    static face all;
    (void)state;
    for (unsigned long seed = 1; seed <= 6; seed++)
        for (int measure = FW_MEASURE_PV; measure <= FW_MEASURE_IRREGULARITY; measure++) {
            sim s;
            madeset set;
            begin(&s, &set, (fw_measure)measure, seed);
            for (int f = 0; f < FLATS; f++) {
                double size;
                assert_int_equal(madeset_size(&set, s.job, f, ROUND, &size, NULL), FW_OK);
                look(&s, &set, f, measure == FW_MEASURE_IRREGULARITY ? 4 : 3, &all);
                assert_close(size, measure == FW_MEASURE_RMS ? all.rms : all.pv, 0.02, 0);
                if (f != 2)
                    assert_true(size > 0.5 * 20 * 0.97 && size < 15 * 20 * 1.03);
            }
            end(&s, &set);
        }
}

/* Heights along two diameters on the plane that fits the face best; the worked flat in its round. */
static void heights_on_the_plane(void **state)
{
    enum { STATIONS = 9 };
    static face all;
    fw_point points[2][STATIONS] = {{{0}}};
    fw_diameter diameters[2] = {{0, true, STATIONS, points[0]}, {60, true, STATIONS, points[1]}};
    fw_profile profile = {.ndiameters = 2, .diameters = diameters};
    sim s;
    madeset set;
    (void)state;
    begin(&s, &set, FW_MEASURE_PV, 4);
    for (int round = 1; round <= ROUND; round++)
        for (int f = 0; f < FLATS; f++) {
            for (int i = 0; i < 2 * STATIONS; i++)
                points[i / STATIONS][i % STATIONS].position_mm = -92 + 23.0 * (i % STATIONS);
            assert_int_equal(madeset_profile(&set, s.job, f, round, &profile, NULL), FW_OK);
            if (round == 1 && f == 2) /* the fit below is of round 2 */
                continue;
            look(&s, &set, f, 3, &all);
            for (int i = 0; i < 2 * STATIONS; i++) {
                const fw_point *p = &points[i / STATIONS][i % STATIONS];
                double angle = diameters[i / STATIONS].angle_deg, x = p->position_mm;
                double r = fabs(x), theta = angle * FW_RAD + (x < 0 ? acos(-1) : 0), removed = 0;
                assert_int_equal(hand_removed(&set.hand, s.job, f, 1, &r, &theta, &round, &removed,
                                              NULL), FW_OK);
                double want = madeup_height(&set.flats[f], theta / FW_RAD, r) - removed;
                for (int k = 0; k < 3; k++)
                    want -= all.c[k] * term(k, r, theta);
                assert_close(p->height_nm, want, 2e-3, 0.05);
                assert_true(f == 2 ? round == 1 || removed > 0 : removed == 0);
            }
        }
    end(&s, &set);
}

/* Everything that is asked of a set, with every request for memory refused. */
typedef struct asked {
    sim *s;
    fw_profile *profile;
} asked;

static fw_status ask(void *data, fw_error *err)
{
    const asked *a = data;
    madeset set;
    double size = -1;
    gsl_rng_set(a->s->rng, 4);
    fw_status status = madeset_draw(&set, a->s->job, 4, a->s->rng, err);
    if (!status)
        status = madeset_size(&set, a->s->job, 2, ROUND, &size, err);
    assert_true(status || size > 0);
    if (!status)
        status = madeset_profile(&set, a->s->job, 2, ROUND, a->profile, err);
    if (!status)
        status = madeset_read(&set, a->s->job, true, 10, a->s->rng, err);
    madeset_release(&set);
    return status;
}

static void no_memory(void **state)
{
    fw_point points[2] = {{.position_mm = -50}, {.position_mm = 50}};
    fw_diameter diameter = {0, true, 2, points};
    fw_profile profile = {.ndiameters = 1, .diameters = &diameter};
    double at[] = {-50, 50};
    sim s;
    madeset set;
    (void)state;
    begin(&s, &set, FW_MEASURE_RMS, 4);
    sim_scan(&s, ROUND, 0, 2, 0, 0, 2, at);
    asked a = {&s, &profile};
    assert_true(refuse_each(ask, &a, FW_OK, REFUSE_SPARE_NONE) > 30);
    end(&s, &set);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(sizes),
                                       cmocka_unit_test(heights_on_the_plane),
                                       cmocka_unit_test(no_memory)};
    return cmocka_run_group_tests_name("madeset", tests, NULL, NULL);
}
