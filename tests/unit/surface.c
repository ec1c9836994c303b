/* surface.c - the surface model: exact on polynomials, against a dense solve, the order chosen. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "../support/close.h"
#include "../support/design.h"
#include "../support/faces.h"
#include "../support/versus_surface.h"
#include "adjust/net.h"
#include "adjust/surface.h"
#include "adjust/surface_order.h"
#include "flatwright/basis.h"
#include "flatwright/lstsq.h"
#include "flatwright/mating.h"
#include "flatwright/result.h"

/* Noise-free sets are recovered to 1e-6 nm, whatever the order up to six. */
static void exact_on_polynomials(void **state)
{
    (void)state;
    for (int order = 2; order <= 6; order++) {
        faces f;
        fw_net *net = NULL;
        surface *s = NULL;
        sim m;
        fw_error err = {0};
        sim_init(&m, 3, 2 * FACES_CLEAR_MM, 10 + (unsigned long)order);
        faces_make(&f, order, 20, m.rng);
        m.truth = faces_height;
        m.context = &f;
        faces_read_odd(&m, 15);
        assert_int_equal(net_new(m.job, 0, NULL, &net, &err), FW_OK);
        assert_int_equal(surface_new(net, 0, NULL, NULL, &s, &err), FW_OK);
        assert_int_equal(s->order, order);
        for (int i = 0; i < s->n; i++)
            assert_close(s->c[i], f.c[net->faces[s->column[i].face].flat][s->column[i].term], 0, 1e-6);
        surface_free(s);
        net_free(net);
        fw_basis_free(f.basis);
        sim_release(&m);
    }
}

/* The true order is found in 95 % of 200 sets whose every coefficient is above three sigma. */
static void order_is_found(void **state)
{
    int found = 0;
    (void)state;
    for (int set = 0; set < 200; set++) {
        int order = 2 + set % 5;
        faces f;
        fw_net *net = NULL;
        surface *s = NULL;
        sim m;
        fw_error err = {0};
        sim_init(&m, 3, 2 * FACES_CLEAR_MM, 1000 + (unsigned long)set);
        faces_make(&f, order, 4, m.rng);
        m.truth = faces_height;
        m.context = &f;
        m.sigma_nm = m.stated_nm = 3;
        if (set % 2)
            m.stated_nm = NAN;
        faces_read_odd(&m, 15);
        assert_int_equal(net_new(m.job, 0, NULL, &net, &err), FW_OK);
        assert_int_equal(surface_new(net, 0, NULL, NULL, &s, &err), FW_OK);
        assert_true(s->condition <= 1e6);
        found += s->order == order;
        surface_free(s);
        net_free(net);
        fw_basis_free(f.basis);
        sim_release(&m);
    }
    print_message("true order found in %d of 200 sets\n", found);
    assert_true(found >= 190);
}

static fw_result *solve_as(sim *m, fw_model model, int order)
{
    fw_result *r = NULL;
    fw_error err = {0};
    fw_solve_options options = {.model = model, .order = order};
    if (fw_solve(m->job, &options, &r, &err))
        fail_msg("%s", err.text);
    return r;
}

/*
 * The whole job as one dense matrix: terms of every face, a line for every scan. x and cofactor of
 * the heights follow by the basis's own values at each point.
 */
typedef struct dense {
    int n, nb;
    double *x, *cofactor, chi;
} dense;

static dense dense_fit(const sim *m, const fw_basis *basis, int nfaces)
{
    const fw_job *job = m->job;
    int rows = (int)job->nreadings, nb = basis->nterms, n = nfaces * nb + 2 * (int)job->nscans;
    double *a = calloc((size_t)rows * (size_t)n, sizeof *a), *b = calloc((size_t)rows, sizeof *b);
    double *residual = calloc((size_t)rows, sizeof *residual);
    dense d = {n, nb, calloc((size_t)n, sizeof(double)), calloc((size_t)n * (size_t)n, sizeof(double)), 0};
    for (int i = 0; i < rows; i++) {
        const fw_reading *r = &job->readings[i];
        const fw_scan *s = &job->scans[r->scan];
        int flat[2] = {s->bottom, s->top};
        double angle[2] = {s->diameter_deg * FW_RAD, (s->turn_deg - s->diameter_deg) * FW_RAD};
        for (int side = 0; side < 2; side++)
            for (int j = 0; j < nb; j++)
                a[i + (size_t)(flat[side] * nb + j) * (size_t)rows] =
                    fw_basis_value(basis, j, r->position_mm / (job->flats[flat[side]].clear_mm / 2),
                                   angle[side]) / r->sigma_nm;
        a[i + (size_t)(nfaces * nb + 2 * r->scan) * (size_t)rows] = 1 / r->sigma_nm;
        a[i + (size_t)(nfaces * nb + 2 * r->scan + 1) * (size_t)rows] =
            r->position_mm / 100 / r->sigma_nm;
        b[i] = r->deviation_nm / r->sigma_nm;
    }
    assert_int_equal(fw_lstsq(rows, n, a, b, 0, d.x, d.cofactor, residual, NULL, NULL), FW_OK);
    for (int i = 0; i < rows; i++)
        d.chi += residual[i] * residual[i];
    free(a);
    free(b);
    free(residual);
    return d;
}

static void dense_release_fit(dense *d)
{
    free(d->x);
    free(d->cofactor);
}

/* Coefficients, heights and their uncertainties agree with the dense solution. */
static void agrees_with_dense(void **state)
{
    enum { ORDER = 5 };
    faces f;
    fw_basis *basis = NULL;
    sim m;
    (void)state;
    sim_init(&m, 3, 2 * FACES_CLEAR_MM, 77);
    faces_make(&f, 4, 10, m.rng);
    m.truth = faces_height;
    m.context = &f;
    m.sigma_nm = m.stated_nm = 2;
    faces_read_odd(&m, 13);
    for (size_t i = 0; i < m.job->nreadings; i += 3)
        m.job->readings[i].sigma_nm = 3; /* unequal weights */
    assert_int_equal(fw_basis_new(false, ORDER, &basis, NULL), FW_OK);
    dense d = dense_fit(&m, basis, 3);
    fw_result *r = solve_as(&m, FW_MODEL_SURFACE, ORDER);
    assert_close(r->fit.chi_square, d.chi, 1e-9, 0);
    assert_int_equal(r->fit.rank, d.n);
    assert_int_equal(r->fit.redundancy, (int)m.job->nreadings - d.n);
    double birge2 = r->fit.birge * r->fit.birge;
    for (int flat = 0; flat < 3; flat++) {
        const fw_face *face = &r->faces[r->today[flat]];
        double u[64], row[64];
        assert_int_equal(face->surface.nterms, d.nb);
        for (int j = 0; j < d.nb; j++) {
            int at = flat * d.nb + j;
            assert_close(face->surface.terms[j].nm, d.x[at], 0, 1e-7);
            u[j] = sqrt(birge2 * d.cofactor[at * (d.n + 1)]);
            assert_close(face->surface.terms[j].u_nm, u[j], 1e-7, 0);
        }
        for (int k = 0; k < face->profile.ndiameters; k++)
            for (size_t i = 0; i < face->profile.diameters[k].npoints; i += 5) {
                const fw_point *p = &face->profile.diameters[k].points[i];
                double h = 0, v = 0, angle = face->profile.diameters[k].angle_deg * FW_RAD;
                for (int j = 0; j < d.nb; j++) {
                    row[j] = fw_basis_value(basis, j, p->position_mm / FACES_CLEAR_MM, angle);
                    h += row[j] * d.x[flat * d.nb + j];
                }
                for (int j = 0; j < d.nb; j++)
                    for (int l = 0; l < d.nb; l++)
                        v += row[j] * row[l] *
                             d.cofactor[flat * d.nb + j + (size_t)(flat * d.nb + l) * (size_t)d.n];
                assert_close(p->height_nm, h, 0, 1e-6);
                assert_close(p->u_nm, sqrt(birge2 * v), 1e-6, 0);
            }
    }
    dense_release_fit(&d);
    fw_result_free(r);
    fw_basis_free(basis);
    fw_basis_free(f.basis);
    sim_release(&m);
}

/* Sets at random, many of them open somewhere: 10^5 are tests/slow/differential.c's. */
static void sets_agree_with_dense(void **state)
{
    surface_tally t = {0};
    (void)state;
    for (unsigned long seed = 1; seed <= 60; seed++) {
        sim m;
        design_surfaces(&m, seed);
        versus_surface(m.job, seed % 7 < 2 ? 0 : (int)(seed % 7), &t);
        sim_release(&m);
    }
    assert_true(t.near == 0 && t.lacking > 5 && t.terms > 500 && t.open > 20);
}

/* Figures over the whole face: a flat of known terms without noise. */
static void figures_of_the_face(void **state)
{
    faces f;
    sim m;
    (void)state;
    sim_init(&m, 3, 2 * FACES_CLEAR_MM, 5);
    faces_make(&f, 4, 5, m.rng);
    memset(f.c, 0, sizeof f.c);
    f.c[0][0] = 12;  /* n 2, m 0: sqrt 3 (2 r^2 - 1): PV 2 sqrt 3 c, power -2 sqrt 3 c */
    f.c[1][2] = 7;   /* n 2, m -2: sqrt 6 r^2 sin 2t: PV 2 sqrt 6 c */
    f.c[2][5] = -3;  /* n 3, m 3: sqrt 8 r^3 cos 3t: PV 2 sqrt 8 c */
    m.truth = faces_height;
    m.context = &f;
    m.stated_nm = 1e-4;
    faces_read_odd(&m, 15);
    fw_result *r = solve_as(&m, FW_MODEL_SURFACE, 0);
    const fw_figure *a = &r->faces[r->today[0]].figure, *b = &r->faces[r->today[1]].figure,
                    *c = &r->faces[r->today[2]].figure;
    assert_close(a->pv.value_nm, 24 * sqrt(3), 1e-3, 0);
    assert_close(a->power.value_nm, -24 * sqrt(3), 1e-4, 0);
    assert_close(a->rms.value_nm, 12, 1e-4, 0);
    assert_close(b->pv.value_nm, 14 * sqrt(6), 5e-3, 0);
    assert_close(b->rms.value_nm, 7, 1e-4, 0);
    assert_close(b->power.value_nm, 0, 0, 1e-3);
    assert_close(c->pv.value_nm, 6 * sqrt(8), 5e-3, 0);
    assert_int_equal(a->verdict, FW_OUTSIDE);
    assert_int_equal(r->nunknowns, 0);
    fw_result_free(r);
    fw_basis_free(f.basis);
    sim_release(&m);
}

/* A bored flat: its datum is the plane over the annulus, whatever the other flats are. */
static void bored_flat(void **state)
{
    faces f;
    sim m;
    (void)state;
    sim_init(&m, 3, 2 * FACES_CLEAR_MM, 6);
    faces_make(&f, 5, 15, m.rng);
    m.truth = faces_height;
    m.context = &f;
    m.job->flats[1].bore_mm = 90;
    faces_read_odd(&m, 16);
    for (size_t i = 0; i < m.job->nreadings; i++) /* what lies over the bore was not read */
        if (fabs(m.job->readings[i].position_mm) < 46)
            m.job->readings[i].position_mm = copysign(46 + 0.05 * (double)(i % 700),
                                                      m.job->readings[i].position_mm);
    for (size_t k = 0; k < m.job->nscans; k++) { /* the readings follow their new places */
        fw_scan *s = &m.job->scans[k];
        for (size_t i = s->first; i < s->first + s->count; i++) {
            fw_reading *x = &m.job->readings[i];
            x->deviation_nm = sim_height(&m, s->bottom, 0, s->diameter_deg, x->position_mm) +
                              sim_height(&m, s->top, 0, s->turn_deg - s->diameter_deg, x->position_mm);
        }
    }
    fw_result *r = solve_as(&m, FW_MODEL_SURFACE, 0);
    const fw_face *face = &r->faces[r->today[1]];
    assert_int_equal(face->figure.order, 5);
    double plane[3] = {0};
    for (int j = 0; j < face->surface.nterms; j++) {
        const fw_surface_term *t = &face->surface.terms[j];
        if (t->n < 2)
            plane[t->n == 0 ? 0 : t->m > 0 ? 1 : 2] = t->nm;
        else
            assert_close(t->nm, f.c[1][j - 3], 0, 1e-6);
    }
    /* mean over the annulus by a fine sum in rho^2 and theta */
    double sum[3] = {0};
    for (int k = 0; k < 400; k++)
        for (int q = 0; q < 64; q++) {
            double u = 0.2025 + (1 - 0.2025) * (k + 0.5) / 400, rho = sqrt(u), t = 2 * 3.14159265358979323846 * q / 64;
            double x = FACES_CLEAR_MM * rho * cos(t), y = FACES_CLEAR_MM * rho * sin(t);
            double h = faces_height(&f, 1, 0, x, y) + plane[0] + 2 * rho * (plane[1] * cos(t) + plane[2] * sin(t));
            sum[0] += h / 25600;
            sum[1] += h * x / 25600;
            sum[2] += h * y / 25600;
        }
    assert_close(sum[0], 0, 0, 1e-3);
    assert_close(sum[1], 0, 0, 0.1);
    assert_close(sum[2], 0, 0, 0.1);
    for (int k = 0; k < face->profile.ndiameters; k += 3) {
        const fw_point *p = &face->profile.diameters[k].points[2];
        double t = face->profile.diameters[k].angle_deg * FW_RAD, s = p->position_mm / FACES_CLEAR_MM;
        double want = sim_height(&m, 1, 0, face->profile.diameters[k].angle_deg, p->position_mm) +
                      plane[0] + 2 * s * (plane[1] * cos(t) + plane[2] * sin(t));
        assert_close(p->height_nm, want, 0, 1e-6);
    }
    fw_result_free(r);
    fw_basis_free(f.basis);
    sim_release(&m);
}

/* A misread reading is found, and none where there is none. */
static void misreading_is_found(void **state)
{
    faces f;
    sim m;
    (void)state;
    sim_init(&m, 3, 2 * FACES_CLEAR_MM, 9);
    faces_make(&f, 4, 10, m.rng);
    m.truth = faces_height;
    m.context = &f;
    m.sigma_nm = m.stated_nm = 2;
    faces_read_odd(&m, 15);
    fw_result *r = solve_as(&m, FW_MODEL_SURFACE, 0);
    assert_int_equal(r->nsuspects, 0);
    assert_int_equal(r->unchecked, 0);
    fw_result_free(r);
    m.job->readings[101].deviation_nm += 25;
    r = solve_as(&m, FW_MODEL_SURFACE, 0);
    assert_int_equal(r->nsuspects, 1);
    assert_int_equal(r->suspects[0].line, 103);
    assert_close(r->suspects[0].error_nm, 25, 0, 8);
    fw_result_free(r);
    fw_basis_free(f.basis);
    sim_release(&m);
}

/* Work between two rounds: both states, and what was taken off between them. */
static void states_and_removal(void **state)
{
    faces f;
    sim m;
    double at[15];
    (void)state;
    sim_init(&m, 3, 2 * FACES_CLEAR_MM, 12);
    faces_make(&f, 4, 20, m.rng);
    m.truth = faces_height;
    m.context = &f;
    m.stated_nm = 1;
    faces_read_odd(&m, 15);
    sim_work(&m, 1, 0, 0.5); /* state 1 is 1.1 times state 0 */
    for (int k = 0; k < 5; k++) {
        for (int i = 0; i < 15; i++)
            at[i] = -95 + 13.1 * i + 0.3 * k;
        sim_scan(&m, 2, 0, 1, 13, 20 + 33 * k, 15, at);
        sim_scan(&m, 2, 2, 0, 0, 11 + 34 * k, 15, at);
    }
    fw_result *r = solve_as(&m, FW_MODEL_SURFACE, 0);
    assert_int_equal(r->nfaces, 4);
    for (int i = 0; i < r->nfaces; i++)
        for (int j = 0; j < f.basis->nterms; j++)
            assert_close(r->faces[i].surface.terms[j].nm,
                         f.c[r->faces[i].flat][j] * (1 + 0.1 * r->faces[i].state), 0, 1e-6);
    assert_int_equal(r->nremovals, 1);
    const fw_profile *p = &r->removals[0].profile;
    assert_true(p->determined);
    for (int k = 0; k < p->ndiameters; k++) {
        const fw_point *x = &p->diameters[k].points[3];
        double angle = p->diameters[k].angle_deg;
        assert_close(x->height_nm, -0.1 * sim_height(&m, 0, 0, angle, x->position_mm), 0, 1e-6);
        assert_true(x->u_nm > 0);
    }
    fw_result_free(r);
    fw_basis_free(f.basis);
    sim_release(&m);
}

/* Sine terms common to three unturned flats change no reading: named, with the turn that shows them. */
static void common_sines_are_named(void **state)
{
    faces f;
    sim m;
    double at[15];
    (void)state;
    for (int turned = 0; turned < 2; turned++) {
        sim_init(&m, 3, 2 * FACES_CLEAR_MM, 20);
        faces_make(&f, 3, 10, m.rng);
        m.truth = faces_height;
        m.context = &f;
        m.stated_nm = 1;
        for (int pair = 0; pair < 3 + turned; pair++)
            for (int k = 0; k < 8; k++) {
                for (int i = 0; i < 15; i++)
                    at[i] = -97 + 13.5 * i + 0.4 * k + 0.9 * pair;
                sim_scan(&m, 1, pair % 3, (pair + 1) % 3, pair == 3 ? 120 : 0, 22.5 * k + 5, 15, at);
            }
        fw_result *r = solve_as(&m, FW_MODEL_SURFACE, 0);
        print_message("%s\n", r->nunknowns ? r->unknowns[0].text : "nothing");
        assert_int_equal(r->nunknowns, 1);
        assert_int_equal(r->unknowns[0].nflats, 3);
        for (int flat = 0; flat < 3; flat++) {
            const fw_face *face = &r->faces[r->today[flat]];
            assert_int_equal(face->figure.verdict, FW_UNDETERMINED);
            assert_false(face->profile.determined);
            assert_true(isfinite(face->figure.power.value_nm));
            for (int j = 0; j < face->surface.nterms; j++) {
                const fw_surface_term *t = &face->surface.terms[j];
                bool blind = t->m < 0 && (!turned || t->m == -3);
                assert_true(t->determined == !blind);
                if (!blind)
                    assert_close(t->nm, f.c[flat][j], 0, 1e-6);
            }
        }
        assert_non_null(strstr(r->unknowns[0].text, turned ? "sine terms of 3 and 6 theta"
                                                           : "sine terms of 1, 2, 3"));
        fw_result_free(r);
        fw_basis_free(f.basis);
        sim_release(&m);
    }
}

/* What is printed of 10^4 readings, three flats, order 10; and that no order passes 1e6. */
static void large_set(void **state)
{
    faces f;
    fw_net *net = NULL;
    surface *s = NULL;
    sim m;
    double at[64];
    (void)state;
    sim_init(&m, 3, 2 * FACES_CLEAR_MM, 30);
    faces_make(&f, 10, 3, m.rng);
    m.truth = faces_height;
    m.context = &f;
    m.sigma_nm = m.stated_nm = 1;
    for (int pair = 0; pair < 5; pair++)
        for (int k = 0; k < 40; k++) {
            for (int i = 0; i < 50; i++)
                at[i] = -97 + 3.9 * i + 0.05 * k;
            sim_scan(&m, 1, pair % 3, (pair + 1) % 3, pair < 3 ? 0 : pair == 3 ? 47 : 111,
                     4.5 * k + 0.3 * pair, 50, at);
        }
    assert_int_equal(net_new(m.job, 0, NULL, &net, NULL), FW_OK);
    clock_t start = clock();
    assert_int_equal(surface_new(net, 10, NULL, NULL, &s, NULL), FW_OK);
    print_message("%zu readings, %d terms: %.3f s\n", m.job->nreadings, s->n,
                  (double)(clock() - start) / CLOCKS_PER_SEC);
    assert_int_equal(s->order, 10);
    assert_true(s->condition < SURFACE_CONDITION_MAX);
    surface_free(s);
    net_free(net);
    fw_basis_free(f.basis);
    sim_release(&m);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(exact_on_polynomials),
        cmocka_unit_test(order_is_found),
        cmocka_unit_test(agrees_with_dense),
        cmocka_unit_test(sets_agree_with_dense),
        cmocka_unit_test(figures_of_the_face),
        cmocka_unit_test(bored_flat),
        cmocka_unit_test(misreading_is_found),
        cmocka_unit_test(states_and_removal),
        cmocka_unit_test(common_sines_are_named),
        cmocka_unit_test(large_set),
    };
    return cmocka_run_group_tests_name("surface", tests, NULL, NULL);
}
