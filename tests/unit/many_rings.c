/* many_rings.c - rings measured alike are solved in batches; each by itself tells the same. */
#include <math.h>

#include "../support/close.h"
#include "../support/simulate.h"
#include "flatwright/result.h"

/* Low orders and a groove of 4 nm, 5 mm wide, at 60 mm. Invented. */
static double grooved(void *context, int flat, int state, double x, double y)
{
    double rho = hypot(x, y) / 100, off = (100 * rho - 60) / 2.5;
    (void)state;
    return 8 * (flat + 1) * rho * rho + 5 * x * y / 1e4 * (flat - 1) + 3 * rho * rho * rho * x / 100 -
           *(const double *)context * (flat == 1) * exp(-off * off);
}

/* 71 and 141 rings: no multiple of a batch. */
static void read_set(sim *s, double *groove, int ndiam, int stations, bool alike)
{
    double at[300];
    sim_init(s, 3, 200, 5);
    s->truth = grooved;
    s->context = groove;
    s->sigma_nm = s->stated_nm = 1;
    sim_stations(stations, 95, at);
    for (int pair = 0; pair < 3; pair++)
        sim_fan(s, 1, pair, (pair + 1) % 3, 0, ndiam, stations, at);
    for (int k = 0; k < 2; k++) /* on one diameter: once more */
        sim_fan(s, 1, k, (k + 1) % 3, ndiam > 1 ? 180.0 / ndiam : 0, ndiam, stations, at);
    for (size_t i = 0; i < s->job->nreadings && !alike; i++) /* a class of its own for each ring */
        s->job->readings[i].sigma_nm += 1e-12 * floor(fabs(s->job->readings[i].position_mm));
}

static void same_quantity(fw_quantity a, fw_quantity b)
{
    assert_close(a.value_nm, b.value_nm, 1e-7, 0);
    assert_close(a.u_nm, b.u_nm, 1e-7, 0);
}

static void compare(double groove, int ndiam, int stations)
{
    sim s[2];
    fw_result *r[2];
    for (int k = 0; k < 2; k++) {
        read_set(&s[k], &groove, ndiam, stations, k == 0);
        assert_int_equal(fw_solve(s[k].job, NULL, &r[k], NULL), FW_OK);
    }
    assert_close(r[0]->fit.chi_square, r[1]->fit.chi_square, 1e-9, 0);
    for (int f = 0; f < 3; f++) {
        const fw_figure *a = &r[0]->faces[f].figure, *b = &r[1]->faces[f].figure;
        const fw_profile *p = &r[0]->faces[f].profile, *q = &r[1]->faces[f].profile;
        for (int d = 0; d < p->ndiameters; d++)
            for (size_t i = 0; i < p->diameters[d].npoints; i += 7) {
                const fw_point *x = &p->diameters[d].points[i], *y = &q->diameters[d].points[i];
                assert_int_equal(x->determined, y->determined);
                if (x->determined) {
                    assert_close(x->height_nm, y->height_nm, 1e-9, 1e-9);
                    assert_close(x->u_nm, y->u_nm, 1e-8, 0);
                }
            }
        same_quantity(a->pv, b->pv);
        same_quantity(a->power, b->power);
        assert_close(a->finer_p, b->finer_p, 1e-6, 1e-12);
        assert_int_equal(a->finer, b->finer);
        assert_int_equal(a->finer, groove > 0 && f == 1);
    }
    for (int k = 0; k < 2; k++) {
        fw_result_free(r[k]);
        sim_release(&s[k]);
    }
}

static void batches(void **state)
{
    (void)state;
    compare(0, 1, 281);
    compare(0, 2, 143);
    compare(4, 2, 143);
}

/* Rings of unlike weights by turns are told class by class; a diameter goes from rim to rim. */
static void in_order(void **state)
{
    (void)state;
    double none = 0, at[143];
    sim s;
    fw_result *r;
    sim_stations(143, 95, at);
    for (int kinds = 1; kinds <= 3; kinds++) {
        read_set(&s, &none, 2, 143, true);
        for (size_t i = 0; i < s.job->nreadings; i++)
            s.job->readings[i].sigma_nm +=
                0.5 * (lround(fabs(s.job->readings[i].position_mm) * 71 / 95) % kinds);
        assert_int_equal(fw_solve(s.job, NULL, &r, NULL), FW_OK);
        for (int f = 0; f < 3; f++)
            for (int d = 0; d < r->faces[f].profile.ndiameters; d++) {
                const fw_diameter *line = &r->faces[f].profile.diameters[d];
                assert_int_equal(line->npoints, 143);
                for (int i = 0; i < 143; i++)
                    assert_close(line->points[i].position_mm, at[i], 0, 1e-9);
            }
        fw_result_free(r);
        sim_release(&s);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(batches), cmocka_unit_test(in_order)};
    return cmocka_run_group_tests_name("many_rings", tests, NULL, NULL);
}
