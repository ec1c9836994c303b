/* form.c - quantities of a figure: closed forms on disc and line, brute force on the annulus. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <gsl/gsl_rng.h>

#include "../support/close.h"
#include "flatwright/alloc.h"
#include "flatwright/form.h"
#include "flatwright/lstsq.h"

enum { DIAMETERS = 8, STATIONS = 41, FAN = DIAMETERS * STATIONS };

/* A fan of diameters, one point more where 6 rho^4 - 6 rho^2 + 1 is lowest; a line of stations. */
static double fan_rho[FAN + 1], fan_theta[FAN + 1];
static double line_rho[2 * STATIONS], line_theta[2 * STATIONS];

static int set_points(void **state)
{
    (void)state;
    for (int d = 0; d < DIAMETERS; d++)
        for (int i = 0; i < STATIONS; i++) {
            fan_rho[i + d * STATIONS] = (i - 20) / 20.0;
            fan_theta[i + d * STATIONS] = acos(-1) * d / DIAMETERS;
        }
    fan_rho[FAN] = sqrt(0.5);
    for (int i = 0; i < 2 * STATIONS; i++) { /* halves named by theta 0 and pi */
        line_rho[i] = (i % STATIONS) / (STATIONS - 1.0);
        line_theta[i] = i < STATIONS ? 0 : acos(-1);
    }
    return 0;
}

static int find(const fw_basis *basis, int n, int m)
{
    for (int j = 0; j < basis->nterms; j++)
        if (basis->terms[j].n == n && basis->terms[j].m == m)
            return j;
    fail();
    return -1;
}

/* The quantities of one term of a solid disc (points of the fan) or of a whole line. */
static fw_shape of_term(bool line, int n, int m, double coefficient)
{
    fw_basis *basis = NULL;
    fw_form *form = NULL;
    fw_shape shape;
    double c[64] = {0};
    assert_int_equal(fw_basis_new(line, 8, &basis, NULL), FW_OK);
    assert_int_equal(line ? fw_form_new(basis, 0, 2 * STATIONS, line_rho, line_theta, &form, NULL)
                          : fw_form_new(basis, 0, FAN + 1, fan_rho, fan_theta, &form, NULL), FW_OK);
    c[find(basis, n, m)] = coefficient;
    assert_int_equal(fw_form_quantities(form, basis->nterms, c, &shape, NULL), FW_OK);
    fw_form_free(form);
    fw_basis_free(basis);
    return shape;
}

static void check_shape(fw_shape got, double pv, double rms, double power, double irregularity,
                        double symmetric)
{
    assert_close(got.pv_nm, pv, 1e-13, 0);
    assert_close(got.rms_nm, rms, 1e-13, 0);
    assert_close(got.power_nm, power, 1e-13, 1e-13);
    assert_close(got.irregularity_nm, irregularity, 1e-13, 1e-13);
    assert_close(got.symmetric_nm, symmetric, 1e-13, 1e-13);
}

/* Derived: power of sag P, c rho^2 cos 2 theta, c rho^3 cos 3 theta, c (6 rho^4 - 6 rho^2 + 1). */
static void test_unit_disc(void **state)
{
    (void)state;
    const double p = 30, c = 7;
    check_shape(of_term(false, 2, 0, -p / (2 * sqrt(3))), p, p / sqrt(12), p, 0, 0);
    check_shape(of_term(false, 2, 0, p / (2 * sqrt(3))), p, p / sqrt(12), -p, 0, 0);
    check_shape(of_term(false, 2, 2, c / sqrt(6)), 2 * c, c / sqrt(6), 0, 2 * c, 0);
    check_shape(of_term(false, 3, 3, c / sqrt(8)), 2 * c, c / sqrt(8), 0, 2 * c, 0);
    fw_shape round = of_term(false, 4, 0, c / sqrt(5));
    assert_in_range((int)(1e6 * round.symmetric_nm), (int)(1e6 * 1.499 * c), (int)(1.5e6 * c));
    round.symmetric_nm = 0;
    check_shape(round, 1.5 * c, c / sqrt(5), 0, 1.5 * c, 0);
}

/* Derived: c P_2 is power alone; P_3 and P_4 hold none; P_3 is odd, so it has no symmetric part. */
static void test_line(void **state)
{
    (void)state;
    const double c = 7;
    check_shape(of_term(true, 2, 0, c), 1.5 * c, c / sqrt(5), -1.5 * c, 0, 0);
    check_shape(of_term(true, 3, 0, c), 2 * c, c / sqrt(7), 0, 2 * c, 0);
    fw_shape four = of_term(true, 4, 0, c);
    assert_close(four.rms_nm, c / 3, 1e-13, 0);
    assert_close(four.power_nm, 0, 0, 1e-13);
    /* lowest at x^2 = 3/7, which no station hits */
    assert_close(four.pv_nm, 10 * c / 7, 1e-3, 0);
    assert_close(four.irregularity_nm, four.pv_nm, 1e-13, 0);
    assert_close(four.symmetric_nm, 10 * c / 7, 1e-3, 0);
}

/* Sphere and astigmatism together: power and irregularity tell them apart; PV does not add. */
static void test_mixture(void **state)
{
    (void)state;
    fw_basis *basis = NULL;
    fw_form *form = NULL;
    fw_shape shape;
    double c[64] = {0};
    assert_int_equal(fw_basis_new(false, 6, &basis, NULL), FW_OK);
    assert_int_equal(fw_form_new(basis, 0, FAN, fan_rho, fan_theta, &form, NULL), FW_OK);
    c[find(basis, 2, 0)] = -20 / (2 * sqrt(3));
    c[find(basis, 2, -2)] = 3 / sqrt(6);
    assert_int_equal(fw_form_quantities(form, basis->nterms, c, &shape, NULL), FW_OK);
    /* 20 (1/2 - rho^2) + 3 rho^2 sin 2 theta: from -23/2 .. at the rim to 10 at the centre */
    check_shape(shape, 23, sqrt(400.0 / 12 + 1.5), 20, 6, 0);
    fw_form_free(form);
    fw_basis_free(basis);
}

/* The area as many weighted points, exact for the polynomials used. */
typedef struct cloud {
    int n;
    double rho[1200], theta[1200], root_w[1200];
} cloud;

static void fill_cloud(cloud *all, bool line, double bore)
{
    enum { NODES = 24 };
    double t[NODES], w[NODES], low = line ? bore : bore * bore;
    int around = line ? 2 : 48;
    fw_gauss(NODES, t, w);
    all->n = NODES * around;
    for (int i = 0; i < NODES; i++)
        for (int k = 0; k < around; k++) {
            double at = 0.5 * (1 + low) + 0.5 * (1 - low) * t[i];
            all->rho[k + i * around] = line ? at : sqrt(at);
            all->theta[k + i * around] = 2 * acos(-1) * k / around;
            all->root_w[k + i * around] = sqrt(w[i] / 2 / around);
        }
}

static double figure_at(const fw_basis *basis, const double *c, double rho, double theta)
{
    double sum = 0;
    for (int j = 0; j < basis->nterms; j++)
        sum += c[j] * fw_basis_value(basis, j, rho, theta);
    return sum;
}

static double surface_at(int k, double rho, double theta)
{
    return k == 0 ? 1 : k == 1 ? rho * cos(theta) : k == 2 ? rho * rho : rho * sin(theta);
}

/* Fits 1, x, rho^2 (where `sphere`) and y over the cloud; returns the rms of the remainder. */
static double fit_surface(const cloud *all, const fw_basis *basis, const double *c, bool sphere,
                          double *x)
{
    int use[4], n = 0, m = all->n;
    for (int k = 0; k < 4; k++)
        if ((k != 2 || sphere) && (k != 3 || !basis->line))
            use[n++] = k;
    double *a = fw_alloc((size_t)m * 4, sizeof *a), *b = fw_alloc((size_t)m, sizeof *b);
    double *residual = fw_alloc((size_t)m, sizeof *b), ss = 0, found[4];
    assert_true(a && b && residual);
    for (int i = 0; i < m; i++) {
        for (int k = 0; k < n; k++)
            a[i + k * m] = all->root_w[i] * surface_at(use[k], all->rho[i], all->theta[i]);
        b[i] = all->root_w[i] * figure_at(basis, c, all->rho[i], all->theta[i]);
    }
    assert_int_equal(fw_lstsq(m, n, a, b, 0, found, NULL, residual, NULL, NULL), FW_OK);
    memset(x, 0, 4 * sizeof *x);
    for (int k = 0; k < n; k++)
        x[use[k]] = found[k];
    for (int i = 0; i < m; i++)
        ss += residual[i] * residual[i];
    fw_free(a);
    fw_free(b);
    fw_free(residual);
    return sqrt(ss);
}

static double less_surface(const fw_basis *basis, const double *c, const double *x, double rho,
                           double theta)
{
    double h = figure_at(basis, c, rho, theta);
    for (int k = 0; k < 4; k++)
        h -= x[k] * surface_at(k, rho, theta);
    return h;
}

/* PV of the means around circles (or of the even part of a line). */
static double symmetric_by_force(const fw_basis *basis, const double *c, const double *x,
                                 double bore)
{
    enum { CIRCLES = 3000 };
    int around = basis->line ? 2 : 16;
    double hi = -INFINITY, lo = INFINITY;
    for (int k = 0; k <= CIRCLES; k++) {
        double rho = bore + (1 - bore) * k / CIRCLES, mean = 0;
        for (int i = 0; i < around; i++)
            mean += less_surface(basis, c, x, rho, 2 * acos(-1) * i / around) / around;
        hi = fmax(hi, mean);
        lo = fmin(lo, mean);
    }
    return hi - lo;
}

/* Everything by brute force, with a random figure over an area with a bore. */
static void check_by_force(bool line, double bore, int order, gsl_rng *rng)
{
    fw_basis *basis = NULL;
    fw_form *form = NULL;
    fw_shape shape;
    cloud all;
    double c[64], plane[4], sphere[4], height[FAN], hi = -INFINITY, lo = INFINITY, hs = hi, ls = lo;
    int npoints = line ? 2 * STATIONS : FAN;
    const double *rho = line ? line_rho : fan_rho, *theta = line ? line_theta : fan_theta;
    assert_int_equal(fw_basis_new(line, order, &basis, NULL), FW_OK);
    assert_int_equal(fw_form_new(basis, bore, npoints, rho, theta, &form, NULL), FW_OK);
    for (int j = 0; j < basis->nterms; j++)
        c[j] = 10 * (gsl_rng_uniform(rng) - 0.5);
    fill_cloud(&all, line, bore);
    double rms = fit_surface(&all, basis, c, false, plane);
    fit_surface(&all, basis, c, true, sphere);
    assert_int_equal(fw_form_quantities(form, basis->nterms, c, &shape, NULL), FW_OK);
    fw_form_heights(form, basis->nterms, c, height);
    for (int i = 0; i < npoints; i++) {
        double h = less_surface(basis, c, plane, rho[i], theta[i]);
        double s = less_surface(basis, c, sphere, rho[i], theta[i]);
        assert_close(height[i], h, 0, 1e-10);
        hi = fmax(hi, h), lo = fmin(lo, h), hs = fmax(hs, s), ls = fmin(ls, s);
    }
    assert_close(shape.pv_nm, hi - lo, 1e-11, 0);
    assert_close(shape.rms_nm, rms, 1e-11, 0);
    assert_close(shape.power_nm, -sphere[2], 1e-10, 1e-10);
    assert_close(shape.irregularity_nm, hs - ls, 1e-10, 1e-12);
    double symmetric = symmetric_by_force(basis, c, sphere, bore);
    assert_close(shape.symmetric_nm, symmetric, 1e-3, 1e-12);
    assert_true(shape.symmetric_nm < symmetric * (1 + 1e-5) + 1e-12);
    fw_form_free(form);
    fw_basis_free(basis);
}

static void test_by_force(void **state)
{
    (void)state;
    static const double bores[] = {0, 0.16, 0.4, 0.7};
    gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
    for (int line = 0; line < 2; line++)
        for (int k = 0; k < 4; k++)
            for (int order = 2; order <= 8; order++)
                check_by_force(line, bores[k], order, rng);
    gsl_rng_free(rng);
}

/* A sphere over an annulus keeps the sagitta of the whole clear radius. */
static void test_sphere_with_bore(void **state)
{
    (void)state;
    fw_basis *basis = NULL;
    fw_form *form = NULL;
    fw_shape shape;
    double rho[2] = {0.5, 1}, theta[2] = {0, 0}, c[3] = {-12 / (2 * sqrt(3)), 0, 0};
    assert_int_equal(fw_basis_new(false, 2, &basis, NULL), FW_OK);
    assert_int_equal(fw_form_new(basis, 0.5, 2, rho, theta, &form, NULL), FW_OK);
    assert_int_equal(fw_form_quantities(form, 3, c, &shape, NULL), FW_OK);
    /* from bore to rim it falls by 12 (1 - 1/4); rms of rho^2 over the annulus: (3/4) / sqrt 12 */
    check_shape(shape, 9, 9 / sqrt(12), 12, 0, 0);
    fw_form_free(form);
    fw_basis_free(basis);
}

/* Many at once equal one by one; any number of leading terms, any leading dimension. */
static void test_batch(void **state)
{
    (void)state;
    enum { SAMPLES = 331, LDC = 45 };
    static const int orders[] = {0, 2, 3, 5, 8};
    fw_basis *basis = NULL;
    fw_form *form = NULL;
    static double c[LDC * SAMPLES], out[5][SAMPLES];
    gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
    for (int i = 0; i < LDC * SAMPLES; i++)
        c[i] = gsl_rng_uniform(rng) - 0.5;
    assert_int_equal(fw_basis_new(false, 8, &basis, NULL), FW_OK);
    assert_int_equal(fw_form_new(basis, 0.2, FAN, fan_rho, fan_theta, &form, NULL), FW_OK);
    for (int k = 0; k < 5; k++) {
        int count = fw_basis_count(basis, orders[k]);
        fw_shapes where = {out[0], out[1], out[2], out[3], out[4]};
        assert_int_equal(fw_form_batch(form, count, SAMPLES, c, LDC, NULL, &where, NULL), FW_OK);
        for (int s = 0; s < SAMPLES; s++) {
            double full[LDC] = {0};
            fw_shape one;
            memcpy(full, c + s * LDC, (size_t)count * sizeof *full);
            assert_int_equal(fw_form_quantities(form, basis->nterms, full, &one, NULL), FW_OK);
            assert_close(out[0][s], one.pv_nm, 1e-12, 1e-13);
            assert_close(out[1][s], one.rms_nm, 1e-12, 1e-13);
            assert_close(out[2][s], one.power_nm, 1e-12, 1e-13);
            assert_close(out[3][s], one.irregularity_nm, 1e-12, 1e-12);
            assert_close(out[4][s], one.symmetric_nm, 1e-12, 1e-12);
        }
    }
    gsl_rng_free(rng);
    fw_form_free(form);
    fw_basis_free(basis);
}

/* Finer structure is added at the points: it widens PV and irregularity, and leaves the rest. */
static void test_extra(void **state)
{
    (void)state;
    enum { SAMPLES = 150 };
    fw_basis *basis = NULL;
    fw_form *form = NULL;
    static double c[3 * SAMPLES], extra[FAN * SAMPLES], pv[SAMPLES], irregularity[SAMPLES];
    double power[SAMPLES];
    assert_int_equal(fw_basis_new(false, 2, &basis, NULL), FW_OK);
    assert_int_equal(fw_form_new(basis, 0, FAN, fan_rho, fan_theta, &form, NULL), FW_OK);
    for (int s = 0; s < SAMPLES; s++) {
        c[3 * s] = -(s + 1) / (2 * sqrt(3)); /* convex by s + 1 */
        extra[20 + s * FAN] = 5 + s;         /* a bump at the centre, as diameter 0 meets it */
    }
    fw_shapes where = {.pv_nm = pv, .power_nm = power, .irregularity_nm = irregularity};
    assert_int_equal(fw_form_batch(form, 3, SAMPLES, c, 3, extra, &where, NULL), FW_OK);
    for (int s = 0; s < SAMPLES; s++) {
        assert_close(pv[s], s + 1 + 5 + s, 1e-13, 0);
        assert_close(irregularity[s], 5 + s, 1e-11, 0);
        assert_close(power[s], s + 1, 1e-13, 0);
    }
    fw_form_free(form);
    fw_basis_free(basis);
}

static void test_edges(void **state)
{
    (void)state;
    static const double bad[] = {-0.1, 1, 1.5, NAN, INFINITY};
    fw_basis *basis = NULL, *empty = NULL;
    fw_form *form = NULL;
    fw_error err = {0};
    fw_shape shape;
    double c[3] = {1, 2, 3};
    assert_int_equal(fw_basis_new(false, 2, &basis, NULL), FW_OK);
    for (int i = 0; i < 5; i++)
        assert_int_equal(fw_form_new(basis, bad[i], 1, fan_rho, fan_theta, &form, &err), FW_INPUT);
    assert_null(form);
    assert_string_equal(err.text, "bore ratio inf is not in 0 .. 1");

    /* no points: PV cannot be told, the area still can */
    assert_int_equal(fw_form_new(basis, 0, 0, NULL, NULL, &form, NULL), FW_OK);
    assert_int_equal(fw_form_quantities(form, 3, c, &shape, NULL), FW_OK);
    assert_true(isnan(shape.pv_nm) && isnan(shape.irregularity_nm));
    assert_close(shape.rms_nm, sqrt(14), 1e-14, 0);
    fw_form_free(form);

    /* no terms: a perfect plane */
    assert_int_equal(fw_basis_new(true, 1, &empty, NULL), FW_OK);
    assert_int_equal(fw_form_new(empty, 0.3, 5, line_rho, line_theta, &form, NULL), FW_OK);
    assert_int_equal(fw_form_quantities(form, 0, c, &shape, NULL), FW_OK);
    check_shape(shape, 0, 0, 0, 0, 0);
    fw_form_free(form);
    fw_form_free(NULL);
    fw_basis_free(empty);
    fw_basis_free(basis);
}

/* Slopes against differences of the quantities themselves, on a figure whose extremes are clear. */
static void test_slopes(void **state)
{
    (void)state;
    fw_basis *basis = NULL;
    fw_form *form = NULL;
    double c[64] = {0}, pv[64], irregularity[64], power[64];
    assert_int_equal(fw_basis_new(false, 6, &basis, NULL), FW_OK);
    assert_int_equal(fw_form_new(basis, 0.2, FAN, fan_rho, fan_theta, &form, NULL), FW_OK);
    for (int j = 0; j < basis->nterms; j++)
        c[j] = sin(3.0 * j + 1) * 10;
    int n = basis->nterms;
    assert_int_equal(fw_form_slopes(form, n, c, pv, irregularity, power, NULL), FW_OK);
    for (int j = 0; j < n; j++) {
        fw_shape low, high;
        double keep = c[j], h = 1e-5;
        c[j] = keep - h;
        assert_int_equal(fw_form_quantities(form, n, c, &low, NULL), FW_OK);
        c[j] = keep + h;
        assert_int_equal(fw_form_quantities(form, n, c, &high, NULL), FW_OK);
        c[j] = keep;
        assert_close(pv[j], (high.pv_nm - low.pv_nm) / (2 * h), 1e-6, 1e-8);
        assert_close(irregularity[j], (high.irregularity_nm - low.irregularity_nm) / (2 * h), 1e-6,
                     1e-8);
        assert_close(power[j], (high.power_nm - low.power_nm) / (2 * h), 1e-6, 1e-8);
    }
    fw_form_free(form);
    fw_basis_free(basis);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_unit_disc), cmocka_unit_test(test_line),
        cmocka_unit_test(test_mixture),   cmocka_unit_test(test_by_force),
        cmocka_unit_test(test_sphere_with_bore), cmocka_unit_test(test_batch),
        cmocka_unit_test(test_extra),     cmocka_unit_test(test_edges),
        cmocka_unit_test(test_slopes),
    };
    return cmocka_run_group_tests(tests, set_points, NULL);
}
