/* madeset.c - a made-up set: flats of a seed, as they are after the rows of a work list. */
#include "shop/madeset.h"

#include <math.h>

#include "adjust/planned.h"
#include "flatwright/alloc.h"
#include "flatwright/mating.h"

/* Sizes of made-up flats, in targets. */
static const double LEAST = 0.5, MOST = 15;
/* Points on which a whole face is looked at: a narrow zone is among them. */
enum { SPOKES = 48, CIRCLES = 77, FACE = SPOKES * CIRCLES };

fw_status madeset_draw(madeset *set, const fw_job *job, unsigned long seed, gsl_rng *rng,
                       fw_error *err)
{
    *set = (madeset){.job = job};
    fw_status status = fw_basis_new(false, MADEUP_ORDER, &set->basis, err);
    set->flats = fw_alloc(job->nflats, sizeof *set->flats);
    if (!status && !set->flats)
        status = fw_out_of_memory(err);
    for (int f = 0; f < job->nflats && !status; f++) {
        double size = 0, wanted;
        set->flats[f] = (madeup){.basis = set->basis, .clear_mm = job->flats[f].clear_mm / 2};
        /* zones of revolution, the rest a third of them: what comes off a lap */
        madeup_draw(&set->flats[f], 2, rng);
        wanted = job->flatness_nm * LEAST * pow(MOST / LEAST, gsl_rng_uniform(rng));
        if (!(status = madeup_size(&set->flats[f], job->flats[f].bore_mm / 2, job->measure, &size,
                                   err)))
            madeup_scale(&set->flats[f], wanted / size);
    }
    return status ? status : hand_draw(seed, &set->hand, err);
}

void madeset_release(madeset *set)
{
    fw_basis_free(set->basis);
    fw_free(set->flats);
    *set = (madeset){0};
}

/* Points of one flat's face, and what was taken off there. */
typedef struct points {
    size_t n;
    double *r_mm, *theta_rad, *removed;
    int *round;
    size_t *reading; /* of the job; NULL: none */
} points;

static void points_release(points *p)
{
    fw_free(p->r_mm);
    fw_free(p->theta_rad);
    fw_free(p->removed);
    fw_free(p->round);
    fw_free(p->reading);
}

static fw_status points_new(size_t room, points *p, fw_error *err)
{
    *p = (points){.r_mm = fw_alloc(room, sizeof(double)),
                  .theta_rad = fw_alloc(room, sizeof(double)),
                  .removed = fw_alloc(room, sizeof(double)),
                  .round = fw_alloc(room, sizeof(int)),
                  .reading = fw_alloc(room, sizeof(size_t))};
    return p->r_mm && p->theta_rad && p->removed && p->round && p->reading ? FW_OK
                                                                           : fw_out_of_memory(err);
}

/* Where the readings of a scan lie on the face of one of its flats. */
static void add_scan(const fw_job *job, const fw_scan *scan, bool top, points *p)
{
    double angle = top ? scan->turn_deg - scan->diameter_deg : scan->diameter_deg;
    for (size_t i = scan->first; i < scan->first + scan->count; i++) {
        double s = job->readings[i].position_mm;
        p->r_mm[p->n] = fabs(s);
        p->theta_rad[p->n] = (angle + (s < 0 ? 180 : 0)) * FW_RAD;
        p->round[p->n] = scan->round;
        p->reading[p->n++] = i;
    }
}

/* Takes off the readings what was taken off one flat. */
static fw_status wear_readings(const madeset *set, fw_job *job, int flat, fw_error *err)
{
    points p;
    fw_status status = points_new(job->nreadings, &p, err);
    for (size_t k = 0; k < job->nscans && !status; k++)
        if (job->scans[k].bottom == flat || job->scans[k].top == flat)
            add_scan(job, &job->scans[k], job->scans[k].top == flat, &p);
    if (!status)
        status = hand_removed(&set->hand, job, flat, p.n, p.r_mm, p.theta_rad, p.round, p.removed,
                              err);
    for (size_t i = 0; i < p.n && !status; i++)
        job->readings[p.reading[i]].deviation_nm -= p.removed[i];
    points_release(&p);
    return status;
}

fw_status madeset_read(const madeset *set, fw_job *job, bool errors, double level_nm, gsl_rng *rng,
                       fw_error *err)
{
    fw_status status = FW_OK;
    double *sigma = fw_alloc(job->nreadings, sizeof *sigma);
    if (!sigma)
        return fw_out_of_memory(err);
    for (size_t i = 0; i < job->nreadings; i++) {
        sigma[i] = job->readings[i].sigma_nm;
        job->readings[i].sigma_nm = errors ? sigma[i] : 0;
    }
    planned_read(job, set->flats, errors ? level_nm : 0, rng);
    for (size_t i = 0; i < job->nreadings; i++)
        job->readings[i].sigma_nm = sigma[i];
    for (int f = 0; f < job->nflats && !status; f++)
        status = wear_readings(set, job, f, err);
    fw_free(sigma);
    return status;
}

/* The whole face, spoke by spoke from the bore to the clear edge. */
static void lay_face(const fw_flat *flat, int round, points *p)
{
    double bore = flat->bore_mm / 2, clear = flat->clear_mm / 2;
    p->n = FACE;
    for (int i = 0; i < FACE; i++) {
        int spoke = i / CIRCLES;
        p->r_mm[i] = bore + (clear - bore) * (i % CIRCLES) / (CIRCLES - 1);
        p->theta_rad[i] = 360.0 / SPOKES * spoke * FW_RAD;
        p->round[i] = round;
    }
}

/* How much of the face a point of it stands for; the trapezoid rule along the radius. */
static double share(const points *p, int i)
{
    bool end = i % CIRCLES == 0 || i % CIRCLES == CIRCLES - 1;
    return p->r_mm[i] * (end ? 0.5 : 1);
}

/* A term of the plane or the sphere at a point of the face. */
static double term(const points *p, int k, int i)
{
    double r = p->r_mm[i];
    return k == 0 ? 1 : k == 1 ? r * cos(p->theta_rad[i]) : k == 2 ? r * sin(p->theta_rad[i]) : r * r;
}

/*
 * c (nterms) <- piston, tilt and, with nterms 4, power of the heights on a whole face, by area, and
 * these taken off them; *mean <- what makes r^2 orthogonal to 1.
 */
static void level(const points *p, int nterms, double *h, double *c, double *mean)
{
    double area = 0, sum = 0;
    for (int i = 0; i < FACE; i++) {
        area += share(p, i);
        sum += share(p, i) * term(p, 3, i);
    }
    *mean = sum / area;
    for (int k = 0; k < nterms; k++) {
        double along = 0, square = 0;
        for (int i = 0; i < FACE; i++) {
            double t = term(p, k, i) - (k == 3 ? *mean : 0);
            along += share(p, i) * t * h[i];
            square += share(p, i) * t * t;
        }
        c[k] = along / square;
        for (int i = 0; i < FACE; i++)
            h[i] -= c[k] * (term(p, k, i) - (k == 3 ? *mean : 0));
    }
}

static double measure_of(const points *p, fw_measure measure, double *h)
{
    double low = INFINITY, high = -INFINITY, square = 0, area = 0, c[4], mean;
    level(p, measure == FW_MEASURE_IRREGULARITY ? 4 : 3, h, c, &mean);
    for (int i = 0; i < FACE; i++) {
        low = fmin(low, h[i]);
        high = fmax(high, h[i]);
        square += share(p, i) * h[i] * h[i];
        area += share(p, i);
    }
    return measure == FW_MEASURE_RMS ? sqrt(square / area) : high - low;
}

/* What a flat is like at points of its face: as it was made, less what was taken off. */
static fw_status look(const madeset *set, const fw_job *job, int flat, const points *p, double *h,
                      fw_error *err)
{
    fw_status status = hand_removed(&set->hand, job, flat, p->n, p->r_mm, p->theta_rad, p->round,
                                    p->removed, err);
    for (size_t i = 0; i < p->n && !status; i++)
        h[i] = madeup_height(&set->flats[flat], p->theta_rad[i] / FW_RAD, p->r_mm[i]) -
               p->removed[i];
    return status;
}

fw_status madeset_size(const madeset *set, const fw_job *job, int flat, int round, double *size_nm,
                       fw_error *err)
{
    points p;
    fw_status status = points_new(FACE, &p, err);
    if (!status) {
        lay_face(&job->flats[flat], round, &p);
        status = look(set, job, flat, &p, p.removed, err);
    }
    if (!status)
        *size_nm = measure_of(&p, set->job->measure, p.removed);
    points_release(&p);
    return status;
}

/* One diameter's points, as they are, less the plane. */
static fw_status look_along(const madeset *set, const fw_job *job, int flat, int round,
                            const double plane[3], fw_diameter *d, fw_error *err)
{
    points p;
    fw_status status = points_new(d->npoints, &p, err);
    for (; p.n < d->npoints && !status; p.n++) {
        double s = d->points[p.n].position_mm;
        p.r_mm[p.n] = fabs(s);
        p.theta_rad[p.n] = (d->angle_deg + (s < 0 ? 180 : 0)) * FW_RAD;
        p.round[p.n] = round;
    }
    if (!status)
        status = look(set, job, flat, &p, p.removed, err);
    for (int i = 0; i < (int)d->npoints && !status; i++)
        d->points[i].height_nm = p.removed[i] - plane[0] * term(&p, 0, i) -
                                 plane[1] * term(&p, 1, i) - plane[2] * term(&p, 2, i);
    points_release(&p);
    return status;
}

fw_status madeset_profile(const madeset *set, const fw_job *job, int flat, int round,
                          fw_profile *profile, fw_error *err)
{
    points p;
    double plane[3], mean;
    fw_status status = points_new(FACE, &p, err);
    if (!status) {
        lay_face(&job->flats[flat], round, &p);
        status = look(set, job, flat, &p, p.removed, err);
    }
    if (!status)
        level(&p, 3, p.removed, plane, &mean);
    points_release(&p);
    for (int d = 0; d < profile->ndiameters && !status; d++)
        status = look_along(set, job, flat, round, plane, &profile->diameters[d], err);
    return status;
}
