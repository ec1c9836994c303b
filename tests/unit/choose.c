/* choose.c - which model auto takes, why, and where the two disagree. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "../support/close.h"
#include "../support/faces.h"
#include "flatwright/result.h"

typedef struct set {
    sim m;
    faces f;
} set;

static void set_init(set *s, unsigned long seed, double noise)
{
    sim_init(&s->m, 3, 2 * FACES_CLEAR_MM, seed);
    faces_make(&s->f, 4, 10, s->m.rng);
    s->m.truth = faces_height;
    s->m.context = &s->f;
    s->m.sigma_nm = noise;
    s->m.stated_nm = noise > 0 ? noise : 1;
}

static void set_release(set *s)
{
    fw_basis_free(s->f.basis);
    sim_release(&s->m);
}

static void read_fans(set *s, int ndiam, double turn)
{
    double at[21];
    sim_stations(21, FACES_CLEAR_MM, at);
    for (int pair = 0; pair < 4; pair++)
        sim_fan(&s->m, 1, pair % 3, (pair + 1) % 3, pair == 3 ? turn : 0, ndiam, 21, at);
}

static fw_result *solve(set *s, fw_model model)
{
    fw_result *r = NULL;
    fw_error err = {0};
    fw_solve_options options = {.model = model};
    if (fw_solve(s->m.job, &options, &r, &err))
        fail_msg("%s", err.text);
    return r;
}

static bool notes_say(const fw_result *r, const char *what)
{
    for (int i = 0; i < r->nnotes; i++)
        if (strstr(r->notes[i], what))
            return true;
    return false;
}

static void fans_are_profiles(void **state)
{
    set s;
    (void)state;
    set_init(&s, 1, 2);
    read_fans(&s, 8, 22.5);
    fw_result *r = solve(&s, FW_MODEL_AUTO);
    assert_int_equal(r->model, FW_MODEL_PROFILE);
    assert_non_null(strstr(r->why, "100 %"));
    assert_false(notes_say(r, "order is too low"));
    fw_result_free(r);
    set_release(&s);
}

static void odd_angles_are_surfaces(void **state)
{
    set s;
    (void)state;
    set_init(&s, 2, 2);
    faces_read_odd(&s.m, 15);
    fw_result *r = solve(&s, FW_MODEL_AUTO);
    assert_int_equal(r->model, FW_MODEL_SURFACE);
    assert_non_null(strstr(r->why, "do not close"));
    assert_true(r->faces[r->today[0]].profile.determined);
    fw_result_free(r);
    r = solve(&s, FW_MODEL_PROFILE); /* what was asked for stays, whatever it tells */
    assert_int_equal(r->model, FW_MODEL_PROFILE);
    assert_string_equal(r->why, "");
    fw_result_free(r);
    set_release(&s);
}

/* Two flats alone, or stations that meet in one pairing only: nothing is made up. */
static void one_pair_tells_nothing(void **state)
{
    set s;
    double at[21];
    (void)state;
    set_init(&s, 3, 2);
    sim_stations(21, FACES_CLEAR_MM, at);
    sim_fan(&s.m, 1, 0, 1, 0, 4, 21, at);
    fw_result *r = solve(&s, FW_MODEL_AUTO);
    assert_int_equal(r->model, FW_MODEL_PROFILE);
    fw_result_free(r);
    r = solve(&s, FW_MODEL_SURFACE);
    assert_false(r->faces[r->today[0]].profile.determined);
    assert_int_equal(r->faces[r->today[0]].figure.verdict, FW_UNDETERMINED);
    assert_true(r->nunknowns > 0);
    fw_result_free(r);
    set_release(&s);
}

/* Of worked flats that were read again in one pairing each the profiles still tell. */
static void reworked_flats_stay_profiles(void **state)
{
    set s;
    double at[21];
    (void)state;
    set_init(&s, 4, 2);
    read_fans(&s, 4, 45);
    sim_work(&s.m, 1, 0, 0.5);
    sim_work(&s.m, 1, 1, 0.5);
    sim_stations(21, FACES_CLEAR_MM, at);
    sim_fan(&s.m, 2, 0, 2, 0, 4, 21, at);
    sim_fan(&s.m, 2, 1, 2, 0, 4, 21, at);
    fw_result *r = solve(&s, FW_MODEL_AUTO);
    assert_int_equal(r->model, FW_MODEL_PROFILE);
    assert_true(r->faces[r->today[0]].profile.determined);
    fw_result_free(r);
    set_release(&s);
}

/* An order that is too low, and a scan that is bad, are told where stations meet. */
static void disagreement_is_told(void **state)
{
    set s;
    (void)state;
    set_init(&s, 5, 1);
    read_fans(&s, 8, 22.5);
    s.m.job->order = 3; /* the flats have order 4 */
    fw_result *r = solve(&s, FW_MODEL_SURFACE);
    assert_true(notes_say(r, "order is too low"));
    assert_false(notes_say(r, "in one scan"));
    assert_true(r->faces[r->today[0]].figure.finer);
    fw_result_free(r);
    s.m.job->order = 0;
    r = solve(&s, FW_MODEL_SURFACE);
    assert_false(notes_say(r, "order is too low"));
    assert_false(r->faces[r->today[0]].figure.finer);
    fw_result_free(r);
    fw_scan *scan = &s.m.job->scans[9];
    for (size_t i = 0; i < scan->count; i++) /* a hair under the glass: a step in one scan */
        s.m.job->readings[scan->first + i].deviation_nm += i % 3 ? 0 : 12;
    r = solve(&s, FW_MODEL_SURFACE);
    assert_true(notes_say(r, "in one scan: B under C, turn 0, diameter 22.5"));
    fw_result_free(r);
    set_release(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(fans_are_profiles),
        cmocka_unit_test(odd_angles_are_surfaces),
        cmocka_unit_test(one_pair_tells_nothing),
        cmocka_unit_test(reworked_flats_stay_profiles),
        cmocka_unit_test(disagreement_is_told),
    };
    return cmocka_run_group_tests_name("choose", tests, NULL, NULL);
}
