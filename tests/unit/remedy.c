/* remedy.c - patterns that a pairing would show, counted, against the ranks of dense matrices. */
#include "adjust/remedy.h"

#include <math.h>
#include <stdlib.h>

#include "../support/close.h"
#include "../support/design.h"
#include "adjust/linalg.h"
#include "flatwright/mating.h"
#include "flatwright/result.h"

typedef struct rows {
    const fw_net *net;
    int n, m; /* heights of a ring; equations of it, with a row each for heights never read */
    double *h;
    bool *seen;
} rows;

static int column(const rows *r, int face, int angle, int flip, int end)
{
    return 2 * (face * r->net->nangles + angle) + (flip > 0 ? end : 1 - end);
}

/* Both stations of a scan, below all that is there; room for a scan on every angle besides. */
static void add(rows *r, const int face[2], const int angle[2], const int flip[2])
{
    for (int end = 0; end < 2; end++, r->m++)
        for (int side = 0; side < 2; side++)
            r->h[r->m * r->n + column(r, face[side], angle[side], flip[side], end)] += 1;
}

static rows all_read(const fw_net *net)
{
    int n = 2 * net->nfaces * net->nangles, most = n + 2 * (net->nscans + net->nangles);
    rows r = {net, n, 0, calloc((size_t)most * (size_t)n, sizeof(double)),
              calloc((size_t)n, sizeof(bool))};
    for (int i = 0; i < net->nscans; i++) {
        const net_scan *s = &net->scans[i];
        int flip[2] = {s->flip[0], s->flip[1]};
        if (s->piston < 0)
            continue;
        add(&r, s->face, s->angle, flip);
    }
    for (int i = 0; i < r.m * n; i++)
        r.seen[i % n] = r.seen[i % n] || r.h[i] != 0;
    for (int j = 0; j < n; j++)
        if (!r.seen[j])
            r.h[r.m++ * n + j] = 1;
    return r;
}

/* Patterns that the equations leave open. */
static int left(const rows *r)
{
    fw_qr qr;
    double *a = malloc((size_t)r->m * (size_t)r->n * sizeof *a);
    for (int i = 0; i < r->m; i++)
        for (int j = 0; j < r->n; j++)
            a[i + j * r->m] = r->h[i * r->n + j];
    assert_int_equal(fw_qr_factor(&qr, r->m, r->n, a, NULL, 0, NULL), FW_OK);
    int open = r->n - qr.rank;
    fw_qr_release(&qr);
    free(a);
    return open;
}

static int angle_of(const fw_net *net, double angle_deg)
{
    for (int k = 0; k < net->nangles; k++)
        if (fabs(net->angles_deg[k] - angle_deg) <= FW_ANGLE_TOLERANCE_DEG)
            return k;
    return -1;
}

/* Patterns left with a pairing read besides; -1 where it reads what was never read. */
static int left_with(rows *r, const int face[2], double turn)
{
    int m = r->m, open = 0;
    for (int k = 0; k < r->net->nangles && open == 0; k++) {
        fw_line line = fw_line_of_top(turn, r->net->angles_deg[k]);
        int angle[2] = {k, angle_of(r->net, line.angle_deg)}, flip[2] = {1, line.flip};
        if (angle[1] < 0 || !r->seen[column(r, face[0], k, 1, 0)] ||
            !r->seen[column(r, face[1], angle[1], line.flip, 0)])
            open = -1;
        else
            add(r, face, angle, flip);
    }
    open = open < 0 ? -1 : left(r);
    for (int i = m * r->n; i < r->m * r->n; i++)
        r->h[i] = 0;
    r->m = m;
    return open;
}

/* Of fans that are whole on diameters evenly spaced: turns are multiples of their gap. */
static void compare(const fw_result *result, int ndiam, int *found)
{
    const fw_net *net = result->adjustment->net;
    rows r = all_read(net);
    remedy told;
    int open = left(&r), least = open;
    assert_int_equal(remedy_find(result->adjustment, result->today, &told, NULL), FW_OK);
    for (int t = 0; t < 2 * ndiam; t++)
        for (int b = 0; b < net->job->nflats; b++)
            for (int p = 0; p < net->job->nflats; p++) {
                int face[2] = {result->today[b], result->today[p]};
                int with = b == p ? -1 : left_with(&r, face, 180.0 * t / ndiam);
                least = with >= 0 && with < least ? with : least;
            }
    assert_int_equal(told.left, least);
    assert_true(told.found == (least < open));
    if (told.found) {
        int face[2] = {result->today[told.bottom], result->today[told.top]};
        assert_int_equal(left_with(&r, face, told.turn_deg), least);
    }
    *found += told.found;
    free(r.h);
    free(r.seen);
}

static void as_by_ranks(void **state)
{
    int found = 0, sets = 0;
    (void)state;
    for (unsigned long seed = 1; sets < 40; seed++) {
        design d = design_random(seed);
        sim s;
        fw_result *result = NULL;
        if (d.nflats > 4 || d.rounds > 2)
            continue;
        d.turned = (int)(seed % 2);
        d.repeats = 0;
        sim_init(&s, d.nflats, 200, seed);
        s.sigma_nm = s.stated_nm = 2;
        design_read(&d, &s);
        assert_int_equal(fw_solve(s.job, NULL, &result, NULL), FW_OK);
        compare(result, d.ndiam, &found);
        fw_result_free(result);
        sim_release(&s);
        sets++;
    }
    assert_in_range(found, 10, 39);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(as_by_ranks)};
    return cmocka_run_group_tests_name("remedy", tests, NULL, NULL);
}
