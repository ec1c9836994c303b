/* solve_memory.c - every way to run out of memory in solving a set, and in what is asked of it. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "../support/close.h"
#include "../support/faces.h"
#include "../support/refuse.h"
#include "flatwright/alloc.h"
#include "flatwright/next.h"
#include "flatwright/rehearse.h"

typedef struct task {
    const fw_job *job;
    fw_solve_options options;
    const fw_result *result;
    fw_scheme scheme;
} task;

static fw_status solve(void *data, fw_error *err)
{
    task *t = data;
    fw_result *r = NULL;
    fw_status status = fw_solve(t->job, &t->options, &r, err);
    assert_true((r != NULL) == (status == FW_OK));
    fw_result_free(r);
    return status;
}

static fw_status ask_next(void *data, fw_error *err)
{
    fw_next *next = NULL;
    fw_status status = fw_next_pairing(((task *)data)->result, &next, err);
    assert_true((next != NULL) == (status == FW_OK));
    fw_next_free(next);
    return status;
}

static fw_status ask_heights(void *data, fw_error *err)
{
    double r[2] = {30, 70}, theta[2] = {0.5, 1}, height[2] = {7, 7}, u[2];
    fw_status status = fw_face_heights(((task *)data)->result, 0, 2, r, theta, height, u, err);
    assert_true(status || height[0] != 7);
    return status;
}

static fw_status rehearse(void *data, fw_error *err)
{
    task *t = data;
    fw_rehearsal *r = NULL;
    fw_status status = fw_rehearse(t->job, &t->scheme, &r, err);
    assert_true((r != NULL) == (status == FW_OK));
    fw_rehearsal_free(r);
    return status;
}

/* Surfaces, with a flat worked between two rounds, on a bench that is not counted out. */
static void surfaces(void **state)
{
    (void)state;
    const double at[5] = {-91, -42, 3, 55, 88}, angles[3] = {7, 55, 121};
    faces f;
    sim s;
    sim_init(&s, 3, 2 * FACES_CLEAR_MM, 3);
    faces_make(&f, 2, 20, s.rng);
    s.truth = faces_height;
    s.context = &f;
    s.sigma_nm = s.stated_nm = 2;
    for (int round = 1; round <= 2; round++) {
        for (int pair = 0; pair < 4; pair++)
            for (int k = 0; k < 3; k++)
                sim_scan(&s, round, pair % 3, (pair + 1) % 3, pair == 3 ? 47 : 0, angles[k], 5, at);
        if (round == 1)
            sim_work(&s, 1, 0, 0.5);
    }
    s.job->flats[2].bore_mm = 10;
    s.job->gap_um = 10;
    s.job->eye_mm = 1000;
    s.job->gradient_k = 0.1;
    for (int k = 0; k < 3; k++) {
        s.job->flats[k].thickness_mm = 20 + k;
        s.job->flats[k].glass = (fw_glass){"soda-lime", 72, 0.22, 2500, 8.5, 0.9, 800};
    }
    task t = {s.job, {FW_MODEL_SURFACE, 2}, .result = NULL};
    fw_result *r = NULL;
    assert_true(refuse_each(solve, &t, FW_OK, REFUSE_SPARE_NONE) > 100);
    assert_int_equal(fw_solve(s.job, &t.options, &r, NULL), FW_OK);
    t.result = r;
    assert_true(refuse_each(ask_next, &t, FW_OK, REFUSE_SPARE_NONE) > 20);
    assert_true(refuse_each(ask_heights, &t, FW_OK, REFUSE_SPARE_NONE) > 2);
    fw_result_free(r);
    fw_basis_free(f.basis);
    sim_release(&s);
}

/* Profiles of which much is open, one reading far off. */
static void profiles(void **state)
{
    (void)state;
    const double at[5] = {-90, -45, 0, 45, 90};
    sim s;
    sim_init(&s, 4, 200, 5);
    s.sigma_nm = s.stated_nm = 2;
    for (int pass = 0; pass < 2; pass++)
        for (int pair = 0; pair < 3; pair++)
            sim_fan(&s, 1, pair, (pair + 1) % 3, 0, 2, 5, at);
    s.job->readings[7].deviation_nm += 100;
    task t = {s.job, {FW_MODEL_AUTO, 0}, .result = NULL};
    fw_result *r = NULL;
    assert_true(refuse_each(solve, &t, FW_OK, REFUSE_SPARE_NONE) > 100);
    assert_int_equal(fw_solve(s.job, &t.options, &r, NULL), FW_OK);
    assert_true(r->nsuspects > 0 && r->nunknowns > 0);
    t.result = r;
    assert_true(refuse_each(ask_next, &t, FW_OK, REFUSE_SPARE_NONE) > 100);
    fw_result_free(r);
    sim_release(&s);
}

static void rehearsals(void **state)
{
    (void)state;
    fw_mate mates[] = {{0, 1, 0}, {1, 2, 0}, {2, 0, 0}};
    double fan[1] = {0}, at[] = {-90, 10, 90};
    sim s;
    sim_init(&s, 3, 200, 5);
    s.job->turns_deg = fw_alloc(1, sizeof(double));
    s.job->nturns = 1;
    task t = {.job = s.job, .scheme = {3, mates, 1, fan, 3, at, 1.5, FW_MODEL_AUTO}};
    assert_true(refuse_each(rehearse, &t, FW_OK, REFUSE_SPARE_NONE) > 100);
    mates[2].turn_deg = 20; /* the diameters do not close: profiles, surfaces, the better of them */
    assert_true(refuse_each(rehearse, &t, FW_OK, REFUSE_SPARE_NONE) > 100);
    t.scheme.model = FW_MODEL_SURFACE;
    mates[2].turn_deg = 0;
    assert_true(refuse_each(rehearse, &t, FW_OK, REFUSE_SPARE_NONE) > 100);
    sim_release(&s);
}

/* Surfaces of which three pairs leave much open, with a zone that is finer than any term. */
static void open_surfaces(void **state)
{
    (void)state;
    double at[21];
    sim s;
    sim_init(&s, 3, 2 * FACES_CLEAR_MM, 3);
    s.sigma_nm = s.stated_nm = 0.1;
    sim_stations(21, 95, at);
    for (int pair = 0; pair < 3; pair++)
        sim_fan(&s, 1, pair, (pair + 1) % 3, 0, 3, 21, at);
    task t = {s.job, {FW_MODEL_SURFACE, 3}, .result = NULL};
    fw_result *r = NULL;
    assert_int_equal(fw_solve(s.job, &t.options, &r, NULL), FW_OK);
    assert_true(r->nunknowns > 0);
    fw_result_free(r);
    assert_true(refuse_each(solve, &t, FW_OK, REFUSE_SPARE_NONE) > 100);
    sim_fan(&s, 1, 0, 1, 60, 3, 21, at);
    sim_fan(&s, 1, 1, 2, 60, 3, 21, at);
    assert_int_equal(fw_solve(s.job, &t.options, &r, NULL), FW_OK);
    assert_true(r->faces[r->today[0]].figure.finer);
    fw_result_free(r);
    assert_true(refuse_each(solve, &t, FW_OK, REFUSE_SPARE_NONE) > 100);
    sim_release(&s);
}

/* Stations so near each other that piston and tilt of a scan are hardly told apart: rows, no sums. */
static void near_stations(void **state)
{
    (void)state;
    const double at[4] = {88, 88.5, 89, 90};
    sim s;
    sim_init(&s, 3, 200, 5);
    s.sigma_nm = s.stated_nm = 2;
    for (int pair = 0; pair < 4; pair++)
        sim_fan(&s, 1, pair % 3, (pair + 1) % 3, 0, 2, 4, at);
    task t = {s.job, {FW_MODEL_PROFILE, 0}, .result = NULL};
    assert_true(refuse_each(solve, &t, FW_OK, REFUSE_SPARE_NONE) > 100);
    sim_release(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(surfaces), cmocka_unit_test(profiles),
                                       cmocka_unit_test(rehearsals),
                                       cmocka_unit_test(open_surfaces),
                                       cmocka_unit_test(near_stations)};
    return cmocka_run_group_tests_name("solve_memory", tests, NULL, NULL);
}
