/* closure.c - odd(AB) - odd(AC) + odd(BC) = 0: readings checked before anything is solved. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "../support/close.h"
#include "../support/simulate.h"
#include "adjust/closure.h"
#include "flatwright/alloc.h"
#include "flatwright/result.h"

/* Three unturned pairs on a fan; told[i] is what was typed as pairing i's turn, turn[i] what it was. */
static void read_pairs(sim *s, int ndiam, const double turn[3], const double told[3],
                       bool other_way)
{
    double x[9];
    sim_stations(9, 90, x);
    for (int i = 0; i < 3; i++) {
        int bottom = i, top = (i + 1) % 3;
        if (other_way && i == 1) {
            bottom = 2;
            top = 1;
        }
        for (int k = 0; k < ndiam; k++) {
            double name = 180.0 * k / ndiam + (other_way && k % 2 ? 180 : 0);
            size_t scan = sim_scan(s, 1, bottom, top, turn[i], name, 9, x);
            s->job->scans[scan].turn_deg = told[i];
        }
    }
}

static fw_closure *closures(const sim *s, int *count)
{
    fw_net *net = NULL;
    fw_closure *list = NULL;
    assert_int_equal(net_new(s->job, 0, NULL, &net, NULL), FW_OK);
    assert_int_equal(closures_find(net, &list, count, NULL), FW_OK);
    net_free(net);
    return list;
}

static const double UNTURNED[3] = {0, 0, 0};

/* Any flats whatever, any diameters: the misclosure is rounding. */
static void zero_without_noise(void **state)
{
    (void)state;
    for (int ndiam = 1; ndiam <= 8; ndiam++)
        for (int other_way = 0; other_way < 2; other_way++) {
            sim s;
            int n = 0;
            sim_init(&s, 3, 200, (unsigned long)ndiam);
            read_pairs(&s, ndiam, UNTURNED, UNTURNED, other_way);
            fw_closure *list = closures(&s, &n);
            assert_int_equal(n, ndiam / 2); /* a mirrored pair each, and 90 by itself */
            for (int i = 0; i < n; i++) {
                assert_close(list[i].diameter_deg, 180.0 * (i + 1) / ndiam, 0, 1e-9);
                assert_int_equal(list[i].a + 10 * list[i].b + 100 * list[i].c, 210);
                assert_int_equal(list[i].redundancy, list[i].diameter_deg > 89 ? 3 : 7);
                assert_close(list[i].rms_nm, 0, 0, 1e-11);
                assert_close(list[i].expected_nm, sqrt(1.5), 1e-12, 0);
            }
            fw_free(list);
            sim_release(&s);
        }
}

/* Six readings by halves: the scatter is s sqrt(3/2). Derived. */
static void scatter_of_noise(void **state)
{
    (void)state;
    double chi = 0;
    int dof = 0;
    for (unsigned long seed = 1; seed <= 100; seed++) {
        sim s;
        int n = 0;
        sim_init(&s, 3, 200, seed);
        s.sigma_nm = s.stated_nm = 2;
        read_pairs(&s, 4, UNTURNED, UNTURNED, seed % 2);
        fw_closure *list = closures(&s, &n);
        assert_int_equal(n, 2);
        for (int i = 0; i < n; i++) {
            chi += list[i].redundancy * pow(list[i].rms_nm / (2 * sqrt(1.5)), 2);
            dof += list[i].redundancy;
            assert_close(list[i].expected_nm, 2 * sqrt(1.5), 1e-12, 0);
        }
        fw_free(list);
        sim_release(&s);
    }
    print_message("scatter over s sqrt(3/2): %.3f\n", sqrt(chi / dof));
    assert_close(chi / dof, 1, 0, 3 * sqrt(2.0 / dof));
}

/* A turn typed wrong shows, though three pairs leave next to nothing redundant. */
static void wrong_turn(void **state)
{
    (void)state;
    static const double was[] = {22.5, 180, -45};
    for (int pair = 0; pair < 3; pair++)
        for (int i = 0; i < 3; i++) {
            sim s;
            int n = 0;
            double turn[3] = {0, 0, 0}, worst = 0;
            sim_init(&s, 3, 200, 3);
            s.sigma_nm = s.stated_nm = 2;
            turn[pair] = was[i];
            read_pairs(&s, 4, turn, UNTURNED, false);
            fw_closure *list = closures(&s, &n);
            assert_int_equal(n, 2);
            for (int k = 0; k < n; k++)
                worst = fmax(worst, list[k].rms_nm / list[k].expected_nm);
            assert_true(worst > 5);
            fw_free(list);
            /* A turn typed as it was is no closure of unturned pairs. */
            sim right;
            sim_init(&right, 3, 200, 3);
            read_pairs(&right, 4, turn, turn, false);
            list = closures(&right, &n);
            assert_int_equal(n, 0);
            fw_free(list);
            sim_release(&right);
            sim_release(&s);
        }
}

/* The whole result lists them; without sigma there is nothing to expect. */
static void in_the_result(void **state)
{
    (void)state;
    sim s;
    fw_result *r = NULL;
    sim_init(&s, 3, 200, 3);
    s.sigma_nm = 2;
    s.stated_nm = NAN;
    read_pairs(&s, 2, UNTURNED, UNTURNED, false);
    assert_int_equal(fw_solve(s.job, NULL, &r, NULL), FW_OK);
    assert_int_equal(r->nclosures, 1);
    assert_close(r->closures[0].diameter_deg, 90, 0, 1e-9);
    assert_true(r->closures[0].rms_nm > 0.2 && r->closures[0].rms_nm < 8);
    assert_true(isnan(r->closures[0].expected_nm));
    fw_result_free(r);
    sim_release(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(zero_without_noise),
        cmocka_unit_test(scatter_of_noise),
        cmocka_unit_test(wrong_turn),
        cmocka_unit_test(in_the_result),
    };
    return cmocka_run_group_tests_name("closure", tests, NULL, NULL);
}
