/* threeflat.c - the published rules of the three-flat test: heights, variances, powers, fringes. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "../support/close.h"
#include "../support/folder.h"
#include "../support/simulate.h"
#include "adjust/spread.h"
#include "flatwright/mating.h"
#include "flatwright/result.h"

static adjustment *adjust(const fw_job *job)
{
    adjustment *a = NULL;
    fw_error err = {0};
    if (adjustment_new(job, 0, NULL, &a, &err))
        fail_msg("%s", err.text);
    return a;
}

/* The one class of rings off the centre. */
static int ring_class(const adjustment *a)
{
    int found = -1;
    for (int c = 0; c < a->net->nclasses; c++)
        if (!a->net->classes[c].centre) {
            assert_int_equal(found, -1);
            found = c;
        }
    assert_true(found >= 0);
    return found;
}

/* Variance of the height of a flat (less that of another, -1: none) at +s, terms known. */
static double variance(adjustment *a, int plus, int minus)
{
    class_spread s = {0};
    assert_int_equal(class_spread_new(a, ring_class(a), (contrast){plus, minus},
                                      SPREAD_COVARIANCE, &s, NULL),
                     FW_OK);
    assert_int_equal(s.n, 2);
    assert_int_equal(s.nnull, 0);
    assert_close(s.k[1], 0, 0, 1e-12); /* the two ends of a diameter know nothing of each other */
    assert_close(s.k[3], s.k[0], 1e-12, 0);
    double v = s.k[0];
    class_spread_release(&s);
    return v;
}

/* Three pairs, one diameter, each pair read so often. */
static adjustment *read_pairs(sim *s, int ab, int bc, int ca, double sigma)
{
    const int times[3] = {ab, bc, ca};
    double x[9];
    sim_init(s, 3, 200, 2);
    s->sigma_nm = s->stated_nm = sigma;
    sim_stations(9, 80, x);
    for (int i = 0; i < 3; i++)
        for (int k = 0; k < times[i]; k++)
            sim_fan(s, 1, i, (i + 1) % 3, 0, 1, 9, x);
    return adjust(s->job);
}

/*
 * A = (AB + CA - BC)/2 and cyclic (Ingalls, Amateur Telescope Making I). Before the datum the covariance
 * is 1/4 [3 -1 -1; -1 3 -1; -1 -1 3] s^2 (derived).
 */
static void covariance_of_the_rule(void **state)
{
    (void)state;
    const double sigma = 1.7;
    sim s;
    adjustment *a = read_pairs(&s, 1, 1, 1, sigma);
    for (int i = 0; i < 3; i++) {
        double v = variance(a, i, -1), w = variance(a, (i + 1) % 3, -1),
               between = variance(a, i, (i + 1) % 3);
        assert_close(sqrt(v), sqrt(3) / 2 * sigma, 1e-13, 0);
        assert_close((v + w - between) / 2, -0.25 * sigma * sigma, 1e-12, 0);
    }
    adjustment_free(a);
    sim_release(&s);
}

/* Takes the straight line off n equally weighted values. */
static void level(int n, const double *x, double *y)
{
    double mean = 0, slope = 0, arm = 0;
    for (int i = 0; i < n; i++) {
        mean += y[i] / n;
        slope += x[i] * y[i];
        arm += x[i] * x[i];
    }
    for (int i = 0; i < n; i++)
        y[i] -= mean + slope / arm * x[i];
}

/* The rule station by station, put on the datum by hand; u = s sqrt(3)/2 times what the line leaves. */
static void heights_of_the_rule(void **state)
{
    (void)state;
    enum { N = 9 };
    const double sigma = 2.5;
    sim s;
    fw_result *r = NULL;
    double arm = 0;
    adjustment_free(read_pairs(&s, 1, 1, 1, sigma));
    const fw_reading *d[3] = {s.job->readings, s.job->readings + N,
                              s.job->readings + 2 * N}; /* AB BC CA */
    assert_int_equal(fw_solve(s.job, NULL, &r, NULL), FW_OK);
    for (int i = 0; i < N; i++)
        arm += d[0][i].position_mm * d[0][i].position_mm;
    for (int flat = 0; flat < 3; flat++) {
        double x[N], h[N];
        for (int i = 0; i < N; i++) {
            x[i] = d[0][i].position_mm;
            h[i] = (d[flat][i].deviation_nm + d[(flat + 2) % 3][i].deviation_nm -
                    d[(flat + 1) % 3][i].deviation_nm) /
                   2;
        }
        level(N, x, h);
        assert_int_equal(r->faces[flat].profile.diameters[0].npoints, N);
        for (int i = 0; i < N; i++) {
            const fw_point *p = &r->faces[flat].profile.diameters[0].points[i];
            assert_close(p->position_mm, x[i], 0, 1e-12);
            assert_close(p->height_nm, h[i], 0, 1e-10);
            assert_close(p->u_nm, sigma * sqrt(0.75 * (1 - 1.0 / N - x[i] * x[i] / arm)), 1e-11, 0);
        }
    }
    fw_result_free(r);
    sim_release(&s);
}

/* Power from three pairs, with AB read twice, and all read twice: 0.8660, 0.7906, 0.6124 (derived). */
static void repeated_pairs(void **state)
{
    (void)state;
    static const struct {
        int ab, bc, ca;
        double want;
    } table[] = {{1, 1, 1, 0.8660},
                 {2, 1, 1, 0.7906},
                 {1, 2, 1, 0.7906},
                 {1, 1, 2, 0.7906},
                 {2, 2, 2, 0.6124}};
    for (size_t i = 0; i < sizeof table / sizeof *table; i++) {
        sim s;
        adjustment *a = read_pairs(&s, table[i].ab, table[i].bc, table[i].ca, 1);
        for (int flat = 0; flat < 3; flat++)
            assert_close(sqrt(variance(a, flat, -1)), table[i].want, 0, 5e-5);
        adjustment_free(a);
        sim_release(&s);
    }
}

/* A job of powers in fringes: pair i reads power[i] (1 - (s/R)^2) fringes; R the clear radius. */
static fw_job *job_of_powers(const folder *at, const char *light, const char *sigma,
                             const double power[3])
{
    char ini[400], csv[4000] = PLAIN_HEADER;
    size_t used = sizeof PLAIN_HEADER - 1;
    snprintf(ini, sizeof ini, PLAIN_INI "[light]\n%s\n[readings]\nunit = fringe\n%s\n", light,
             sigma);
    for (int i = 0; i < 3; i++)
        for (int k = -4; k <= 4; k++)
            used += (size_t)snprintf(csv + used, sizeof csv - used, "%c,%c,0,0,%d,%.17g\n",
                                     "ABC"[i], "BCA"[i], 25 * k, power[i] * (1 - k * k / 16.0));
    folder_write(at, "job.ini", ini);
    folder_write(at, "readings.csv", csv);
    return folder_job(at);
}

/*
 * Worked signs: AB +1, BC -2, CA +3 fringes of power give A 3, B -2, C 0 (derived). A fringe spacing is
 * half a wavelength of surface (ISO 14999-4), at incidence i lambda / (2 cos i).
 */
static void powers_in_fringes(void **state)
{
    (void)state;
    static const double pairs[3] = {1, -2, 3}, want[3] = {3, -2, 0};
    static const struct {
        const char *light;
        double fringe_nm;
    } lights[] = {{"source = mercury-green", 546.074 / 2},
                  {"wavelength = 632.8191 nm", 632.8191 / 2},
                  {"wavelength = 589.2938 nm\nincidence = 30 deg", 589.2938 / 1.7320508075688772}};
    for (size_t l = 0; l < sizeof lights / sizeof *lights; l++)
        for (int given = 0; given < 2; given++) {
            folder at = folder_make();
            fw_job *job = job_of_powers(&at, lights[l].light, given ? "sigma = 0.001" : "", pairs);
            fw_result *r = NULL;
            assert_int_equal(fw_solve(job, NULL, &r, NULL), FW_OK);
            for (int flat = 0; flat < 3; flat++) {
                const fw_face *f = &r->faces[flat];
                const fw_point *middle = &f->profile.diameters[0].points[4],
                               *rim = &f->profile.diameters[0].points[8];
                double sag = (middle->height_nm - rim->height_nm) / lights[l].fringe_nm;
                assert_close(sag, want[flat], 0, 1e-5);
                assert_close(f->figure.power.value_nm / lights[l].fringe_nm, want[flat], 0,
                             given ? 0.005 : 1e-5);
                if (given) /* the rule's variance, the datum's line off: s.d. in fringes */
                    assert_close(middle->u_nm / lights[l].fringe_nm, 0.001 * sqrt(0.75 * 8 / 9),
                                 1e-5, 0);
            }
            fw_result_free(r);
            fw_job_free(job);
            folder_remove(&at);
        }
}

/*
 * Schulz & Grzanna, Appl. Opt. 31, 3767 (1992), abstract: 3N unknowns for N diameters, from four
 * interferograms. Here of each ring, for the part that both sides have alike and for the other one.
 */
static void three_n_unknowns(void **state)
{
    (void)state;
    for (int n = 1; n <= 9; n++) {
        double x[8];
        sim s;
        factor *f = NULL;
        sim_init(&s, 3, 200, 2);
        sim_stations(8, 80, x);
        for (int i = 0; i < 3; i++)
            sim_fan(&s, 1, i, (i + 1) % 3, 0, n, 8, x);
        sim_fan(&s, 1, 0, 1, 180.0 / n, n, 8, x);
        adjustment *a = adjust(s.job);
        int c = ring_class(a);
        assert_int_equal(a->net->classes[c].nrings, 4);
        assert_int_equal(factors_get(&a->store, c, &f, NULL), FW_OK);
        assert_int_equal(f->nblocks, 2);
        for (int b = 0; b < 2; b++) {
            assert_int_equal(f->blocks[b].m, 4 * n); /* four interferograms */
            assert_int_equal(f->blocks[b].n, 3 * n);
            assert_int_equal(f->blocks[b].rank, 3 * n); /* and all of them are told */
        }
        factors_put(&a->store, c, f);
        adjustment_free(a);
        sim_release(&s);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(covariance_of_the_rule), cmocka_unit_test(heights_of_the_rule),
        cmocka_unit_test(repeated_pairs),         cmocka_unit_test(powers_in_fringes),
        cmocka_unit_test(three_n_unknowns),
    };
    return cmocka_run_group_tests_name("threeflat", tests, NULL, NULL);
}
