/* undetermined.c - what readings do not carry is said, with what would show it, and never made up. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "../support/close.h"
#include "../support/design.h"
#include "../support/folder.h"
#include "../support/truth.h"
#include "../support/versus.h"
#include "flatwright/alloc.h"
#include "flatwright/basis.h"
#include "flatwright/result.h"

static fw_result *solve(const fw_job *job)
{
    fw_result *r = NULL;
    fw_error err = {0};
    if (fw_solve(job, NULL, &r, &err))
        fail_msg("%s", err.text);
    return r;
}

static const fw_face *today(const fw_result *r, int flat)
{
    return &r->faces[r->today[flat]];
}

static bool says(const fw_result *r, const char *text)
{
    for (int i = 0; i < r->nunknowns; i++)
        if (strstr(r->unknowns[i].text, text))
            return true;
    for (int i = 0; i < r->nunknowns; i++)
        print_message("said: %s\n", r->unknowns[i].text);
    return false;
}

/* Nothing is told of any flat: no height, no number, no verdict; each flat is in some sentence. */
static void assert_nothing(const fw_result *r)
{
    bool named[5] = {false};
    for (int flat = 0; flat < r->job->nflats; flat++) {
        const fw_face *f = today(r, flat);
        assert_false(f->profile.determined);
        assert_int_equal(f->figure.verdict, FW_UNDETERMINED);
        assert_true(isnan(f->figure.pv.value_nm) && isnan(f->figure.pv_raw_nm) &&
                    isnan(f->figure.rms.value_nm));
        assert_true(isnan(f->figure.probability_within));
        for (int k = 0; k < f->profile.ndiameters; k++)
            for (size_t i = 0; i < f->profile.diameters[k].npoints; i++)
                assert_true(isnan(f->profile.diameters[k].points[i].height_nm));
    }
    for (int i = 0; i < r->nunknowns; i++)
        for (int k = 0; k < r->unknowns[i].nflats; k++)
            named[r->unknowns[i].flats[k]] = true;
    for (int flat = 0; flat < r->job->nflats; flat++)
        assert_true(named[flat]);
    assert_int_equal(r->nsuspects, 0);
}

static void empty_files(void **state)
{
    (void)state;
    static const struct {
        const char *rows;
        int readings;
    } file[] = {{"", 0},
                {"A,B,0,0,10,5\n", 1},
                {"A,B,0,0,0,5\n", 1},
                {"A,B,0,0,-50,1\nA,B,0,0,0,2\nA,B,0,0,50,3\n", 3}};
    for (size_t i = 0; i < sizeof file / sizeof *file; i++)
        for (int given = 0; given < 2; given++)
            for (int setup = 0; setup < 2; setup++) {
                char ini[200], csv[200];
                folder at = folder_make();
                snprintf(ini, sizeof ini, PLAIN_INI "[readings]\nunit = nm\n%slevelling = %s\n",
                         given ? "sigma = 2\n" : "", setup ? "setup" : "scan");
                snprintf(csv, sizeof csv, PLAIN_HEADER "%s", file[i].rows);
                folder_write(&at, "job.ini", ini);
                folder_write(&at, "readings.csv", csv);
                fw_job *job = folder_job(&at);
                fw_result *r = solve(job);
                assert_int_equal(r->fit.readings, file[i].readings);
                assert_int_equal(r->fit.rank, file[i].readings);
                assert_int_equal(r->fit.redundancy, 0);
                assert_true(isnan(r->fit.sigma0) && isnan(r->fit.p_value));
                assert_nothing(r);
                assert_true(says(r, "C has not been read"));
                assert_true(says(r, file[i].readings ? "nly the sum of A and B is known"
                                                     : "A has not been read"));
                fw_result_free(r);
                fw_job_free(job);
                folder_remove(&at);
            }
}

static void two_flats(void **state)
{
    (void)state;
    sim s;
    double x[9];
    sim_init(&s, 2, 200, 3);
    sim_stations(9, 90, x);
    sim_fan(&s, 1, 0, 1, 0, 4, 9, x);
    sim_fan(&s, 1, 1, 0, 45, 4, 9, x);
    fw_result *r = solve(s.job);
    assert_nothing(r);
    assert_true(says(r, "two flats alone cannot be told apart, a third is needed"));
    fw_result_free(r);
    sim_release(&s);
}

/* A chain has sums only; the pairing named turns it into a ring. */
static void chain(void **state)
{
    (void)state;
    for (int close = 0; close < 2; close++) {
        sim s;
        truth_match m = {0};
        double x[9];
        sim_init(&s, 3, 200, 3);
        sim_stations(9, 90, x);
        sim_fan(&s, 1, 0, 1, 0, 1, 9, x);
        sim_fan(&s, 1, 1, 2, 0, 1, 9, x);
        if (close)
            sim_fan(&s, 1, 0, 2, 0, 1, 9, x);
        fw_result *r = solve(s.job);
        if (!close) {
            assert_nothing(r);
            assert_true(says(r, "nly sums of pairs of A, B and C"));
            assert_true(says(r, "A against C closes the ring of three"));
        } else {
            assert_int_equal(r->nunknowns, 0);
            for (int flat = 0; flat < 3; flat++)
                truth_compare(&s, flat, 0, -1, &today(r, flat)->profile, &m);
            assert_int_equal(m.told, 27);
            assert_close(m.worst_nm, 0, 0, 1e-6);
        }
        fw_result_free(r);
        sim_release(&s);
    }
}

static void stations_that_never_meet(void **state)
{
    (void)state;
    for (int meet = 0; meet < 2; meet++) {
        sim s;
        double x[4];
        sim_init(&s, 3, 200, 3);
        for (int i = 0; i < 3; i++) {
            for (int k = 0; k < 4; k++)
                x[k] = (k < 2 ? -90 : 10) + 40 * (k % 2) + (meet ? 0 : 7 * i);
            sim_fan(&s, 1, i, (i + 1) % 3, 0, 1, 4, x);
        }
        fw_result *r = solve(s.job);
        if (meet) {
            assert_int_equal(r->nunknowns, 0);
            assert_true(today(r, 0)->profile.determined);
        } else {
            assert_nothing(r);
            assert_true(says(r, "never meet"));
            assert_true(says(r, "read every scan at the same distances"));
        }
        fw_result_free(r);
        sim_release(&s);
    }
}

/* One station of one pair was forgotten: that ring is open, the others stand, and it is said which. */
static void forgotten_station(void **state)
{
    (void)state;
    sim s;
    truth_match m = {0};
    double x[9];
    sim_init(&s, 3, 200, 4);
    sim_stations(9, 90, x);
    for (int i = 0; i < 3; i++) {
        x[7] = i == 1 ? NAN : 67.5;
        sim_fan(&s, 1, i, (i + 1) % 3, 0, 1, 9, x);
    }
    fw_result *r = solve(s.job);
    for (int flat = 0; flat < 3; flat++) {
        const fw_profile *p = &today(r, flat)->profile;
        assert_int_equal(p->diameters[0].npoints, 9);
        for (int k = 0; k < 9; k++)
            assert_int_equal(p->diameters[0].points[k].determined, k != 7);
        truth_compare(&s, flat, 0, -1, p, &m);
    }
    assert_close(m.worst_nm, 0, 0, 1e-6);
    assert_true(says(r, "ome stations of A, B and C on 0 deg were read in too few pairings"));
    fw_result_free(r);
    sim_release(&s);
}

static void reworked_and_not_read(void **state)
{
    (void)state;
    sim s;
    truth_match m = {0};
    double x[9];
    sim_init(&s, 3, 200, 5);
    sim_stations(9, 90, x);
    for (int i = 0; i < 3; i++)
        sim_fan(&s, 1, i, (i + 1) % 3, 0, 1, 9, x);
    sim_work(&s, 1, 1, 0.5);
    fw_result *r = solve(s.job);
    assert_int_equal(r->round, 2);
    assert_int_equal(r->nfaces, 4);
    assert_int_equal(today(r, 1)->state, 1);
    assert_int_equal(today(r, 1)->last_round, 0);
    assert_false(today(r, 1)->profile.determined);
    assert_int_equal(today(r, 1)->figure.verdict, FW_UNDETERMINED);
    assert_int_equal(r->nremovals, 0);
    assert_true(says(r, "B was worked after round 1 and has not been read since"));
    assert_int_equal(r->nunknowns, 1);
    assert_int_equal(r->unknowns[0].nflats, 1);
    assert_int_equal(r->unknowns[0].flats[0], 1);
    /* The other two, and what B was, are known. */
    for (int i = 0; i < r->nfaces; i++)
        if (r->faces[i].last_round > 0) {
            assert_true(r->faces[i].profile.determined);
            truth_compare(&s, r->faces[i].flat, r->faces[i].state, -1, &r->faces[i].profile, &m);
        }
    assert_int_equal(m.told, 27);
    assert_close(m.worst_nm, 0, 0, 1e-6);
    fw_result_free(r);
    sim_release(&s);
}

/* It is the flat's own last spell that is named, in whatever order the spells were written down. */
static void last_spell_is_named(void **state)
{
    (void)state;
    sim s;
    double x[9];
    sim_init(&s, 3, 200, 5);
    sim_stations(9, 90, x);
    for (int i = 0; i < 3; i++)
        sim_fan(&s, 1, i, (i + 1) % 3, 0, 1, 9, x);
    sim_fan(&s, 2, 0, 2, 0, 1, 9, x);
    sim_fan(&s, 3, 0, 2, 0, 1, 9, x);
    sim_work(&s, 2, 1, 0.5);
    sim_work(&s, 1, 1, 0.5);
    sim_work(&s, 3, 0, 0.5);
    fw_result *r = solve(s.job);
    assert_int_equal(r->nunknowns, 2);
    assert_true(says(r, "A was worked after round 3 and has not been read since"));
    assert_true(says(r, "B was worked after round 2 and has not been read since"));
    fw_result_free(r);
    sim_release(&s);
}

/*
 * At 50 mm B and C were read turned only: A + a, B - a, C - a on 0 deg and the opposite on 90 deg
 * change no reading, and no piston or tilt of a whole flat. On a third diameter A and B were read
 * with their centres, but what rises in A falls in B, so that the centre ties nothing there: every
 * diameter has its own piston, and those of 0 and 90 deg are moved by a. Told is what leaves 50 mm
 * out.
 */
static void open_ring_between_tied_diameters(void **state)
{
    (void)state;
    static const double pair_at[] = {-90, -70, -50, -30, 0, 30, 50, 70, 90};
    double less[9], bored[9];
    versus_tally tally = {0};
    truth_match m = {0};
    sim s;
    for (int i = 0; i < 9; i++) {
        less[i] = fabs(pair_at[i]) == 50 ? NAN : pair_at[i];
        bored[i] = pair_at[i] == 0 ? NAN : pair_at[i];
    }
    sim_init(&s, 4, 200, 8);
    s.job->model = FW_MODEL_PROFILE;
    s.job->flats[3].bore_mm = 30;
    for (int diameter = 0; diameter <= 90; diameter += 90) {
        sim_scan(&s, 1, 0, 1, 0, diameter, 9, pair_at);
        sim_scan(&s, 1, 2, 0, 0, diameter, 9, pair_at);
        sim_scan(&s, 1, 1, 2, 0, diameter, 9, less);
        sim_scan(&s, 1, 1, 2, diameter ? 90 : 270, diameter, 9, pair_at);
    }
    sim_scan(&s, 1, 0, 1, 0, 45, 9, pair_at); /* A 45 deg, B and D 135 deg */
    sim_scan(&s, 1, 0, 3, 0, 45, 9, bored);
    sim_scan(&s, 1, 1, 3, 270, 135, 9, bored);
    fw_result *r = solve(s.job);
    for (int flat = 0; flat < 3; flat++) {
        const fw_profile *p = &today(r, flat)->profile;
        for (int k = 0; k < p->ndiameters; k++)
            for (size_t i = 0; i < p->diameters[k].npoints; i++) {
                double x = p->diameters[k].points[i].position_mm;
                bool ring = fmod(p->diameters[k].angle_deg, 90) == 0 && fabs(x) == 50;
                if (x != 0)
                    assert_int_equal(p->diameters[k].points[i].determined, !ring);
            }
    }
    truth_compare(&s, 0, 0, -1, &today(r, 0)->profile, &m);
    assert_true(m.told >= 20);
    assert_close(m.worst_nm, 0, 0, 1e-6);
    versus_dense(s.job, &tally);
    fw_result_free(r);
    sim_release(&s);
}

/* Diameters without a common centre: the flats are named, as far as a line has room. */
static void untied_flats_are_named(void **state)
{
    (void)state;
    static const char name[] = "a flat with quite a long name";
    for (int longer = 0; longer < 2; longer++) {
        sim s;
        double x[6] = {-90, -60, -30, 30, 60, 90};
        char want[200] = "A, B, C, D: no centre ties";
        sim_init(&s, 4, 200, 5);
        s.job->model = FW_MODEL_PROFILE;
        for (int i = 0; i < 4 && longer; i++) {
            fw_free(s.job->flats[i].name);
            s.job->flats[i].name = fw_copy_text(name);
        }
        if (longer)
            snprintf(want, sizeof want, "%s, %s and others: no centre ties", name, name);
        for (int a = 0; a < 4; a++)
            for (int b = a + 1; b < 4; b++)
                for (int turn = 0; turn <= 60; turn += 60)
                    sim_fan(&s, 1, a, b, turn, 3, 6, x);
        fw_result *r = solve(s.job);
        bool said = false;
        for (int i = 0; i < r->nnotes; i++)
            said = said || strncmp(r->notes[i], want, strlen(want)) == 0;
        for (int i = 0; i < r->nnotes && !said; i++)
            print_message("said: %s\n", r->notes[i]);
        assert_true(said);
        fw_result_free(r);
        sim_release(&s);
    }
}

/* The pairing that the sentences name: "B below, C on top, turned 45 deg". */
static bool named_pairing(const fw_result *r, int *bottom, int *top, double *turn, bool *most)
{
    for (int i = 0; i < r->nunknowns; i++) {
        const char *at = strstr(r->unknowns[i].text, " below, ");
        if (!at)
            continue;
        *bottom = at[-1] - 'A';
        *top = at[8] - 'A';
        char *end;
        const char *turned = strstr(at, "turned ");
        assert_non_null(turned);
        *turn = strtod(turned + 7, &end);
        assert_memory_equal(end, " deg, would show ", 17);
        *most = strncmp(end + 17, "most of it", 10) == 0;
        return true;
    }
    return false;
}

/* The common sine parts that three pairs leave open on a fan, shown by the pairing that is named. */
static void pairing_named_opens(void **state)
{
    (void)state;
    static const int fan[] = {2, 3, 4, 5, 6, 8};
    for (size_t i = 0; i < sizeof fan / sizeof *fan; i++)
        for (int limited = 0; limited < 2; limited++) {
            sim s;
            truth_match m = {0};
            double x[7], turns[] = {0, 180}, turn = NAN;
            int bottom = -1, top = -1;
            bool most = false;
            sim_init(&s, 3, 200, 6);
            if (limited) {
                s.job->nturns = 2;
                s.job->turns_deg = turns;
            }
            sim_stations(7, 90, x);
            for (int k = 0; k < 3; k++)
                sim_fan(&s, 1, k, (k + 1) % 3, 0, fan[i], 7, x);
            fw_result *before = solve(s.job);
            assert_int_equal(before->nunknowns > 0, 1);
            assert_true(named_pairing(before, &bottom, &top, &turn, &most));
            if (limited)
                assert_close(turn, 180, 0, 0);
            sim_fan(&s, 1, bottom, top, turn, fan[i], 7, x);
            fw_result *after = solve(s.job);
            assert_int_equal(after->nunknowns > 0, most);
            assert_true(limited || !most);
            assert_true(after->fit.unknowns - after->fit.rank <
                        before->fit.unknowns - before->fit.rank);
            for (int flat = 0; flat < 3; flat++) {
                assert_int_equal(today(after, flat)->profile.determined, !most);
                truth_compare(&s, flat, 0, -1, &today(after, flat)->profile, &m);
            }
            assert_close(m.worst_nm, 0, 0, 1e-6);
            fw_result_free(before);
            fw_result_free(after);
            s.job->turns_deg = NULL;
            sim_release(&s);
        }
}

/* Figures of low order, so that their power is known: coefficients in nm, rms-normalised. */
static double low_order(void *context, int flat, int state, double x, double y)
{
    static const double c[3][6] = {
        {12, -5, 8, 3, -4, 6}, {-20, 9, 2, -7, 5, 1}, {4, 11, -6, 2, 8, -3}};
    const double *at = c[flat];
    double rho = hypot(x, y) / 100, theta = atan2(y, x);
    (void)context;
    (void)state;
    return at[0] * fw_zernike(2, 0, rho, theta) + at[1] * fw_zernike(2, 2, rho, theta) +
           at[2] * fw_zernike(2, -2, rho, theta) + at[3] * fw_zernike(3, -3, rho, theta) +
           at[4] * fw_zernike(3, 1, rho, theta) + at[5] * fw_zernike(4, 0, rho, theta);
}

/*
 * Three pairs on four diameters: a whole figure is not known, its power is. True power: the sagitta of
 * c Z(2, 0) = c sqrt 3 (2 rho^2 - 1), convex +: -2 sqrt 3 c. Errors are to be as large as u says.
 */
static void power_alone(void **state)
{
    (void)state;
    static const double c20[] = {12, -20, 4};
    enum { SETS = 40 };
    double x[21], square = 0;
    sim_stations(21, 100, x);
    for (unsigned long seed = 1; seed <= SETS; seed++) {
        sim s;
        sim_init(&s, 3, 200, seed);
        s.truth = low_order;
        s.sigma_nm = s.stated_nm = 3;
        for (int i = 0; i < 3; i++)
            sim_fan(&s, 1, i, (i + 1) % 3, 0, 4, 21, x);
        fw_result *r = solve(s.job);
        for (int flat = 0; flat < 3; flat++) {
            const fw_figure *f = &today(r, flat)->figure;
            double want = -2 * sqrt(3) * c20[flat];
            assert_int_equal(f->verdict, FW_UNDETERMINED);
            assert_true(isnan(f->pv.value_nm) && isnan(f->rms.value_nm) &&
                        isnan(f->irregularity.value_nm));
            assert_true(isnan(f->probability_within));
            assert_close(f->power.value_nm, want, 0, 5 * f->power.u_nm);
            assert_true(f->power.u_nm > 0.3 && f->power.u_nm < 3);
            square += pow((f->power.value_nm - want) / f->power.u_nm, 2) / (3 * SETS);
        }
        assert_true(says(r, "the odd part") || says(r, "the even part") || says(r, "the shape"));
        assert_true(says(r, "common to A, B and C"));
        fw_result_free(r);
        sim_release(&s);
    }
    print_message("power: mean square error over u^2 is %.2f\n", square);
    /* The three flats' errors are not independent: at least SETS degrees of freedom, so sd < 0.23 */
    assert_close(square, 1, 0, 3.5 * sqrt(2.0 / SETS));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(empty_files),
        cmocka_unit_test(two_flats),
        cmocka_unit_test(chain),
        cmocka_unit_test(stations_that_never_meet),
        cmocka_unit_test(forgotten_station),
        cmocka_unit_test(reworked_and_not_read),
        cmocka_unit_test(last_spell_is_named),
        cmocka_unit_test(untied_flats_are_named),
        cmocka_unit_test(open_ring_between_tied_diameters),
        cmocka_unit_test(pairing_named_opens),
        cmocka_unit_test(power_alone),
    };
    return cmocka_run_group_tests_name("undetermined", tests, NULL, NULL);
}
