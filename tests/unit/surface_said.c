/* surface_said.c - surfaces: what is left aside, what is open and in which words, heights anywhere. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "../support/close.h"
#include "../support/faces.h"
#include "adjust/net.h"
#include "adjust/surface.h"
#include "flatwright/alloc.h"
#include "flatwright/mating.h"
#include "flatwright/result.h"

static void start(sim *s, faces *f, int order, unsigned long seed)
{
    sim_init(s, 3, 2 * FACES_CLEAR_MM, seed);
    faces_make(f, order, 10, s->rng);
    s->truth = faces_height;
    s->context = f;
    s->sigma_nm = s->stated_nm = 2;
}

static void end(sim *s, faces *f, fw_result *r)
{
    fw_result_free(r);
    fw_basis_free(f->basis);
    sim_release(s);
}

static fw_result *solve(const sim *s, int order)
{
    fw_result *r = NULL;
    fw_error err = {0};
    fw_solve_options options = {FW_MODEL_SURFACE, order};
    if (fw_solve(s->job, &options, &r, &err))
        fail_msg("%s", err.text);
    return r;
}

static bool notes(const fw_result *r, const char *text)
{
    for (int i = 0; i < r->nnotes; i++)
        if (strcmp(r->notes[i], text) == 0)
            return true;
    return false;
}

/* Readings beyond a clear aperture change nothing, and that is said. */
static void beyond(void **state)
{
    (void)state;
    faces f, g;
    sim with, without;
    start(&with, &f, 3, 4);
    start(&without, &g, 3, 4);
    faces_read_odd(&with, 11);
    faces_read_odd(&without, 11);
    fw_job *job = without.job;
    int lost = 0;
    for (int k = 0; k < 3; k++)
        with.job->flats[k].clear_mm = job->flats[k].clear_mm = k == 1 ? 185 : 200;
    for (size_t k = 0; k < job->nscans; k++) {
        fw_scan *scan = &job->scans[k];
        if (scan->bottom != 1 && scan->top != 1)
            continue;
        while (job->readings[scan->first].position_mm < -92.5) {
            scan->first++;
            scan->count--;
            lost++;
        }
        while (job->readings[scan->first + scan->count - 1].position_mm > 92.5) {
            scan->count--;
            lost++;
        }
    }
    fw_reading *kept = calloc(job->nreadings, sizeof *kept);
    size_t n = 0;
    for (size_t k = 0; k < job->nscans; k++) {
        fw_scan *scan = &job->scans[k];
        memcpy(kept + n, job->readings + scan->first, scan->count * sizeof *kept);
        scan->first = n;
        n += scan->count;
    }
    memcpy(job->readings, kept, n * sizeof *kept);
    job->nreadings = n;
    free(kept);
    fw_result *r = solve(&with, 3), *q = solve(&without, 3);
    char text[240];
    assert_true(lost > 10);
    snprintf(text, sizeof text,
             "%d readings lie outside the clear aperture of a flat: the surface model has no use "
             "for them",
             lost);
    assert_true(notes(r, text));
    assert_false(notes(r, "the readings carry terms up to order 3, not the order asked for"));
    assert_close(r->fit.chi_square, q->fit.chi_square, 1e-9, 0);
    for (int face = 0; face < 3; face++)
        for (int j = 0; j < r->faces[face].surface.nterms; j++) {
            const fw_surface_term *a = &r->faces[face].surface.terms[j];
            const fw_surface_term *b = &q->faces[face].surface.terms[j];
            assert_close(a->nm, b->nm, 1e-9, 1e-9);
            assert_close(a->u_nm, b->u_nm, 1e-9, 0);
        }
    end(&with, &f, r);
    end(&without, &g, q);
}

/* Eleven stations on five diameters carry no order 10 (five diameters: angular order 4 at most). */
static void lowered(void **state)
{
    (void)state;
    faces f;
    sim s;
    char text[240];
    start(&s, &f, 3, 5);
    faces_read_odd(&s, 11);
    fw_result *r = solve(&s, 10);
    const fw_surface *of = &r->faces[0].surface;
    int order = of->terms[of->nterms - 1].n;
    assert_in_range(order, 4, 9);
    snprintf(text, sizeof text, "the readings carry terms up to order %d, not the order asked for",
             order);
    assert_true(notes(r, text));
    end(&s, &f, r);
}

static int says(const fw_result *r, const char *text)
{
    int n = 0;
    for (int i = 0; i < r->nunknowns; i++)
        n += strstr(r->unknowns[i].text, text) != NULL;
    return n;
}

static void read_blind(sim *s)
{
    static const double angles[] = {7, 43, 75, 116, 151};
    double at[9];
    sim_stations(9, 95, at);
    for (int pair = 0; pair < 3; pair++)
        for (int k = 0; k < 5; k++)
            sim_scan(s, 1, pair, (pair + 1) % 3, 0, angles[k], 9, at);
}

/* Three pairs that were never turned: common sine terms change no reading (design notes, derived). */
static void blind(void **state)
{
    (void)state;
    faces f;
    sim s;
    start(&s, &f, 2, 6);
    read_blind(&s);
    fw_result *r = solve(&s, 2);
    assert_int_equal(r->nunknowns, 1);
    assert_int_equal(says(r, "the sine terms of 2 theta, order 2, as far as they are common to "
                             "these flats, change no reading and are not known"),
                     1);
    fw_result_free(r);
    r = solve(&s, 4);
    assert_int_equal(says(r, "the sine terms of 1, 2, 3 and 4 theta, orders 2 to 4, as far as they "
                             "are common to these flats, change no reading"),
                     1);
    end(&s, &f, r);
}

/* A single free direction, where the readings carry no more than order 2: the profile is not told. */
static void one_free(void **state)
{
    (void)state;
    static const double angles[] = {7, 67, 127}, at[] = {-95, 0, 95};
    faces f;
    sim s;
    fw_net *net = NULL;
    surface *x = NULL;
    surface_null z = {0};
    start(&s, &f, 2, 12);
    for (int pair = 0; pair < 3; pair++)
        for (int k = 0; k < 3; k++)
            sim_scan(&s, 1, pair, (pair + 1) % 3, 0, angles[k], 3, at);
    assert_int_equal(net_new(s.job, 0, NULL, &net, NULL), FW_OK);
    assert_int_equal(surface_new(net, 2, NULL, NULL, &x, NULL), FW_OK);
    assert_int_equal(x->highest, 2);
    assert_int_equal(surface_null_new(x, 2, &z, NULL), FW_OK);
    assert_int_equal(z.d, 1);
    surface_null_release(&z);
    surface_free(x);
    net_free(net);
    fw_result *r = solve(&s, 2);
    for (int flat = 0; flat < 3; flat++)
        assert_false(r->faces[r->today[flat]].profile.determined);
    end(&s, &f, r);
}

/* Of the solutions the one of least norm: nothing of it lies along what changes no reading. */
static void least_norm(void **state)
{
    (void)state;
    faces f;
    sim s;
    fw_net *net = NULL;
    surface *x = NULL;
    surface_null z = {0};
    double most = 0;
    start(&s, &f, 4, 9);
    read_blind(&s);
    assert_int_equal(net_new(s.job, 0, NULL, &net, NULL), FW_OK);
    assert_int_equal(surface_new(net, 4, NULL, NULL, &x, NULL), FW_OK);
    assert_int_equal(surface_null_new(x, 4, &z, NULL), FW_OK);
    assert_int_equal(z.d, 5); /* sines of (2, 2), (3, 1), (3, 3), (4, 2), (4, 4) */
    for (int k = 0; k < z.d; k++) {
        double along = 0;
        for (int i = 0; i < z.n; i++) {
            along += z.v[i + (size_t)k * (size_t)z.n] * x->c[i];
            most = fmax(most, fabs(x->c[i]));
        }
        assert_close(along, 0, 0, 1e-9);
    }
    assert_true(most > 5);
    surface_null_release(&z);
    surface_free(x);
    net_free(net);
    end(&s, &f, NULL);
}

static void read_one_diameter(sim *s, double turn)
{
    double at[9];
    sim_stations(9, 95, at);
    for (int pair = 0; pair < 3; pair++)
        sim_scan(s, 1, pair, (pair + 1) % 3, 0, 0, 9, at);
    if (!isnan(turn))
        sim_scan(s, 1, 0, 1, turn, 0, 9, at);
}

/*
 * On one diameter the sum of defocus and astigmatism is told and neither of them; common sines are
 * not told by the pairs either. Half a turn shows odd m only, which order 2 has none of: the turn of
 * 45 deg is the one to advise. With it the diameter is all that is in the way.
 */
static void one_diameter(void **state)
{
    (void)state;
    faces f;
    sim s;
    start(&s, &f, 2, 7);
    read_one_diameter(&s, NAN);
    s.job->turns_deg = fw_alloc(2, sizeof(double));
    s.job->turns_deg[0] = 180;
    s.job->turns_deg[1] = 45;
    s.job->nturns = 2;
    fw_result *r = solve(&s, 2);
    assert_int_equal(r->nunknowns, 1);
    assert_string_equal(r->unknowns[0].text,
                        "Of A, B and C the sine terms of 2 theta and the cosine terms of 0 and 2 "
                        "theta, order 2, change no reading and are not known; A below, B on top, "
                        "turned 45 deg, would show it; some lie across the diameters read, and "
                        "want others.");
    end(&s, &f, r);
    start(&s, &f, 2, 7);
    read_one_diameter(&s, 45);
    r = solve(&s, 2);
    assert_true(says(r, " are not shown by the diameters read; read more of them, at other angles") >
                0);
    end(&s, &f, r);
}

/* Anywhere on the face the same as at the stations, the bench's share of u with it. */
static void heights(void **state)
{
    (void)state;
    for (int bench = 0; bench < 2; bench++) {
        faces f;
        sim s;
        int count = 0;
        double r_mm[2], theta[2], height[2], u[2], least = INFINITY;
        start(&s, &f, 3, 8);
        faces_read_odd(&s, 11);
        if (bench) {
            s.job->gap_um = 500;
            s.job->eye_mm = 300;
        }
        fw_result *r = solve(&s, 3);
        for (int face = 0; face < 3; face++)
            for (int k = 0; k < r->faces[face].profile.ndiameters; k++) {
                const fw_diameter *d = &r->faces[face].profile.diameters[k];
                for (size_t i = 0; i + 1 < d->npoints; i += 4) {
                    for (int e = 0; e < 2; e++) {
                        double x = d->points[i + e].position_mm;
                        r_mm[e] = fabs(x);
                        theta[e] = d->angle_deg * FW_RAD + (x < 0 ? acos(-1) : 0);
                    }
                    assert_int_equal(
                        fw_face_heights(r, face, 2, r_mm, theta, height, u, NULL), FW_OK);
                    for (int e = 0; e < 2; e++) {
                        assert_close(height[e], d->points[i + e].height_nm, 0, 1e-8);
                        assert_close(u[e], d->points[i + e].u_nm, 1e-8, 0);
                        least = fmin(least, u[e]);
                        count++;
                    }
                }
            }
        assert_true(count > 100 && (least > 3) == bench);
        end(&s, &f, r);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(beyond), cmocka_unit_test(lowered),
                                       cmocka_unit_test(blind), cmocka_unit_test(one_diameter),
                                       cmocka_unit_test(heights),
                                       cmocka_unit_test(one_free), cmocka_unit_test(least_norm)};
    return cmocka_run_group_tests_name("surface_said", tests, NULL, NULL);
}
