/* finer.c - structure finer than the smooth figure, station by station, and which stations count. */
#include <gsl/gsl_fit.h>
#include <math.h>
#include <stdlib.h>

#include "../support/close.h"
#include "../support/refuse.h"
#include "../support/simulate.h"
#include "adjust/finer.h"
#include "adjust/model.h"
#include "flatwright/basis.h"
#include "flatwright/mating.h"
#include "flatwright/result.h"

enum { CLEAR_MM = 100 };

/* Flat A: a sphere of 20 nm with a groove 30 nm deep at 0.7 of the radius; B and C: spheres. */
static double height(void *context, int flat, int state, double x, double y)
{
    static const double power[3] = {20, 4, -4};
    double rho = hypot(x, y) / CLEAR_MM;
    (void)context;
    (void)state;
    return power[flat] * (0.5 - rho * rho) - (flat ? 0 : 30 * exp(-pow((rho - 0.7) / 0.06, 2)));
}

static void make_set(sim *s, int n)
{
    double *at = calloc((size_t)n, sizeof *at);
    sim_init(s, 3, 2 * CLEAR_MM, 11);
    s->truth = height;
    s->sigma_nm = s->stated_nm = 1;
    sim_stations(n, CLEAR_MM, at);
    for (int pair = 0; pair < 5; pair++)
        sim_fan(s, 1, pair % 3, (pair + 1) % 3, pair < 3 ? 0 : 45, 4, n, at);
    free(at);
}

/* Flat A in the equations. */
static int face_of(const fw_result *r)
{
    int face = 0;
    while (r->adjustment->net->faces[face].flat != 0)
        face++;
    return face;
}

/* The set solved, the smooth figure of A, and what is finer. */
static fw_result *find(const sim *set, smooth *s, finer *f)
{
    fw_result *r = NULL;
    assert_int_equal(fw_solve(set->job, NULL, &r, NULL), FW_OK);
    adjustment *a = r->adjustment;
    const fw_profile *p = &r->faces[r->today[0]].profile;
    assert_int_equal(a->model->smooth(a, face_of(r), p, 8, s, NULL), FW_OK);
    assert_int_equal(finer_find(a, face_of(r), p, s, f, NULL), FW_OK);
    assert_true(f->significant);
    return r;
}

/* The residual of each station of one diameter: heights less terms, a line taken off by GSL. */
static void residuals_of(const fw_diameter *d, const smooth *s, const double *c, double *rho,
                         double *left)
{
    double a, b, x;
    for (size_t i = 0; i < d->npoints; i++) {
        rho[i] = d->points[i].position_mm / CLEAR_MM;
        left[i] = d->points[i].height_nm;
        for (int k = 0; k < s->nused; k++)
            left[i] -=
                c[k] * fw_basis_value(s->basis, s->used[k], rho[i], d->angle_deg * FW_RAD);
    }
    assert_int_equal(gsl_fit_linear(rho, 1, left, 1, d->npoints, &a, &b, &x, &x, &x, &x), 0);
    for (size_t i = 0; i < d->npoints; i++)
        left[i] -= a + b * rho[i];
}

typedef struct asked {
    adjustment *a;
    int face;
    const fw_profile *profile;
    const smooth *s;
} asked;

static fw_status ask_finer(void *data, fw_error *err)
{
    const asked *q = data;
    finer f = {.n = -1};
    fw_status status = finer_find(q->a, q->face, q->profile, q->s, &f, err);
    assert_true(status || f.n > 0);
    if (!status)
        finer_release(&f);
    return status;
}

enum { MOST = 41, MIDDLE = MOST / 2, RINGS = MIDDLE + 1 };

/* What there is on a ring, reckoned from the residuals of all stations. */
typedef struct on_ring {
    double mean, u2, own2; /* own2: what the stations have beside the mean, beyond noise; summed */
    int n;
} on_ring;

static int ring_of(int station)
{
    return abs(station - MIDDLE);
}

static void reckon_rings(const fw_profile *p, double left[][MOST], on_ring *r)
{
    for (int d = 0; d < p->ndiameters; d++)
        for (int i = 0; i < MOST; i++) {
            r[ring_of(i)].mean += left[d][i];
            r[ring_of(i)].u2 += pow(p->diameters[d].points[i].u_nm, 2);
            r[ring_of(i)].n++;
        }
    for (int k = 0; k < RINGS; k++) {
        r[k].mean /= r[k].n;
        r[k].own2 = -r[k].u2 * (r[k].n - 1) / r[k].n;
        r[k].u2 /= r[k].n * r[k].n;
    }
    for (int d = 0; d < p->ndiameters; d++)
        for (int i = 0; i < MOST; i++)
            r[ring_of(i)].own2 += pow(left[d][i] - r[ring_of(i)].mean, 2);
}

/* Of the outer rings, which are the fewest that hold 64 stations, one less a ring; of the others. */
static double own_near(const on_ring *r, int k)
{
    int count = 0, first = RINGS;
    double sum = 0;
    while (count < 64)
        count += r[--first].n - 1;
    assert_true(first > 1);
    sum = count = 0;
    for (int j = k < first ? 0 : first; j < (k < first ? first : RINGS); j++) {
        sum += r[j].own2;
        count += r[j].n - 1;
    }
    assert_in_range(count, 64, 127);
    return fmax(sum / count, 0);
}

/*
 * What is believed of a groove: of a ring's mean z and of what a station has beside it, each
 * w r and w u^2, w = t^2 / (t^2 + u^2).
 */
static void groove_by_station(void **state)
{
    sim set;
    smooth s = {0};
    finer f = {0};
    (void)state;
    make_set(&set, MOST);
    fw_result *r = find(&set, &s, &f);
    const fw_profile *p = &r->faces[r->today[0]].profile;
    int found = 0;
    double c[FW_BASIS_ORDER_MAX * FW_BASIS_ORDER_MAX], rho[MOST], left[8][MOST], square = 0, t2 = 0;
    on_ring ring[RINGS] = {{0}};
    smooth_solve(&s, s.nused, c);
    assert_true(p->ndiameters == 4 && p->diameters[0].npoints == MOST);
    for (int d = 0; d < p->ndiameters; d++) {
        residuals_of(&p->diameters[d], &s, c, rho, left[d]);
        for (int i = 0; i < MOST; i++)
            square += (pow(left[d][i], 2) - pow(p->diameters[d].points[i].u_nm, 2)) / f.n;
    }
    assert_int_equal(f.n, 4 * MOST);
    assert_close(f.rms_nm, sqrt(square), 1e-9, 0);
    reckon_rings(p, left, ring);
    for (int k = 0; k < RINGS; k++)
        t2 += (pow(ring[k].mean, 2) - ring[k].u2) / RINGS;
    assert_true(t2 > 0);
    assert_int_equal(f.nrings, RINGS);
    for (int k = 0; k < f.n; k++)
        for (int d = 0; d < p->ndiameters; d++)
            for (int i = 0; i < MOST; i++) {
                const fw_point *at = &p->diameters[d].points[i];
                const on_ring *on = &ring[ring_of(i)];
                if (fabs(f.rho[k] - at->position_mm / CLEAR_MM) > 1e-9 ||
                    fabs(f.theta[k] - p->diameters[d].angle_deg * FW_RAD) > 1e-9)
                    continue;
                double own2 = own_near(ring, ring_of(i)), zone = t2 / (t2 + on->u2);
                double v = at->u_nm * at->u_nm * (on->n - 1) / on->n, w = own2 / (own2 + v);
                assert_int_equal(f.ring[k], ring_of(i));
                assert_close(f.mean[k], zone * on->mean + w * (left[d][i] - on->mean), 1e-9, 1e-9);
                assert_close(f.sd[k], sqrt(w * v), 1e-9, 1e-12);
                assert_close(f.ring_sd[ring_of(i)], sqrt(zone * on->u2), 1e-9, 0);
                found++;
            }
    assert_int_equal(found, f.n);
    finer_release(&f);
    asked ask = {r->adjustment, face_of(r), p, &s};
    assert_int_equal(refuse_each(ask_finer, &ask, FW_OK, REFUSE_SPARE_NONE), 11);
    smooth_release(&s);
    fw_result_free(r);
    sim_release(&set);
}

static int ascending(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* Of very many stations those count that can decide PV: the 256 lowest and the 256 highest. */
static void lowest_and_highest(void **state)
{
    enum { STATIONS = 151, ALL = 4 * STATIONS, KEPT = 512 };
    static double heights[ALL];
    sim set;
    smooth s = {0};
    finer f = {0};
    (void)state;
    make_set(&set, STATIONS);
    fw_result *r = find(&set, &s, &f);
    const fw_profile *p = &r->faces[r->today[0]].profile;
    double c[FW_BASIS_ORDER_MAX * FW_BASIS_ORDER_MAX], rho[STATIONS], left[STATIONS];
    smooth_solve(&s, s.nused, c);
    assert_int_equal(f.n, KEPT);
    for (int d = 0; d < p->ndiameters; d++) {
        residuals_of(&p->diameters[d], &s, c, rho, left);
        for (int i = 0; i < STATIONS; i++) {
            double theta = p->diameters[d].angle_deg * FW_RAD, h = left[i];
            for (int k = 0; k < s.nused; k++)
                h += c[k] * fw_basis_value(s.basis, s.used[k], rho[i], theta);
            heights[d * STATIONS + i] = h;
        }
    }
    qsort(heights, ALL, sizeof *heights, ascending);
    for (int k = 0; k < KEPT; k++) { /* in the order of their heights, which its place tells */
        double h = 0;
        int met = 0;
        for (int d = 0; d < p->ndiameters; d++) {
            if (fabs(f.theta[k] - p->diameters[d].angle_deg * FW_RAD) > 1e-9)
                continue;
            residuals_of(&p->diameters[d], &s, c, rho, left);
            for (int i = 0; i < STATIONS; i++)
                if (fabs(f.rho[k] - rho[i]) < 1e-9) {
                    h = left[i];
                    met++;
                }
            for (int j = 0; j < s.nused; j++)
                h += c[j] * fw_basis_value(s.basis, s.used[j], f.rho[k], f.theta[k]);
        }
        assert_int_equal(met, 1);
        assert_close(h, heights[k < KEPT / 2 ? k : ALL - KEPT + k], 0, 1e-9);
    }
    finer_release(&f);
    smooth_release(&s);
    fw_result_free(r);
    sim_release(&set);
}

/* Zones finer than the smooth figure: a rim turned down behind a ridge; nine rings up and down. */
static double turned_down(void *context, int flat, int state, double x, double y)
{
    double rho = hypot(x, y) / CLEAR_MM;
    (void)context;
    (void)state;
    return flat ? 0 : 5 * exp(-pow((rho - 0.95) / 0.03, 2)) - 5 * exp(-pow((rho - 1) / 0.02, 2));
}

static double askew(void *context, int flat, int state, double x, double y)
{
    return turned_down(context, flat, state, x, y) * (1 + 0.4 * cos(2 * atan2(y, x)));
}

static double rippled(void *context, int flat, int state, double x, double y)
{
    (void)context;
    (void)state;
    return flat ? 0 : 4 * cos(9 * acos(-1) * (x * x + y * y) / CLEAR_MM / CLEAR_MM);
}

/* Mean over ten sets of what is believed of the PV of flat A, in units of its u off the truth. */
static double believed_off(double (*truth)(void *, int, int, double, double), double pv_nm)
{
    enum { SETS = 10, STATIONS = 73 };
    double at[STATIONS], off = 0;
    for (int k = 0; k < SETS; k++) {
        sim set;
        fw_result *r = NULL;
        sim_init(&set, 3, 2 * CLEAR_MM, (unsigned long)k + 1);
        set.truth = truth;
        set.sigma_nm = set.stated_nm = 2;
        sim_stations(STATIONS, CLEAR_MM, at);
        for (int pair = 0; pair < 5; pair++)
            sim_fan(&set, 1, pair % 3, (pair + 1) % 3, pair < 3 ? 0 : 22.5, 8, STATIONS, at);
        assert_int_equal(fw_solve(set.job, NULL, &r, NULL), FW_OK);
        const fw_figure *g = &r->faces[r->today[0]].figure;
        assert_true(g->finer);
        off += (g->pv.value_nm - pv_nm) / g->pv.u_nm / SETS;
        fw_result_free(r);
        sim_release(&set);
    }
    return off;
}

/*
 * All diameters see a zone, so that its height is not to be discounted as one station's noise. With
 * every station by itself the turned-down rim was believed 5.8 u too flat (5.4 +- 0.7 nm, truly 9.5),
 * the ripple 5.9 u too high. Lower on two sides than on the others the rim is still believed too
 * flat: what is no zone is as fine as the terms, and no finer.
 */
static void zones_are_believed(void **state)
{
    (void)state;
    assert_close(believed_off(turned_down, 9.52), 0, 0, 1.5);
    assert_close(believed_off(rippled, 8), 1.8, 0, 2);
    assert_close(believed_off(askew, 13.33), -2.6, 0, 0.6);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(groove_by_station),
                                       cmocka_unit_test(lowest_and_highest),
                                       cmocka_unit_test(zones_are_believed)};
    return cmocka_run_group_tests_name("finer", tests, NULL, NULL);
}
