/* months.c - months of work simulated: true flats, true strokes, the advice followed. Invented. */
#include "months.h"

#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "close.h"
#include "flatwright/alloc.h"

#define PI 3.14159265358979323846

enum {
    ANGLES = 16,
    RADII = 145,
    STEP = 4, /* every fourth radius is a station, and the last two gaps are halved */
    CLOSER = 2,
    STATIONS = 73 + 2 * CLOSER,
    DIAMETERS = 8,
    POINTS = ANGLES * RADII,
    WAVES = 4,
    MOST_SETTINGS = 60,
    ROWS = 3 * FW_PLAN_ROWS,
    HALF = STATIONS / 2
};

static const double RADIUS = 100, CLEAR = 95, NOISE = 2, TARGET = 10, SPOILT = 15, RATE = 240;

/* A smooth random function of x in 0 .. 1, rms about one. */
typedef struct wave {
    double amount[WAVES], cycles[WAVES], phase[WAVES];
} wave;

/* All diameters of one pairing in one turn. */
typedef struct setting {
    int round, bottom, top, turn; /* turn in steps of 22.5 degrees */
    double deviation[DIAMETERS][STATIONS];
} setting;

typedef struct set {
    gsl_rng *rng;
    double height[MONTHS_FLATS][POINTS]; /* angle by angle from the centre out */
    double rate[FW_HABIT_METHODS];
    wave shape[FW_HABIT_METHODS];
    unsigned long seed;
    int nsettings;
    setting settings[MOST_SETTINGS];
    int nrows;
    fw_work rows[ROWS]; /* after round 1 */
    fw_habit habit;
    int spells[MONTHS_FLATS];
    bool was_within[MONTHS_FLATS];
    months out;
} set;

/* Angle of a point of the grid. */
static double spoke(int point)
{
    int k = point / RADII;
    return 2 * PI * k / ANGLES;
}

static double normal(set *s)
{
    return gsl_ran_gaussian(s->rng, 1);
}

static wave draw_wave(gsl_rng *rng, double slowest, double fastest)
{
    wave w;
    double sum = 0;
    for (int i = 0; i < WAVES; i++) {
        w.amount[i] = gsl_ran_gaussian(rng, 1);
        w.cycles[i] = gsl_ran_flat(rng, slowest, fastest);
        w.phase[i] = gsl_ran_flat(rng, 0, 2 * PI);
        sum += w.amount[i] * w.amount[i] / 2;
    }
    for (int i = 0; i < WAVES; i++)
        w.amount[i] /= sqrt(sum);
    return w;
}

static double wave_at(const wave *w, double x)
{
    double sum = 0;
    for (int i = 0; i < WAVES; i++)
        sum += w->amount[i] * cos(2 * PI * w->cycles[i] * x + w->phase[i]);
    return sum;
}

/* PV over the clear aperture, the plane taken off by area. */
static double true_pv(const double *h)
{
    double low = INFINITY, high = -INFINITY, s[3] = {0}, w = 0, w2 = 0;
    for (int i = 0; i < POINTS; i++) {
        double r = i % RADII / (RADII - 1.0), a = spoke(i);
        double weight = r * (i % RADII == RADII - 1 ? 0.5 : 1);
        s[0] += weight * h[i];
        s[1] += weight * r * cos(a) * h[i];
        s[2] += weight * r * sin(a) * h[i];
        w += weight;
        w2 += weight * r * r / 2;
    }
    for (int i = 0; i < POINTS; i++) {
        double r = i % RADII / (RADII - 1.0), a = spoke(i);
        double v = h[i] - s[0] / w - r * (s[1] * cos(a) + s[2] * sin(a)) / w2;
        low = fmin(low, v);
        high = fmax(high, v);
    }
    return high - low;
}

/* Zones of revolution, astigmatism a third of them, orders 3 to 5 a tenth; 100 to 300 nm PV. */
static void draw_flat(set *s, double *h)
{
    double part[3][POINTS], zone[3], angle[6], share[6];
    for (int k = 0; k < 3; k++)
        zone[k] = normal(s) / (1 << k);
    for (int m = 2; m < 6; m++) {
        angle[m] = gsl_ran_flat(s->rng, 0, 2 * PI);
        share[m] = normal(s);
    }
    for (int i = 0; i < POINTS; i++) {
        double x = i % RADII / (RADII - 1.0), a = spoke(i);
        double l = 2 * x * x - 1;
        part[0][i] =
            zone[0] * l + zone[1] * (1.5 * l * l - 0.5) + zone[2] * (2.5 * l * l * l - 1.5 * l);
        part[1][i] = x * x * cos(2 * (a - angle[2]));
        part[2][i] = 0;
        for (int m = 3; m < 6; m++)
            part[2][i] += share[m] * pow(x, m) * cos(m * (a - angle[m]));
    }
    static const double want[3] = {1, 1.0 / 3, 0.1};
    for (int i = 0; i < POINTS; i++)
        h[i] = 0;
    for (int k = 0; k < 3; k++) {
        double pv = true_pv(part[k]);
        for (int i = 0; i < POINTS; i++)
            h[i] += want[k] * part[k][i] / pv;
    }
    double scale = gsl_ran_flat(s->rng, 100, 300) / true_pv(h);
    for (int i = 0; i < POINTS; i++)
        h[i] *= scale;
}

/* The shape of one stroke of this person: 0.2 rms off the computed one, most of it the method's. */
static double true_factor(const set *s, const fw_stroke *stroke, double x)
{
    gsl_rng *rng = gsl_rng_alloc(gsl_rng_taus);
    double key = 1000 * (isnan(stroke->length) ? 0 : stroke->length) +
                 (isnan(stroke->inner_mm) ? 0 : stroke->inner_mm) +
                 317 * (isnan(stroke->outer_mm) ? 0 : stroke->outer_mm);
    gsl_rng_set(rng, s->seed * 7919 + (unsigned long)(int)stroke->method * 104729 +
                         (unsigned long)key + 1);
    wave own = draw_wave(rng, 0.5, 2);
    gsl_rng_free(rng);
    return fmax(1 + 0.2 * (0.8 * wave_at(&s->shape[stroke->method], x) + 0.6 * wave_at(&own, x)),
                0);
}

static void take_off(set *s, int flat, const fw_stroke *stroke, double hours)
{
    double r[POINTS], theta[POINTS], unit[POINTS], factor[RADII];
    fw_disc disc = {RADIUS, 0};
    for (int i = 0; i < POINTS; i++) {
        r[i] = CLEAR * (i % RADII) / (RADII - 1);
        theta[i] = spoke(i);
    }
    for (int k = 0; k < RADII; k++)
        factor[k] = true_factor(s, stroke, r[k] / RADIUS);
    assert_int_equal(fw_stroke_by_hand(stroke, &disc, POINTS, r, theta, unit, NULL), FW_OK);
    for (int i = 0; i < POINTS; i++)
        s->height[flat][i] -= hours * s->rate[stroke->method] * unit[i] * factor[i % RADII];
    assert_true(s->nrows < ROWS);
    fw_work *row = &s->rows[s->nrows++];
    *row = (fw_work){.round = 1, .flat = flat, .hours = hours};
    assert_int_equal(fw_stroke_to_work(stroke, row, NULL), FW_OK);
    s->out.hours += hours;
}

/* Where a station is on its diameter, in steps of the grid. */
static int place_of(int station)
{
    int k = abs(station - HALF), even = HALF - 2 * CLOSER;
    int radius = k <= even ? k * STEP : even * STEP + (k - even) * STEP / 2;
    return station < HALF ? -radius : radius;
}

/* The height at a station of the diameter at `angle` steps of 22.5 degrees. */
static double at(const set *s, int flat, int angle, int station)
{
    int place = place_of(station);
    int a = ((place < 0 ? angle + DIAMETERS : angle) % ANGLES + ANGLES) % ANGLES;
    return s->height[flat][a * RADII + abs(place)];
}

static void measure(set *s, int bottom, int top, int turn)
{
    if (s->nsettings == MOST_SETTINGS)
        return;
    setting *to = &s->settings[s->nsettings++];
    *to = (setting){.round = 2, .bottom = bottom, .top = top, .turn = turn};
    double p = 300 * normal(s), qx = 300 * normal(s), qy = 300 * normal(s);
    for (int d = 0; d < DIAMETERS; d++) {
        double q = qx * cos(PI * d / DIAMETERS) + qy * sin(PI * d / DIAMETERS);
        for (int i = 0; i < STATIONS; i++)
            to->deviation[d][i] = at(s, bottom, d, i) + at(s, top, turn - d, i) + p +
                                  q * place_of(i) / STEP + NOISE * normal(s);
    }
    s->out.pairings++;
}

/* The usual five of a round: each pair, and two turned, so that no term up to order 8 is missed. */
static void measure_all(set *s)
{
    int kept = 0;
    for (int i = 0; i < s->nsettings; i++) /* what is two rounds old is let go */
        if (s->settings[i].round == 2) {
            s->settings[kept] = s->settings[i];
            s->settings[kept++].round = 1;
        }
    s->nsettings = kept;
    measure(s, 0, 1, 0);
    measure(s, 1, 2, 0);
    measure(s, 2, 0, 0);
    measure(s, 0, 1, 7);
    measure(s, 1, 2, 3);
}

static fw_job *make_job(const set *s)
{
    fw_job *job = fw_alloc(1, sizeof *job);
    size_t n = (size_t)s->nsettings * DIAMETERS;
    *job = (fw_job){.folder = fw_copy_text("invented"),
                    .title = fw_copy_text("Invented set"),
                    .nflats = MONTHS_FLATS,
                    .flatness_nm = TARGET,
                    .confidence = 0.95,
                    .sigma_nm = NOISE,
                    .levelling = FW_LEVELLING_SETUP,
                    .prior_nm = 1000,
                    .gradient_k = NAN,
                    .gap_um = NAN,
                    .eye_mm = NAN,
                    .light.wavelength_nm = 546.07,
                    .flats = fw_alloc(MONTHS_FLATS, sizeof(fw_flat)),
                    .scans = fw_alloc(n, sizeof(fw_scan)),
                    .readings = fw_alloc(n * STATIONS, sizeof(fw_reading)),
                    .nwork = (size_t)s->nrows,
                    .work = fw_alloc((size_t)s->nrows, sizeof(fw_work))};
    for (int f = 0; f < MONTHS_FLATS; f++) {
        char name[] = {(char)('A' + f), 0};
        job->flats[f] = (fw_flat){.name = fw_copy_text(name),
                                  .diameter_mm = 2 * RADIUS,
                                  .clear_mm = 2 * CLEAR,
                                  .thickness_mm = 35};
    }
    for (int w = 0; w < s->nrows; w++) {
        job->work[w] = s->rows[w];
        job->work[w].note = fw_copy_text("");
    }
    for (int i = 0; i < s->nsettings; i++)
        for (int d = 0; d < DIAMETERS; d++) {
            const setting *from = &s->settings[i];
            char label[16];
            snprintf(label, sizeof label, "%d", i);
            job->scans[job->nscans] = (fw_scan){.round = from->round,
                                                .bottom = from->bottom,
                                                .top = from->top,
                                                .turn_deg = 22.5 * from->turn,
                                                .diameter_deg = 22.5 * d,
                                                .label = fw_copy_text(label),
                                                .first = job->nreadings,
                                                .count = STATIONS};
            for (int k = 0; k < STATIONS; k++)
                job->readings[job->nreadings + (size_t)k] =
                    (fw_reading){.position_mm = CLEAR * place_of(k) / (RADII - 1),
                                 .deviation_nm = from->deviation[d][k],
                                 .sigma_nm = NOISE,
                                 .scan = (int)job->nscans,
                                 .line = (int)job->nreadings + k + 2};
            job->nreadings += STATIONS;
            job->nscans++;
        }
    return job;
}

/* True figures now: worst PV; notes what was within and what was spoilt. */
static double worst(set *s)
{
    double most = 0;
    for (int f = 0; f < MONTHS_FLATS; f++) {
        double pv = true_pv(s->height[f]);
        s->out.spoilt = s->out.spoilt || (s->was_within[f] && pv > SPOILT);
        s->was_within[f] = s->was_within[f] || pv <= TARGET;
        most = fmax(most, pv);
    }
    return most;
}

static void learn(set *s, const fw_result *result)
{
    for (int r = 0; r < result->nremovals; r++)
        assert_int_equal(fw_habit_add(&s->habit, result->job, &result->removals[r], NULL), FW_OK);
    assert_int_equal(fw_habit_settle(&s->habit, NULL), FW_OK);
}

/* Works as advised; false when a flat has had its spells. */
static bool follow(set *s, const fw_advice *advice, FILE *trace)
{
    s->nrows = 0;
    for (int p = 0; p < advice->nplans; p++) {
        const fw_plan *plan = &advice->plans[p];
        if (s->spells[plan->flat] + plan->spells > MONTHS_SPELLS)
            return false;
        s->spells[plan->flat] += plan->spells;
        for (int r = 0; r < plan->nrows; r++)
            take_off(s, plan->flat, &plan->rows[r].stroke, plan->rows[r].hours);
        if (trace)
            fprintf(trace, "  %c: %d strokes %.2f h%s, %.1f -> %.1f +- %.1f, truly %.1f, z %.1f\n",
                    'A' + plan->flat, plan->nrows, plan->hours,
                    plan->warnings & FW_WARN_TRIAL ? " trial" : "", plan->pv_before_nm,
                    plan->pv_after_nm, plan->pv_after_u_nm, true_pv(s->height[plan->flat]),
                    plan->z);
    }
    return true;
}

/* The worst flat by the sign of its power: flat on top when convex, else lap on top. */
static bool follow_plain(set *s, const fw_result *result)
{
    int flat = 0;
    const fw_figure *figure[MONTHS_FLATS];
    s->nrows = 0;
    for (int f = 0; f < MONTHS_FLATS; f++) {
        figure[f] = &result->faces[result->today[f]].figure;
        flat = figure[f]->pv.value_nm > figure[flat]->pv.value_nm ? f : flat;
    }
    double power = figure[flat]->power.value_nm;
    fw_stroke stroke = fw_stroke_usual(power > 0 ? FW_FLAT_ON_TOP : FW_LAP_ON_TOP);
    stroke.length = 1.0 / 3;
    if (++s->spells[flat] > MONTHS_SPELLS)
        return false;
    take_off(s, flat, &stroke, fmin(1, 0.6 * fabs(power) / (0.5 * RATE)));
    return true;
}

static void read_more(set *s, const fw_result *result, int extra)
{
    static const int turns[] = {3, 0, 5, 2, 7, 4};
    fw_next *next = NULL;
    if (fw_next_pairing(result, &next, NULL) == FW_OK && next->ncandidates > 0) {
        const fw_candidate *best = &next->candidates[0];
        measure(s, best->bottom, best->top, (int)lround(best->turn_deg / 22.5));
    } else
        measure(s, (extra + 1) % 3, (extra + 2) % 3, turns[extra % 6]);
    fw_next_free(next);
}

/* One round: solve, decide, work; more readings as long as asked for. False: over. */
static bool turn(set *s, bool plain, fw_menu *menu, FILE *trace)
{
    bool go_on = false, again = true;
    measure_all(s);
    for (int extra = 0; again; extra++) {
        fw_job *job = make_job(s);
        fw_result *result = NULL;
        fw_advice *advice = NULL;
        fw_habit before = s->habit;
        assert_int_equal(fw_solve(job, NULL, &result, NULL), FW_OK);
        again = false;
        learn(s, result);
        fw_advise_options options = {.unranked = true, .habit = &s->habit, .menu = menu};
        if (plain) {
            bool within = true;
            for (int f = 0; f < MONTHS_FLATS; f++)
                within = within && result->faces[result->today[f]].figure.verdict == FW_WITHIN;
            s->out.stopped = within;
            go_on = !within && follow_plain(s, result);
        } else {
            fw_error err = {0};
            if (fw_advise(result, &options, &advice, &err))
                fail_msg("%s", err.text);
            if (trace)
                fprintf(trace, " %s; rates %.0f %.0f %.0f %.0f\n",
                        fw_decision_name(advice->decision), s->habit.mean[0], s->habit.mean[8],
                        s->habit.mean[16], s->habit.mean[24]);
            for (int i = 0; trace && i < advice->nidle; i++) {
                const fw_plan *plan = &advice->idle[i];
                fprintf(trace, "  %c left: %d strokes %.2f h, %.1f -> %.1f +- %.1f, z %.1f\n",
                        'A' + plan->flat, plan->nrows, plan->hours, plan->pv_before_nm,
                        plan->pv_after_nm, plan->pv_after_u_nm, plan->z);
            }
            s->out.stopped = advice->decision == FW_DECIDE_STOP;
            if (advice->decision == FW_DECIDE_WORK)
                go_on = follow(s, advice, trace);
            else if (advice->decision == FW_DECIDE_MEASURE && extra < 16) {
                read_more(s, result, extra);
                s->habit = before; /* the removal is learned from all its readings, once */
                again = true;
            }
        }
        fw_advice_free(advice);
        fw_result_free(result);
        fw_job_free(job);
    }
    return go_on;
}

fw_menu *months_menu(void)
{
    fw_menu *menu = NULL;
    fw_disc disc = {RADIUS, 0};
    assert_int_equal(fw_menu_new(&disc, CLEAR, false, &menu, NULL), FW_OK);
    return menu;
}

months months_run(unsigned long seed, bool plain, fw_menu *menu, FILE *trace)
{
    set *s = calloc(1, sizeof *s);
    assert_non_null(s);
    s->rng = gsl_rng_alloc(gsl_rng_mt19937);
    gsl_rng_set(s->rng, seed);
    s->seed = seed;
    for (int m = 0; m < FW_HABIT_METHODS; m++) {
        s->rate[m] = (m < 2 ? 1 : 3) * fmax(RATE * (1 + 0.3 * normal(s)), 0.3 * RATE);
        s->shape[m] = draw_wave(s->rng, 0.3, 1.5);
    }
    for (int f = 0; f < MONTHS_FLATS; f++)
        draw_flat(s, s->height[f]);
    fw_habit_start(&s->habit);
    if (trace)
        fprintf(trace, "true rates %.0f %.0f %.0f %.0f\n", s->rate[0], s->rate[1], s->rate[2],
                s->rate[3]);
    s->out.start_nm = worst(s);
    bool go_on = true;
    while (go_on) {
        go_on = turn(s, plain, menu, trace);
        s->out.end_nm = worst(s);
        if (!s->out.reached && s->out.end_nm <= TARGET) {
            s->out.reached = true;
            for (int f = 0; f < MONTHS_FLATS; f++)
                s->out.spells = s->spells[f] > s->out.spells ? s->spells[f] : s->out.spells;
        }
        if (trace)
            fprintf(trace, "seed %lu: worst %.1f nm, %d pairings, %.1f h\n", seed, s->out.end_nm,
                    s->out.pairings, s->out.hours);
    }
    s->out.stopped_well = s->out.stopped && s->out.end_nm <= TARGET;
    months out = s->out;
    gsl_rng_free(s->rng);
    free(s);
    return out;
}
