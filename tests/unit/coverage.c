/* coverage.c - the stated uncertainties of heights are those that made-up readings show. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "../support/close.h"
#include "../support/design.h"
#include "../support/truth.h"
#include "adjust/profile.h"
#include "flatwright/result.h"
#include "flatwright/stats.h"

/* Mean over the sets, and its standard error from their scatter: heights of one set are not independent. */
typedef struct average {
    double sum, square;
    int n;
} average;

static void add(average *a, double x)
{
    a->sum += x;
    a->square += x * x;
    a->n++;
}

static double mean_of(const average *a)
{
    return a->sum / a->n;
}

static double error_of(const average *a)
{
    double mean = mean_of(a);
    return sqrt((a->square / a->n - mean * mean) / (a->n - 1));
}

/* Of the heights of one set. */
typedef struct hits {
    double square; /* sum of ((height - truth) / u)^2 */
    int inside, n;
} hits;

static void hit_profile(sim *s, int flat, int state, int minus, const fw_profile *p,
                        double quantile, hits *h)
{
    double *want = truth_on_datum(s, flat, state, minus, p, p->determined), *at = want;
    for (int k = 0; k < p->ndiameters; k++)
        for (size_t i = 0; i < p->diameters[k].npoints; i++, at++) {
            if (isnan(*at)) /* under the hole of another flat: not told */
                continue;
            double z = (p->diameters[k].points[i].height_nm - *at) / p->diameters[k].points[i].u_nm;
            assert_true(isfinite(z));
            h->square += z * z;
            h->inside += fabs(z) <= quantile;
            h->n++;
        }
    free(want);
}

/* What a trial collects over its sets. */
typedef struct trial {
    average heights, heights_in, removals, removals_in;
    double square; /* the expected mean square: 1, or that of Student's t */
    int birge;     /* sets whose uncertainties were enlarged */
} trial;

static void one_set(const design *d, double sigma, double stated, unsigned long seed, trial *t)
{
    sim s;
    adjustment *a = NULL;
    hits heights = {0}, removed = {0};
    sim_init(&s, d->nflats, 200, seed);
    s.sigma_nm = sigma;
    s.stated_nm = stated;
    design_read(d, &s);
    assert_int_equal(adjustment_new(s.job, 0, NULL, &a, NULL), FW_OK);
    bool known = !isnan(stated) && a->birge <= 1;
    double dof = (double)a->redundancy;
    double quantile = known ? fw_normal_quantile(0.975) : fw_student_quantile(0.975, dof);
    t->square = isnan(stated) || stated < sigma ? dof / (dof - 2) : 1;
    t->birge += a->birge > 1;
    for (int f = 0; f < a->net->nfaces; f++) {
        const net_face *face = &a->net->faces[f];
        fw_profile p = {0};
        assert_int_equal(profile_new(a, (contrast){f, -1}, &p, NULL), FW_OK);
        hit_profile(&s, face->flat, face->state, -1, &p, quantile, &heights);
        profile_release(&p);
        if (f == 0 || face[-1].flat != face->flat)
            continue;
        assert_int_equal(profile_new(a, (contrast){f - 1, f}, &p, NULL), FW_OK);
        hit_profile(&s, face->flat, face[-1].state, face->state, &p, quantile, &removed);
        profile_release(&p);
    }
    add(&t->heights, heights.square / heights.n);
    add(&t->heights_in, (double)heights.inside / heights.n);
    if (removed.n) {
        add(&t->removals, removed.square / removed.n);
        add(&t->removals_in, (double)removed.inside / removed.n);
    }
    adjustment_free(a);
    sim_release(&s);
}

static void assert_calibrated(const average *square, const average *inside, double expected)
{
    assert_true(error_of(square) < 0.05 && error_of(inside) < 0.008);
    assert_close(mean_of(square), expected, 0, 4 * error_of(square));
    assert_close(mean_of(inside), 0.95, 0, 4 * error_of(inside));
}

static const struct {
    const char *name;
    design d;
} PLANS[] = {
    {"one diameter, pairs twice",
     {.nflats = 3, .ndiam = 1, .nstations = 11, .rounds = 1, .turned = 1, .repeats = 1}},
    {"two diameters, weights",
     {.nflats = 3, .ndiam = 2, .nstations = 9, .rounds = 1, .turned = 2, .weights = true}},
    {"three, bored, clear",
     {.nflats = 3,
      .ndiam = 3,
      .nstations = 8,
      .rounds = 1,
      .turned = 2,
      .bored = true,
      .clear = true}},
    {"two, one plane a setup",
     {.nflats = 3, .ndiam = 2, .nstations = 7, .rounds = 1, .turned = 1, .setup = true}},
    {"four flats, swapped",
     {.nflats = 4,
      .ndiam = 2,
      .nstations = 6,
      .rounds = 1,
      .turned = 1,
      .swapped = true,
      .reversed = true}},
    {"two rounds, weights",
     {.nflats = 3, .ndiam = 2, .nstations = 7, .rounds = 2, .turned = 1, .weights = true}},
};

static void try_plans(bool given, int sets)
{
    for (size_t i = 0; i < sizeof PLANS / sizeof *PLANS; i++) {
        trial t = {.square = 1};
        if (!given && PLANS[i].d.weights)
            continue; /* one sigma is estimated: readings of equal weight */
        for (unsigned long seed = 1; seed <= (unsigned long)sets; seed++)
            one_set(&PLANS[i].d, 2, given ? 2 : NAN, seed, &t);
        print_message("%-26s mean square %.3f +- %.3f (expected %.3f), 95 %% interval holds %.2f "
                      "+- %.2f %%\n",
                      PLANS[i].name, mean_of(&t.heights), error_of(&t.heights), t.square,
                      100 * mean_of(&t.heights_in), 100 * error_of(&t.heights_in));
        assert_calibrated(&t.heights, &t.heights_in, t.square);
        assert_true(!given || t.birge <= sets / 25);
        if (t.removals.n == 0)
            continue;
        print_message("%-26s mean square %.3f +- %.3f, 95 %% interval holds %.2f +- %.2f %%\n",
                      "  removals", mean_of(&t.removals), error_of(&t.removals),
                      100 * mean_of(&t.removals_in), 100 * error_of(&t.removals_in));
        assert_calibrated(&t.removals, &t.removals_in, t.square);
    }
}

static void sigma_given(void **state)
{
    (void)state;
    try_plans(true, 300);
}

/* The interval is then Student's, of the redundancy's degrees of freedom; t^2 has the mean f / (f - 2). */
static void sigma_estimated(void **state)
{
    (void)state;
    try_plans(false, 300);
}

/* Sigma stated at half of what it is: the Birge ratio enters u, which then holds with Student's t. */
static void sigma_too_small(void **state)
{
    (void)state;
    design d = PLANS[2].d;
    trial t = {.square = 1};
    for (unsigned long seed = 1; seed <= 300; seed++)
        one_set(&d, 2, 1, seed, &t);
    print_message("stated half: enlarged in %d of 300, mean square %.3f +- %.3f (expected %.3f), "
                  "holds %.2f %%\n",
                  t.birge, mean_of(&t.heights), error_of(&t.heights), t.square,
                  100 * mean_of(&t.heights_in));
    assert_true(
        t.birge >=
        290); /* 31 degrees of freedom: chi-square below its 99 % point a few times in 1000 */
    assert_calibrated(&t.heights, &t.heights_in, t.square);
}

static bool notes(const fw_result *r, const char *text)
{
    for (int i = 0; i < r->nnotes; i++)
        if (strstr(r->notes[i], text))
            return true;
    return false;
}

/* The user is told of a sigma that does not fit, either way; u grows, and never shrinks. */
static void sigma_is_tested(void **state)
{
    (void)state;
    static const double stated[] = {1, 2, 4};
    double u[3] = {0};
    for (int i = 0; i < 3; i++) {
        sim s;
        fw_result *r = NULL;
        sim_init(&s, 3, 200, 12);
        s.sigma_nm = 2;
        s.stated_nm = stated[i];
        design_read(&PLANS[2].d, &s);
        assert_int_equal(fw_solve(s.job, NULL, &r, NULL), FW_OK);
        assert_close(r->fit.sigma0, 2 / stated[i], 0.25, 0);
        if (i == 0)
            assert_close(r->fit.birge, r->fit.sigma0, 1e-12, 0);
        else
            assert_close(r->fit.birge, 1, 0, 0);
        assert_close(r->fit.p_value,
                     fw_chi_square_tail(r->fit.chi_square, (double)r->fit.redundancy), 1e-12, 0);
        assert_int_equal(notes(r, "times what sigma says"), i == 0);
        assert_int_equal(notes(r, "sigma may be set too large"), i == 2);
        u[i] = r->faces[0].profile.diameters[0].points[0].u_nm / stated[i];
        u[i] /= r->fit.birge;
        fw_result_free(r);
        sim_release(&s);
    }
    assert_close(u[0], u[1], 1e-12, 0);
    assert_close(u[2], u[1], 1e-12, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sigma_given),
        cmocka_unit_test(sigma_estimated),
        cmocka_unit_test(sigma_too_small),
        cmocka_unit_test(sigma_is_tested),
    };
    return cmocka_run_group_tests_name("coverage", tests, NULL, NULL);
}
