/* learn.c - what a person's strokes really take off, from the removal between states. */
#include <math.h>
#include <string.h>

#include "adjust/linalg.h"
#include "flatwright/advice.h"
#include "flatwright/alloc.h"
#include "flatwright/mating.h"
#include "shop/plan.h"

#define PI 3.14159265358979323846
#define RATE 200.0 /* nm/h: a disc's own weight at 0.1 m/s takes 1 to 10 nm a minute */
#define RATE_U 250.0
#define PRESSED 3.0    /* a small lap is pressed by hand: so many times a disc's own weight */
#define ALIKE 0.35     /* spread of a person's methods about their common rate */
#define SHAPE 0.2      /* of the removal, until learned */
#define EXACT 1e-12    /* of what the loose part may be: noise below it counts as this */
#define NEIGHBOURS 2.0 /* stations of a diameter share their errors: they count as half as many */
#define TURNS 8        /* of settling: priors of the shape go with the rate */

enum { N = FW_HABIT_SIZE, MODES = FW_HABIT_MODES, METHODS = FW_HABIT_METHODS, RADIAL = 4 };
/* Columns of what is not learned: smooth ones of every method, and how steady the hand is. */
enum { STEADY = METHODS * RADIAL, LOOSE = STEADY + 1 };

static bool local(fw_method method)
{
    return method == FW_RING || method == FW_SIDE;
}

/* t[q] = sqrt(2) cos (q + 1) pi x, q < n: cos (q + 1) a = 2 cos a cos q a - cos (q - 1) a. */
static void cosines(double x, int n, double *t)
{
    double c = cos(PI * x), before = 1, now = c;
    for (int q = 0; q < n; q++) {
        double next = 2 * c * now - before;
        t[q] = sqrt(2) * now;
        before = now;
        now = next;
    }
}

void fw_habit_modes(const fw_stroke *stroke, const fw_disc *flat, double r_mm, double *t)
{
    double x = r_mm / flat->radius_mm;
    double inner = isnan(stroke->inner_mm) ? flat->bore_mm : stroke->inner_mm;
    double outer = isnan(stroke->outer_mm) ? flat->radius_mm : stroke->outer_mm;
    double z = fmin(fmax((r_mm - inner) / (outer - inner), 0), 1);
    int radial = local(stroke->method) ? RADIAL : MODES - 1;
    t[0] = 1;
    cosines(x, radial, t + 1);
    cosines(z, MODES - 1 - radial, t + 1 + radial);
}

/* How much faster a method is than a full stroke beforehand, at unit profile. */
static double faster(int method)
{
    return local((fw_method)method) ? PRESSED : 1;
}

/* What a mode is believed to be beforehand, as a part of the rate: slower ones are larger. */
static double shape_sd(fw_method method, int q)
{
    double sum[2] = {0, 0}, all = SHAPE * SHAPE - PLAN_UNLEARNED * PLAN_UNLEARNED;
    int across = local(method) && q > RADIAL;
    for (int k = 1; k < MODES; k++) {
        int side = local(method) && k > RADIAL, i = side ? k - RADIAL : k;
        sum[side] += 1.0 / i / i;
    }
    int i = across ? q - RADIAL : q;
    return sqrt(all * (local(method) ? 0.5 : 1) / sum[across]) / i;
}

void fw_habit_start(fw_habit *habit)
{
    memset(habit, 0, sizeof *habit);
    for (int m = 0; m < METHODS; m++) {
        habit->mean[m * MODES] = RATE * faster(m);
        for (int k = 0; k < METHODS; k++)
            habit->cov[m * MODES + k * MODES * N] =
                (RATE_U * RATE_U + (k == m ? ALIKE * ALIKE * RATE * RATE : 0)) * faster(m) *
                faster(k);
        for (int q = 1; q < MODES; q++) {
            double sd = shape_sd((fw_method)m, q) * RATE * faster(m);
            habit->cov[(m * MODES + q) * (N + 1)] = sd * sd;
        }
    }
}

/* The determined clear points of a removal: where, how much, and what every parameter adds. */
typedef struct points {
    size_t n;
    double *s, *r, *theta, *y, *u2; /* s: signed place on the diameter */
    double *unit, *sharp;           /* a stroke by hand; with its ends where they should be */
    double *j;                             /* n x N */
    double *loose; /* n x LOOSE: by what the part that is not learned may err, levelled */
} points;

static void points_release(points *p)
{
    fw_free(p->s);
    fw_free(p->r);
    fw_free(p->theta);
    fw_free(p->y);
    fw_free(p->u2);
    fw_free(p->unit);
    fw_free(p->sharp);
    fw_free(p->j);
    fw_free(p->loose);
}

static bool counts(const fw_point *p)
{
    return p->determined && p->clear && p->u_nm >= 0 && isfinite(p->height_nm);
}

static fw_status points_new(const fw_profile *profile, points *out, fw_error *err)
{
    size_t n = 0;
    for (int d = 0; d < profile->ndiameters; d++)
        for (size_t i = 0; i < profile->diameters[d].npoints; i++)
            n += counts(&profile->diameters[d].points[i]);
    *out = (points){.n = n,
                    .s = fw_alloc(n, sizeof(double)),
                    .r = fw_alloc(n, sizeof(double)),
                    .theta = fw_alloc(n, sizeof(double)),
                    .y = fw_alloc(n, sizeof(double)),
                    .u2 = fw_alloc(n, sizeof(double)),
                    .unit = fw_alloc(n, sizeof(double)),
                    .sharp = fw_alloc(n, sizeof(double)),
                    .j = fw_alloc(n * N, sizeof(double)),
                    .loose = fw_alloc(n * LOOSE, sizeof(double))};
    if (!out->s || !out->r || !out->theta || !out->y || !out->u2 || !out->unit || !out->sharp ||
        !out->j || !out->loose) {
        points_release(out);
        return fw_out_of_memory(err);
    }
    n = 0;
    for (int d = 0; d < profile->ndiameters; d++)
        for (size_t i = 0; i < profile->diameters[d].npoints; i++) {
            const fw_point *p = &profile->diameters[d].points[i];
            if (!counts(p))
                continue;
            out->s[n] = p->position_mm;
            out->r[n] = fabs(p->position_mm);
            out->theta[n] =
                profile->diameters[d].angle_deg * FW_RAD + (p->position_mm < 0 ? PI : 0);
            out->y[n] = p->height_nm;
            out->u2[n++] = p->u_nm * p->u_nm;
        }
    return FW_OK;
}

/* One spell into the matrix. */
static fw_status add_spell(const fw_habit *habit, const fw_work *work, const fw_disc *flat,
                           points *p, fw_error *err)
{
    double t[MODES], rate = fmax(habit->mean[(int)work->method * MODES], 0);
    fw_stroke s = fw_stroke_of_work(work);
    fw_status status = fw_stroke_by_hand(&s, flat, p->n, p->r, p->theta, p->unit, err);
    if (!status)
        status = fw_stroke_at(&s, flat, p->n, p->r, p->theta, p->sharp, err);
    for (size_t i = 0; i < p->n && !status; i++) {
        fw_habit_modes(&s, flat, p->r[i], t);
        for (int q = 0; q < MODES; q++)
            p->j[i + p->n * (size_t)((int)work->method * MODES + q)] +=
                work->hours * p->unit[i] * t[q];
        p->loose[i + p->n * (size_t)((int)work->method * RADIAL)] +=
            pow(work->hours * p->unit[i], 2); /* strokes err each by itself */
        p->loose[i + p->n * STEADY] += rate * work->hours * (p->sharp[i] - p->unit[i]);
    }
    return status;
}

/* Takes piston and slope off v along one diameter, points first .. first + n. */
static void level(const points *p, size_t first, size_t n, double *v)
{
    double s0 = (double)n, s1 = 0, s2 = 0, a = 0, b = 0;
    for (size_t i = first; i < first + n; i++) {
        s1 += p->s[i];
        s2 += p->s[i] * p->s[i];
        a += v[i];
        b += v[i] * p->s[i];
    }
    double det = s0 * s2 - s1 * s1;
    double slope = det > 0 ? (s0 * b - s1 * a) / det : 0, piston = (a - slope * s1) / s0;
    for (size_t i = first; i < first + n; i++)
        v[i] -= piston + slope * p->s[i];
}

/*
 * From the mean square of a method's strokes at every point: an error of the removal as smooth as
 * its shape, mode by mode. A stroke that is done again errs alike, so it stays as large as beforehand.
 */
static void loosen(const fw_habit *habit, const fw_disc *flat, points *p)
{
    double sum = 0;
    for (int q = 1; q <= RADIAL; q++)
        sum += 1.0 / q / q;
    for (int m = 0; m < METHODS; m++) {
        double *first = p->loose + p->n * (size_t)(m * RADIAL);
        double part = SHAPE * fmax(habit->mean[m * MODES], 0) * sqrt(2 / sum);
        for (size_t i = 0; i < p->n; i++) {
            double size = part * sqrt(first[i]), x = p->r[i] / flat->radius_mm;
            for (int q = 1; q <= RADIAL; q++)
                first[i + p->n * (size_t)(q - 1)] = size / q * cos(q * PI * x);
        }
    }
}

/* Data and every column on the datum of their diameters. */
static void level_all(const fw_profile *profile, points *p)
{
    size_t first = 0;
    for (int d = 0; d < profile->ndiameters; d++) {
        size_t n = 0;
        for (size_t i = 0; i < profile->diameters[d].npoints; i++)
            n += counts(&profile->diameters[d].points[i]);
        if (n > 0) {
            level(p, first, n, p->y);
            for (int a = 0; a < N; a++)
                level(p, first, n, p->j + p->n * (size_t)a);
            for (int a = 0; a < LOOSE; a++)
                level(p, first, n, p->loose + p->n * (size_t)a);
        }
        first += n;
    }
}

/* Variance of one point's reading noise. */
static double noise_of(const points *p)
{
    double sum = 0;
    for (size_t i = 0; i < p->n; i++)
        sum += p->u2[i];
    return NEIGHBOURS * sum / (double)p->n;
}

/*
 * seen += J'C^-1 J, pull += J'C^-1 y with C = s I + B B', B the loose columns (Woodbury):
 * C^-1 = (I - B (s I + B'B)^-1 B') / s. What the loose part may be teaches nothing.
 */
static fw_status take_in(points *p, fw_habit *habit, fw_error *err)
{
    double r[LOOSE * LOOSE], k[LOOSE * (N + 1)], largest = 0, s = noise_of(p);
    int n = (int)p->n;
    fw_gemm(1, 0, LOOSE, LOOSE, n, 1, p->loose, n, p->loose, n, 0, r, LOOSE);
    for (int i = 0; i < LOOSE; i++)
        largest = fmax(largest, r[i * (LOOSE + 1)]);
    s = fmax(s, EXACT * largest);
    if (!(s > 0))
        return FW_OK; /* nothing was taken off, or nothing was read */
    for (int i = 0; i < LOOSE; i++)
        r[i * (LOOSE + 1)] += s;
    fw_status status = fw_cholesky(LOOSE, r, err);
    if (status)
        return status;
    fw_gemm(1, 0, LOOSE, N, n, 1, p->loose, n, p->j, n, 0, k, LOOSE);
    fw_gemm(1, 0, LOOSE, 1, n, 1, p->loose, n, p->y, n, 0, k + LOOSE * N, LOOSE);
    fw_upper_solve_transposed(LOOSE, N + 1, r, LOOSE, k, LOOSE);
    fw_gemm(1, 0, N, N, n, 1 / s, p->j, n, p->j, n, 1, habit->seen, N);
    fw_gemm(1, 0, N, 1, n, 1 / s, p->j, n, p->y, n, 1, habit->pull, N);
    fw_gemm(1, 0, N, N, LOOSE, -1 / s, k, LOOSE, k, LOOSE, 1, habit->seen, N);
    fw_gemm(1, 0, N, 1, LOOSE, -1 / s, k, LOOSE, k + LOOSE * N, LOOSE, 1, habit->pull, N);
    return FW_OK;
}

fw_status fw_habit_add(fw_habit *habit, const fw_job *job, const fw_removal *removal, fw_error *err)
{
    points p;
    fw_disc flat = {job->flats[removal->flat].diameter_mm / 2,
                    job->flats[removal->flat].bore_mm / 2};
    for (int w = 0; w < removal->nwork; w++)
        if (job->work[removal->work[w]].method > FW_SIDE)
            return FW_OK;
    fw_status status = points_new(&removal->profile, &p, err);
    if (status)
        return status;
    for (int w = 0; w < removal->nwork && !status; w++) {
        fw_error ignored;
        status = add_spell(habit, &job->work[removal->work[w]], &flat, &p, &ignored);
        if (status == FW_INPUT) { /* a stroke that cannot be reckoned teaches nothing */
            habit->untold++;
            points_release(&p);
            return FW_OK;
        }
        if (status && err)
            *err = ignored;
    }
    if (!status && p.n > 0) {
        loosen(habit, &flat, &p);
        level_all(&removal->profile, &p);
        status = take_in(&p, habit, err);
        for (int w = 0; w < removal->nwork; w++) {
            const fw_work *work = &job->work[removal->work[w]];
            habit->spells[work->method]++;
            habit->hours[work->method] += work->hours;
        }
    }
    points_release(&p);
    return status;
}

/* Precision of what is believed beforehand, and its pull, for rates about as large as `rate`. */
static void believe(const double rate[METHODS], double *a, double *b)
{
    double common = 0;
    for (int m = 0; m < METHODS; m++)
        common += rate[m] / faster(m) / METHODS;
    /* b_m / faster: S = c 1 1' + d I, S^-1 = (I - 1 1' c / (d + M c)) / d (Sherman & Morrison) */
    double c = RATE_U * RATE_U, d = ALIKE * ALIKE * common * common;
    for (int m = 0; m < METHODS; m++) {
        double row = 0;
        for (int k = 0; k < METHODS; k++) {
            double v = ((k == m) - c / (d + METHODS * c)) / d;
            a[m * MODES + k * MODES * N] += v / (faster(m) * faster(k));
            row += v * RATE;
        }
        b[m * MODES] += row / faster(m);
        for (int q = 1; q < MODES; q++)
            a[(m * MODES + q) * (N + 1)] += pow(shape_sd((fw_method)m, q) * rate[m], -2);
    }
}

fw_status fw_habit_settle(fw_habit *habit, fw_error *err)
{
    fw_habit to = *habit;
    double rate[METHODS], b[N], scale[N];
    for (int m = 0; m < METHODS; m++)
        rate[m] = RATE * faster(m);
    for (int turn = 0; turn < TURNS; turn++) {
        memcpy(to.cov, habit->seen, sizeof to.cov);
        memcpy(b, habit->pull, sizeof b);
        believe(rate, to.cov, b);
        for (int i = 0; i < N; i++)
            scale[i] = 1 / sqrt(to.cov[i * (N + 1)]);
        for (int i = 0; i < N; i++)
            for (int k = 0; k < N; k++)
                to.cov[i + k * N] *= scale[i] * scale[k];
        fw_status status = fw_pinv_symmetric(N, to.cov, 1e-14, err);
        if (status)
            return status;
        for (int i = 0; i < N; i++)
            for (int k = 0; k < N; k++)
                to.cov[i + k * N] *= scale[i] * scale[k];
        fw_gemm(0, 0, N, 1, N, 1, to.cov, N, b, N, 0, to.mean, N);
        double most = 1;
        for (int m = 0; m < METHODS; m++)
            most = fmax(most, to.mean[m * MODES] / faster(m));
        for (int m = 0; m < METHODS; m++) /* no stroke puts glass back */
            rate[m] = to.mean[m * MODES] = fmax(to.mean[m * MODES], 0.05 * most * faster(m));
    }
    *habit = to;
    return FW_OK;
}

fw_status fw_habit_learn(const fw_result *result, fw_habit *habit, fw_error *err)
{
    fw_habit made;
    fw_habit_start(&made);
    for (int r = 0; r < result->nremovals; r++) {
        fw_status status = fw_habit_add(&made, result->job, &result->removals[r], err);
        if (!status)
            status = fw_habit_settle(&made, err);
        if (status)
            return status;
    }
    *habit = made;
    return FW_OK;
}

fw_quantity fw_habit_rate(const fw_habit *habit, fw_method method)
{
    int i = (int)method * MODES;
    if (method > FW_SIDE)
        return (fw_quantity){NAN, NAN};
    return (fw_quantity){habit->mean[i], sqrt(habit->cov[i * (N + 1)])};
}

bool fw_habit_knows(const fw_habit *habit, fw_method method)
{
    fw_quantity rate = fw_habit_rate(habit, method);
    return rate.u_nm < 0.5 * rate.value_nm;
}
