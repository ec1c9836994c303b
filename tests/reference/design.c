/* design.c - the next observation by rank-one update: Sherman & Morrison, exact rational values. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "../support/close.h"
#include "../support/refdata.h"
#include "../support/simulate.h"
#include "adjust/outlook_cells.h"
#include "flatwright/lstsq.h"
#include "flatwright/next.h"

/* The observations before each problem's candidate (comments of the table), and its target. */
typedef struct problem {
    const char *name;
    int m, n;
    double a[15], target[3]; /* a column-major */
} problem;

static const problem problems[] = {
    {"line", 3, 2, {1, 1, 1, 0, 1, 2}, {1, 3, 0}},
    {"parabola", 5, 3, {1, 1, 1, 1, 1, -2, -1, 0, 1, 2, 4, 1, 0, 1, 4}, {0, 0, 1}},
    {"three-sums", 3, 3, {1, 0, 1, 1, 1, 0, 0, 1, 1}, {1, 0, 0}},
};

static void candidate_row(const problem *p, const char *text, double *a)
{
    static const struct {
        const char *text;
        double a[3];
    } sums[] = {{"x1+x2 again", {1, 1, 0}},
                {"x2+x3 again", {0, 1, 1}},
                {"x1 alone", {1, 0, 0}},
                {"x1-x2", {1, -1, 0}},
                {"x1+x2+x3", {1, 1, 1}}};
    if (strncmp(text, "x=", 2) == 0) {
        double x = strtod(text + 2, NULL);
        for (int j = 0; j < p->n; j++)
            a[j] = pow(x, j);
        return;
    }
    for (size_t i = 0; i < sizeof sums / sizeof *sums; i++)
        if (strcmp(text, sums[i].text) == 0) {
            memcpy(a, sums[i].a, sizeof sums[i].a);
            return;
        }
    fail_msg("candidate '%s'", text);
}

/* The next fraction of a matrix written by rows, "5/6 -1/2 ; -1/2 1/2". */
static double fraction(const char **at)
{
    char *end;
    *at += strspn(*at, " ;");
    double value = strtod(*at, &end);
    assert_true(end != *at);
    if (*end == '/')
        value /= strtod(end + 1, &end);
    *at = end;
    return value;
}

static void check_row(const refdata *t, int row, const problem *p)
{
    double x[3], q[9], a[3], qa[3], u[3], zero[5] = {0}, m, target = 0, gained = 0, trace = 0;
    int n = p->n;
    const char *want = ref_text(t, row, "Q_new");
    assert_int_equal(fw_lstsq(p->m, n, p->a, zero, 0, x, q, NULL, NULL, NULL), FW_OK);
    candidate_row(p, ref_text(t, row, "candidate"), a);
    m = ref_number(t, row, "s2");
    double s2 = m;
    for (int i = 0; i < n; i++) {
        qa[i] = 0;
        for (int j = 0; j < n; j++)
            qa[i] += q[i + j * n] * a[j];
        m += a[i] * qa[i];
    }
    assert_close(m - s2, ref_number(t, row, "aQa"), 1e-13, 0);
    assert_close(s2 / m, ref_number(t, row, "det_ratio"), 1e-13, 0);
    assert_int_equal(foresee_update(n, 1, qa, &m, u, NULL), FW_OK);
    for (int i = 0; i < n; i++) {
        trace += u[i] * u[i];
        gained += p->target[i] * u[i];
        for (int j = 0; j < n; j++)
            target += p->target[i] * p->target[j] * (q[i + j * n] - u[i] * u[j]);
    }
    assert_close(trace, ref_number(t, row, "trace_reduction"), 1e-13, 0);
    assert_close(gained * gained, ref_number(t, row, "target_reduction"), 1e-13, 1e-15);
    assert_close(target, ref_number(t, row, "target_variance"), 1e-12, 0);
    for (int i = 0; i < n; i++)
        for (int j = 0; j < n; j++)
            assert_close(q[i + j * n] - u[i] * u[j], fraction(&want), 1e-12, 1e-15);
}

static void rank_one(void **state)
{
    (void)state;
    refdata *t = ref_open("rank-one-update.csv");
    int checked = 0;
    for (int row = 0; row < ref_rows(t); row++)
        for (size_t k = 0; k < sizeof problems / sizeof *problems; k++)
            if (strcmp(ref_text(t, row, "problem"), problems[k].name) == 0) {
                check_row(t, row, &problems[k]);
                checked++;
            }
    assert_int_equal(checked, ref_rows(t));
    assert_true(checked >= 17);
    ref_close(t);
}

/*
 * The table's three sums are the three pairs on one diameter. Off piston and tilt, which take two of
 * the n stations, A's variance is 3/4 sigma^2, and after one pair again 5/8, C's too.
 */
static void three_pairs(void **state)
{
    (void)state;
    double x[9], sigma = 2, left = sigma * sigma * 7 / 9;
    sim s;
    fw_result *r = NULL;
    fw_next *next = NULL;
    int seen = 0;
    sim_init(&s, 3, 200, 1);
    s.sigma_nm = 0;
    s.stated_nm = sigma;
    sim_stations(9, 90, x);
    for (int k = 0; k < 3; k++)
        sim_scan(&s, 1, k, (k + 1) % 3, 0, 0, 9, x);
    assert_int_equal(fw_solve(s.job, NULL, &r, NULL), FW_OK);
    assert_int_equal(fw_next_pairing(r, &next, NULL), FW_OK);
    for (int f = 0; f < 3; f++)
        assert_close(next->u_nm[f] * next->u_nm[f], left * 3 / 4, 1e-4, 0);
    for (int i = 0; i < next->ncandidates; i++) {
        const fw_candidate *c = &next->candidates[i];
        if (c->turn_deg > 90)
            continue;
        seen++;
        for (int f = 0; f < 3; f++)
            assert_close(c->u_after_nm[f] * c->u_after_nm[f], left * 5 / 8, 1e-4, 0);
        assert_close(c->score_after_nm2, left * 5 / 8, 1e-4, 0);
    }
    assert_int_equal(seen, 3);
    fw_next_free(next);
    fw_result_free(r);
    sim_release(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(rank_one), cmocka_unit_test(three_pairs)};
    return cmocka_run_group_tests_name("design", tests, NULL, NULL);
}
