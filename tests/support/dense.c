/* dense.c - the whole job as one dense matrix and its singular values: slow, and independent. */
#include "dense.h"

#include <lapacke.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "flatwright/job.h"

#define RAD 0.017453292519943295769

static void normal_line(double *angle, double *position)
{
    double a = fmod(*angle, 360);
    if (a < 0)
        a += 360;
    if (a > 359.97)
        a = 0;
    if (a > 179.97) {
        a = a - 180 < 0 ? 0 : a - 180;
        *position = -*position;
    }
    if (fabs(*position) < 0.005)
        a = *position = 0;
    *angle = a;
}

int dense_find(const dense *d, int flat, int state, double angle, double position)
{
    normal_line(&angle, &position);
    for (int i = 0; i < d->heights; i++)
        if (d->height[i].flat == flat && d->height[i].state == state &&
            fabs(d->height[i].angle - angle) < 0.03 &&
            fabs(d->height[i].position - position) < 0.005)
            return i;
    return -1;
}

static int height_index(const fw_job *job, dense *d, int flat, int state, double angle,
                        double position)
{
    int found = dense_find(d, flat, state, angle, position);
    if (found >= 0)
        return found;
    normal_line(&angle, &position);
    const fw_flat *f = &job->flats[flat];
    d->height[d->heights] = (dense_height){flat, state, angle, position,
                                           fabs(position) <= f->clear_mm / 2 + 0.01 &&
                                               fabs(position) >= f->bore_mm / 2 - 0.01};
    return d->heights++;
}

/* Columns of the scan terms: p then q (x, y for setups) of each scan or setup. */
static int setup_of(const fw_job *job, int scan)
{
    const fw_scan *s = &job->scans[scan];
    for (int k = 0; k < scan; k++) {
        const fw_scan *o = &job->scans[k];
        double turn = fabs(remainder(o->turn_deg - s->turn_deg, 360));
        if (o->round == s->round && o->bottom == s->bottom && o->top == s->top && turn < 0.03)
            return setup_of(job, k);
    }
    return scan;
}

static void svd(dense *d, const double *a, const double *b)
{
    int m = d->readings, n = d->unknowns, k = m < n ? m : n;
    double *copy = malloc(sizeof(double) * m * n), *s = malloc(sizeof(double) * (k + 1));
    double *u = malloc(sizeof(double) * m * m), *vt = malloc(sizeof(double) * n * n);
    memcpy(copy, a, sizeof(double) * m * n);
    LAPACKE_dgesdd(LAPACK_COL_MAJOR, 'A', m, n, copy, m, s, u, m, vt, n);
    for (d->rank = 0; d->rank < k && s[d->rank] > 1e-10 * s[0]; d->rank++)
        ;
    for (int q = 0; q < d->rank; q++) {
        double c = 0;
        for (int i = 0; i < m; i++)
            c += u[i + (size_t)q * m] * b[i];
        for (int j = 0; j < n; j++) {
            d->x[j] += vt[q + (size_t)j * n] * c / s[q];
            for (int l = 0; l < n; l++)
                d->cov[j + (size_t)l * n] +=
                    vt[q + (size_t)j * n] * vt[q + (size_t)l * n] / (s[q] * s[q]);
        }
    }
    d->null = malloc(sizeof(double) * n * (n - d->rank + 1));
    for (int q = d->rank; q < n; q++)
        for (int j = 0; j < n; j++)
            d->null[j + (size_t)(q - d->rank) * n] = vt[q + (size_t)j * n];
    for (int i = 0; i < m; i++) {
        double r = b[i];
        for (int j = 0; j < n; j++)
            r -= a[i + (size_t)j * m] * d->x[j];
        d->chi_square += r * r;
    }
    free(copy);
    free(s);
    free(u);
    free(vt);
}

/* Rank of the null space restricted to the heights. */
static int height_rank(const dense *d)
{
    int n = d->unknowns - d->rank, h = d->heights, k = h < n ? h : n, rank = 0;
    if (n == 0 || h == 0)
        return 0;
    double *z = malloc(sizeof(double) * h * n), *s = malloc(sizeof(double) * k);
    for (int q = 0; q < n; q++)
        memcpy(z + (size_t)q * h, d->null + (size_t)q * d->unknowns, sizeof(double) * h);
    LAPACKE_dgesdd(LAPACK_COL_MAJOR, 'N', h, n, z, h, s, NULL, 1, NULL, 1);
    while (rank < k && s[rank] > 1e-9)
        rank++;
    free(z);
    free(s);
    return rank;
}

/* A height is firm unless a null vector moves it that leaves all scan terms where they are. */
static void find_firm(dense *d)
{
    int n = d->unknowns - d->rank, t = d->unknowns - d->heights, k = n < t ? n : t;
    d->firm = malloc(sizeof(bool) * (d->heights + 1));
    for (int i = 0; i < d->heights; i++)
        d->firm[i] = true;
    if (n == 0)
        return;
    double *z = malloc(sizeof(double) * t * n), *s = malloc(sizeof(double) * k);
    double *u = malloc(sizeof(double) * t * t), *vt = malloc(sizeof(double) * n * n);
    for (int q = 0; q < n; q++)
        memcpy(z + (size_t)q * t, d->null + d->heights + (size_t)q * d->unknowns,
               sizeof(double) * t);
    LAPACKE_dgesdd(LAPACK_COL_MAJOR, 'A', t, n, z, t, s, u, t, vt, n);
    for (int r = 0; r < n; r++)
        for (int i = 0; i < d->heights && (r >= k || s[r] < 1e-9); i++) {
            double move = 0;
            for (int q = 0; q < n; q++)
                move += d->null[i + (size_t)q * d->unknowns] * vt[r + (size_t)q * n];
            d->firm[i] = d->firm[i] && fabs(move) < 1e-7;
        }
    free(z);
    free(s);
    free(u);
    free(vt);
}

void dense_solve(const fw_job *job, dense *d)
{
    int m = (int)job->nreadings, ns = (int)job->nscans,
        per = job->levelling == FW_LEVELLING_SETUP ? 3 : 2;
    int *at = malloc(sizeof(int) * 2 * (m + 1)), *term = malloc(sizeof(int) * (ns + 1)), terms = 0;
    *d = (dense){.readings = m};
    d->height = malloc(sizeof *d->height * (2 * m + 1));
    for (int i = 0; i < m; i++) {
        const fw_reading *r = &job->readings[i];
        const fw_scan *s = &job->scans[r->scan];
        at[2 * i] = height_index(job, d, s->bottom, fw_job_state(job, s->bottom, s->round),
                                 s->diameter_deg, r->position_mm);
        at[2 * i + 1] = height_index(job, d, s->top, fw_job_state(job, s->top, s->round),
                                     s->turn_deg - s->diameter_deg, r->position_mm);
    }
    for (int k = 0; k < ns; k++) {
        if (!job->scans[k].count)
            continue;
        int first = per == 3 ? setup_of(job, k) : k;
        term[k] = first == k ? per * terms++ : term[first];
    }
    d->unknowns = d->heights + per * terms;
    double *a = calloc((size_t)m * d->unknowns + 1, sizeof *a), *b = calloc(m + 1, sizeof *b);
    d->x = calloc(d->unknowns + 1, sizeof *d->x);
    d->cov = calloc((size_t)d->unknowns * d->unknowns + 1, sizeof *d->cov);
    for (int i = 0; i < m; i++) {
        const fw_reading *r = &job->readings[i];
        const fw_scan *s = &job->scans[r->scan];
        double w = isnan(r->sigma_nm) ? 1 : 1 / r->sigma_nm, arm = r->position_mm / 100;
        int p = d->heights + term[r->scan];
        a[i + (size_t)at[2 * i] * m] += w;
        a[i + (size_t)at[2 * i + 1] * m] += w;
        a[i + (size_t)p * m] = w;
        a[i + (size_t)(p + 1) * m] = w * arm * (per == 3 ? cos(s->diameter_deg * RAD) : 1);
        if (per == 3)
            a[i + (size_t)(p + 2) * m] = w * arm * sin(s->diameter_deg * RAD);
        b[i] = w * r->deviation_nm;
    }
    svd(d, a, b);
    d->surface_null = height_rank(d);
    find_firm(d);
    free(a);
    free(b);
    free(at);
    free(term);
}

void dense_release(dense *d)
{
    free(d->height);
    free(d->x);
    free(d->cov);
    free(d->null);
    free(d->firm);
}

/* Was the centre read in any scan along this line of this face? */
static bool tied(const fw_job *job, int flat, int state, double angle)
{
    for (size_t i = 0; i < job->nreadings; i++) {
        const fw_scan *s = &job->scans[job->readings[i].scan];
        if (fabs(job->readings[i].position_mm) > 0.005)
            continue;
        int flats[2] = {s->bottom, s->top};
        double angles[2] = {s->diameter_deg, s->turn_deg - s->diameter_deg};
        for (int side = 0; side < 2; side++) {
            double line = angles[side], position = 1;
            normal_line(&line, &position);
            if (flats[side] == flat && fw_job_state(job, flat, s->round) == state &&
                fabs(line - angle) < 0.03)
                return true;
        }
    }
    return false;
}

/* D (n x p), levelling = scan: pistons, then slopes; returns p. */
static int datum_columns(const dense *d, const fw_job *job, const int *index, int n, bool untied,
                         double **out)
{
    double angles[64];
    int nangles = 0, piston[64], npist = 1; /* the first is the centre's */
    for (int i = 0; i < n; i++) {
        const dense_height *h = &d->height[index[i]];
        int k = 0;
        while (k < nangles && fabs(angles[k] - h->angle) > 0.03)
            k++;
        if (k < nangles || h->position == 0)
            continue;
        piston[nangles] = !untied && tied(job, h->flat, h->state, h->angle) ? 0 : npist++;
        angles[nangles++] = h->angle;
    }
    int p = npist + nangles;
    double *full = calloc((size_t)n * p, sizeof *full);
    for (int i = 0; i < n; i++) {
        const dense_height *h = &d->height[index[i]];
        int k = 0;
        while (h->position != 0 && fabs(angles[k] - h->angle) > 0.03)
            k++;
        full[i + (size_t)(h->position == 0 ? 0 : piston[k]) * n] = 1;
        if (h->position != 0)
            full[i + (size_t)(npist + k) * n] = h->position / 100;
    }
    *out = full;
    return p;
}

/* D (n x 3), levelling = setup: 1, x, y. */
static int plane_columns(const dense *d, const int *index, int n, double **out)
{
    *out = calloc((size_t)n * 3, sizeof **out);
    for (int i = 0; i < n; i++) {
        const dense_height *h = &d->height[index[i]];
        (*out)[i] = 1;
        (*out)[i + n] = h->position / 100 * cos(h->angle * RAD);
        (*out)[i + 2 * n] = h->position / 100 * sin(h->angle * RAD);
    }
    return 3;
}

/* L (n x n over the flat's heights) = I - D (D'D)^+ D' of the used ones, by an SVD of D. */
static double *datum_matrix(const dense *d, const fw_job *job, const int *index, int n, int datum)
{
    bool plane = job->levelling == FW_LEVELLING_SETUP, untied = (datum & DENSE_UNTIED) && !plane;
    double *full, s[160];
    int p = plane ? plane_columns(d, index, n, &full)
                  : datum_columns(d, job, index, n, untied, &full);
    int m = n < p ? p : n, rank;
    double *in = calloc((size_t)m * p, sizeof *in), *rhs = calloc((size_t)m * n, sizeof *rhs);
    double *l = calloc((size_t)n * n, sizeof *l);
    for (int i = 0; i < n; i++) {
        bool used = d->height[index[i]].clear && (!(datum & DENSE_FIRM) || d->firm[index[i]]) &&
                    (!untied || d->height[index[i]].position != 0);
        for (int q = 0; q < p; q++)
            in[i + (size_t)q * m] = used ? full[i + (size_t)q * n] : 0;
        rhs[i + (size_t)i * m] = used;
    }
    LAPACKE_dgelsd(LAPACK_COL_MAJOR, m, p, n, in, m, rhs, m, s, 1e-10, &rank);
    for (int i = 0; i < n; i++)
        for (int j = 0; j < n; j++) {
            l[i + (size_t)j * n] = i == j;
            for (int q = 0; q < p; q++)
                l[i + (size_t)j * n] -= full[i + (size_t)q * n] * rhs[q + (size_t)j * m];
        }
    free(full);
    free(in);
    free(rhs);
    return l;
}

int dense_on_datum(const dense *d, const fw_job *job, int flat, int state, int datum,
                   double *value, double *u, bool *known)
{
    bool lost = (datum & DENSE_UNTIED) && job->levelling != FW_LEVELLING_SETUP; /* the centre */
    int n = 0, count = 0, *index = calloc(d->heights + 1, sizeof *index);
    for (int i = 0; i < d->heights; i++)
        if (d->height[i].flat == flat && d->height[i].state == state)
            index[n++] = i;
    double *l = datum_matrix(d, job, index, n, datum);
    for (int i = 0; i < n; i++) {
        double sum = 0, var = 0, loose = 0;
        for (int j = 0; j < n; j++) {
            sum += l[i + (size_t)j * n] * d->x[index[j]];
            for (int k = 0; k < n; k++)
                var += l[i + (size_t)j * n] * l[i + (size_t)k * n] *
                       d->cov[index[j] + (size_t)index[k] * d->unknowns];
        }
        for (int q = 0; q < d->unknowns - d->rank; q++) {
            double touch = 0;
            for (int j = 0; j < n; j++)
                touch += l[i + (size_t)j * n] * d->null[index[j] + (size_t)q * d->unknowns];
            loose = fmax(loose, fabs(touch));
        }
        value[index[i]] = sum;
        u[index[i]] = sqrt(fmax(var, 0));
        known[index[i]] = loose < 1e-7 && !(lost && d->height[index[i]].position == 0);
        count += known[index[i]];
    }
    free(index);
    free(l);
    return count;
}
