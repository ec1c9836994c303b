/* conform.c - conformance probabilities and risks of JCGM 106. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "../support/close.h"
#include "../support/refdata.h"
#include "flatwright/basis.h"
#include "flatwright/conform.h"
#include "flatwright/stats.h"

/* JCGM 106:2012 clause 7 examples (inputs and two-digit results from memory; values computed). */
static void test_single_items(void **state)
{
    (void)state;
    static const double published[] = {0.92, 0.99, 0.66};
    refdata *table = ref_open("jcgm106-item-examples.csv");
    assert_int_equal(ref_rows(table), 3);
    for (int i = 0; i < ref_rows(table); i++) {
        double p = fw_conform_probability(ref_number(table, i, "y"), ref_number(table, i, "u"),
                                          ref_number(table, i, "TL"), ref_number(table, i, "TU"));
        assert_close(p, ref_number(table, i, "pc_computed"), 1e-13, 0);
        assert_close(p, published[i], 0, 0.005);
    }
    ref_close(table);
}

/* JCGM 106:2012 Table 1: the distance (T - y) / u that a one-sided probability needs. */
static void test_one_sided(void **state)
{
    (void)state;
    refdata *table = ref_open("one-sided-z.csv");
    for (int i = 0; i < ref_rows(table); i++) {
        double p = ref_number(table, i, "pc"), z = ref_number(table, i, "z_computed");
        assert_close(fw_normal_quantile(p), z, 1e-13, 0);
        assert_close(fw_conform_probability(10 - 2.5 * z, 2.5, -INFINITY, 10), p, 1e-13, 0);
        assert_close(fw_conform_probability(10 + 2.5 * z, 2.5, 10, INFINITY), p, 1e-13, 0);
        assert_close(z, ref_number(table, i, "z_recalled"), 0, 0.005);
    }
    ref_close(table);
}

/* JCGM 106:2012 7.6, two limits 4 u Cm apart (formula from memory and derived). */
static void test_two_sided(void **state)
{
    (void)state;
    refdata *table = ref_open("capability-form.csv");
    for (int i = 0; i < ref_rows(table); i++) {
        double width = 4 * 0.5 * ref_number(table, i, "Cm");
        double y = 7 + width * ref_number(table, i, "yt");
        assert_close(fw_conform_probability(y, 0.5, 7, 7 + width), ref_number(table, i, "pc"),
                     1e-12, 0);
    }
    ref_close(table);
}

/* Guard band w = r U, U = 2 u: the risk of an item measured at the acceptance limit. */
static void test_guard_band(void **state)
{
    (void)state;
    refdata *table = ref_open("guard-band.csv");
    for (int i = 0; i < ref_rows(table); i++) {
        double limit = 100, u = 3, y = limit - ref_number(table, i, "r") * 2 * u;
        assert_close(1 - fw_conform_probability(y, u, -INFINITY, limit),
                     ref_number(table, i, "max_risk"), 1e-12, 0);
    }
    ref_close(table);
}

typedef struct risks {
    double consumer, producer, accepted;
} risks;

/* Adds the integral over true values from..to of prior times probability of acceptance. */
static void add_range(risks *sum, double from, double to, int conforming, double low, double high)
{
    enum { NODES = 40, PIECES = 40 };
    const double mean = 1500, spread = 0.12, u = 0.04;
    double x[NODES], w[NODES];
    fw_gauss(NODES, x, w);
    for (int k = 0; k < PIECES; k++)
        for (int i = 0; i < NODES; i++) {
            double half = (to - from) / PIECES / 2;
            double y = from + half * (2 * k + 1 + x[i]), z = (y - mean) / spread;
            double mass = half * w[i] * exp(-z * z / 2) / (spread * sqrt(2 * acos(-1)));
            double accept = fw_conform_probability(y, u, low, high);
            sum->accepted += mass * accept;
            sum->consumer += conforming ? 0 : mass * accept;
            sum->producer += conforming ? mass * (1 - accept) : 0;
        }
}

/*
 * JCGM 106:2012 clause 9.5, resistors: N(1500, 0.12^2) ohm measured with u = 0.04 ohm, tolerance
 * 1499.8 .. 1500.2. The probability of acceptance of a true value is itself a conformance
 * probability. About 90 % conform, risks about 1 % and 7 % (rounded results from memory).
 */
static void test_global_risk(void **state)
{
    (void)state;
    refdata *table = ref_open("global-risk-resistor.csv");
    assert_close(fw_conform_probability(1500, 0.12, 1499.8, 1500.2),
                 0.904419295454371, 1e-12, 0);
    for (int i = 0; i < ref_rows(table); i++) {
        double low = ref_number(table, i, "AL"), high = ref_number(table, i, "AU");
        risks sum = {0};
        add_range(&sum, 1498.4, 1499.8, 0, low, high);
        add_range(&sum, 1499.8, 1500.2, 1, low, high);
        add_range(&sum, 1500.2, 1501.6, 0, low, high);
        assert_close(sum.consumer, ref_number(table, i, "RC"), 0, 1e-11);
        assert_close(sum.producer, ref_number(table, i, "RP"), 0, 1e-11);
        assert_close(sum.accepted, ref_number(table, i, "PA"), 0, 1e-11);
        if (i == 0) {
            assert_close(sum.consumer, 0.01, 0, 0.005);
            assert_close(sum.producer, 0.07, 0, 0.005);
        }
    }
    ref_close(table);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_single_items), cmocka_unit_test(test_one_sided),
        cmocka_unit_test(test_two_sided),    cmocka_unit_test(test_guard_band),
        cmocka_unit_test(test_global_risk),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
