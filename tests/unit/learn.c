/* learn.c - rates and shapes of a person's strokes, from removals made up for the purpose. */
#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <math.h>

#include "../support/close.h"
#include "../support/refuse.h"
#include "flatwright/advice.h"

#define PI 3.14159265358979323846

enum { STATIONS = 21, DIAMETERS = 4 };

/* A removal by one stroke: rate nm/h at unit profile, the profile off by `off` cos(pi r / R). */
typedef struct spell {
    fw_job job;
    fw_flat flat;
    fw_work work;
    size_t list[1];
    fw_removal removal;
    fw_diameter diameters[DIAMETERS];
    fw_point points[DIAMETERS][STATIONS];
} spell;

static void make(spell *s, fw_stroke stroke, double hours, double rate, double off, double noise,
                 gsl_rng *rng)
{
    static char name[] = "A";
    fw_disc disc = {100, 0};
    *s = (spell){.flat = {.name = name, .diameter_mm = 200, .clear_mm = 190},
                 .work = {.round = 1,
                          .hours = hours,
                          .method = stroke.method,
                          .inner_mm = stroke.inner_mm,
                          .outer_mm = stroke.outer_mm,
                          .side_deg = stroke.side_deg,
                          .stroke = stroke.length}};
    s->job = (fw_job){.nflats = 1, .flats = &s->flat, .nwork = 1, .work = &s->work};
    s->removal = (fw_removal){
        .to_state = 1,
        .nwork = 1,
        .work = s->list,
        .hours = hours,
        .profile = {.determined = true, .ndiameters = DIAMETERS, .diameters = s->diameters}};
    for (int d = 0; d < DIAMETERS; d++) {
        s->diameters[d] = (fw_diameter){180.0 * d / DIAMETERS, true, STATIONS, s->points[d]};
        double tilt = gsl_ran_gaussian(rng, 3);
        for (int i = 0; i < STATIONS; i++) {
            const int half = STATIONS / 2;
            double at = 95.0 * (i - half) / half, r = fabs(at), unit;
            double theta = PI * d / DIAMETERS + (at < 0 ? PI : 0);
            assert_int_equal(fw_stroke_at(&stroke, &disc, 1, &r, &theta, &unit, NULL), FW_OK);
            s->points[d][i] =
                (fw_point){.position_mm = at,
                           .u_nm = noise,
                           .determined = true,
                           .clear = true,
                           .height_nm = hours * rate * unit * (1 + off * cos(PI * r / 100)) +
                                        tilt * at / 95 + gsl_ran_gaussian(rng, noise)};
        }
    }
}

static void before_evidence(void **state)
{
    (void)state;
    fw_habit habit, settled;
    fw_habit_start(&habit);
    settled = habit;
    assert_int_equal(fw_habit_settle(&settled, NULL), FW_OK);
    for (int m = 0; m < FW_HABIT_METHODS; m++) {
        assert_false(fw_habit_knows(&habit, (fw_method)m));
        assert_close(fw_habit_rate(&settled, (fw_method)m).value_nm,
                     fw_habit_rate(&habit, (fw_method)m).value_nm, 1e-6, 0);
        assert_close(fw_habit_rate(&settled, (fw_method)m).u_nm,
                     fw_habit_rate(&habit, (fw_method)m).u_nm, 1e-6, 0);
    }
    for (int i = 0; i < FW_HABIT_SIZE * FW_HABIT_SIZE; i++) /* of rates and shapes */
        assert_close(settled.cov[i], habit.cov[i], 1e-6, 1e-6);
    assert_true(isnan(fw_habit_rate(&habit, FW_GRIND).value_nm));
    assert_close(fw_habit_rate(&habit, FW_LAP_ON_TOP).u_nm, hypot(250, 0.35 * 200), 1e-9, 0);
}

/* Spell after spell the rate comes to the true one within its uncertainty, and that shrinks. */
static void the_rate(void **state)
{
    (void)state;
    gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
    double sum = 0;
    for (int seed = 1; seed <= 30; seed++) {
        fw_habit habit;
        fw_stroke ring = fw_stroke_usual(FW_RING);
        double last = INFINITY;
        gsl_rng_set(rng, (unsigned long)seed);
        fw_habit_start(&habit);
        for (int i = 0; i < 4; i++) {
            spell s;
            ring.inner_mm = 20 + 10 * i;
            ring.outer_mm = 60 + 10 * i;
            make(&s, ring, 0.4, 350, 0, 2, rng);
            assert_int_equal(fw_habit_add(&habit, &s.job, &s.removal, NULL), FW_OK);
            assert_int_equal(fw_habit_settle(&habit, NULL), FW_OK);
            fw_quantity rate = fw_habit_rate(&habit, FW_RING);
            assert_true(rate.u_nm < last);
            last = rate.u_nm;
        }
        fw_quantity rate = fw_habit_rate(&habit, FW_RING);
        assert_close(rate.value_nm, 350, 0, 4 * rate.u_nm);
        sum += pow((rate.value_nm - 350) / rate.u_nm, 2) / 30;
        assert_true(fw_habit_knows(&habit, FW_RING));
        assert_int_equal(habit.spells[FW_RING], 4);
        assert_close(habit.hours[FW_RING], 1.6, 1e-12, 0);
        /* the other methods are of the same person */
        fw_habit none;
        fw_habit_start(&none);
        assert_true(fw_habit_rate(&habit, FW_SIDE).u_nm < 0.8 * fw_habit_rate(&none, FW_SIDE).u_nm);
    }
    assert_true(sum < 1.6); /* the stated uncertainty is not too small */
    gsl_rng_free(rng);
}

/* How far the believed factor is from the true one, as a part of the rate. */
static double shape_error(const fw_habit *habit, const fw_stroke *stroke, double rate, double off)
{
    fw_disc disc = {100, 0};
    double sum = 0, t[FW_HABIT_MODES];
    for (int i = 0; i <= 18; i++) {
        double r = 4.5 * i, believed = 0;
        fw_habit_modes(stroke, &disc, r, t);
        for (int q = 0; q < FW_HABIT_MODES; q++)
            believed += habit->mean[(int)stroke->method * FW_HABIT_MODES + q] * t[q];
        sum += pow(believed / rate - 1 - off * cos(PI * r / 100), 2) / 19;
    }
    return sqrt(sum);
}

/* The observed shape takes over from the computed one, more with every spell. */
static void the_shape(void **state)
{
    (void)state;
    gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
    fw_habit habit;
    fw_stroke stroke = fw_stroke_usual(FW_RING);
    double error[7];
    stroke.inner_mm = 0;
    stroke.outer_mm = 90;
    gsl_rng_set(rng, 3);
    fw_habit_start(&habit);
    for (int i = 0; i < 7; i++) {
        spell s;
        make(&s, stroke, 0.5, 200, -0.25, 1, rng);
        assert_int_equal(fw_habit_add(&habit, &s.job, &s.removal, NULL), FW_OK);
        assert_int_equal(fw_habit_settle(&habit, NULL), FW_OK);
        error[i] = shape_error(&habit, &stroke, 200, -0.25);
    }
    assert_true(error[6] < 0.1 && error[6] < error[0]);
    gsl_rng_free(rng);
}

/* A hand drawn at random: true rates, and true shapes in waves along the radius. */
typedef struct hand {
    double rate[FW_HABIT_METHODS], wave[FW_HABIT_METHODS][3];
    bool steady; /* strokes end where they should */
} hand;

static hand draw_hand(gsl_rng *rng)
{
    hand h = {.steady = true};
    double common = 100 + 300 * gsl_rng_uniform(rng);
    for (int m = 0; m < FW_HABIT_METHODS; m++) {
        h.rate[m] = common * (m < 2 ? 1 : 3) * exp(gsl_ran_gaussian(rng, 0.25));
        for (int q = 0; q < 3; q++)
            h.wave[m][q] = gsl_ran_gaussian(rng, 0.14) / (q + 1);
    }
    return h;
}

/* nm an hour at n places, by this hand. */
static void truly(const hand *h, const fw_stroke *stroke, int n, const double *r,
                  const double *theta, double *out)
{
    fw_disc disc = {100, 0};
    assert_int_equal((h->steady ? fw_stroke_at : fw_stroke_by_hand)(stroke, &disc, (size_t)n, r,
                                                                    theta, out, NULL),
                     FW_OK);
    for (int i = 0; i < n; i++) {
        double factor = 1;
        for (int q = 0; q < 3; q++)
            factor += h->wave[stroke->method][q] * cos((q + 1) * PI * r[i] / 100);
        out[i] *= h->rate[stroke->method] * factor;
    }
}

static fw_stroke draw_stroke(gsl_rng *rng, int methods)
{
    fw_stroke s = fw_stroke_usual((fw_method)gsl_rng_uniform_int(rng, (unsigned long)methods));
    double inner = 10 + 50 * gsl_rng_uniform(rng);
    if (s.method < FW_RING)
        s.length = 0.25 + 0.4 * gsl_rng_uniform(rng);
    else {
        s.inner_mm = inner;
        s.outer_mm = inner + 25 + 15 * gsl_rng_uniform(rng);
    }
    if (s.method == FW_SIDE)
        s.side_deg = 360 * gsl_rng_uniform(rng);
    return s;
}

/* A removal by up to three strokes, as work.csv would name them; each errs by 4 % of itself. */
static void work_by(spell *s, const hand *h, int n, const fw_stroke *stroke, fw_work *work,
                    size_t *list, double noise, gsl_rng *rng)
{
    double r[DIAMETERS * STATIONS], theta[DIAMETERS * STATIONS], off[DIAMETERS * STATIONS];
    make(s, stroke[0], 0.3, 0, 0, noise, rng);
    s->job.work = work;
    s->job.nwork = (size_t)n;
    s->removal.work = list;
    s->removal.nwork = n;
    for (int i = 0; i < DIAMETERS * STATIONS; i++) {
        double at = s->points[i / STATIONS][i % STATIONS].position_mm;
        r[i] = fabs(at);
        int line = i / STATIONS;
        theta[i] = PI * line / DIAMETERS + (at < 0 ? PI : 0);
    }
    for (int k = 0; k < n; k++) {
        work[k] = (fw_work){.round = 1};
        list[k] = (size_t)k;
        assert_int_equal(fw_stroke_to_work(&stroke[k], &work[k], NULL), FW_OK);
        work[k].hours = 0.15 + 0.3 * gsl_rng_uniform(rng);
        double loose = 1 + gsl_ran_gaussian(rng, 0.04);
        truly(h, &stroke[k], DIAMETERS * STATIONS, r, theta, off);
        for (int i = 0; i < DIAMETERS * STATIONS; i++)
            s->points[i / STATIONS][i % STATIONS].height_nm += loose * work[k].hours * off[i];
    }
}

/* Root mean square error of what is believed of a stroke, as a part of the true removal. */
static double error_of(const fw_habit *habit, const hand *h, const fw_stroke *stroke)
{
    fw_disc disc = {100, 0};
    double error = 0, all = 0, t[FW_HABIT_MODES], r[20], theta[20], unit[20], want[20];
    for (int i = 0; i < 20; i++) {
        r[i] = 5 * i;
        theta[i] = isnan(stroke->side_deg) ? 0 : stroke->side_deg * PI / 180;
    }
    truly(h, stroke, 20, r, theta, want);
    assert_int_equal(fw_stroke_at(stroke, &disc, 20, r, theta, unit, NULL), FW_OK);
    for (int i = 0; i < 20; i++) {
        double factor = 0;
        fw_habit_modes(stroke, &disc, r[i], t);
        for (int q = 0; q < FW_HABIT_MODES; q++)
            factor += habit->mean[(int)stroke->method * FW_HABIT_MODES + q] * t[q];
        error += pow(factor * unit[i] - want[i], 2);
        all += want[i] * want[i];
    }
    return sqrt(error / all);
}

/*
 * Forty hands, each working eight times with one to three strokes of any method between readings:
 * what was seen is pooled, rates come true within their uncertainty, and strokes that were never
 * made as such are foreseen better with every removal.
 */
static void hands_at_random(bool steady)
{
    enum { HANDS = 40, TIMES = 8 };
    gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
    double z2 = 0, error[3] = {0};
    int n = 0, unknown = 0;
    for (int seed = 1; seed <= HANDS; seed++) {
        gsl_rng_set(rng, (unsigned long)seed);
        hand h = draw_hand(rng);
        h.steady = steady;
        fw_habit habit;
        fw_stroke other[8];
        fw_habit_start(&habit);
        for (int i = 0; i < 8; i++) {
            other[i] = draw_stroke(rng, FW_HABIT_METHODS);
            error[0] += error_of(&habit, &h, &other[i]) / 8 / HANDS;
        }
        for (int k = 0; k < TIMES; k++) {
            spell s;
            fw_stroke stroke[3];
            fw_work work[3];
            size_t list[3];
            int strokes = 1 + (int)gsl_rng_uniform_int(rng, 3);
            for (int i = 0; i < strokes; i++)
                stroke[i] = draw_stroke(rng, FW_HABIT_METHODS);
            work_by(&s, &h, strokes, stroke, work, list, 1 + 2 * gsl_rng_uniform(rng), rng);
            assert_int_equal(fw_habit_add(&habit, &s.job, &s.removal, NULL), FW_OK);
            assert_int_equal(fw_habit_settle(&habit, NULL), FW_OK);
            if (k == 1 || k == TIMES - 1)
                for (int i = 0; i < 8; i++)
                    error[k == 1 ? 1 : 2] += error_of(&habit, &h, &other[i]) / 8 / HANDS;
        }
        for (int m = 0; m < FW_HABIT_METHODS; m++) {
            fw_quantity rate = fw_habit_rate(&habit, (fw_method)m);
            z2 += pow((rate.value_nm - h.rate[m]) / rate.u_nm, 2);
            n++;
            unknown += !fw_habit_knows(&habit, (fw_method)m);
        }
    }
    print_message("mean square of z %.2f; strokes foreseen to %.2f, %.2f after two removals, %.2f "
                  "after %d; %d of %d rates still unknown\n",
                  z2 / n, error[0], error[1], error[2], TIMES, unknown, n);
    assert_true(z2 / n < 1.6);
    assert_true(error[2] < 0.2 && error[2] < 0.6 * error[1] && error[1] < 0.6 * error[0]);
    assert_true(unknown < n / 20);
    gsl_rng_free(rng);
}

static void steady_hands(void **state)
{
    (void)state;
    hands_at_random(true);
}

static void unsteady_hands(void **state)
{
    (void)state;
    hands_at_random(false);
}

/* Work that cannot be reckoned, and a removal that is not determined, teach nothing. */
static void nothing_to_learn(void **state)
{
    (void)state;
    gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
    fw_habit habit;
    spell s;
    make(&s, fw_stroke_usual(FW_LAP_ON_TOP), 0.5, 200, 0, 1, rng);
    fw_habit_start(&habit);
    s.work.method = FW_GRIND;
    assert_int_equal(fw_habit_add(&habit, &s.job, &s.removal, NULL), FW_OK);
    s.work.method = FW_LAP_ON_TOP;
    for (int d = 0; d < DIAMETERS; d++)
        for (int i = 0; i < STATIONS; i++)
            s.points[d][i].determined = false;
    assert_int_equal(fw_habit_add(&habit, &s.job, &s.removal, NULL), FW_OK);
    s.work.stroke = 5; /* no such stroke */
    s.points[0][3].determined = true;
    assert_int_equal(fw_habit_add(&habit, &s.job, &s.removal, NULL), FW_OK);
    assert_int_equal(habit.untold, 1); /* and that is known */
    for (int i = 0; i < FW_HABIT_SIZE; i++)
        assert_close(habit.pull[i], 0, 0, 0);
    gsl_rng_free(rng);
}

static void assert_same(const fw_habit *a, const fw_habit *b, double rel)
{
    for (int m = 0; m < FW_HABIT_METHODS; m++) {
        fw_quantity x = fw_habit_rate(a, (fw_method)m), y = fw_habit_rate(b, (fw_method)m);
        assert_close(x.value_nm, y.value_nm, rel, 0);
        assert_close(x.u_nm, y.u_nm, rel, 0);
        assert_int_equal(a->spells[m], b->spells[m]);
    }
}

/* A diameter with one point, or none, has nothing left on its datum. */
static void short_diameters(void **state)
{
    (void)state;
    gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
    fw_habit with, without;
    spell s;
    make(&s, fw_stroke_usual(FW_LAP_ON_TOP), 0.5, 200, 0.1, 1, rng);
    for (int i = 0; i < STATIONS; i++) {
        s.points[2][i].clear = i == 5;
        s.points[3][i].height_nm = NAN;
    }
    fw_habit_start(&with);
    fw_habit_start(&without);
    assert_int_equal(fw_habit_add(&with, &s.job, &s.removal, NULL), FW_OK);
    s.removal.profile.ndiameters = 2;
    assert_int_equal(fw_habit_add(&without, &s.job, &s.removal, NULL), FW_OK);
    assert_int_equal(fw_habit_settle(&with, NULL), FW_OK);
    assert_int_equal(fw_habit_settle(&without, NULL), FW_OK);
    assert_same(&with, &without, 0.02); /* the mean variance is of one point more */
    gsl_rng_free(rng);
}

static fw_status learn(void *data, fw_error *err)
{
    static const fw_habit nothing;
    fw_habit habit = nothing;
    fw_status status = fw_habit_learn(data, &habit, err);
    if (status)
        assert_memory_equal(&habit, &nothing, sizeof habit);
    return status;
}

/* Removal by removal, each believed before the next comes. */
static void from_a_result(void **state)
{
    (void)state;
    gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
    fw_habit step, whole;
    spell s[2];
    fw_work work[2];
    fw_removal removals[2];
    fw_stroke strokes[2] = {fw_stroke_usual(FW_LAP_ON_TOP), fw_stroke_usual(FW_FLAT_ON_TOP)};
    fw_habit_start(&step);
    for (int k = 0; k < 2; k++) {
        make(&s[k], strokes[k], 0.5, 200, 0.1, 1, rng);
        assert_int_equal(fw_habit_add(&step, &s[k].job, &s[k].removal, NULL), FW_OK);
        assert_int_equal(fw_habit_settle(&step, NULL), FW_OK);
        work[k] = s[k].work;
        s[k].list[0] = (size_t)k;
        removals[k] = s[k].removal;
    }
    fw_job job = s[0].job;
    job.nwork = 2;
    job.work = work;
    fw_result result = {.job = &job, .nremovals = 2, .removals = removals};
    assert_int_equal(fw_habit_learn(&result, &whole, NULL), FW_OK);
    assert_same(&whole, &step, 1e-12);
    assert_int_equal(whole.spells[FW_FLAT_ON_TOP], 1);
    assert_true(refuse_each(learn, &result, FW_OK, REFUSE_SPARE_NONE) > 10);
    gsl_rng_free(rng);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(before_evidence),
                                       cmocka_unit_test(the_rate), cmocka_unit_test(the_shape),
                                       cmocka_unit_test(steady_hands),
                                       cmocka_unit_test(unsteady_hands),
                                       cmocka_unit_test(nothing_to_learn),
                                       cmocka_unit_test(short_diameters),
                                       cmocka_unit_test(from_a_result)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
