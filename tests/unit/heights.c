/* heights.c - the figure of a face anywhere on it: its own terms, nothing where nothing is told. */
#include <math.h>

#include "../support/close.h"
#include "../support/refuse.h"
#include "../support/simulate.h"
#include "flatwright/result.h"

enum { CLEAR_MM = 100, STATIONS = 9, POINTS = 30 };

static double height(void *context, int flat, int state, double x, double y)
{
    double rho = hypot(x, y) / CLEAR_MM, theta = atan2(y, x);
    (void)context;
    (void)state;
    return (30 - 20 * flat) * (0.5 - rho * rho) + 12 * rho * rho * cos(2 * theta);
}

/* Three pairs on 0 and 90 deg, turned on the latter so that each diameter meets its like. */
static void read_two(sim *s, double sigma)
{
    double at[STATIONS];
    sim_init(s, 3, 2 * CLEAR_MM, 5);
    s->truth = height;
    s->stated_nm = sigma;
    sim_stations(STATIONS, 90, at);
    for (int pair = 0; pair < 3; pair++) {
        sim_scan(s, 1, pair, (pair + 1) % 3, 0, 0, STATIONS, at);
        sim_scan(s, 1, pair, (pair + 1) % 3, 180, 90, STATIONS, at);
    }
}

static fw_result *solve(const sim *s)
{
    fw_result *r = NULL;
    assert_int_equal(fw_solve(s->job, NULL, &r, NULL), FW_OK);
    return r;
}

static void lay_points(double *r, double *theta)
{
    for (int i = 0; i < POINTS; i++) {
        r[i] = CLEAR_MM * sqrt((i + 0.5) / POINTS);
        theta[i] = 2.4 * i;
    }
}

/* The sum of the terms that the figure lists, with an uncertainty where the noise is known. */
static void sum_of_terms(void **state)
{
    static const double sigmas[] = {0.5, NAN};
    double r[POINTS], theta[POINTS], h[POINTS], u[POINTS];
    (void)state;
    lay_points(r, theta);
    for (int k = 0; k < 2; k++) {
        sim s;
        read_two(&s, sigmas[k]);
        s.job->model = FW_MODEL_PROFILE;
        fw_result *result = solve(&s);
        assert_int_equal(result->fit.redundancy, 0);
        for (int f = 0; f < 3; f++) {
            const fw_figure *figure = &result->faces[result->today[f]].figure;
            assert_int_equal(fw_face_heights(result, result->today[f], POINTS, r, theta, h, u, NULL),
                             FW_OK);
            for (int i = 0; i < POINTS; i++) {
                double want = fw_figure_height(figure, r[i] / CLEAR_MM, theta[i]);
                assert_close(h[i], want, 0, k == 0 ? 0.3 : 1e-9); /* draws: 400 each */
                assert_true(k == 0 ? u[i] > 0.05 : isnan(u[i]));
            }
        }
        fw_result_free(result);
        sim_release(&s);
    }
}

/* Readings that are all 0, and no sigma: the estimate is 0 sharp, which is a known noise. */
static void nothing_but_zeros(void **state)
{
    double r[POINTS], theta[POINTS], h[POINTS], u[POINTS];
    sim s;
    (void)state;
    lay_points(r, theta);
    read_two(&s, NAN);
    sim_scan(&s, 1, 0, 1, 0, 0, 3, (double[]){-90, 0, 90});
    for (size_t i = 0; i < s.job->nreadings; i++)
        s.job->readings[i].deviation_nm = 0;
    s.job->model = FW_MODEL_PROFILE;
    fw_result *result = solve(&s);
    assert_true(result->fit.redundancy > 0 && result->fit.sigma0 <= 0);
    assert_int_equal(fw_face_heights(result, result->today[0], POINTS, r, theta, h, u, NULL),
                     FW_OK);
    for (int i = 0; i < POINTS; i++) {
        assert_close(h[i], 0, 0, 1e-9);
        assert_close(u[i], 0, 0, 1e-6);
    }
    fw_result_free(result);
    sim_release(&s);
}

static void assert_nothing(const fw_result *result, int face)
{
    double r[POINTS], theta[POINTS], h[POINTS], u[POINTS];
    lay_points(r, theta);
    assert_int_equal(fw_face_heights(result, face, POINTS, r, theta, h, u, NULL), FW_OK);
    for (int i = 0; i < POINTS; i++)
        assert_true(isnan(h[i]) && isnan(u[i]));
}

/* One diameter, one pair, a flat that was worked and not read again, a set without readings. */
static void nothing_is_told(void **state)
{
    double at[STATIONS];
    sim s;
    (void)state;
    sim_stations(STATIONS, 90, at);
    for (int kind = 0; kind < 3; kind++) {
        sim_init(&s, 3, 2 * CLEAR_MM, 5);
        s.stated_nm = 1;
        s.job->model = FW_MODEL_PROFILE;
        for (int pair = 0; pair < (kind == 0 ? 3 : kind == 1 ? 1 : 0); pair++)
            sim_fan(&s, 1, pair, (pair + 1) % 3, 0, kind ? 4 : 1, STATIONS, at);
        fw_result *result = solve(&s);
        for (int f = 0; f < 3; f++)
            assert_nothing(result, result->today[f]);
        fw_result_free(result);
        sim_release(&s);
    }
    read_two(&s, 0.5);
    sim_work(&s, 1, 1, 1);
    fw_result *result = solve(&s);
    assert_int_equal(result->faces[result->today[1]].last_round, 0);
    assert_nothing(result, result->today[1]);
    fw_result_free(result);
    sim_release(&s);
}

static fw_status ask(void *data, fw_error *err)
{
    const fw_result *result = data;
    double r[2] = {30, 70}, theta[2] = {0.5, 1}, h[2], u[2];
    fw_status status = fw_face_heights(result, 0, 2, r, theta, h, u, err);
    assert_true(status || isfinite(h[0] + h[1]));
    return status;
}

static void no_memory(void **state)
{
    static const double sigmas[] = {0.5, NAN};
    (void)state;
    for (int k = 0; k < 2; k++) {
        sim s;
        read_two(&s, sigmas[k]);
        fw_result *result = solve(&s);
        assert_true(refuse_each(ask, result, FW_OK, REFUSE_SPARE_NONE) > 10);
        fw_result_free(result);
        sim_release(&s);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(sum_of_terms),
                                       cmocka_unit_test(nothing_but_zeros),
                                       cmocka_unit_test(nothing_is_told),
                                       cmocka_unit_test(no_memory)};
    return cmocka_run_group_tests_name("heights", tests, NULL, NULL);
}
