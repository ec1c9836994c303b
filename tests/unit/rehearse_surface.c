/* rehearse_surface.c - plans of flats taken as surfaces: a dense solve, solved sets, frequencies. */
#include <gsl/gsl_multifit.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "../support/close.h"
#include "../support/simulate.h"
#include "figure/madeup.h"
#include "flatwright/mating.h"
#include "flatwright/rehearse.h"
#include "flatwright/result.h"

enum { MATES = 5, LINES = 7, N = 11, ORDER = 6, TERMS = 25, CLEAR = 100 };
static fw_mate mates[MATES] = {{0, 1, 0}, {1, 2, 0}, {2, 0, 0}, {0, 1, 47}, {1, 2, 111}};
static double lines[LINES] = {3, 29, 56, 80, 107, 131, 158};

static fw_rehearsal *rehearsed(const fw_job *job, int nmates, int nlines, int n, double *x,
                               double sigma, fw_model model)
{
    fw_scheme scheme = {nmates, mates, nlines, lines, n, x, sigma, model};
    fw_rehearsal *r = NULL;
    fw_error err = {0};
    assert_int_equal(fw_rehearse(job, &scheme, &r, &err), FW_OK);
    return r;
}

/* The covariance of every flat's terms by one dense least squares of GSL: terms, a line a scan. */
static gsl_matrix *dense_covariance(const fw_basis *basis, const double *x, double sigma)
{
    int rows = MATES * LINES * N, n = 3 * TERMS + 2 * MATES * LINES, row = 0;
    gsl_matrix *a = gsl_matrix_calloc((size_t)rows, (size_t)n);
    gsl_matrix *cov = gsl_matrix_alloc((size_t)n, (size_t)n);
    gsl_vector *y = gsl_vector_calloc((size_t)rows), *c = gsl_vector_alloc((size_t)n);
    gsl_vector *w = gsl_vector_alloc((size_t)rows);
    gsl_multifit_linear_workspace *work = gsl_multifit_linear_alloc((size_t)rows, (size_t)n);
    double chi;
    gsl_vector_set_all(w, 1 / (sigma * sigma));
    for (int m = 0; m < MATES; m++)
        for (int d = 0; d < LINES; d++)
            for (int i = 0; i < N; i++, row++) {
                double bottom = lines[d] * FW_RAD, top = (mates[m].turn_deg - lines[d]) * FW_RAD;
                size_t line = (size_t)3 * TERMS + 2 * ((size_t)m * LINES + d);
                size_t below = (size_t)mates[m].bottom * TERMS, above = (size_t)mates[m].top * TERMS;
                for (int j = 0; j < TERMS; j++) {
                    gsl_matrix_set(a, (size_t)row, below + (size_t)j,
                                   fw_basis_value(basis, j, x[i] / CLEAR, bottom));
                    gsl_matrix_set(a, (size_t)row, above + (size_t)j,
                                   fw_basis_value(basis, j, x[i] / CLEAR, top));
                }
                gsl_matrix_set(a, (size_t)row, line, 1);
                gsl_matrix_set(a, (size_t)row, line + 1, x[i] / CLEAR);
            }
    assert_int_equal(gsl_multifit_wlinear(a, w, y, c, cov, &chi, work), 0);
    gsl_multifit_linear_free(work);
    gsl_matrix_free(a);
    gsl_vector_free(y);
    gsl_vector_free(c);
    gsl_vector_free(w);
    return cov;
}

/* u of a height of a flat at a point of its face. */
static double dense_u(const gsl_matrix *cov, const fw_basis *basis, int flat, double angle,
                      double position)
{
    double row[TERMS], v = 0;
    size_t first = (size_t)flat * TERMS;
    for (int j = 0; j < TERMS; j++)
        row[j] = fw_basis_value(basis, j, position / CLEAR, angle * FW_RAD);
    for (int j = 0; j < TERMS; j++)
        for (int k = 0; k < TERMS; k++)
            v += row[j] * row[k] *
                 gsl_matrix_get(cov, first + (size_t)j, first + (size_t)k);
    return sqrt(v);
}

/* Mean and worst u over all stations that a flat is read at, its centre once, beside dense ones. */
static void agrees_with_dense(void **state)
{
    fw_basis *basis = NULL;
    double x[N];
    sim s;
    (void)state;
    sim_init(&s, 3, 2 * CLEAR, 1);
    sim_stations(N, 95, x);
    assert_int_equal(fw_basis_new(false, ORDER, &basis, NULL), FW_OK);
    assert_int_equal(basis->nterms, TERMS);
    fw_rehearsal *r = rehearsed(s.job, MATES, LINES, N, x, 1.7, FW_MODEL_SURFACE);
    assert_int_equal(r->model, FW_MODEL_SURFACE);
    assert_int_equal(r->order, ORDER);
    gsl_matrix *cov = dense_covariance(basis, x, 1.7);
    for (int flat = 0; flat < 3; flat++) {
        double own[2 * MATES * LINES], sum = 0, worst = 0;
        int nown = 0, n = 0;
        for (int m = 0; m < MATES; m++)
            for (int d = 0; d < LINES; d++) {
                double turn = mates[m].turn_deg;
                bool there = false, bottom = mates[m].bottom == flat;
                double angle = fmod((bottom ? lines[d] : turn - lines[d]) + 360, 180);
                if (!bottom && mates[m].top != flat)
                    continue;
                for (int k = 0; k < nown; k++)
                    there = there || fabs(own[k] - angle) < 1e-6;
                if (!there)
                    own[nown++] = angle;
            }
        for (int k = 0; k < nown; k++)
            for (int i = 0; i < N; i++) {
                if (k > 0 && fabs(x[i]) < 1e-9)
                    continue;
                double u = dense_u(cov, basis, flat, own[k], x[i]);
                sum += u;
                worst = fmax(worst, u);
                n++;
            }
        assert_true(r->expected[flat].determined);
        assert_close(r->expected[flat].mean_u_nm, sum / n, 1e-6, 0);
        assert_close(r->expected[flat].worst_u_nm, worst, 1e-6, 0);
    }
    gsl_matrix_free(cov);
    fw_rehearsal_free(r);
    fw_basis_free(basis);
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

static void read_plan(sim *s, int nmates, int nlines, const double *x)
{
    for (int m = 0; m < nmates; m++)
        for (int d = 0; d < nlines; d++)
            sim_scan(s, 1, mates[m].bottom, mates[m].top, mates[m].turn_deg, lines[d], N, x);
}

/* PV of a polynomial surface on a grid over the face. */
static double pv_of(const madeup *m)
{
    double high = -INFINITY, low = INFINITY;
    for (int a = 0; a < 360; a += 3)
        for (int r = 0; r <= 50; r++) {
            double h = madeup_height(m, a, r * CLEAR / 50.0);
            high = fmax(high, h);
            low = fmin(low, h);
        }
    return high - low;
}

/* How far the PV of good flats, drawn anew and read by the plan, comes out off: as pv_u_nm says. */
static void frequency(void **state)
{
    enum { SETS = 25 };
    double x[N], square = 0, expected = 0;
    fw_basis *basis = NULL;
    fw_solve_options surfaces = {.model = FW_MODEL_SURFACE};
    (void)state;
    sim_stations(N, 95, x);
    assert_int_equal(fw_basis_new(false, MADEUP_ORDER, &basis, NULL), FW_OK);
    for (unsigned long set = 0; set < SETS; set++) {
        truth t;
        sim s;
        fw_result *r = NULL;
        sim_init(&s, 3, 2 * CLEAR, 4000 + set);
        s.truth = height;
        s.context = &t;
        s.sigma_nm = s.stated_nm = 2;
        for (int f = 0; f < 3; f++) {
            t.flat[f] = (madeup){.basis = basis, .clear_mm = CLEAR};
            madeup_draw(&t.flat[f], (int)set % MADEUP_FAMILIES, s.rng);
            madeup_scale(&t.flat[f], 5 / pv_of(&t.flat[f]));
        }
        read_plan(&s, MATES, LINES, x);
        assert_int_equal(fw_solve(s.job, &surfaces, &r, NULL), FW_OK);
        for (int f = 0; f < 3; f++)
            square += pow(r->faces[r->today[f]].figure.pv.value_nm - 5, 2) / (3 * SETS);
        fw_result_free(r);
        if (set == 0) {
            fw_rehearsal *plan = rehearsed(s.job, MATES, LINES, N, x, 2, FW_MODEL_SURFACE);
            for (int f = 0; f < 3; f++)
                expected += plan->expected[f].pv_u_nm * plan->expected[f].pv_u_nm / 3;
            fw_rehearsal_free(plan);
        }
        sim_release(&s);
    }
    print_message("PV off by %.2f nm rms, expected %.2f nm\n", sqrt(square), sqrt(expected));
    assert_true(sqrt(square) > 0.6 * sqrt(expected) && sqrt(square) < 1.4 * sqrt(expected));
    fw_basis_free(basis);
}

/* On auto the model is the one that fw_solve takes of such readings; what a job says, and asks. */
static void as_solved(void **state)
{
    double x[N];
    (void)state;
    sim_stations(N, 95, x);
    for (int k = 0; k < 3; k++) { /* pairs turned at random; unturned ones, which close; one pair */
        fw_result *solved = NULL;
        sim s;
        sim_init(&s, 3, 2 * CLEAR, 30);
        s.sigma_nm = s.stated_nm = 1;
        double kept[2] = {mates[0].turn_deg, mates[2].turn_deg};
        mates[0].turn_deg = k == 0 ? 21 : 0;
        mates[2].turn_deg = k == 0 ? 67 : 0;
        int nmates = k == 0 ? MATES : k == 1 ? 3 : 1, nlines = k == 1 ? 1 : LINES;
        fw_rehearsal *r = rehearsed(s.job, nmates, nlines, N, x, 1, FW_MODEL_AUTO);
        read_plan(&s, nmates, nlines, x);
        assert_int_equal(fw_solve(s.job, NULL, &solved, NULL), FW_OK);
        assert_int_equal(r->model, solved->model);
        assert_int_equal(r->model, k == 0 ? FW_MODEL_SURFACE : FW_MODEL_PROFILE);
        for (int f = 0; f < 3; f++)
            assert_int_equal(r->expected[f].determined,
                             solved->faces[solved->today[f]].profile.determined);
        fw_rehearsal_free(r);
        fw_result_free(solved);
        s.job->model = FW_MODEL_SURFACE; /* of job.ini, with its order */
        s.job->order = 3;
        r = rehearsed(s.job, nmates, nlines, N, x, 1, FW_MODEL_AUTO);
        assert_int_equal(r->model, FW_MODEL_SURFACE);
        assert_true(r->order == 3 || k > 0);
        fw_rehearsal_free(r);
        r = rehearsed(s.job, nmates, nlines, N, x, 1, FW_MODEL_PROFILE);
        assert_int_equal(r->model, FW_MODEL_PROFILE);
        assert_int_equal(r->order, 0);
        fw_rehearsal_free(r);
        mates[0].turn_deg = kept[0];
        mates[2].turn_deg = kept[1];
        sim_release(&s);
    }
}

/* A fan of five carries order 4: sin 5 theta is nought on all its lines. */
static void carried(void **state)
{
    double x[N];
    sim s;
    (void)state;
    sim_init(&s, 3, 2 * CLEAR, 1);
    sim_stations(N, 95, x);
    double fan[5] = {0, 36, 72, 108, 144};
    fw_mate turned[] = {{0, 1, 0}, {1, 2, 0}, {2, 0, 0}, {0, 1, 36}};
    fw_scheme scheme = {4, turned, 5, fan, N, x, 1, FW_MODEL_SURFACE};
    fw_rehearsal *r = NULL;
    assert_int_equal(fw_rehearse(s.job, &scheme, &r, NULL), FW_OK);
    assert_int_equal(r->order, 4);
    fw_rehearsal_free(r);
    sim_release(&s);
}

/* The plan found is enough, and with any pairing but the three left out it is not. */
static void smallest(void **state)
{
    sim s;
    double x[9];
    fw_rehearsal *r = NULL, *less;
    fw_error err = {0};
    (void)state;
    sim_init(&s, 3, 2 * CLEAR, 1);
    assert_int_equal(fw_stations(s.job, 9, x), 9);
    fw_wish wish = {.sigma_nm = 1.5, .ndiameters = LINES, .diameters_deg = lines, .nstations = 9,
                    .stations_mm = x, .model = FW_MODEL_SURFACE};
    assert_int_equal(fw_rehearse_search(s.job, &wish, &r, &err), FW_OK);
    assert_true(r->enough && r->searched);
    assert_int_equal(r->model, FW_MODEL_SURFACE);
    assert_true(r->scheme.nmates > 3 && r->scheme.nmates <= 16);
    for (int left = 3; left < r->scheme.nmates; left++) {
        fw_mate fewer[16];
        fw_scheme scheme = {0, fewer, LINES, lines, 9, x, 1.5, FW_MODEL_SURFACE};
        for (int m = 0; m < r->scheme.nmates; m++)
            if (m != left)
                fewer[scheme.nmates++] = r->scheme.mates[m];
        assert_int_equal(fw_rehearse(s.job, &scheme, &less, NULL), FW_OK);
        assert_false(less->enough);
        fw_rehearsal_free(less);
    }
    print_message("%d pairings are enough\n", r->scheme.nmates);
    fw_rehearsal_free(r);
    sim_release(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(agrees_with_dense), cmocka_unit_test(frequency),
        cmocka_unit_test(as_solved),         cmocka_unit_test(carried),
        cmocka_unit_test(smallest),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
