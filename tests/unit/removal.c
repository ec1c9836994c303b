/* removal.c - zones become laps; rings, sides and the menu against closed forms and sums. */
#include <math.h>
#include <string.h>
#include <time.h>

#include "../support/close.h"
#include "flatwright/stroke.h"

#define PI 3.14159265358979323846

enum { MENU = 200 };

static const fw_disc solid = { 100, 0 }, bored = { 100, 20 };

static fw_stroke zone_of(fw_method method, double inner, double outer, double lap)
{
    fw_stroke s = fw_stroke_usual(method);
    s.inner_mm = inner;
    s.outer_mm = outer;
    s.lap_mm = lap;
    return s;
}

static double removal_at(const fw_stroke *s, const fw_disc *flat, double r, double theta)
{
    double got = NAN;
    fw_error err;
    assert_int_equal(fw_stroke_at(s, flat, 1, &r, &theta, &got, &err), FW_OK);
    return got;
}

/* On 41 radii, centre to edge, at angle 0. */
static void tabulate(const fw_stroke *s, const fw_disc *flat, double f[41])
{
    double r[41];
    for (int i = 0; i < 41; i++)
        r[i] = 0.025 * flat->radius_mm * i;
    assert_int_equal(fw_stroke_at(s, flat, 41, r, NULL, f, NULL), FW_OK);
}

/* The rules of stroke.h: lap from the zone, half a radius over a rim, through the middle. */
static void test_travel(void **state)
{
    (void)state;
    static const struct {
        fw_method method;
        int bore;
        double inner, outer, lap; /* given */
        double want_lap, from, to;
    } rows[] = {
        { FW_RING, 0, 40, 60, NAN, 9, 49, 51 },     { FW_RING, 0, 40, 65, 12, 12, 52, 53 },
        { FW_RING, 0, 80, 100, NAN, 14, 94, 94 },   { FW_RING, 1, 20, 40, NAN, 14, 26, 26 },
        { FW_RING, 0, 80, 100, 10, 10, 90, 95 },    { FW_RING, 1, 20, 40, 10, 10, 25, 30 },
        { FW_RING, 0, 0, 48, NAN, 16, -32, 32 },    { FW_RING, 0, 0, 100, NAN, 45, -77.5, 77.5 },
        { FW_RING, 1, 20, 100, NAN, 40, 40, 80 },   { FW_RING, 0, 30, 70, 20, 20, 50, 50 },
        { FW_SIDE, 0, 40, 60, NAN, 9, 49, 51 },     { FW_SIDE, 0, 0, 40, NAN, 18, 18, 22 },
        { FW_RING, 1, NAN, NAN, 20, 20, 30, 90 },
        /* too large to move, over the edge and over the bore: by a third of the lap at most */
        { FW_RING, 0, 80, 100, 15, 15, 95, 95 },    { FW_SIDE, 0, 60, 100, NAN, 28, 88, 88 },
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        fw_stroke s = zone_of(rows[i].method, rows[i].inner, rows[i].outer, rows[i].lap);
        fw_travel t;
        assert_int_equal(fw_stroke_travel(&s, rows[i].bore ? &bored : &solid, &t, NULL), FW_OK);
        assert_close(t.lap_mm, rows[i].want_lap, 1e-12, 0);
        assert_close(t.from_mm, rows[i].from, 1e-12, 0);
        assert_close(t.to_mm, rows[i].to, 1e-12, 0);
        double aside = rows[i].method == FW_SIDE ? 0.25 * (t.from_mm + t.to_mm) : 0;
        assert_close(t.aside_mm, aside, 1e-12, 0);
    }
}

/* Time under a lap with its centre at e, no more than the angle it covers; derived. */
static double coverage(double r, double e, double b)
{
    double c = r * e > 0 ? (r * r + e * e - b * b) / (2 * r * e) : r + e < b ? -1 : 1;
    return c >= 1 ? 0 : c <= -1 ? 1 : acos(c) / PI;
}

static void test_ring(void **state)
{
    (void)state;
    fw_stroke fixed = zone_of(FW_RING, 30, 70, 20);
    fw_stroke stroked = zone_of(FW_RING, 20, 70, 20), middle = zone_of(FW_RING, 0, 50, 30);
    for (double r = 0; r <= 100; r += 1.7) {
        assert_close(removal_at(&fixed, &solid, r, 0), coverage(r, 50, 20), 0, 8e-3);
        double sum = 0, sum2 = 0; /* a harmonic stroke spreads p v dt evenly over its travel */
        for (int i = 0; i < 2000; i++) {
            sum += coverage(r, 40 + 10 * (i + 0.5) / 2000, 20) / 2000;
            sum2 += coverage(r, fabs(-20 + 40 * (i + 0.5) / 2000), 30) / 2000;
        }
        assert_close(removal_at(&stroked, &solid, r, 0), sum, 0, 1e-3);
        assert_close(removal_at(&middle, &solid, r, 0), sum2, 0, 6e-3);
    }
    assert_close(removal_at(&stroked, &solid, 19.9, 0), 0, 0, 0);
    assert_close(removal_at(&stroked, &solid, 70.1, 0), 0, 0, 0);
}

/* int removal dA over the flat, area of the lap, and the mean round a circle. */
static double total_of(const fw_stroke *s, const fw_disc *flat)
{
    enum { N = 400, M = 360 };
    double sum = 0, r[M], theta[M], f[M];
    for (int i = 0; i < N; i++) {
        double step = (flat->radius_mm - flat->bore_mm) / N;
        for (int k = 0; k < M; k++) {
            r[k] = flat->bore_mm + (i + 0.5) * step;
            theta[k] = 2 * PI * k / M;
        }
        assert_int_equal(fw_stroke_at(s, flat, M, r, theta, f, NULL), FW_OK);
        for (int k = 0; k < M; k++)
            sum += f[k] * r[k] * step * 2 * PI / M;
    }
    return sum;
}

/* Unit: k p v. The load is always carried, so the total is the lap's area, over a rim too. */
static void test_unit(void **state)
{
    (void)state;
    fw_stroke strokes[] = { zone_of(FW_SIDE, 40, 90, NAN), zone_of(FW_SIDE, 60, 100, NAN),
                            zone_of(FW_RING, 60, 100, NAN), zone_of(FW_RING, 0, 30, NAN),
                            zone_of(FW_SIDE, 20, 60, NAN),  zone_of(FW_RING, 80, 100, 15),
                            zone_of(FW_SIDE, 60, 100, 28),  zone_of(FW_RING, 30, 75, 20) };
    for (int i = 0; i < 8; i++)
        for (int b = 0; b < 2; b++) {
            fw_travel t;
            if (b && i == 3)
                strokes[i].inner_mm = 20;
            assert_int_equal(fw_stroke_travel(&strokes[i], b ? &bored : &solid, &t, NULL), FW_OK);
            assert_close(total_of(&strokes[i], b ? &bored : &solid), PI * t.lap_mm * t.lap_mm,
                         strokes[i].method == FW_SIDE ? 0.015 : 3e-3, 0);
        }
    fw_stroke full = fw_stroke_usual(FW_FLAT_ON_TOP);
    assert_close(total_of(&full, &bored), PI * (100 * 100 - 20 * 20), 2e-3, 0);
}

static void test_side(void **state)
{
    (void)state;
    fw_stroke s = zone_of(FW_SIDE, 50, 100, 25); /* centre from 75 to 87.5 */
    s.side_deg = 135;
    double angle = 135 * PI / 180, before = INFINITY;
    for (double d = 0; d < PI; d += 0.04) { /* the same on both hands, less and less */
        double f = removal_at(&s, &solid, 80, angle + d);
        assert_close(removal_at(&s, &solid, 80, angle - d - 2 * PI), f, 1e-12, 1e-12);
        assert_true(f <= before + 1e-12);
        before = f;
    }
    /* swept through half a radian, and the lap's arc of 25 / 80 at most */
    assert_close(removal_at(&s, &solid, 80, angle + 0.5 + 0.35), 0, 0, 0);
    assert_true(removal_at(&s, &solid, 80, angle + 0.5) > 0.01);
    assert_close(removal_at(&s, &solid, 49.9, angle), 0, 0, 0);
    assert_true(removal_at(&s, &solid, 100, angle) > 0.3);
    fw_stroke inside = zone_of(FW_SIDE, 20, 70, 20); /* unswept, the lap wholly on: peak one */
    inside.lateral = 0;
    assert_close(removal_at(&inside, &solid, 45, 0), 1, 1e-9, 0);
}

/* A side without sweep, averaged round the flat, is the ring of the same zone. */
static void test_side_and_ring(void **state)
{
    (void)state;
    static const double zones[][2] = { { 30, 60 }, { 50, 100 }, { 80, 100 } };
    enum { M = 3600 };
    static double r[M], theta[M], f[M];
    for (int i = 0; i < 3; i++) {
        fw_stroke ring = zone_of(FW_RING, zones[i][0], zones[i][1], NAN), side = ring;
        side.method = FW_SIDE;
        side.lateral = 0;
        for (double radius = zones[i][0] + 3; radius < 100; radius += 5) {
            double mean = 0;
            for (int k = 0; k < M; k++) {
                r[k] = radius;
                theta[k] = 2 * PI * k / M;
            }
            assert_int_equal(fw_stroke_at(&side, &solid, M, r, theta, f, NULL), FW_OK);
            for (int k = 0; k < M; k++)
                mean += f[k] / M;
            assert_close(mean, removal_at(&ring, &solid, radius, 0), 0.01, 1e-3);
        }
    }
}

/* The lap swept and the flat rocked, by summing over both motions, where it hangs over the edge. */
static void test_side_sum(void **state)
{
    (void)state;
    enum { PLACES = 200, ANGLES = 60 };
    fw_stroke s = zone_of(FW_SIDE, 50, 100, 25); /* centre from 75 to 87.5, a quarter radian each */
    fw_disc lap = { 25, 0 };
    for (double r = 56; r < 100; r += 6)
        for (double theta = 0; theta < 0.8; theta += 0.2) {
            double sum = 0;
            for (int i = 0; i < PLACES; i++) {
                double e = 75 + 12.5 * (i + 0.5) / PLACES;
                fw_contact c;
                assert_int_equal(fw_contact_solve(&solid, &lap, e, &c, NULL), FW_OK);
                for (int j = 0; j < ANGLES; j++)
                    for (int k = 0; k < ANGLES; k++) {
                        double a = theta - 0.25 * (2 * (j + 0.5) / ANGLES - 1) -
                                   0.25 * (2 * (k + 0.5) / ANGLES - 1);
                        double x = r * cos(a), y = r * sin(a);
                        if (hypot(x - e, y) <= 25 && x >= c.from_mm)
                            sum += (c.c0 + c.c1 * x) / PLACES / ANGLES / ANGLES;
                    }
            }
            assert_close(removal_at(&s, &solid, r, theta), sum * PI * 625, 0.03, 0.01);
        }
}

static void test_off_the_glass(void **state)
{
    (void)state;
    fw_stroke s = fw_stroke_usual(FW_LAP_ON_TOP);
    assert_close(removal_at(&s, &bored, 19.9, 0), 0, 0, 0);
    assert_close(removal_at(&s, &bored, 100.1, 0), 0, 0, 0);
    assert_true(removal_at(&s, &bored, 20, 0) > 0.1 && removal_at(&s, &bored, 100, 0) > 0.1);
    assert_true(removal_at(&s, &bored, 20 * (1 - 1e-12), 0) > 0.1);
    assert_true(removal_at(&s, &bored, 100 * (1 + 1e-12), 0) > 0.1);
}

/* Lap on top works the edge, flat on top the middle (common practice): every one offered. */
static void test_menu_claims(void **state)
{
    (void)state;
    fw_stroke menu[MENU];
    int n = fw_stroke_menu(&solid, MENU, menu), above = 0, below = 0;
    for (int i = 0; i < n; i++) {
        if (menu[i].method != FW_LAP_ON_TOP && menu[i].method != FW_FLAT_ON_TOP)
            continue;
        assert_true(i == 0 || menu[i].method != menu[i - 1].method ||
                    menu[i].length > menu[i - 1].length);
        double middle = removal_at(&menu[i], &solid, 0, 0);
        double edge = removal_at(&menu[i], &solid, 95, 0);
        if (menu[i].method == FW_LAP_ON_TOP) {
            assert_true(edge > 1.1 && middle < 0.95 && edge > 1.2 * middle);
            below++;
        } else {
            assert_true(middle > 1.05 && edge < 0.91 && middle > 1.2 * edge);
            above++;
        }
    }
    assert_true(above >= 4 && below >= 4);
}

/*
 * Laps of 0.02 to 0.45 of the radius, less what the bore takes, but for the large ones through the
 * middle of a solid flat; no glass put back; no more than a few times k p v.
 */
static void test_menu(void **state)
{
    (void)state;
    for (int b = 0; b < 2; b++) {
        const fw_disc *flat = b ? &bored : &solid;
        fw_stroke menu[MENU];
        int n = fw_stroke_menu(flat, 0, NULL), rings = 0, sides = 0, plateaus = 0;
        assert_in_range(n, 40, MENU);
        memset(menu, 0, sizeof menu);
        assert_int_equal(fw_stroke_menu(flat, 3, menu), n);
        assert_true(menu[2].length > 0 && menu[3].length == 0);
        fw_stroke_menu(flat, MENU, menu);
        double least = INFINITY, most = 0;
        for (int i = 0; i < n; i++) {
            fw_travel t;
            assert_int_equal(fw_stroke_travel(&menu[i], flat, &t, NULL), FW_OK);
            double peak = 0, f[41];
            tabulate(&menu[i], flat, f);
            for (int k = 0; k < 41; k++) {
                assert_true(f[k] >= 0 && f[k] < 4);
                peak = fmax(peak, f[k]);
            }
            assert_true(peak > 0.005);
            rings += menu[i].method == FW_RING;
            sides += menu[i].method == FW_SIDE;
            double reach = menu[i].outer_mm / flat->radius_mm;
            if (menu[i].method == FW_RING && menu[i].inner_mm == 0 && reach > 0.5 && reach < 1) {
                assert_close(t.lap_mm, menu[i].outer_mm - 10, 1e-9, 0); /* swings a tenth */
                plateaus++;
            } else if (menu[i].method == FW_RING || menu[i].method == FW_SIDE) {
                least = fmin(least, t.lap_mm);
                most = fmax(most, t.lap_mm);
            }
        }
        assert_true(rings >= 15 && sides >= 9 && plateaus == (b ? 0 : 11));
        assert_close(least, b ? 2.88 : 2, 1e-9, 0);
        assert_close(most, 45, 1e-9, 0);
    }
}

/* Every place can be worked by a ring and a side, of a small lap, whose best is near there. */
static void test_menu_covers(void **state)
{
    (void)state;
    fw_stroke menu[MENU];
    int n = fw_stroke_menu(&solid, MENU, menu);
    double best[2][41] = { { 0 } };
    for (int i = 0; i < n; i++) {
        double f[41], peak = 0;
        fw_travel t;
        assert_int_equal(fw_stroke_travel(&menu[i], &solid, &t, NULL), FW_OK);
        if ((menu[i].method != FW_RING && menu[i].method != FW_SIDE) || t.lap_mm > 20.01)
            continue;
        tabulate(&menu[i], &solid, f);
        for (int k = 0; k < 41; k++)
            peak = fmax(peak, f[k]);
        double *of = best[menu[i].method == FW_SIDE];
        for (int k = 0; k < 41; k++)
            of[k] = fmax(of[k], f[k] / peak);
    }
    for (int k = 0; k < 41; k++) {
        assert_true(best[0][k] > 0.75);
        assert_true(k < 12 || best[1][k] > 0.5); /* sides begin three tenths out */
    }
}

/* Between the nodes of a profile nothing is higher or lower than at them, also where it bends. */
static void test_no_new_extremes(void **state)
{
    (void)state;
    enum { FINE = 7, N = (FW_STROKE_NODES - 1) * FINE + 1 };
    static const double lengths[] = {0.05, 0.2, 1.0 / 3, 0.6};
    double node[FW_STROKE_NODES], f[FW_STROKE_NODES], r[N], got[N];
    int bends = 0;
    for (int k = 0; k < 16; k++) {
        fw_stroke s = fw_stroke_usual(k % 2 ? FW_LAP_ON_TOP : FW_FLAT_ON_TOP);
        const fw_disc *disc = k / 2 % 2 ? &bored : &solid;
        s.length = lengths[k / 4];
        assert_int_equal(fw_stroke_profile(&s, disc, node, f, NULL), FW_OK);
        for (int i = 0; i < N; i++)
            r[i] = node[0] + (node[FW_STROKE_NODES - 1] - node[0]) * i / (N - 1);
        assert_int_equal(fw_stroke_at(&s, disc, N, r, NULL, got, NULL), FW_OK);
        for (int i = 0; i < N; i++) {
            int at = i / FINE, next = at + (i % FINE > 0);
            assert_true(got[i] >= fmin(f[at], f[next]) - 1e-12);
            assert_true(got[i] <= fmax(f[at], f[next]) + 1e-12);
            if (i % FINE == 0)
                assert_close(got[i], f[at], 1e-9, 1e-12);
        }
        for (int i = 2; i < FW_STROKE_NODES; i++) { /* one step over five times the other */
            double a = fabs(f[i - 1] - f[i - 2]), b = fabs(f[i] - f[i - 1]);
            bends += fmax(a, b) > 5 * fmin(a, b);
        }
    }
    assert_true(bends > 10);
}

/* The whole menu on 41 radii and on 16 half diameters of 41 stations, in less than 0.3 s. */
static void test_fast(void **state)
{
    (void)state;
    enum { N = 16 * 41 };
    static double r[N], theta[N], f[N];
    fw_stroke menu[MENU];
    int n = fw_stroke_menu(&solid, MENU, menu);
    for (int i = 0; i < N; i++) {
        r[i] = 2.5 * (i % 41);
        theta[i] = 2 * PI * floor(i / 41.0) / 16;
    }
    double best = INFINITY;
    for (int turn = 0; turn < 3; turn++) {
        clock_t start = clock();
        for (int i = 0; i < n; i++)
            assert_int_equal(fw_stroke_at(&menu[i], &solid, N, r, theta, f, NULL), FW_OK);
        best = fmin(best, (double)(clock() - start) / CLOCKS_PER_SEC);
    }
    print_message("menu of %d strokes: %.3f s\n", n, best);
    assert_true(best < 0.3);
}

static void test_faults(void **state)
{
    (void)state;
    fw_stroke strokes[] = {
        fw_stroke_usual(FW_GRIND),        fw_stroke_usual(FW_OTHER),
        zone_of(FW_RING, 50, 60, 10),     zone_of(FW_RING, 60, 50, NAN),
        zone_of(FW_RING, 100, 120, NAN),  zone_of(FW_SIDE, -5, 20, NAN),
        zone_of(FW_SIDE, 20, 50, -1),     zone_of(FW_SIDE, 20, 50, INFINITY),
        zone_of(FW_RING, INFINITY, 50, 1), zone_of(FW_SIDE, 30, 80, NAN),
        zone_of(FW_RING, 80, 100, 15.1),
    };
    strokes[9].side_deg = INFINITY;
    for (size_t i = 0; i < sizeof strokes / sizeof strokes[0]; i++) {
        double r = 10, f = 7;
        fw_error err = { 0 };
        assert_int_equal(fw_stroke_at(&strokes[i], &solid, 1, &r, NULL, &f, &err), FW_INPUT);
        assert_true(strlen(err.text) > 0 && err.text[0] >= 'a');
        assert_close(f, 7, 0, 0);
    }
    fw_disc none = { 100, 100 };
    fw_travel t = { .lap_mm = 7 };
    fw_stroke s = fw_stroke_usual(FW_RING);
    assert_int_equal(fw_stroke_travel(&s, &none, &t, NULL), FW_INPUT);
    assert_close(t.lap_mm, 7, 0, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_travel),      cmocka_unit_test(test_ring),
        cmocka_unit_test(test_unit),        cmocka_unit_test(test_side),
        cmocka_unit_test(test_side_and_ring), cmocka_unit_test(test_side_sum),
        cmocka_unit_test(test_off_the_glass), cmocka_unit_test(test_menu_claims),
        cmocka_unit_test(test_menu),        cmocka_unit_test(test_menu_covers),
        cmocka_unit_test(test_no_new_extremes), cmocka_unit_test(test_fast),        cmocka_unit_test(test_faults),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
