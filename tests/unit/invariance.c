/* invariance.c - a result depends on what was read, not on how it was written down. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "../support/close.h"
#include "../support/design.h"
#include "../support/folder.h"
#include "../support/truth.h"
#include "flatwright/alloc.h"
#include "flatwright/basis.h"
#include "flatwright/result.h"

/* How the second writing of a job differs, as far as its result shows it. */
typedef struct writing {
    int flat[5];    /* where each flat went */
    double mark[5]; /* how far each flat's angles grew */
    double scale;   /* of all heights */
    bool moved;     /* the marks were */
} writing;

static writing as_before(void)
{
    return (writing){{0, 1, 2, 3, 4}, {0}, 1, false};
}

/*
 * Largest departure of a figure's number, as part of its u. Other marks are other normal numbers for the
 * terms: 500 draws or more, so that means agree to a few times 1/sqrt(500).
 */
static const double SAME_FIGURE = 1e-6, OTHER_DRAWS = 0.3;
static double worst_figure;

static fw_result *solve(const fw_job *job)
{
    fw_result *r = NULL;
    fw_error err = {0};
    if (fw_solve(job, NULL, &r, &err))
        fail_msg("%s", err.text);
    return r;
}

static void same_quantity(fw_quantity a, fw_quantity b, double scale)
{
    assert_int_equal(isnan(a.value_nm), isnan(b.value_nm));
    if (!isnan(a.value_nm) && a.u_nm > 0)
        worst_figure = fmax(worst_figure, fabs(b.value_nm / scale - a.value_nm) / a.u_nm);
}

static void same_profile(const fw_profile *p, const fw_profile *q, double mark, double scale)
{
    assert_int_equal(p->determined, q->determined);
    assert_int_equal(p->ndiameters, q->ndiameters);
    assert_int_equal(profile_size(p), profile_size(q));
    for (int k = 0; k < p->ndiameters; k++)
        for (size_t i = 0; i < p->diameters[k].npoints; i++) {
            const fw_point *a = &p->diameters[k].points[i];
            const fw_point *b = profile_find(q, p->diameters[k].angle_deg + mark, a->position_mm);
            assert_non_null(b);
            assert_int_equal(a->determined, b->determined);
            assert_int_equal(a->clear, b->clear);
            if (!a->determined)
                continue;
            assert_close(b->height_nm / scale, a->height_nm, 1e-10, 1e-9);
            assert_int_equal(isnan(a->u_nm), isnan(b->u_nm));
            if (!isnan(a->u_nm))
                assert_close(b->u_nm / scale, a->u_nm, 1e-8, 1e-9);
        }
}

static const fw_face *face_of(const fw_result *r, int flat, int state)
{
    for (int i = 0; i < r->nfaces; i++)
        if (r->faces[i].flat == flat && r->faces[i].state == state)
            return &r->faces[i];
    return NULL;
}

static void same_faces(const fw_result *a, const fw_result *b, const writing *w)
{
    assert_int_equal(a->nfaces, b->nfaces);
    for (int i = 0; i < a->nfaces; i++) {
        const fw_face *x = &a->faces[i], *y = face_of(b, w->flat[x->flat], x->state);
        assert_non_null(y);
        same_profile(&x->profile, &y->profile, w->mark[x->flat], w->scale);
        assert_int_equal(x->figure.verdict, y->figure.verdict);
        if (!w->moved && !isnan(x->figure.probability_within))
            assert_close(y->figure.probability_within, x->figure.probability_within, 0, 1e-12);
        assert_int_equal(x->figure.finer, y->figure.finer);
        same_quantity(x->figure.pv, y->figure.pv, w->scale);
        if (!w->moved) /* over the area, a few diameters leave it to the choice of terms */
            same_quantity(x->figure.rms, y->figure.rms, w->scale);
        same_quantity(x->figure.power, y->figure.power, w->scale);
        same_quantity(x->figure.irregularity, y->figure.irregularity, w->scale);
        same_quantity(x->figure.symmetric, y->figure.symmetric, w->scale);
        if (!isnan(x->figure.pv_raw_nm))
            assert_close(y->figure.pv_raw_nm / w->scale, x->figure.pv_raw_nm, 1e-9, 1e-9);
    }
}

static void same_removals(const fw_result *a, const fw_result *b, const writing *w)
{
    assert_int_equal(a->nremovals, b->nremovals);
    for (int i = 0; i < a->nremovals; i++)
        for (int k = 0; k < b->nremovals; k++)
            if (b->removals[k].flat == w->flat[a->removals[i].flat] &&
                b->removals[k].to_state == a->removals[i].to_state) {
                int flat = a->removals[i].flat;
                same_profile(&a->removals[i].profile, &b->removals[k].profile, w->mark[flat],
                             w->scale);
            }
}

/* Of tied readings any may come first; of several suspects the first ones are alike. */
static void same_suspects(const fw_result *a, const fw_result *b, const writing *w)
{
    assert_int_equal(a->nsuspects > 0, b->nsuspects > 0);
    if (a->nsuspects && !a->suspects[0].tied) {
        assert_int_equal(a->suspects[0].line, b->suspects[0].line);
        assert_close(b->suspects[0].standardised, a->suspects[0].standardised, 1e-8, 0);
        assert_close(b->suspects[0].error_nm / w->scale, a->suspects[0].error_nm, 1e-8, 1e-9);
    }
    if (!isnan(a->worst_mdb_nm))
        assert_close(b->worst_mdb_nm / w->scale, a->worst_mdb_nm, 1e-6, 0);
    assert_int_equal(a->unchecked, b->unchecked);
}

static void same(const fw_result *a, const fw_result *b, const writing *w)
{
    double scale = a->fit.sigma_known ? 1 : w->scale;
    assert_int_equal(a->fit.readings, b->fit.readings);
    assert_int_equal(a->fit.unknowns, b->fit.unknowns);
    assert_int_equal(a->fit.rank, b->fit.rank);
    assert_int_equal(a->fit.redundancy, b->fit.redundancy);
    if (!isnan(a->fit.sigma0))
        assert_close(b->fit.sigma0 / scale, a->fit.sigma0, 1e-9, 1e-12);
    assert_close(b->fit.birge, a->fit.birge, 1e-9, 0);
    same_faces(a, b, w);
    same_removals(a, b, w);
    same_suspects(a, b, w);
    assert_int_equal(a->nunknowns, b->nunknowns);
    assert_int_equal(a->nnotes, b->nnotes);
}

/* A set of a random plan with noise, sigma given or not. */
static design random_set(sim *s, unsigned long seed)
{
    design d = design_random(seed);
    sim_init(s, d.nflats, 200, seed);
    s->sigma_nm = 2;
    s->stated_nm = seed % 4 ? 2 : NAN;
    if (isnan(s->stated_nm))
        d.weights = false;
    design_read(&d, s);
    return d;
}

/* Readings and scans in another order; the lines stay with the readings. */
static void shuffle(sim *s, writing *w)
{
    (void)w;
    fw_job *job = s->job;
    size_t n = 0;
    fw_reading *readings = fw_alloc(job->nreadings + 1, sizeof *readings);
    for (size_t i = job->nscans; i-- > 1;) {
        size_t k = gsl_rng_uniform_int(s->rng, i + 1);
        fw_scan keep = job->scans[i];
        job->scans[i] = job->scans[k];
        job->scans[k] = keep;
    }
    for (size_t i = 0; i < job->nscans; i++) {
        fw_scan *scan = &job->scans[i];
        fw_reading *old = job->readings + scan->first;
        for (size_t k = scan->count; k-- > 1;) {
            size_t j = gsl_rng_uniform_int(s->rng, k + 1);
            fw_reading keep = old[k];
            old[k] = old[j];
            old[j] = keep;
        }
        scan->first = n;
        for (size_t k = 0; k < scan->count; k++) {
            readings[n] = old[k];
            readings[n++].scan = (int)i;
        }
    }
    fw_free(job->readings);
    job->readings = readings;
}

/*
 * The top taken for the bottom: (bottom, top, turn, diameter, s) is (top, bottom, turn, turn - diameter,
 * s), since the bottom's line is then turn - (turn - diameter) on the new top, and s stays with the point.
 * Derived. Of levelling = setup a pairing goes over as a whole.
 */
static void exchange(sim *s, writing *w)
{
    (void)w;
    for (size_t i = 0; i < s->job->nscans; i++) {
        fw_scan *scan = &s->job->scans[i];
        int bottom = scan->bottom;
        if (s->job->levelling == FW_LEVELLING_SCAN && gsl_rng_uniform(s->rng) < 0.5)
            continue;
        scan->bottom = scan->top;
        scan->top = bottom;
        scan->diameter_deg = scan->turn_deg - scan->diameter_deg;
    }
}

/* Every flat's mark scratched elsewhere: angle + mark of each flat, so turn + both marks. */
static void move_marks(sim *s, writing *w)
{
    w->moved = true;
    for (int i = 0; i < s->job->nflats; i++)
        w->mark[i] = 15.0 * (double)gsl_rng_uniform_int(s->rng, 24);
    for (size_t i = 0; i < s->job->nscans; i++) {
        fw_scan *scan = &s->job->scans[i];
        scan->diameter_deg += w->mark[scan->bottom];
        scan->turn_deg += w->mark[scan->bottom] + w->mark[scan->top];
    }
}

/* Other names, and the flats listed the other way round. */
static void rename_flats(sim *s, writing *w)
{
    fw_job *job = s->job;
    int n = job->nflats;
    for (int i = 0; i < n; i++)
        w->flat[i] = n - 1 - i;
    for (int i = 0; i < n / 2; i++) {
        fw_flat keep = job->flats[i];
        job->flats[i] = job->flats[n - 1 - i];
        job->flats[n - 1 - i] = keep;
    }
    for (int i = 0; i < n; i++) {
        char name[] = "old-0";
        name[4] = (char)('0' + i);
        fw_free(job->flats[i].name);
        job->flats[i].name = fw_copy_text(name);
    }
    for (size_t i = 0; i < job->nscans; i++) {
        job->scans[i].bottom = w->flat[job->scans[i].bottom];
        job->scans[i].top = w->flat[job->scans[i].top];
    }
    for (size_t i = 0; i < job->nwork; i++)
        job->work[i].flat = w->flat[job->work[i].flat];
}

/* Everything that is a height in a unit so much smaller. */
static void rescale(sim *s, writing *w)
{
    fw_job *job = s->job;
    w->scale = 273.037;
    for (size_t i = 0; i < job->nreadings; i++) {
        job->readings[i].deviation_nm *= w->scale;
        job->readings[i].sigma_nm *= w->scale;
    }
    job->flatness_nm *= w->scale;
    job->prior_nm *= w->scale;
}

/* Scans of which no row is left, at a turn and on a diameter of their own. */
static void lose_scans(sim *s, writing *w)
{
    (void)w;
    const double none = NAN;
    sim_scan(s, 1, 0, 1, 33, 21.7, 1, &none);
    sim_scan(s, 1, 1, 0, 0, 0, 1, &none);
}

static void compare(unsigned long seeds, void (*rewrite)(sim *, writing *))
{
    worst_figure = 0;
    for (unsigned long seed = 1; seed <= seeds; seed++) {
        sim a, b;
        writing w = as_before();
        random_set(&a, seed);
        random_set(&b, seed);
        rewrite(&b, &w);
        fw_result *x = solve(a.job), *y = solve(b.job);
        same(x, y, &w);
        fw_result_free(x);
        fw_result_free(y);
        sim_release(&a);
        sim_release(&b);
    }
    print_message("figures agree within %.2g u\n", worst_figure);
    assert_close(worst_figure, 0, 0, rewrite == move_marks ? OTHER_DRAWS : SAME_FIGURE);
}

static void order_of_rows(void **state)
{
    (void)state;
    compare(11, shuffle);
}

static void bottom_and_top(void **state)
{
    (void)state;
    compare(11, exchange);
}

static void marks(void **state)
{
    (void)state;
    compare(11, move_marks);
}

static void empty_scans(void **state)
{
    (void)state;
    compare(11, lose_scans);
}

static void names(void **state)
{
    (void)state;
    compare(11, rename_flats);
}

static void units(void **state)
{
    (void)state;
    compare(11, rescale);
}

/* Low orders, so that a few diameters tell all there is: rms 17.15 and power -2 sqrt 3 12 nm. */
static double low_order(void *context, int flat, int state, double x, double y)
{
    double rho = hypot(x, y) / 100, theta = atan2(y, x), size = flat == 0 ? 1 : 0.4 * flat;
    (void)context;
    (void)state;
    return size * (12 * fw_zernike(2, 0, rho, theta) - 5 * fw_zernike(2, 2, rho, theta) +
                   8 * fw_zernike(2, -2, rho, theta) + 3 * fw_zernike(3, -3, rho, theta) -
                   4 * fw_zernike(3, 1, rho, theta) + 6 * fw_zernike(4, 0, rho, theta));
}

/*
 * A fan may begin anywhere, also where cos N theta is 0 on all its diameters: a term that is nowhere seen
 * must not be made up from rounding.
 */
static void fans_beside_the_mark(void **state)
{
    (void)state;
    static const struct {
        int ndiam;
        double start;
    } fan[] = {{4, 0}, {4, 22.5}, {6, 0}, {6, 15}, {5, 18}, {8, 11.25}};
    double x[15];
    sim_stations(15, 100, x);
    for (size_t i = 0; i < sizeof fan / sizeof *fan; i++) {
        sim s;
        sim_init(&s, 3, 200, 3);
        s.truth = low_order;
        s.sigma_nm = s.stated_nm = 2;
        for (int p = 0; p < 4; p++)
            for (int k = 0; k < fan[i].ndiam; k++)
                sim_scan(&s, 1, p % 3, (p + 1) % 3,
                         2 * fan[i].start + (p == 3 ? 180.0 / fan[i].ndiam : 0),
                         fan[i].start + 180.0 * k / fan[i].ndiam, 15, x);
        fw_result *r = solve(s.job);
        const fw_figure *f = &r->faces[0].figure;
        assert_close(f->power.value_nm, -24 * sqrt(3), 0, 4 * f->power.u_nm);
        assert_close(f->rms.value_nm, 17.15, 0, 4 * f->rms.u_nm);
        assert_true(f->power.u_nm < 1.5 && f->rms.u_nm < 0.8 && f->pv.u_nm < 6);
        assert_true(r->faces[0].profile.determined);
        fw_result_free(r);
        sim_release(&s);
    }
}

/* The same notebook typed in four units, and with names of more than a letter. */
static void typed_units(void **state)
{
    (void)state;
    static const struct {
        const char *unit;
        double nm;
        const char *names[3];
    } typed[] = {{"nm", 1, {"A", "B", "C"}},
                 {"um", 1000, {"C", "A", "B"}},
                 {"fringe", 546.074 / 2, {"north", "flat_2", "x-3"}},
                 {"wave", 546.074, {"1", "2", "3"}}};
    sim s;
    fw_result *first = NULL;
    writing w = as_before();
    worst_figure = 0;
    design_plain(&s, 2, 7, 2, 2, 8);
    fw_job *jobs[4];
    for (int u = 0; u < 4; u++) {
        char ini[400], *csv = malloc(100 * (s.job->nreadings + 1));
        int used = sprintf(csv, PLAIN_HEADER);
        snprintf(ini, sizeof ini,
                 "[set]\nflats = %s %s %s\ndiameter = 200 mm\n[target]\nflatness = 10 nm\n[light]\n"
                 "source = mercury-green\n[readings]\nunit = %s\nsigma = %.17g\n",
                 typed[u].names[0], typed[u].names[1], typed[u].names[2], typed[u].unit,
                 2 / typed[u].nm);
        for (size_t i = 0; i < s.job->nreadings; i++) {
            const fw_reading *r = &s.job->readings[i];
            const fw_scan *scan = &s.job->scans[r->scan];
            used += sprintf(csv + used, "%s,%s,%.17g,%.17g,%.17g,%.17g\n",
                            typed[u].names[scan->bottom], typed[u].names[scan->top], scan->turn_deg,
                            scan->diameter_deg, r->position_mm, r->deviation_nm / typed[u].nm);
        }
        folder at = folder_make();
        folder_write(&at, "job.ini", ini);
        folder_write(&at, "readings.csv", csv);
        jobs[u] = folder_job(&at);
        folder_remove(&at);
        free(csv);
        fw_result *r = solve(jobs[u]);
        if (u == 0) {
            first = r;
            continue;
        }
        same(first, r, &w);
        fw_result_free(r);
    }
    fw_result_free(first);
    for (int u = 0; u < 4; u++)
        fw_job_free(jobs[u]);
    sim_release(&s);
    assert_close(worst_figure, 0, 0, SAME_FIGURE);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(order_of_rows), cmocka_unit_test(bottom_and_top),
        cmocka_unit_test(marks),         cmocka_unit_test(fans_beside_the_mark),
        cmocka_unit_test(names),         cmocka_unit_test(units),
        cmocka_unit_test(typed_units),   cmocka_unit_test(empty_scans),
    };
    return cmocka_run_group_tests_name("invariance", tests, NULL, NULL);
}
