/* rehearse.c - tests of plans before any reading: closed form, solved sets, frequencies, the search. */
#include <gsl/gsl_randist.h>
#include <math.h>
#include <string.h>

#include "../support/close.h"
#include "../support/simulate.h"
#include "adjust/planned.h"
#include "figure/madeup.h"
#include "flatwright/mating.h"
#include "flatwright/rehearse.h"
#include "flatwright/result.h"

static fw_mate trio[] = {{0, 1, 0}, {1, 2, 0}, {2, 0, 0}, {0, 1, 45}, {1, 2, 45}};
static double fan[] = {0, 45, 90, 135}, wide[] = {0, 22.5, 45, 67.5, 90, 112.5, 135, 157.5};

static fw_rehearsal *rehearsed(const fw_job *job, int nmates, fw_mate *mates, int ndiameters,
                               double *diameters, int nstations, double *stations, double sigma)
{
    fw_scheme scheme = {nmates, mates, ndiameters, diameters, nstations, stations, sigma,
                        FW_MODEL_AUTO};
    fw_rehearsal *r = NULL;
    fw_error err = {0};
    assert_int_equal(fw_rehearse(job, &scheme, &r, &err), FW_OK);
    assert_int_equal(r->nscans, nmates * ndiameters);
    return r;
}

/*
 * Three pairs on one diameter: h_A = (AB + CA - BC) / 2 up to piston and tilt, so on the datum
 *     u_i^2 = 3/4 sigma^2 (1 - 1 / n - s_i^2 / sum s^2).
 * Derived; Schulz & Schwider's three-flat condition.
 */
static void closed_form(void **state)
{
    enum { N = 9 };
    sim s;
    double x[N], u, mean = 0, worst = 0, square = 0;
    (void)state;
    sim_init(&s, 3, 200, 1);
    sim_stations(N, 90, x);
    for (int i = 0; i < N; i++)
        square += x[i] * x[i];
    for (int i = 0; i < N; i++) {
        u = 1.7 * sqrt(0.75 * (1 - 1.0 / N - x[i] * x[i] / square));
        mean += u / N;
        worst = fmax(worst, u);
    }
    fw_rehearsal *r = rehearsed(s.job, 3, trio, 1, fan, N, x, 1.7);
    assert_int_equal(r->nreadings, 27);
    for (int f = 0; f < 3; f++) {
        assert_true(r->expected[f].determined);
        assert_close(r->expected[f].mean_u_nm, mean, 1e-9, 0);
        assert_close(r->expected[f].worst_u_nm, worst, 1e-9, 0);
    }
    fw_rehearsal_free(r);
    sim_release(&s);
}

/*
 * The u of a plan are those that fw_solve states when it is read: a bored flat, setup; stations that
 * leave the plan open, and such as do not, with a centre that diameters share and that counts once.
 */
static void same_as_solved(void **state)
{
    (void)state;
    for (int k = 0; k < 8; k++) {
        enum { N = 7 };
        double odd[N] = {-95, -60, -41, -20, 22, 70, 95}, even[N] = {-95, -70, -41, 0, 41, 70, 95};
        fw_mate mates[5];
        double *x = k < 4 ? odd : even, sum = 0, worst = 0;
        int ndiameters = k < 4 ? 4 : 8;
        int n = 0;
        sim s;
        fw_result *solved = NULL;
        sim_init(&s, 3, 200, 10 + k);
        s.stated_nm = s.sigma_nm = 2.5;
        s.level_nm = k % 2 ? 0 : 300; /* sim levels every scan afresh */
        s.job->levelling = k % 2 ? FW_LEVELLING_SETUP : FW_LEVELLING_SCAN;
        s.job->flats[1].bore_mm = k / 2 % 2 ? 44 : 0;
        s.job->flats[2].clear_mm = 180;
        memcpy(mates, trio, sizeof mates);
        mates[3].turn_deg = mates[4].turn_deg = 180.0 / ndiameters;
        fw_rehearsal *r = rehearsed(s.job, 5, mates, ndiameters, k < 4 ? fan : wide, N, x, 2.5);
        for (int m = 0; m < 5; m++)
            for (int d = 0; d < ndiameters; d++) {
                double there[N];
                for (int i = 0; i < N; i++) {
                    bool bored = mates[m].bottom == 1 || mates[m].top == 1;
                    there[i] = bored && fabs(x[i]) < s.job->flats[1].bore_mm / 2 ? NAN : x[i];
                }
                sim_scan(&s, 1, mates[m].bottom, mates[m].top, mates[m].turn_deg,
                         180.0 / ndiameters * d, N, there);
            }
        assert_int_equal(r->nreadings, s.job->nreadings);
        assert_int_equal(fw_solve(s.job, NULL, &solved, NULL), FW_OK);
        assert_close(solved->fit.birge, 1, 0, 0);
        const fw_face *face = &solved->faces[solved->today[2]];
        assert_int_equal(face->profile.determined, k >= 4 && k < 7);
        assert_int_equal(r->expected[2].determined, face->profile.determined);
        for (int d = 0; d < face->profile.ndiameters; d++)
            for (size_t i = 0; i < face->profile.diameters[d].npoints; i++) {
                const fw_point *p = &face->profile.diameters[d].points[i];
                if (!p->clear || !p->determined || (d > 0 && p->position_mm == 0))
                    continue;
                sum += p->u_nm;
                worst = fmax(worst, p->u_nm);
                n++;
            }
        if (face->profile.determined) {
            assert_close(r->expected[2].mean_u_nm, sum / n, 1e-9, 0);
            assert_close(r->expected[2].worst_u_nm, worst, 1e-9, 0);
        } else
            assert_true(isnan(r->expected[2].mean_u_nm) && !r->enough);
        fw_result_free(solved);
        fw_rehearsal_free(r);
        sim_release(&s);
    }
}

/* What the turned pair opens, on eight diameters: 180 deg does not, 22.5 deg does (Schulz & Grzanna). */
static void determined(void **state)
{
    enum { N = 9 };
    double x[N], eight[8];
    fw_mate mates[4] = {{0, 1, 0}, {1, 2, 0}, {2, 0, 0}, {0, 1, 180}};
    sim s;
    (void)state;
    sim_init(&s, 3, 200, 1);
    sim_stations(N, 90, x);
    for (int i = 0; i < 8; i++)
        eight[i] = 22.5 * i;
    for (int k = 0; k < 3; k++) {
        mates[3].turn_deg = k == 1 ? 180 : 22.5;
        fw_rehearsal *r = rehearsed(s.job, k == 0 ? 3 : 4, mates, 8, eight, N, x, 1);
        for (int f = 0; f < 3; f++) {
            assert_int_equal(r->expected[f].determined, k == 2);
            assert_int_equal(isnan(r->expected[f].pv_u_nm), k != 2);
        }
        assert_true(k == 2 || !r->enough);
        fw_rehearsal_free(r);
    }
    /* A flat that the plan leaves out. */
    fw_rehearsal *r = rehearsed(s.job, 1, mates, 1, eight, N, x, 1);
    assert_false(r->expected[2].determined || r->enough);
    assert_true(isnan(r->expected[2].mean_u_nm));
    fw_rehearsal_free(r);
    sim_release(&s);
}

typedef struct truth {
    madeup flat[3];
} truth;

static double height(void *context, int flat, int state, double x, double y)
{
    const truth *t = context;
    (void)state;
    return madeup_height(&t->flat[flat], atan2(y, x) / FW_RAD, hypot(x, y));
}

static double pv_along(const madeup *m)
{
    double high = -INFINITY, low = INFINITY;
    for (int d = 0; d < 4; d++)
        for (int i = -50; i <= 50; i++) {
            double h = madeup_height(m, 45.0 * d, 2.0 * i);
            high = fmax(high, h);
            low = fmin(low, h);
        }
    return high - low;
}

/* Read next to exactly every one of FW_TRIALS good flats is within, and of as many poor ones none. */
static void every_trial_counts(void **state)
{
    enum { N = 15 };
    double x[N], lines[6] = {0, 30, 60, 90, 120, 150};
    fw_mate mates[] = {{0, 1, 0}, {1, 2, 0}, {2, 0, 0}, {0, 1, 30}, {1, 2, 30}};
    sim s;
    (void)state;
    sim_init(&s, 3, 200, 1);
    sim_stations(N, 100, x);
    fw_rehearsal *r = rehearsed(s.job, 5, mates, 6, lines, N, x, 0.05);
    assert_true(r->enough);
    for (int f = 0; f < 3; f++) {
        assert_int_equal(r->expected[f].good_within, FW_TRIALS);
        assert_int_equal(r->expected[f].poor_within, 0);
    }
    fw_rehearsal_free(r);
    sim_release(&s);
}

/* How far the PV of 40 sets of good flats, drawn anew, comes out off the truth: as pv_u_nm says. */
static void frequency(void **state)
{
    enum { N = 11, SETS = 40 };
    double x[N], square = 0, expected = 0;
    fw_basis *basis = NULL;
    (void)state;
    assert_int_equal(fw_basis_new(false, MADEUP_ORDER, &basis, NULL), FW_OK);
    sim_stations(N, 100, x);
    for (int set = 0; set < SETS; set++) {
        sim s;
        truth t;
        fw_result *r = NULL;
        sim_init(&s, 3, 200, 900 + set);
        s.truth = height;
        s.context = &t;
        s.sigma_nm = s.stated_nm = 2;
        for (int f = 0; f < 3; f++) {
            double size = 0;
            t.flat[f] = (madeup){.basis = basis, .clear_mm = 100};
            madeup_draw(&t.flat[f], set % MADEUP_FAMILIES, s.rng);
            assert_int_equal(madeup_size(&t.flat[f], 0, FW_MEASURE_PV, &size, NULL), FW_OK);
            madeup_scale(&t.flat[f], 5 / size);
        }
        for (int m = 0; m < 5; m++)
            sim_fan(&s, 1, trio[m].bottom, trio[m].top, trio[m].turn_deg, 4, N, x);
        assert_int_equal(fw_solve(s.job, NULL, &r, NULL), FW_OK);
        for (int f = 0; f < 3; f++) {
            double off = r->faces[r->today[f]].figure.pv.value_nm - pv_along(&t.flat[f]);
            square += off * off / (3 * SETS);
        }
        fw_result_free(r);
        if (set == 0) {
            fw_rehearsal *plan = rehearsed(s.job, 5, trio, 4, fan, N, x, 2);
            for (int f = 0; f < 3; f++)
                expected += plan->expected[f].pv_u_nm * plan->expected[f].pv_u_nm / 3;
            fw_rehearsal_free(plan);
        }
        sim_release(&s);
    }
    print_message("PV off by %.2f nm rms, expected %.2f nm\n", sqrt(square), sqrt(expected));
    assert_true(sqrt(square) > 0.7 * sqrt(expected) && sqrt(square) < 1.3 * sqrt(expected));
    fw_basis_free(basis);
}

/* The size that was asked for, over the whole face: r^2 cos 2 theta of height c has PV 2 c (derived). */
static void sizes(void **state)
{
    fw_basis *basis = NULL;
    double size = 0;
    (void)state;
    assert_int_equal(fw_basis_new(false, MADEUP_ORDER, &basis, NULL), FW_OK);
    madeup m = {.basis = basis, .clear_mm = 80};
    for (int j = 0; j < basis->nterms; j++)
        if (basis->terms[j].n == 2 && basis->terms[j].m == 2)
            m.c[j] = 1;
    assert_int_equal(madeup_size(&m, 0, FW_MEASURE_PV, &size, NULL), FW_OK);
    double rim = madeup_height(&m, 0, 80);
    assert_close(size, 2 * rim, 1e-12, 0);
    assert_close(madeup_height(&m, 0, -80), rim, 1e-12, 0);
    assert_close(madeup_height(&m, 90, 40), -rim / 4, 1e-12, 0);
    madeup_scale(&m, 3);
    assert_int_equal(madeup_size(&m, 0, FW_MEASURE_RMS, &size, NULL), FW_OK);
    assert_close(size, 3 * rim / sqrt(6), 1e-12, 0); /* rms of c r^2 cos 2 theta: c / sqrt 6 */
    fw_basis_free(basis);
}

static void wanted(void *context, int tried, size_t scans)
{
    int *last = context;
    assert_true(tried >= *last && scans >= 3);
    *last = tried;
}

/* The plan found is enough, and with any pairing but the three left out it is not. */
static void smallest(void **state)
{
    sim s;
    double stations[9];
    int tried = 0;
    fw_rehearsal *r = NULL, *less;
    (void)state;
    sim_init(&s, 3, 200, 1);
    assert_int_equal(fw_stations(s.job, 9, stations), 9);
    fw_wish wish = {.sigma_nm = 1.5, .ndiameters = 4, .diameters_deg = fan, .nstations = 9,
                    .stations_mm = stations, .progress = wanted, .context = &tried};
    assert_int_equal(fw_rehearse_search(s.job, &wish, &r, NULL), FW_OK);
    assert_true(r->enough && r->searched && tried > 0);
    assert_true(r->scheme.nmates > 3);
    for (int left = 3; left < r->scheme.nmates; left++) {
        fw_mate mates[16];
        int n = 0;
        for (int m = 0; m < r->scheme.nmates; m++)
            if (m != left)
                mates[n++] = r->scheme.mates[m];
        less = rehearsed(s.job, n, mates, 4, fan, 9, stations, 1.5);
        assert_false(less->enough);
        fw_rehearsal_free(less);
    }
    /* Again: the same. Its judgement is that of fw_rehearse. */
    less = rehearsed(s.job, r->scheme.nmates, r->scheme.mates, 4, fan, 9, stations, 1.5);
    assert_true(less->enough && !less->searched);
    assert_close(less->expected[1].pv_u_nm, r->expected[1].pv_u_nm, 0, 0);
    fw_rehearsal_free(less);
    fw_rehearsal_free(r);
    sim_release(&s);
}

/* Where the stations are free, two fewer would not do: of plans of as few scans the least readings. */
static void fewest_stations(void **state)
{
    sim s;
    double stations[FW_STATIONS_MAX];
    fw_rehearsal *r = NULL;
    (void)state;
    sim_init(&s, 3, 200, 1);
    fw_wish wish = {.sigma_nm = 1.4, .ndiameters = 4, .diameters_deg = fan};
    assert_int_equal(fw_rehearse_search(s.job, &wish, &r, NULL), FW_OK);
    int n = r->scheme.nstations;
    assert_true(r->enough);
    assert_in_range(n, FW_STATIONS_LEAST + 2, FW_STATIONS_MAX - 2);
    assert_int_equal(fw_stations(s.job, n - 2, stations), n - 2);
    fw_rehearsal *less = rehearsed(s.job, r->scheme.nmates, r->scheme.mates, 4, fan, n - 2,
                                   stations, 1.4);
    assert_false(less->enough);
    fw_rehearsal_free(less);
    fw_rehearsal_free(r);
    sim_release(&s);
}

/* Readings far too coarse for the target, and two flats: the search ends, and says no. */
static void not_enough(void **state)
{
    double stations[5];
    (void)state;
    for (int nflats = 2; nflats <= 3; nflats++) {
        sim s;
        fw_rehearsal *r = NULL;
        sim_init(&s, nflats, 200, 1);
        fw_stations(s.job, 5, stations);
        fw_wish wish = {.sigma_nm = 60, .ndiameters = 3, .diameters_deg = (double[]){0, 60, 120},
                        .nstations = 5, .stations_mm = stations};
        assert_int_equal(fw_rehearse_search(s.job, &wish, &r, NULL), FW_OK);
        assert_false(r->enough);
        fw_rehearsal_free(r);
        sim_release(&s);
    }
}

static void faults(void **state)
{
    sim s;
    double x[2] = {-5, 5};
    fw_mate itself = {1, 1, 0};
    fw_scheme scheme = {1, &itself, 1, fan, 2, x, 1, FW_MODEL_AUTO};
    fw_rehearsal *r = NULL;
    fw_error err = {0};
    (void)state;
    sim_init(&s, 3, 200, 1);
    assert_int_equal(fw_rehearse(s.job, &scheme, &r, &err), FW_INPUT);
    assert_string_equal(err.text, "'B' cannot lie on itself");
    scheme.mates = trio;
    scheme.sigma_nm = 0;
    assert_int_equal(fw_rehearse(s.job, &scheme, &r, &err), FW_INPUT);
    scheme.sigma_nm = 1;
    s.job->flats[0].bore_mm = 20; /* both stations lie in the bore */
    assert_int_equal(fw_rehearse(s.job, &scheme, &r, &err), FW_INPUT);
    scheme.nmates = 0;
    assert_int_equal(fw_rehearse(s.job, &scheme, &r, &err), FW_INPUT);
    assert_null(r);
    sim_release(&s);
}

/* Stations: even, symmetrical, never in the widest bore, as many as asked for where that can be. */
static void stations(void **state)
{
    double x[15];
    sim s;
    (void)state;
    sim_init(&s, 3, 200, 1);
    s.job->flats[0].clear_mm = 180;
    for (int n = 1; n <= 15; n++) {
        assert_int_equal(fw_stations(s.job, n, x), n);
        assert_close(x[0], n > 1 ? -100 : 0, 1e-15, 1e-300);
    }
    s.job->flats[2].bore_mm = 60;
    for (int n = 2; n <= 15; n++) {
        int count = fw_stations(s.job, n, x);
        assert_true(count <= n && count >= n - 1);
        for (int i = 0; i < count; i++) {
            assert_true(fabs(x[i]) >= 30 && fabs(x[i]) <= 100);
            assert_close(x[i], -x[count - 1 - i], 1e-12, 0);
        }
    }
    sim_release(&s);
}

/*
 * What a bench adds to the readings of flats without any figure: a line to each scan, or one plane to
 * all diameters of a pairing. On the fan 0, 45, 90, 135 deg a plane is its lines on 0 and 90.
 */
static void levels(void **state)
{
    fw_mate again[] = {{0, 1, 0}, {1, 2, 0}, {2, 0, 0}, {0, 1, 45}, {0, 1, 0}};
    double x[] = {-90, 10, 80}, piston[20], tilt[20];
    (void)state;
    for (int setup = 0; setup < 2; setup++) {
        sim s;
        fw_job *job = NULL;
        madeup flats[3] = {{0}};
        fw_basis *basis = NULL;
        fw_scheme scheme = {5, again, 4, fan, 3, x, 1e-9, FW_MODEL_AUTO};
        sim_init(&s, 3, 200, 1);
        s.job->levelling = setup ? FW_LEVELLING_SETUP : FW_LEVELLING_SCAN;
        assert_int_equal(fw_basis_new(false, MADEUP_ORDER, &basis, NULL), FW_OK);
        for (int f = 0; f < 3; f++)
            flats[f] = (madeup){.basis = basis, .clear_mm = 100};
        assert_int_equal(planned_new(s.job, &scheme, &job, NULL), FW_OK);
        planned_read(job, flats, 20, s.rng);
        for (size_t k = 0; k < job->nscans; k++) {
            const fw_reading *r = &job->readings[job->scans[k].first];
            tilt[k] = (r[2].deviation_nm - r[0].deviation_nm) / 170;
            piston[k] = r[1].deviation_nm - 10 * tilt[k];
            assert_close(piston[k] + 80 * tilt[k], r[2].deviation_nm, 0, 1e-6);
            assert_true(fabs(piston[k]) < 20 && fabs(100 * tilt[k]) < (setup ? 20 * sqrt(2) : 20));
            assert_true(k == 0 || (piston[k] != piston[k - 1]) || setup);
        }
        for (int p = 0; p < 20; p += 4)
            for (int k = 0; k < 4; k++) {
                double t = fan[k] * FW_RAD;
                bool plane = fabs(piston[p + k] - piston[p]) < 1e-6 &&
                             fabs(tilt[p + k] - tilt[p] * cos(t) - tilt[p + 2] * sin(t)) < 1e-7;
                assert_int_equal(plane, setup || k == 0);
                assert_true(p == 0 || fabs(piston[p] - piston[p - 1]) > 1e-3);
                if (setup && p == 16) /* the pairing of the first four, in the same round */
                    assert_close(piston[16 + k], piston[k], 0, 1e-6);
            }
        fw_job_free(job);
        fw_basis_free(basis);
        sim_release(&s);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(closed_form), cmocka_unit_test(same_as_solved),
        cmocka_unit_test(every_trial_counts),
        cmocka_unit_test(determined),  cmocka_unit_test(frequency),
        cmocka_unit_test(sizes),       cmocka_unit_test(smallest),
        cmocka_unit_test(fewest_stations),
        cmocka_unit_test(not_enough),  cmocka_unit_test(faults),
        cmocka_unit_test(stations),    cmocka_unit_test(levels),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
