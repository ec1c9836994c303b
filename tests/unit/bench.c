/* bench.c - made-up sets on a bench: bending, warmth and view taken off, solved for, counted. */
#include <gsl/gsl_randist.h>
#include <math.h>
#include <stdlib.h>

#include "../support/close.h"
#include "../support/simulate.h"
#include "../support/truth.h"
#include "flatwright/next.h"
#include "flatwright/plate.h"
#include "flatwright/result.h"
#include "flatwright/view.h"
#include "flatwright/warmth.h"

#define RADIUS 125.0
enum { STATIONS = 13 };

static const fw_glass BOROSILICATE = {"borosilicate", 64, 0.20, 2230, 3.25, 1.13, 750};

/* A trio of unequal thickness in mm. */
static void trio(sim *s, unsigned long seed, double a, double b, double c)
{
    const double thickness[] = {a, b, c};
    sim_init(s, 3, 2 * RADIUS, seed);
    for (int f = 0; f < 3; f++) {
        s->job->flats[f].thickness_mm = thickness[f];
        s->job->flats[f].glass = BOROSILICATE;
    }
}

static void read_pair(sim *s, int bottom, int top, double turn)
{
    double at[STATIONS];
    sim_stations(STATIONS, RADIUS, at);
    sim_fan(s, 1, bottom, top, turn, 4, STATIONS, at);
}

/* Three pairs, one of them turned by 45 degrees as well. */
static void read_set(sim *s, bool exchanged)
{
    for (int f = 0; f < 3; f++) {
        read_pair(s, f, (f + 1) % 3, 0);
        if (exchanged)
            read_pair(s, (f + 1) % 3, f, 0);
    }
    read_pair(s, 0, 1, 45);
}

/* On the rim, the closed form of Timoshenko & Woinowsky-Krieger; nm. */
static double rim_sag(const fw_flat *f, double r)
{
    const fw_glass *g = &f->glass;
    double a = f->diameter_mm / 2e3, t = f->thickness_mm / 1e3, nu = g->poisson, x = r / RADIUS;
    double d = g->young_gpa * 1e9 * t * t * t / (12 * (1 - nu * nu)), q = g->density_kg_m3 * 9.80665 * t;
    return 1e9 * q * pow(a, 4) / (64 * d) * (1 - x * x) * ((5 + nu) / (1 + nu) - x * x);
}

/* Adds to every reading what flats bent on their rims add, each `factor` times as much as theory. */
static void bend(sim *s, const double *factor)
{
    for (size_t i = 0; i < s->job->nreadings; i++) {
        fw_reading *r = &s->job->readings[i];
        const fw_scan *scan = &s->job->scans[r->scan];
        r->deviation_nm -= factor[scan->bottom] * rim_sag(&s->job->flats[scan->bottom], r->position_mm);
        r->deviation_nm += factor[scan->top] * rim_sag(&s->job->flats[scan->top], r->position_mm);
    }
}

static fw_result *solve(sim *s)
{
    fw_result *r = NULL;
    fw_error err;
    if (fw_solve(s->job, NULL, &r, &err))
        fail_msg("%s", err.text);
    return r;
}

/* Largest difference of the heights from the truth on their datum, less `expected` of that flat. */
static double worst(sim *s, const fw_result *r, int flat, double (*expected)(sim *, double))
{
    const fw_profile *p = &r->faces[r->today[flat]].profile;
    double *want = truth_on_datum(s, flat, 0, -1, p, true), most = 0, e[STATIONS], mean = 0;
    assert_true(p->determined && p->tied);
    int n = 1;
    for (int i = 0; i < STATIONS; i++) /* the datum of a shape without angle: its centre counts once */
        e[i] = expected ? expected(s, p->diameters[0].points[i].position_mm) : 0;
    mean = e[STATIONS / 2];
    for (int i = 0; i < STATIONS; i++)
        if (i != STATIONS / 2) {
            mean += e[i] * p->ndiameters;
            n += p->ndiameters;
        }
    mean /= n;
    for (int k = 0, at = 0; k < p->ndiameters; k++)
        for (size_t i = 0; i < p->diameters[k].npoints; i++, at++)
            most = fmax(most, fabs(p->diameters[k].points[i].height_nm - want[at] - e[i] + mean));
    free(want);
    return most;
}

/* Pairs AB, BC, CA on rims: what bending adds comes out as w_B - w_C in A. */
static double predicted(sim *s, double r)
{
    return rim_sag(&s->job->flats[1], r) - rim_sag(&s->job->flats[2], r);
}

/* With bending the set comes out, without it A is wrong by the amount predicted. */
static void test_unequal(void **state)
{
    (void)state;
    const double one[] = {1, 1, 1};
    sim s;
    trio(&s, 1, 40, 30, 25);
    read_set(&s, false);
    bend(&s, one);
    s.job->support_bottom.kind = s.job->support_top.kind = FW_SUPPORT_RIM;
    fw_result *r = solve(&s);
    for (int f = 0; f < 3; f++) {
        assert_true(worst(&s, r, f, NULL) < 1e-6);
        assert_true(r->bench.flats[f].counted && !r->bench.flats[f].solved);
        assert_close(r->bench.flats[f].sag_nm[0], rim_sag(&s.job->flats[f], 0), 1e-9, 0);
    }
    fw_result_free(r);
    s.job->bending = FW_BENDING_SOLVE; /* nothing was exchanged, so nothing tells it: theory stays */
    r = solve(&s);
    for (int f = 0; f < 3; f++) {
        assert_true(worst(&s, r, f, NULL) < 1e-6);
        assert_false(r->bench.flats[f].solved);
        assert_close(r->bench.flats[f].factor, 1, 0, 0);
        assert_close(r->bench.flats[f].factor_u, FW_PLATE_RELATIVE, 1e-12, 0);
    }
    fw_result_free(r);
    s.job->bending = FW_BENDING_IGNORE;
    r = solve(&s);
    assert_true(worst(&s, r, 0, NULL) > 5);
    assert_true(worst(&s, r, 0, predicted) < 1e-6);
    assert_false(r->bench.flats[0].counted);
    fw_result_free(r);
    sim_release(&s);
}

/* Alike in thickness, glass and support: nothing of bending is seen. */
static void test_alike(void **state)
{
    (void)state;
    const double one[] = {1, 1, 1};
    sim s;
    trio(&s, 2, 40, 40, 40);
    read_set(&s, true);
    bend(&s, one);
    fw_result *r = solve(&s);
    for (int f = 0; f < 3; f++)
        assert_true(worst(&s, r, f, NULL) < 1e-6);
    fw_result_free(r);
    sim_release(&s);
}

/*
 * Three points on the bench, one of them 25 degrees from the bottom's mark: under a bored flat, and
 * over a turned top. The deflection is put in by the flats' own angles, the bottom's theta and the
 * top's phi - theta, whose support then stands at phi - 25.
 */
static void test_points(void **state)
{
    (void)state;
    const double rad = 0.017453292519943295769;
    sim s;
    trio(&s, 3, 40, 30, 25);
    s.job->flats[1].bore_mm = 50;
    double at[] = {-120, -90, -60, -30, 30, 60, 90, 120};
    for (int f = 0; f < 3; f++)
        sim_fan(&s, 1, f, (f + 1) % 3, 0, 4, 8, at);
    sim_fan(&s, 1, 0, 1, 45, 4, 8, at);
    s.job->support_bottom = (fw_support){FW_SUPPORT_THREE, 80, 25};
    s.job->support_top = (fw_support){FW_SUPPORT_THREE, 100, 25};
    for (size_t i = 0; i < s.job->nreadings; i++) {
        fw_reading *r = &s.job->readings[i];
        const fw_scan *scan = &s.job->scans[r->scan];
        double theta = (scan->diameter_deg + (r->position_mm < 0 ? 180 : 0)) * rad;
        double phi = scan->turn_deg * rad, alpha = 25 * rad, x = fabs(r->position_mm) / RADIUS;
        const fw_flat *b = &s.job->flats[scan->bottom], *t = &s.job->flats[scan->top];
        fw_plate under = fw_plate_of(0.2, b->bore_mm / 250, 0.64, true);
        fw_plate over = fw_plate_of(0.2, t->bore_mm / 250, 0.8, true);
        r->deviation_nm -= fw_plate_unit_nm(b) * fw_plate_sag(&under, x, theta - alpha);
        r->deviation_nm += fw_plate_unit_nm(t) * fw_plate_sag(&over, x, (phi - theta) - (phi - alpha));
    }
    fw_result *r = solve(&s);
    for (int f = 0; f < 3; f++) {
        const fw_profile *p = &r->faces[r->today[f]].profile;
        double *want = truth_on_datum(&s, f, 0, -1, p, p->tied);
        for (int k = 0, i = 0; k < p->ndiameters; k++)
            for (size_t j = 0; j < p->diameters[k].npoints; j++, i++)
                assert_close(p->diameters[k].points[j].height_nm, want[i], 0, 1e-6);
        free(want);
    }
    fw_result_free(r);
    sim_release(&s);
}

/*
 * Exchanged pairings, every flat's bending off by its own few per cent, 200 sets: the factors and the
 * heights are within 1.96 of their stated uncertainty 95 times in 100.
 */
static void test_exchanged(void **state)
{
    (void)state;
    int inside = 0, n = 0, near = 0, heights = 0;
    for (unsigned long set = 0; set < 200; set++) {
        sim s;
        double factor[3];
        trio(&s, 100 + set, 40, 30, 25);
        s.sigma_nm = s.stated_nm = 1;
        read_set(&s, true);
        for (int f = 0; f < 3; f++)
            factor[f] = 1 + gsl_ran_gaussian(s.rng, FW_PLATE_RELATIVE);
        bend(&s, factor);
        s.job->support_bottom.kind = s.job->support_top.kind = FW_SUPPORT_RIM;
        s.job->bending = FW_BENDING_SOLVE;
        fw_result *r = solve(&s);
        assert_int_equal(r->fit.redundancy, r->fit.readings - r->fit.rank);
        for (int f = 0; f < 3; f++) {
            const fw_bench_flat *b = &r->bench.flats[f];
            const fw_profile *p = &r->faces[r->today[f]].profile;
            double *want = truth_on_datum(&s, f, 0, -1, p, true);
            assert_true(b->solved && b->factor_u > 0);
            inside += fabs(b->factor - factor[f]) < 1.96 * b->factor_u;
            n++;
            for (int k = 0, at = 0; k < p->ndiameters; k++)
                for (size_t i = 0; i < p->diameters[k].npoints; i++, at++) {
                    const fw_point *q = &p->diameters[k].points[i];
                    near += fabs(q->height_nm - want[at]) < 1.96 * q->u_nm;
                    heights++;
                }
            free(want);
        }
        fw_result_free(r);
        sim_release(&s);
    }
    assert_close((double)inside / n, 0.95, 0, 0.03); /* 600 factors: binomial 0.009 */
    assert_close((double)near / heights, 0.95, 0, 0.02);
}

/* A bending three times that of theory, as from a wrong thickness: solved for, not believed. */
static void test_wrong_theory(void **state)
{
    (void)state;
    const double factor[] = {1, 3, 1};
    sim s;
    trio(&s, 4, 40, 30, 25);
    read_set(&s, true);
    bend(&s, factor);
    s.job->support_bottom.kind = s.job->support_top.kind = FW_SUPPORT_RIM;
    s.job->bending = FW_BENDING_SOLVE;
    fw_result *r = solve(&s);
    double b[3];
    for (int f = 0; f < 3; f++) {
        assert_true(worst(&s, r, f, NULL) < 1e-6);
        b[f] = r->bench.flats[f].factor * rim_sag(&s.job->flats[f], 0);
    }
    /* on equal supports only differences of the bending are seen, and only they matter */
    for (int f = 1; f < 3; f++)
        assert_close(b[f] - b[0], factor[f] * rim_sag(&s.job->flats[f], 0) -
                                      factor[0] * rim_sag(&s.job->flats[0], 0), 1e-9, 0);
    fw_result_free(r);
    sim_release(&s);
}

static const fw_share *share_of(const fw_budget *b, fw_source source)
{
    for (int k = 0; k < b->nshares; k++)
        if (b->shares[k].source == source)
            return &b->shares[k];
    return NULL;
}

/* Squares add up; largest PV first. */
static void assert_sums(const fw_budget *b)
{
    double power = 0, pv = 0, irregularity = 0;
    for (int k = 0; k < b->nshares; k++) {
        power += pow(b->shares[k].power_nm, 2);
        pv += pow(b->shares[k].pv_nm, 2);
        irregularity += pow(b->shares[k].irregularity_nm, 2);
        assert_true(k == 0 || b->shares[k].pv_nm <= b->shares[k - 1].pv_nm);
        assert_true(*b->shares[k].remedy);
    }
    assert_close(b->total.power_nm, sqrt(power), 1e-9, 0);
    assert_close(b->total.pv_nm, sqrt(pv), 1e-9, 0);
    assert_close(b->total.irregularity_nm, sqrt(irregularity), 1e-9, 0);
}

/* The bow alpha dT D^2 / 8t is the power's uncertainty, whatever was read how often. */
static void test_warmth(void **state)
{
    (void)state;
    sim s;
    trio(&s, 5, 40, 30, 25);
    s.sigma_nm = s.stated_nm = 0.01;
    read_set(&s, true);
    s.job->gradient_k = 0.02;
    fw_result *r = solve(&s);
    for (int f = 0; f < 3; f++) {
        const fw_face *face = &r->faces[r->today[f]];
        double bow = fw_warmth_bow_nm(&BOROSILICATE, 250, s.job->flats[f].thickness_mm, 0.02);
        const fw_share *warm = share_of(&face->budget, FW_SOURCE_WARMTH);
        assert_close(warm->power_nm, bow, 1e-6, 0);
        assert_close(r->bench.flats[f].bow_nm, bow, 1e-12, 0);
        assert_close(face->figure.power.u_nm, bow, 0.1, 0); /* draws */
        assert_true(warm->irregularity_nm < 1e-3 * bow);
        assert_sums(&face->budget);
        const fw_diameter *d = &face->profile.diameters[1];
        const fw_point *centre = &d->points[STATIONS / 2], *rim = &d->points[0];
        assert_close(centre->u_nm + rim->u_nm, bow, 1e-3, 0); /* moved one up, one down */
    }
    fw_result_free(r);
    sim_release(&s);
}

/* The false rise is taken off; a fifth of it stays as uncertainty, half on either flat. */
static void test_view(void **state)
{
    (void)state;
    sim s;
    trio(&s, 6, 40, 40, 40);
    s.stated_nm = 0.01;
    read_set(&s, true);
    for (size_t i = 0; i < s.job->nreadings; i++)
        s.job->readings[i].deviation_nm += 1e4 * pow(s.job->readings[i].position_mm / 2000, 2) / 2;
    s.job->gap_um = 10;
    s.job->eye_mm = 2000;
    fw_result *r = solve(&s);
    for (int f = 0; f < 3; f++) {
        const fw_face *face = &r->faces[r->today[f]];
        assert_true(worst(&s, r, f, NULL) < 1e-6);
        assert_close(share_of(&face->budget, FW_SOURCE_VIEW)->power_nm,
                     FW_VIEW_RELATIVE * r->bench.rise_nm / 2, 1e-6, 0);
        assert_sums(&face->budget);
    }
    assert_close(r->bench.rise_nm, 19.53125, 1e-12, 0);
    fw_result_free(r);
    sim_release(&s);
}

/* Noise alone: the budget's power is that of the draws, and of all the rest there is nothing. */
static void test_noise(void **state)
{
    (void)state;
    sim s;
    trio(&s, 7, 40, 40, 40);
    s.sigma_nm = s.stated_nm = 2;
    read_set(&s, true);
    fw_result *r = solve(&s);
    for (int f = 0; f < 3; f++) {
        const fw_face *face = &r->faces[r->today[f]];
        assert_int_equal(face->budget.nshares, 1);
        assert_close(face->budget.total.power_nm, face->figure.power.u_nm, 0.2, 0);
        assert_close(face->budget.total.pv_nm, face->figure.pv.u_nm, 0.4, 0);
        assert_sums(&face->budget);
    }
    assert_false(r->bench.any);
    fw_result_free(r);
    sim_release(&s);
}

/* A sigma too small: what the residuals show beyond it is a share of its own. */
static void test_spread(void **state)
{
    (void)state;
    sim s;
    trio(&s, 8, 40, 40, 40);
    s.sigma_nm = 2;
    s.stated_nm = 1;
    read_set(&s, true);
    fw_result *r = solve(&s);
    const fw_budget *b = &r->faces[r->today[0]].budget;
    assert_true(r->fit.birge > 1.5);
    assert_close(share_of(b, FW_SOURCE_SPREAD)->pv_nm / share_of(b, FW_SOURCE_NOISE)->pv_nm,
                 sqrt(r->fit.birge * r->fit.birge - 1), 1e-9, 0);
    assert_sums(b);
    fw_result_free(r);
    sim_release(&s);
}

/* One pair only: power and shape have no bound, and that share stands first. */
static void test_undetermined(void **state)
{
    (void)state;
    sim s;
    trio(&s, 9, 40, 40, 40);
    s.sigma_nm = s.stated_nm = 2;
    read_pair(&s, 0, 1, 0);
    fw_result *r = solve(&s);
    const fw_budget *b = &r->faces[r->today[0]].budget;
    assert_true(b->nshares > 0 && b->shares[0].source == FW_SOURCE_UNDETERMINED);
    assert_true(isnan(b->shares[0].pv_nm) && isnan(b->shares[0].power_nm));
    assert_true(isnan(b->total.pv_nm));
    assert_int_equal(r->faces[r->today[2]].budget.nshares, 0); /* never read */
    fw_result_free(r);
    sim_release(&s);
}

static fw_next *next_of(const fw_result *r)
{
    fw_next *next = NULL;
    fw_error err;
    if (fw_next_pairing(r, &next, &err))
        fail_msg("%s", err.text);
    return next;
}

/* Warm glass: no number of repeats will do, and no exchanged pairing would help. */
static void test_no_repeats(void **state)
{
    (void)state;
    sim s;
    trio(&s, 10, 40, 40, 40);
    s.sigma_nm = s.stated_nm = 2;
    read_set(&s, false);
    fw_result *r = solve(&s);
    fw_next *next = next_of(r);
    assert_true(next->enough.possible && !next->bench_limits);
    fw_next_free(next);
    fw_result_free(r);
    s.job->gradient_k = 0.1;
    r = solve(&s);
    next = next_of(r);
    assert_true(next->bench_limits && !next->enough.possible && !next->enough.already);
    assert_int_equal(next->exchange, -1);
    /* rms of P (1/2 - x^2) over the stations of a diameter, less its mean: every flat's alike */
    double at[STATIONS], mean = 0, square = 0;
    sim_stations(STATIONS, 1, at);
    for (int i = 0; i < STATIONS; i++)
        mean += at[i] * at[i] / STATIONS;
    for (int i = 0; i < STATIONS; i++)
        square += pow(at[i] * at[i] - mean, 2) / STATIONS;
    for (int f = 0; f < 3; f++) /* the centre is one station, and counts once a diameter here */
        assert_close(next->bench_nm[f], r->bench.flats[f].bow_nm * sqrt(square), 0.03, 0);
    fw_next_free(next);
    fw_result_free(r);
    sim_release(&s);
}

/* Thin flats on their rims: bending limits, and a pairing is offered exchanged until it has been read. */
static void test_offer(void **state)
{
    (void)state;
    const double one[] = {1, 1, 1};
    for (int exchanged = 0; exchanged < 2; exchanged++) {
        sim s;
        trio(&s, 11, 22, 16, 18);
        s.sigma_nm = s.stated_nm = 1;
        s.job->support_bottom.kind = s.job->support_top.kind = FW_SUPPORT_RIM;
        s.job->bending = exchanged ? FW_BENDING_SOLVE : FW_BENDING_CORRECT;
        read_set(&s, exchanged);
        bend(&s, one);
        fw_result *r = solve(&s);
        fw_next *next = next_of(r);
        if (exchanged)
            assert_int_equal(next->exchange, -1);
        else {
            assert_true(next->bench_limits && next->exchange >= 0);
            const fw_pairing *p = &next->good[next->exchange];
            assert_true(p->bottom == 1 || p->top == 1); /* the thinnest */
        }
        fw_next_free(next);
        fw_result_free(r);
        sim_release(&s);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_unequal),  cmocka_unit_test(test_alike),
        cmocka_unit_test(test_points),   cmocka_unit_test(test_exchanged),
        cmocka_unit_test(test_wrong_theory), cmocka_unit_test(test_warmth),
        cmocka_unit_test(test_view),     cmocka_unit_test(test_noise),
        cmocka_unit_test(test_spread),   cmocka_unit_test(test_undetermined),
        cmocka_unit_test(test_no_repeats), cmocka_unit_test(test_offer)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
