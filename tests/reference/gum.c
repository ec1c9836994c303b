/* gum.c - the thermometer calibration of GUM H.3, and the distributions of JCGM 101 9.2. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>

#include "../support/close.h"
#include "../support/refdata.h"
#include "flatwright/alloc.h"
#include "flatwright/conform.h"
#include "flatwright/form.h"
#include "flatwright/lstsq.h"
#include "flatwright/stats.h"

/* A note "result,NAME,published ...,computed ...": digits is half a unit of the printed place. */
static void check_result(const refdata *table, const char *name, double got, double half_unit)
{
    char start[64];
    snprintf(start, sizeof start, "result,%s", name);
    assert_close(got, ref_note_number(table, start, 2), 0, half_unit);
    assert_close(got, ref_note_number(table, start, 3), 1e-11, 0);
}

/* JCGM 100:2008, H.3: b(t) = y1 + y2 (t - 20), eleven readings. */
static void test_thermometer(void **state)
{
    (void)state;
    enum { M = 11 };
    refdata *table = ref_open("gum-H3-thermometer.csv");
    double a[2 * M], b[M], y[2], q[4], residual[M], ss = 0;
    int rank;
    assert_int_equal(ref_rows(table), M);
    for (int i = 0; i < M; i++) {
        a[i] = 1;
        a[i + M] = ref_number(table, i, "t_k_degC") - 20;
        b[i] = ref_number(table, i, "b_k_degC");
    }
    assert_int_equal(fw_lstsq(M, 2, a, b, 0, y, q, residual, &rank, NULL), FW_OK);
    assert_int_equal(rank, 2);
    for (int i = 0; i < M; i++) {
        ss += residual[i] * residual[i];
        assert_close(b[i] - residual[i], ref_number(table, i, "predicted_b_computed"), 0, 1e-12);
        assert_close(residual[i], ref_number(table, i, "residual_computed"), 0, 1e-12);
        assert_close(residual[i], ref_number(table, i, "published_difference"), 0, 5.001e-5);
    }
    double s = sqrt(ss / (M - 2)), t30 = 10;
    assert_close(ss, ref_note_number(table, "result,sum_of_squares", 3), 1e-11, 0);
    assert_close(s * s * q[2], ref_note_number(table, "result,cov_y1y2", 2), 1e-11, 0);
    check_result(table, "y1", y[0], 5e-5);
    check_result(table, "s_y1", s * sqrt(q[0]), 5e-5);
    check_result(table, "y2", y[1], 5e-6);
    check_result(table, "s_y2", s * sqrt(q[3]), 5e-6);
    check_result(table, "r_y1y2", q[2] / sqrt(q[0] * q[3]), 5e-4);
    check_result(table, "s", s, 5e-5);
    check_result(table, "b30", y[0] + t30 * y[1], 5e-5);
    check_result(table, "u_b30", s * sqrt(q[0] + 2 * t30 * q[2] + t30 * t30 * q[3]), 5e-5);
    ref_close(table);
}

/* The sum of four inputs, exactly: a normal state of knowledge of standard deviation 2. */
static void test_four_normals(void **state)
{
    (void)state;
    assert_close(2 * fw_normal_quantile(0.975), 3.92, 0, 0.005);
    assert_close(fw_conform_probability(0, 2, -3.92, 3.92), 0.95, 0, 1e-4);
}

static int ascending(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

enum { INPUTS = 4, SAMPLES = 1000000, BATCH = 20000 };

/* Which terms hold a sphere, and the sagitta of each at coefficient 1. */
static void find_weights(const fw_basis *basis, const fw_form *form, int *at, double *weight)
{
    double c[64] = {0};
    int n = 0;
    for (int j = 0; j < basis->nterms; j++) {
        fw_shape shape;
        if (basis->terms[j].m)
            continue;
        assert_in_range(n, 0, INPUTS - 1);
        c[j] = 1;
        assert_int_equal(fw_form_quantities(form, basis->nterms, c, &shape, NULL), FW_OK);
        c[j] = 0;
        at[n] = j;
        weight[n++] = shape.power_nm;
    }
    assert_int_equal(n, INPUTS);
}

static void check_interval(const char *what, double *sum, double published)
{
    qsort(sum, SAMPLES, sizeof *sum, ascending);
    double low = sum[SAMPLES / 40], high = sum[SAMPLES - SAMPLES / 40];
    print_message("four %s: 95 %% interval %.3f .. %.3f, published -+%.2f\n", what, low, high,
                  published);
    assert_close(low, -published, 0, 0.023);
    assert_close(high, published, 0, 0.023);
}

/*
 * JCGM 101:2008, 9.2.2 and 9.2.3 through the batched figures: the sagitta of a bored flat is a
 * weighted sum of its four round terms, so coefficients X_j over the weights make it the sum.
 * Published 95 % intervals: normals +-3.92, rectangulars of the same standard deviation +-3.88.
 * The standard error of an end is 0.006; allowed are three, and the rounding of the print.
 */
static void test_propagation(void **state)
{
    (void)state;
    fw_basis *basis = NULL;
    fw_form *form = NULL;
    int at[INPUTS] = {0};
    double weight[INPUTS] = {0};
    assert_int_equal(fw_basis_new(false, 8, &basis, NULL), FW_OK);
    assert_int_equal(fw_form_new(basis, 0.4, 0, NULL, NULL, &form, NULL), FW_OK);
    find_weights(basis, form, at, weight);
    int n = basis->nterms;
    double *c = fw_alloc((size_t)n * BATCH, sizeof *c), *sum = fw_alloc(SAMPLES, sizeof *sum);
    gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
    assert_true(c && sum && rng);
    for (int normal = 0; normal < 2; normal++) {
        for (int first = 0; first < SAMPLES; first += BATCH) {
            fw_shapes out = {.power_nm = sum + first};
            for (int s = 0; s < BATCH; s++)
                for (int k = 0; k < INPUTS; k++)
                    c[at[k] + s * n] = (normal ? gsl_ran_gaussian(rng, 1)
                                               : gsl_ran_flat(rng, -sqrt(3), sqrt(3))) / weight[k];
            assert_int_equal(fw_form_batch(form, n, BATCH, c, n, NULL, &out, NULL), FW_OK);
        }
        check_interval(normal ? "normals" : "rectangulars", sum, normal ? 3.92 : 3.88);
    }
    gsl_rng_free(rng);
    fw_free(c);
    fw_free(sum);
    fw_form_free(form);
    fw_basis_free(basis);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_thermometer),
        cmocka_unit_test(test_four_normals),
        cmocka_unit_test(test_propagation),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
