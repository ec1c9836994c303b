/* levelling.c - levelling networks: adjusted heights, uncertainty, reliability of readings. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "../support/close.h"
#include "../support/refdata.h"
#include "flatwright/lstsq.h"
#include "flatwright/stats.h"

enum { M_MAX = 16, N_MAX = 4 };

/* A network as equations whose rows were scaled by the root of the weight, and its solution. */
typedef struct network {
    refdata *table;
    int m, n;
    char names[N_MAX][8]; /* unknown heights, in the table's order */
    double a[M_MAX * N_MAX], b[M_MAX];
    double x[N_MAX], q[N_MAX * N_MAX];
    double residual[M_MAX]; /* observed less adjusted, scaled */
    double ss, s0;
} network;

static int unknown_index(const network *net, const char *name)
{
    for (int j = 0; j < net->n; j++)
        if (strcmp(net->names[j], name) == 0)
            return j;
    return -1;
}

/* The fixed height of a point, from "fixed heights: X = 100.00, Y = 107.50". */
static double fixed_height(const network *net, const char *name)
{
    char key[16];
    snprintf(key, sizeof key, " %s = ", name);
    const char *at = strstr(ref_note(net->table, "fixed heights"), key);
    assert_non_null(at);
    return strtod(at + strlen(key), NULL);
}

/* The unknown points are those that are not fixed, in the order they are met. */
static void name_unknowns(network *net)
{
    for (int i = 0; i < 2 * net->m; i++) {
        const char *name = ref_text(net->table, i / 2, i % 2 ? "to" : "from");
        char key[16];
        snprintf(key, sizeof key, " %s = ", name);
        if (strstr(ref_note(net->table, "fixed heights"), key) || unknown_index(net, name) >= 0)
            continue;
        assert_in_range(net->n, 0, N_MAX - 1);
        snprintf(net->names[net->n++], sizeof *net->names, "%s", name);
    }
}

static void set_equations(network *net)
{
    for (int i = 0; i < net->m; i++) {
        double scale = sqrt(ref_number(net->table, i, "weight"));
        double rise = ref_number(net->table, i, "dh_observed");
        for (int end = 0; end < 2; end++) {
            const char *name = ref_text(net->table, i, end ? "to" : "from");
            int j = unknown_index(net, name), sign = end ? 1 : -1;
            if (j >= 0)
                net->a[i + j * net->m] = sign * scale;
            else
                rise -= sign * fixed_height(net, name);
        }
        net->b[i] = scale * rise;
    }
}

static void solve_network(network *net, const char *file)
{
    int rank;
    *net = (network){.table = ref_open(file)};
    net->m = ref_rows(net->table);
    assert_in_range(net->m, 1, M_MAX);
    name_unknowns(net);
    set_equations(net);
    assert_int_equal(fw_lstsq(net->m, net->n, net->a, net->b, 0, net->x, net->q, net->residual,
                              &rank, NULL), FW_OK);
    assert_int_equal(rank, net->n);
    for (int i = 0; i < net->m; i++)
        net->ss += net->residual[i] * net->residual[i];
    net->s0 = sqrt(net->ss / (net->m - net->n));
}

static double redundancy(const network *net, int i)
{
    double r = 1;
    for (int j = 0; j < net->n; j++)
        for (int k = 0; k < net->n; k++)
            r -= net->a[i + j * net->m] * net->q[j + k * net->n] * net->a[i + k * net->m];
    return r;
}

static void check_heights(const network *net)
{
    char start[32];
    assert_close(net->m - net->n, ref_note_number(net->table, "degrees of freedom", 1), 0, 0);
    assert_close(net->ss, ref_note_number(net->table, "vTPv", 1), 1e-9, 0);
    assert_close(net->s0, ref_note_number(net->table, "s0 (a posteriori, unit weight)", 2), 1e-9,
                 0);
    for (int j = 0; j < net->n; j++) {
        snprintf(start, sizeof start, "height,%s", net->names[j]);
        assert_close(net->x[j], ref_note_number(net->table, start, 2), 0, 6e-12);
        assert_close(net->q[j + j * net->n], ref_note_number(net->table, start, 4), 1e-12, 0);
        assert_close(net->s0 * sqrt(net->q[j + j * net->n]), ref_note_number(net->table, start, 6),
                     1e-9, 0);
    }
}

/* The table's rows and columns stand in the order of its height notes. */
static void check_cofactor(const network *net, const char *const *order)
{
    char start[32];
    for (int j = 0; j < net->n; j++) {
        snprintf(start, sizeof start, "cofactor_row,%s", order[j]);
        for (int k = 0; k < net->n; k++) {
            int row = unknown_index(net, order[j]), column = unknown_index(net, order[k]);
            assert_close(net->q[row + column * net->n], ref_note_number(net->table, start, 2 + k),
                         1e-12, 0);
        }
    }
}

static void check_reliability(const network *net)
{
    double sum = 0;
    for (int i = 0; i < net->m; i++) {
        double weight = ref_number(net->table, i, "weight");
        double v = -net->residual[i] / sqrt(weight), r = redundancy(net, i);
        sum += r;
        assert_close(v, ref_number(net->table, i, "v"), 0, 6e-12);
        assert_close(r, ref_number(net->table, i, "redundancy"), 0, 1e-12);
        assert_close(v * sqrt(weight) / (net->s0 * sqrt(r)), ref_number(net->table, i, "tau"), 2e-8,
                     1e-9);
        if (*ref_text(net->table, i, "sigma_apriori") == 0)
            continue;
        double sigma = ref_number(net->table, i, "sigma_apriori");
        assert_close(v / (sigma * sqrt(r)), ref_number(net->table, i, "w"), 2e-8, 1e-9);
        assert_close(fw_baarda_shift(0.001, 0.80) * sigma / sqrt(r),
                     ref_number(net->table, i, "mdb"), 1e-8, 0);
    }
    assert_close(sum, net->m - net->n, 1e-13, 0);
}

/* Ghilani, Adjustment Computations, ch. 12 (from memory; the results agree to every digit). */
static void test_seven_observations(void **state)
{
    (void)state;
    static const char *const order[] = {"A", "B", "C"};
    static const double heights[2][3] = {{105.141, 104.483, 106.188}, {105.150, 104.489, 106.197}};
    static const double s0[2] = {0.050, 0.107};
    for (int weighted = 0; weighted < 2; weighted++) {
        network net;
        solve_network(&net, weighted ? "levelling-7obs-weighted.csv"
                                     : "levelling-7obs-unweighted.csv");
        check_heights(&net);
        check_cofactor(&net, order);
        check_reliability(&net);
        for (int k = 0; k < 3; k++)
            assert_close(net.x[unknown_index(&net, order[k])], heights[weighted][k], 0, 5.1e-4);
        assert_close(net.s0, s0[weighted], 0, 5e-4);
        ref_close(net.table);
    }
}

/* Forward and back loop (published report of an adjustment): m0 5.42 mm, largest w 1.68 at 6. */
static void test_eight_observations(void **state)
{
    (void)state;
    static const char *const order[] = {"4", "3", "2"};
    network net;
    solve_network(&net, "levelling-8obs-loop.csv");
    check_heights(&net);
    check_cofactor(&net, order);
    check_reliability(&net);
    assert_close(1000 * net.s0, 5.42, 0, 5e-3);
    assert_close(1e6 * net.ss, 146.625, 0, 5e-4);
    assert_close(net.residual[5] / (0.005 * sqrt(redundancy(&net, 5))), 1.68, 0, 5e-3);
    assert_close(5 * sqrt(net.q[0]), 3.1, 0, 0.05);
    ref_close(net.table);
}

/* The same with 40 mm planted in observation 4: data snooping finds it, and nothing else. */
static void test_blunder(void **state)
{
    (void)state;
    static const char *const order[] = {"4", "3", "2"};
    network net;
    solve_network(&net, "levelling-8obs-blunder.csv");
    check_heights(&net);
    check_cofactor(&net, order);
    check_reliability(&net);
    int worst = 0;
    double largest = 0;
    for (int i = 0; i < net.m; i++) {
        double w = fabs(net.residual[i]) / (0.005 * sqrt(redundancy(&net, i)));
        if (w > largest) {
            largest = w;
            worst = i;
        }
    }
    assert_int_equal(worst, 3);
    assert_true(largest > fw_baarda_critical(0.001));
    /* what explains it: 40 mm within the standard deviation sigma / sqrt(r) of the estimate */
    assert_close(net.residual[3] / redundancy(&net, 3), 0.040, 0, 2 * 0.005 / sqrt(0.625));
    ref_close(net.table);
}

/* Strang & Borre, Linear Algebra, Geodesy, and GPS. */
static void test_five_observations(void **state)
{
    (void)state;
    static const char *const order[] = {"E", "F"};
    network net;
    solve_network(&net, "levelling-5obs-km.csv");
    check_heights(&net);
    check_cofactor(&net, order);
    check_reliability(&net);
    /* published sum of squares and error factor */
    assert_close(net.ss, 4.636, 0, 5e-4);
    assert_close(net.s0, 1.243, 0, 5e-4);
    /* published bounds of the error factor: 2.5 % on each side */
    assert_close(sqrt(fw_chi_square_quantile(0.025, 3) / 3), 0.268, 0, 5e-4);
    assert_close(sqrt(fw_chi_square_quantile(0.975, 3) / 3), 1.765, 0, 5e-4);
    assert_close(fw_chi_square_tail(net.ss, 3), 0.2005, 0, 1e-3);
    ref_close(net.table);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_seven_observations),
        cmocka_unit_test(test_eight_observations),
        cmocka_unit_test(test_blunder),
        cmocka_unit_test(test_five_observations),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
