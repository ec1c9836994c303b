/* foresight.c - a job with made-up pairings added, on a prior, as one dense system. */
#include "foresight.h"

#include <lapacke.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#define RAD 0.017453292519943295769

typedef struct spot {
    int flat, state;
    double angle, position;
    bool station, tied;
} spot;

typedef struct equations {
    const foresight *f;
    int nspots, nterms;
    spot *spots;    /* room for SPOTS */
    double *normal; /* size x size: heights from 0, terms from SPOTS */
} equations;

enum { SPOTS = 1000, TERMS = 1000, SIZE = SPOTS + TERMS };

static int today(const fw_job *job, int flat)
{
    return fw_job_state(job, flat, fw_job_round(job));
}

static double line_of(double angle, double *position)
{
    double line = angle - 180 * floor(angle / 180 + 1e-4);
    if (fabs(remainder(angle - line, 360)) > 90)
        *position = -*position;
    return fabs(line) < 0.03 ? 0 : line;
}

static int spot_of(equations *s, int flat, int state, double angle, double position)
{
    double line = line_of(angle, &position);
    if (fabs(position) < 0.005)
        line = position = 0;
    for (int i = 0; i < s->nspots; i++) {
        const spot *h = &s->spots[i];
        if (h->flat == flat && h->state == state && fabs(h->angle - line) < 0.03 &&
            fabs(h->position - position) < 0.005)
            return i;
    }
    if (s->nspots == SPOTS)
        abort();
    s->spots[s->nspots] = (spot){flat, state, line, position, false, false};
    return s->nspots++;
}

static bool on_glass(const fw_job *job, int flat, double position)
{
    return fabs(position) <= job->flats[flat].diameter_mm / 2 + 0.005 &&
           fabs(position) >= job->flats[flat].bore_mm / 2 - 0.005;
}

static bool counts(const fw_job *job, int flat, double position)
{
    return on_glass(job, flat, position) && fabs(position) <= job->flats[flat].clear_mm / 2 + 0.005;
}

/* One reading: d = h + h + p + q s / 100 (or + (q1 cos + q2 sin) s / 100). */
static void observe(equations *s, int a, int b, int term, double diameter, double position,
                    double sigma)
{
    bool plane = s->f->job->levelling == FW_LEVELLING_SETUP;
    int at[5] = {a, b, SPOTS + term, SPOTS + term + 1, SPOTS + term + 2}, n = plane ? 5 : 4;
    double arm = position / 100;
    const double c[5] = {1, 1, 1, arm * (plane ? cos(diameter * RAD) : 1),
                         arm * sin(diameter * RAD)};
    for (int i = 0; i < n; i++)
        for (int j = 0; j < n; j++)
            s->normal[at[i] + (size_t)at[j] * SIZE] += c[i] * c[j] / (sigma * sigma);
}

static int term_of(const fw_job *job, int scan)
{
    const fw_scan *s = &job->scans[scan];
    for (int k = 0; k < scan && job->levelling == FW_LEVELLING_SETUP; k++) {
        const fw_scan *o = &job->scans[k];
        if (o->round == s->round && o->bottom == s->bottom && o->top == s->top &&
            fabs(remainder(o->turn_deg - s->turn_deg, 360)) < 0.03)
            return 3 * k;
    }
    return 3 * scan;
}

static bool line_read(const equations *s, int flat, double angle)
{
    const fw_job *job = s->f->job;
    for (size_t i = 0; i < job->nscans; i++) {
        const fw_scan *o = &job->scans[i];
        double position = 1;
        const double angles[2] = {line_of(o->diameter_deg, &position),
                                  line_of(o->turn_deg - o->diameter_deg, &position)};
        for (int side = 0; side < 2 && o->count; side++)
            if ((side ? o->top : o->bottom) == flat &&
                fw_job_state(job, flat, o->round) == today(job, flat) &&
                fabs(angles[side] - angle) < 0.03)
                return true;
    }
    return false;
}

/* Stations: every clear place read in today's state; on a diameter never read, those of a candidate. */
static void mark_stations(equations *s)
{
    const fw_job *job = s->f->job;
    for (int i = 0; i < s->nspots; i++)
        s->spots[i].station =
            s->spots[i].state == today(job, s->spots[i].flat) &&
            counts(job, s->spots[i].flat, s->spots[i].position) &&
            !(s->f->untied && s->f->untied[s->spots[i].flat] && s->spots[i].position == 0);
    for (int flat = 0; flat < job->nflats; flat++)
        for (int k = 0; k < s->f->ndiameters; k++)
            for (int i = 0; i < s->f->nstations && !line_read(s, flat, s->f->diameters[k]); i++)
                if (counts(job, flat, s->f->stations[i]) &&
                    !(s->f->untied && s->f->untied[flat] && fabs(s->f->stations[i]) < 0.005))
                    s->spots[spot_of(s, flat, today(job, flat), s->f->diameters[k],
                                     s->f->stations[i])]
                        .station = true;
}

/* Is a flat's line tied to the others by its centre: read there, or to be read there for the first time? */
static bool line_tied(const equations *s, int flat, double angle)
{
    const fw_job *job = s->f->job;
    bool tied = false;
    if (s->f->untied && s->f->untied[flat])
        return false;
    if (!line_read(s, flat, angle)) {
        for (int i = 0; i < s->f->nstations; i++)
            tied = tied || (fabs(s->f->stations[i]) < 0.005 && counts(job, flat, 0));
        return tied;
    }
    for (size_t i = 0; i < job->nreadings; i++) {
        const fw_scan *o = &job->scans[job->readings[i].scan];
        double position = 1;
        const double angles[2] = {line_of(o->diameter_deg, &position),
                                  line_of(o->turn_deg - o->diameter_deg, &position)};
        for (int side = 0; side < 2 && fabs(job->readings[i].position_mm) < 0.005; side++)
            tied =
                tied || ((side ? o->top : o->bottom) == flat && fabs(angles[side] - angle) < 0.03 &&
                         fw_job_state(job, flat, o->round) == today(job, flat));
    }
    return tied;
}

static void add_extras(equations *s, int n, const extra *extras, int nterms)
{
    const foresight *f = s->f;
    for (int e = 0; e < n; e++)
        for (int k = 0; k < f->ndiameters * extras[e].times; k++) {
            double diameter = f->diameters[k % f->ndiameters];
            int b = extras[e].bottom, t = extras[e].top;
            bool plane = f->job->levelling == FW_LEVELLING_SETUP;
            int term = plane ? nterms + 3 * (k / f->ndiameters) : nterms + 3 * k;
            if (term + 3 > TERMS)
                abort();
            for (int i = 0; i < f->nstations; i++) {
                double x = f->stations[i];
                if (on_glass(f->job, b, x) && on_glass(f->job, t, x))
                    observe(s, spot_of(s, b, today(f->job, b), diameter, x),
                            spot_of(s, t, today(f->job, t), extras[e].turn - diameter, x), term,
                            diameter, x, f->sigma);
            }
            s->nterms = term + 3 > s->nterms ? term + 3 : s->nterms;
            if (k == f->ndiameters * extras[e].times - 1)
                nterms = term + 3;
        }
}

/* cov (n x n) <- of the heights: the inverse of all, its first n rows and columns. */
static double *covariance(const equations *s)
{
    int n = s->nspots, size = n + s->nterms;
    double prior = s->f->job->prior_nm, *a = malloc(sizeof(double) * size * size);
    for (int i = 0; i < size; i++)
        for (int j = 0; j < size; j++) {
            int r = i < n ? i : SPOTS + i - n, c = j < n ? j : SPOTS + j - n;
            a[i + (size_t)j * size] = s->normal[r + (size_t)c * SIZE];
        }
    for (int i = 0; i < size; i++) {
        double *at = &a[i + (size_t)i * size];
        *at = i < n ? *at + 1 / (prior * prior) : *at > 0 ? *at * (1 + 1e-11) : 1;
    }
    if (LAPACKE_dpotrf(LAPACK_COL_MAJOR, 'U', size, a, size) ||
        LAPACKE_dpotri(LAPACK_COL_MAJOR, 'U', size, a, size))
        abort();
    double *cov = malloc(sizeof(double) * n * n);
    for (int i = 0; i < n; i++)
        for (int j = 0; j < n; j++)
            cov[i + (size_t)j * n] = i <= j ? a[i + (size_t)j * size] : a[j + (size_t)i * size];
    free(a);
    return cov;
}

/* The sum of the variances over a flat's stations off the span of its datum's columns. */
static double flat_sum(const equations *s, int flat, const double *cov, int *count)
{
    int at[SPOTS], n = 0, p = 0;
    bool plane = s->f->job->levelling == FW_LEVELLING_SETUP;
    double lines[64], sum = 0, sv[256];
    int nlines = 0;
    for (int i = 0; i < s->nspots; i++)
        if (s->spots[i].station && s->spots[i].flat == flat)
            at[n++] = i;
    *count = n;
    double *d = calloc((size_t)n * 131 + 1, sizeof *d), *u = calloc((size_t)n * n + 1, sizeof *u);
    double *vt = malloc(sizeof(double) * 131 * 131);
    for (int i = 0; i < n; i++) {
        const spot *h = &s->spots[at[i]];
        int k = 0;
        double x = h->position / 100;
        d[i] = h->position == 0 || plane; /* the piston of the centre, or of all */
        if (plane) {
            d[i + n] = x * cos(h->angle * RAD);
            d[i + 2 * n] = x * sin(h->angle * RAD);
            continue;
        }
        while (k < nlines && fabs(lines[k] - h->angle) > 0.03)
            k++;
        if (h->position == 0)
            continue;
        if (k == nlines)
            lines[nlines++] = h->angle;
        d[i + (size_t)(1 + 2 * k) * n] = x;
        d[i + (size_t)(line_tied(s, flat, h->angle) ? 0 : 2 + 2 * k) * n] = 1;
    }
    p = plane ? 3 : 1 + 2 * nlines;
    if (n > 0)
        LAPACKE_dgesdd(LAPACK_COL_MAJOR, 'A', n, p, d, n, sv, u, n, vt, p);
    for (int q = 0; q < n; q++) {
        if (q < p && sv[q] > 1e-9 * sv[0])
            continue;
        for (int i = 0; i < n; i++)
            for (int j = 0; j < n; j++)
                sum += u[i + (size_t)q * n] * u[j + (size_t)q * n] *
                       cov[at[i] + (size_t)at[j] * s->nspots];
    }
    free(d);
    free(u);
    free(vt);
    return sum;
}

double foresight_score(const foresight *f, int n, const extra *extras, double *u)
{
    const fw_job *job = f->job;
    equations s = {.f = f,
                   .spots = calloc(SPOTS, sizeof(spot)),
                   .normal = calloc((size_t)SIZE * SIZE, sizeof(double))};
    for (size_t i = 0; i < job->nreadings; i++) {
        const fw_reading *r = &job->readings[i];
        const fw_scan *o = &job->scans[r->scan];
        int a = spot_of(&s, o->bottom, fw_job_state(job, o->bottom, o->round), o->diameter_deg,
                        r->position_mm);
        int b = spot_of(&s, o->top, fw_job_state(job, o->top, o->round),
                        o->turn_deg - o->diameter_deg, r->position_mm);
        double sigma = sqrt(f->variance) * (isnan(r->sigma_nm) ? 1 : r->sigma_nm);
        observe(&s, a, b, term_of(job, r->scan), o->diameter_deg, r->position_mm, sigma);
    }
    s.nterms = 3 * (int)job->nscans;
    mark_stations(&s);
    add_extras(&s, n, extras, s.nterms);
    double *cov = covariance(&s), all = 0;
    int stations = 0;
    for (int flat = 0; flat < job->nflats; flat++) {
        int count;
        double sum = flat_sum(&s, flat, cov, &count);
        u[flat] = sqrt(sum / count);
        all += sum;
        stations += count;
    }
    free(cov);
    free(s.spots);
    free(s.normal);
    return all / stations;
}
