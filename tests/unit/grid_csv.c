/* grid_csv.c - the whole face as a table, by either model, against the true surface. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "../support/close.h"
#include "../support/faces.h"
#include "flatwright/report.h"

static fw_result *solve(sim *m, fw_model model)
{
    fw_result *r = NULL;
    fw_solve_options options = {.model = model};
    assert_int_equal(fw_solve(m->job, &options, &r, NULL), FW_OK);
    return r;
}

/* Every row of the first flat against the truth, u not above `most`; returns the rows of all flats. */
static int check(const fw_result *r, sim *m, bool polar, double off, double most)
{
    char line[256], *at;
    int rows = 0;
    FILE *file = tmpfile();
    assert_non_null(file);
    assert_int_equal(fw_grid_csv(file, r, polar, false, NULL), FW_OK);
    rewind(file);
    assert_non_null(fgets(line, sizeof line, file));
    assert_string_equal(line, polar ? "flat,state,r_mm,theta_deg,height_nm,u_nm\n"
                                    : "flat,state,x_mm,y_mm,height_nm,u_nm\n");
    while (fgets(line, sizeof line, file)) {
        double v[4];
        rows++;
        at = line + 3; /* "A,0" */
        for (int k = 0; k < 4; k++)
            v[k] = strtod(at + 1, &at);
        if (line[0] != 'A')
            continue;
        double x = polar ? v[0] * cos(v[1] * 0.017453292519943295769) : v[0];
        double y = polar ? v[0] * sin(v[1] * 0.017453292519943295769) : v[1];
        assert_close(v[2], m->truth(m->context, 0, 0, x, y), 0, off);
        assert_true(v[3] > 0 && v[3] <= most);
    }
    fclose(file);
    return rows;
}

static void surface_of_terms(void **state)
{
    faces f;
    sim m;
    (void)state;
    sim_init(&m, 3, 2 * FACES_CLEAR_MM, 3);
    faces_make(&f, 4, 10, m.rng);
    m.truth = faces_height;
    m.context = &f;
    m.stated_nm = 1;
    faces_read_odd(&m, 15);
    fw_result *r = solve(&m, FW_MODEL_SURFACE);
    assert_int_equal(check(r, &m, true, 1e-6, 3), 3 * (1 + 36 * 20));
    assert_int_equal(check(r, &m, false, 1e-6, 3), 3 * 1257);
    fw_result_free(r);
    fw_basis_free(f.basis);
    sim_release(&m);
}

/* Of profiles on eight diameters the smooth figure between them, as it is believed. */
static void profiles_between_diameters(void **state)
{
    faces f;
    sim m;
    double at[21];
    (void)state;
    sim_init(&m, 3, 2 * FACES_CLEAR_MM, 4);
    faces_make(&f, 4, 10, m.rng);
    m.truth = faces_height;
    m.context = &f;
    m.stated_nm = 0.05;
    sim_stations(21, FACES_CLEAR_MM, at);
    for (int pair = 0; pair < 4; pair++)
        sim_fan(&m, 1, pair % 3, (pair + 1) % 3, pair == 3 ? 22.5 : 0, 8, 21, at);
    fw_result *r = solve(&m, FW_MODEL_AUTO);
    assert_int_equal(r->model, FW_MODEL_PROFILE);
    check(r, &m, true, 0.3, 1);
    fw_result_free(r);
    fw_basis_free(f.basis);
    sim_release(&m);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(surface_of_terms),
        cmocka_unit_test(profiles_between_diameters),
    };
    return cmocka_run_group_tests_name("grid_csv", tests, NULL, NULL);
}
