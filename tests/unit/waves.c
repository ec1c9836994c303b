/* waves.c - even plans ranked frequency by frequency, against all their lines at once. */
#include <math.h>
#include <stdlib.h>

#include "../support/close.h"
#include "../support/design.h"
#include "../support/refuse.h"
#include "adjust/candidates.h"
#include "adjust/outlook_cells.h"
#include "adjust/waves.h"
#include "flatwright/next.h"
#include "flatwright/result.h"

typedef struct seen {
    sim s;
    fw_result *result;
    outlook_flat today[8];
    candidates c;
    outlook o;
} seen;

static void see(seen *v)
{
    fw_error err = {0};
    const fw_job *job = v->s.job;
    if (fw_solve(v->s.job, NULL, &v->result, &err))
        fail_msg("%s", err.text);
    for (int f = 0; f < job->nflats; f++) {
        const fw_face *face = &v->result->faces[v->result->today[f]];
        v->today[f] =
            (outlook_flat){face->state, face->profile.determined && !face->profile.tied};
    }
    const adjustment *a = v->result->adjustment;
    assert_int_equal(candidates_turns(a, &v->c, &err), FW_OK);
    assert_int_equal(outlook_init(&v->o, a, v->today, v->c.nturns, v->c.turns_deg, &err), FW_OK);
    assert_int_equal(candidates_list(&v->o, &v->c, &err), FW_OK);
}

static void seen_release(seen *v)
{
    outlook_release(&v->o);
    candidates_release(&v->c);
    fw_result_free(v->result);
    sim_release(&v->s);
}

/* The same outlook without the waves, if it has them. */
static void see_lines(const seen *v, outlook *lines)
{
    fw_error err = {0};
    assert_int_equal(
        outlook_init(lines, v->o.a, v->today, v->c.nturns, v->c.turns_deg, &err), FW_OK);
    assert_non_null(lines->waves);
    waves_free(lines->waves);
    lines->waves = NULL;
    for (int f = 0; f < v->s.job->nflats; f++)
        lines->nstations[f] = 0;
    assert_int_equal(outlook_cells(lines, &err), FW_OK);
    for (int f = 0; f < v->s.job->nflats; f++)
        assert_close(v->o.nstations[f], lines->nstations[f], 1e-12, 0);
}

/* What both say of a pairing. By lines nothing but the prior knows some, and a ridge of 1e-13. */
static double compare_one(outlook *a, outlook *b, const setup *p, double times, double accuracy)
{
    double x[8], y[8], worst = 0;
    fw_error err = {0};
    assert_int_equal(outlook_foresee(a, p, times, x, &err), FW_OK);
    assert_int_equal(outlook_foresee(b, p, times, y, &err), FW_OK);
    for (int f = 0; f < a->job->nflats; f++) {
        assert_close(x[f], y[f], accuracy, 1e-9);
        worst = fmax(worst, fabs(x[f] - y[f]) / (y[f] + 1));
    }
    return worst;
}

/* Now, after each candidate once or three times, and after two of them were taken as read. */
static double compare(seen *v, double accuracy)
{
    outlook lines;
    fw_error err = {0};
    double worst = 0;
    see_lines(v, &lines);
    for (int taken = 0; taken < 3; taken++) {
        worst = fmax(worst, compare_one(&v->o, &lines, NULL, 1, accuracy));
        for (int i = taken; i < v->c.count; i += 1 + v->c.count / 12) {
            setup p = candidates_setup(&v->o, &v->c, i), q = candidates_setup(&lines, &v->c, i);
            assert_int_equal(p.bottom, q.bottom);
            worst = fmax(worst, compare_one(&v->o, &lines, &p, i % 2 ? 3 : 1, accuracy));
        }
        setup p = candidates_setup(&v->o, &v->c, (taken * 5 + 1) % v->c.count);
        assert_int_equal(outlook_commit(&v->o, &p, 1 + taken, &err), FW_OK);
        assert_int_equal(outlook_commit(&lines, &p, 1 + taken, &err), FW_OK);
    }
    outlook_release(&lines);
    return worst;
}

/* Turns that put lines beside those of the job. */
static void list_turns(fw_job *job, int ndiam)
{
    job->nturns = 3 + 2 * ndiam;
    job->turns_deg = malloc((size_t)job->nturns * sizeof *job->turns_deg);
    for (int t = 0; t < job->nturns; t++)
        job->turns_deg[t] = t * 60.0 / ndiam;
}

static void as_by_lines(void **state)
{
    int sets = 0, kinds[6] = {0};
    double worst = 0;
    (void)state;
    for (unsigned long seed = 1; sets < 60; seed++) {
        design d = design_random(seed);
        seen v = {0};
        d.ndiam += 1 + (int)(seed % 4);
        if (d.lossy || d.weights)
            continue;
        sim_init(&v.s, d.nflats, 200, seed);
        v.s.sigma_nm = v.s.stated_nm = 2;
        if (seed % 3 == 0)
            list_turns(v.s.job, d.ndiam);
        design_read(&d, &v.s);
        see(&v);
        worst = fmax(worst, compare(&v, 1e-5));
        const int is[] = {d.setup, d.bored, d.rounds > 1, d.clear, d.ndiam % 2, seed % 3 == 0};
        for (int k = 0; k < 6; k++)
            kinds[k] += is[k];
        seen_release(&v);
        sets++;
    }
    for (int k = 0; k < 6; k++)
        assert_true(kinds[k] > 5);
    print_message("60 even plans: at most %.1e apart\n", worst);
}

/* No turned pairing, a pair that was never read, a flat worked since, a pairing read twice. */
static void little_known(void **state)
{
    (void)state;
    for (int kind = 0; kind < 5; kind++) {
        seen v = {0};
        double x[9];
        sim_init(&v.s, 3, 200, 3);
        v.s.sigma_nm = v.s.stated_nm = 2;
        sim_stations(kind == 4 ? 8 : 9, 90, x);
        sim_fan(&v.s, 1, 0, 1, 0, 6, 9 - (kind == 4), x);
        if (kind > 0)
            sim_fan(&v.s, 1, 1, 2, 0, 6, 9 - (kind == 4), x);
        if (kind == 2)
            sim_work(&v.s, 1, 1, 1);
        if (kind == 3)
            sim_fan(&v.s, 1, 1, 2, 0, 6, 9, x);
        see(&v);
        compare(&v, 1e-5);
        seen_release(&v);
    }
}

static void read_plain(seen *v, int ndiam, bool plane)
{
    double x[9];
    sim_init(&v->s, 3, 200, 5);
    v->s.sigma_nm = v->s.stated_nm = 2;
    v->s.job->levelling = plane ? FW_LEVELLING_SETUP : FW_LEVELLING_SCAN;
    sim_stations(9, 90, x);
    for (int k = 0; k < 3; k++)
        sim_fan(&v->s, 1, k, (k + 1) % 3, 0, ndiam, 9, x);
    sim_fan(&v->s, 1, 0, 1, 180.0 / ndiam, ndiam, 9, x);
}

/* Angles as typed: to a hundredth of a degree. */
static void typed_angles(void **state)
{
    (void)state;
    for (int plane = 0; plane < 2; plane++) {
        seen v = {0};
        read_plain(&v, 7, plane);
        for (size_t i = 0; i < v.s.job->nscans; i++) {
            fw_scan *s = &v.s.job->scans[i];
            s->diameter_deg = round(s->diameter_deg * 100) / 100;
            s->turn_deg = round(s->turn_deg * 100) / 100;
        }
        see(&v);
        assert_int_equal(v.c.nturns, 14);
        compare(&v, plane ? 1e-3 : 1e-5);
        seen_release(&v);
    }
}

/* What is not even is left to the lines: a diameter off its place, one more, a weight. */
static void not_even(void **state)
{
    (void)state;
    for (int kind = 0; kind < 6; kind++) {
        seen v = {0};
        double x[2] = {-90, 90};
        read_plain(&v, 6, false);
        fw_job *job = v.s.job;
        if (kind == 0)
            sim_scan(&v.s, 1, 1, 2, 0, 30, 2, x);
        for (size_t i = 0; i < job->nscans && kind == 1; i++)
            if (fabs(job->scans[i].diameter_deg - 60) < 1)
                job->scans[i].diameter_deg += 1;
        if (kind == 2)
            job->readings[30].sigma_nm *= 1.1;
        for (size_t i = 0; i < job->scans[2].count && kind == 3; i++)
            job->readings[job->scans[2].first + i].sigma_nm *= 1.1;
        if (kind == 4) { /* within the tolerance of one line, not of the next */
            job->nturns = 1;
            job->turns_deg = malloc(sizeof *job->turns_deg);
            job->turns_deg[0] = 29.952;
            for (size_t i = 0; i < job->nscans; i++)
                job->scans[i].diameter_deg += fabs(job->scans[i].diameter_deg - 90) < 1 ? 0.005 : 0;
        }
        see(&v);
        assert_true((kind == 5) == (v.o.waves != NULL));
        seen_release(&v);
    }
}

static double total(outlook *o, const seen *v, int candidate)
{
    double sum[8], all = 0;
    fw_error err = {0};
    setup p = candidates_setup(o, &v->c, candidate);
    assert_int_equal(outlook_foresee(o, &p, 1, sum, &err), FW_OK);
    for (int f = 0; f < o->job->nflats; f++)
        all += sum[f];
    return all;
}

/* The candidate that is best by waves is so by lines, to 0.1 %. */
static void best_by_lines(seen *v)
{
    outlook lines;
    int best = 0;
    double least = INFINITY;
    see_lines(v, &lines);
    for (int i = 0; i < v->c.count; i++) {
        best = total(&v->o, v, i) < total(&v->o, v, best) ? i : best;
        least = fmin(least, total(&lines, v, i));
    }
    assert_true(total(&lines, v, best) <= 1.001 * least);
    outlook_release(&lines);
}

/* Many rings with a reading in thirty lost: weights are means, which differ a little by line. */
static void nearly_even(void **state)
{
    seen v = {0};
    double x[101];
    (void)state;
    sim_init(&v.s, 3, 200, 5);
    v.s.sigma_nm = v.s.stated_nm = 2;
    for (int fan = 0; fan < 4; fan++)
        for (int k = 0; k < 12; k++) {
            sim_stations(101, 95, x);
            for (int i = 0; i < 101; i++)
                if (i != 50 && gsl_rng_uniform(v.s.rng) < 1 / 30.0)
                    x[i] = NAN;
            sim_scan(&v.s, 1, fan % 3, (fan + 1) % 3, fan == 3 ? 15 : 0, 15.0 * k, 101, x);
        }
    see(&v);
    assert_true(v.o.alike);
    best_by_lines(&v);
    print_message("nearly even: at most %.1e apart\n", compare(&v, 5e-3));
    seen_release(&v);
}

static fw_status advise(void *result, fw_error *err)
{
    fw_next *next = NULL;
    fw_status status = fw_next_pairing(result, &next, err);
    fw_next_free(next);
    return status;
}

static void no_memory(void **state)
{
    (void)state;
    for (int plane = 0; plane < 2; plane++) {
        seen v = {0};
        read_plain(&v, 2, plane);
        v.s.job->flatness_nm = 4;
        see(&v);
        assert_non_null(v.o.waves);
        assert_true(refuse_each(advise, v.result, FW_OK, REFUSE_SPARE_NONE) > 100);
        seen_release(&v);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(as_by_lines), cmocka_unit_test(little_known),
        cmocka_unit_test(typed_angles), cmocka_unit_test(not_even),
        cmocka_unit_test(nearly_even), cmocka_unit_test(no_memory),
    };
    return cmocka_run_group_tests_name("waves", tests, NULL, NULL);
}
