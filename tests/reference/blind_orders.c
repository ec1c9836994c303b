/* blind_orders.c - what a turned pairing shows, order by order, and how well: published rules by rank. */
#include <gsl/gsl_multifit.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "../support/close.h"
#include "../support/simulate.h"
#include "adjust/profile.h"
#include "adjust/spread.h"
#include "adjust/surface_angles.h"
#include "flatwright/mating.h"

enum { STATIONS = 9, RINGS = 4 };

/* Three unturned pairs on a fan, and AB turned so often (NAN: not). */
static adjustment *read_fan(sim *s, int ndiam, double turn)
{
    adjustment *a = NULL;
    fw_error err = {0};
    double x[STATIONS];
    sim_init(s, 3, 200, 3);
    sim_stations(STATIONS, 90, x);
    for (int i = 0; i < 3; i++)
        sim_fan(s, 1, i, (i + 1) % 3, 0, ndiam, STATIONS, x);
    if (!isnan(turn))
        sim_fan(s, 1, 0, 1, turn, ndiam, STATIONS, x);
    if (adjustment_new(s->job, 0, NULL, &a, &err))
        fail_msg("%s", err.text);
    return a;
}

static void ring_spread(adjustment *a, int face, class_spread *out)
{
    for (int c = 0; c < a->net->nclasses; c++)
        if (!a->net->classes[c].centre) {
            assert_int_equal(a->net->classes[c].nrings, RINGS);
            assert_int_equal(class_spread_new(a, c, (contrast){face, -1}, SPREAD_COVARIANCE, out,
                                              NULL),
                             FW_OK);
        }
}

/* Angle of a ring's point. */
static double angle_of(const adjustment *a, const class_spread *s, int i)
{
    return (a->net->angles_deg[s->angle[i]] + (s->sign[i] < 0 ? 180 : 0)) * FW_RAD;
}

/* Part of sin k theta that the undetermined patterns of a ring cannot make up. */
static double outside(const adjustment *a, const class_spread *s, int k)
{
    size_t n = (size_t)s->n, p = (size_t)s->nnull;
    double chi, all = 0;
    if (p == 0)
        return 1;
    gsl_matrix *x = gsl_matrix_alloc(n, p), *cov = gsl_matrix_alloc(p, p);
    gsl_vector *y = gsl_vector_alloc(n), *c = gsl_vector_alloc(p);
    gsl_multifit_linear_workspace *work = gsl_multifit_linear_alloc(n, p);
    for (size_t i = 0; i < n; i++) {
        double value = sin(k * angle_of(a, s, (int)i));
        gsl_vector_set(y, i, value);
        all += value * value;
        for (size_t j = 0; j < p; j++)
            gsl_matrix_set(x, i, j, s->null[i + j * n]);
    }
    gsl_multifit_linear(x, y, c, cov, &chi, work);
    gsl_multifit_linear_free(work);
    gsl_matrix_free(x);
    gsl_matrix_free(cov);
    gsl_vector_free(y);
    gsl_vector_free(c);
    return sqrt(chi / all);
}

/*
 * A turn phi is blind to order k when k phi is a multiple of 360 deg (Evans & Kestner, Appl. Opt. 35,
 * 1015, 1996, abstract): 90: 4, 8; 120: 3, 6, 9; 60: 6; 180: all even ones; no turn: all of them. The
 * pattern is A = B = C = f(r) sin k theta (derived). On 12 diameters the orders 1 to 11 have a sine.
 */
static void blind_orders(void **state)
{
    (void)state;
    static const struct {
        double turn;
        int order[12];
    } table[] = {{90, {4, 8}},
                 {120, {3, 6, 9}},
                 {60, {6}},
                 {180, {2, 4, 6, 8, 10}},
                 {15, {0}},
                 {30, {0}},
                 {240, {3, 6, 9}},
                 {270, {4, 8}},
                 {NAN, {1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11}}};
    for (size_t t = 0; t < sizeof table / sizeof *table; t++) {
        sim s;
        adjustment *a = read_fan(&s, 12, table[t].turn);
        int count = 0, odd = 0;
        bool blind[12] = {false};
        for (; count < 11 && table[t].order[count]; count++) {
            blind[table[t].order[count]] = true;
            odd += table[t].order[count] % 2;
        }
        for (int face = 0; face < 3; face++) {
            class_spread spread = {0};
            ring_spread(a, face, &spread);
            assert_int_equal(spread.nnull, count);
            for (int k = 1; k < 12; k++)
                assert_close(outside(a, &spread, k), blind[k] ? 0 : 1, 0, 1e-9);
            class_spread_release(&spread);
        }
        /*
         * And by rank: 3 + 3N pistons and tilts, a pattern for every ring and blind order; of odd orders
         * the one that grows with r is a tilt of its diameters already. Derived.
         */
        assert_int_equal(a->unknowns - a->rank, 3 + 3 * 12 + RINGS * count - odd);
        adjustment_free(a);
        sim_release(&s);
    }
}

static int gcd(int a, int b)
{
    return b ? gcd(b, a % b) : a;
}

/* A fan of N diameters, AB turned by j 180/N: all is determined if and only if gcd(j, 2N) is 1 or 2. */
static void fan_rule(void **state)
{
    (void)state;
    for (int n = 1; n <= 9; n++)
        for (int j = 0; j < 2 * n; j++) {
            sim s;
            adjustment *a = read_fan(&s, n, 180.0 * j / n);
            int g = gcd(j, 2 * n);
            for (int face = 0; face < 3; face++) {
                fw_profile p = {0};
                assert_int_equal(profile_new(a, (contrast){face, -1}, &p, NULL), FW_OK);
                assert_int_equal(p.determined, g == 1 || g == 2);
                profile_release(&p);
            }
            adjustment_free(a);
            sim_release(&s);
        }
}

/* Variance of a Fourier coefficient of a flat on a ring, over that of one interferogram. */
static double gain(adjustment *a, int face, int k, bool sine)
{
    class_spread s = {0};
    double sum = 0;
    ring_spread(a, face, &s);
    for (int i = 0; i < s.n; i++)
        for (int j = 0; j < s.n; j++) {
            double ti = angle_of(a, &s, i), tj = angle_of(a, &s, j);
            sum += (sine ? sin(k * ti) * sin(k * tj) : cos(k * ti) * cos(k * tj)) *
                   s.k[i + (size_t)j * s.n];
        }
    /* weights 2 / M cos or sin on M points, M / 2 of unit variance: 2 / M for one interferogram */
    sum *= 2.0 / s.n;
    class_spread_release(&s);
    return sum;
}

/*
 * Noise gain of one Fourier order with AB turned too, S = sin^2(k phi / 2), no piston or tilt (derived):
 * odd part of C 1/4 + 1/(2S), of A and B less (S + 2)/(4S + 5); even part of C 3/4, of A and B
 * 3/4 - 3S/(4S + 5). Where the turn is blind, S = 0, AB is just read twice: 5/8 of each even part.
 */
static void noise_gains(void **state)
{
    (void)state;
    static const double turn[] = {15, 45, 90, 105, 180};
    int checked = 0;
    for (size_t t = 0; t < sizeof turn / sizeof *turn; t++) {
        sim s;
        adjustment *a = read_fan(&s, 12, turn[t]);
        for (int k = 1; k < 12; k++) {
            double big = pow(sin(k * turn[t] * FW_RAD / 2), 2);
            double even = 0.75 - 3 * big / (4 * big + 5);
            if (big < 1e-9) {
                for (int face = 0; face < 3; face++)
                    assert_close(gain(a, face, k, false), 0.625, 1e-10, 0);
                continue;
            }
            assert_close(gain(a, 2, k, false), 0.75, 1e-10, 0);
            assert_close(gain(a, 0, k, false), even, 1e-10, 0);
            assert_close(gain(a, 1, k, false), even, 1e-10, 0);
            double odd = 0.25 + 1 / (2 * big);
            assert_close(gain(a, 2, k, true), odd, 1e-10, 0);
            assert_close(gain(a, 0, k, true), odd - (big + 2) / (4 * big + 5), 1e-10, 0);
            assert_close(gain(a, 1, k, true), odd - (big + 2) / (4 * big + 5), 1e-10, 0);
            checked++;
        }
        adjustment_free(a);
        sim_release(&s);
    }
    assert_true(checked > 40);
}

/*
 * The same rule for surfaces: a turn is blind to order k when k times it is a whole circle. Evans and
 * Kestner, Appl. Opt. 35, 1015 (1996), abstract: 90 deg to 4, 8, ..; 120 to 3, 6, ..; 60 to 6; 180 to
 * the even ones. 47 deg: to none up to 40 (derived).
 */
static void surfaces_are_blind(void **state)
{
    static const double turns[] = {90, 120, 60, 180, 47, 0, NAN};
    (void)state;
    for (int t = 0; t < 7; t++) {
        sim s;
        adjustment *a = read_fan(&s, 4, turns[t]);
        for (int k = 0; k <= 40; k++) {
            int d = -1;
            bool whole = isnan(turns[t]) || fabs(remainder(k * turns[t], 360)) < 1e-9;
            assert_int_equal(surface_angles(a->net, k, NULL, NULL, NULL, &d, NULL), FW_OK);
            assert_int_equal(d, k > 0 && whole);
        }
        adjustment_free(a);
        sim_release(&s);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(blind_orders),
        cmocka_unit_test(fan_rule),
        cmocka_unit_test(noise_gains),
        cmocka_unit_test(surfaces_are_blind),
    };
    return cmocka_run_group_tests_name("blind_orders", tests, NULL, NULL);
}
