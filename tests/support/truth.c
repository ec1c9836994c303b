/* truth.c - the true heights of a made-up set on a profile's datum, laid independently. */
#include "truth.h"

#include <gsl/gsl_multifit.h>
#include <math.h>
#include <stdlib.h>

#define RAD 0.017453292519943295769

size_t profile_size(const fw_profile *p)
{
    size_t n = 0;
    for (int k = 0; k < p->ndiameters; k++)
        n += p->diameters[k].npoints;
    return n;
}

const fw_point *profile_find(const fw_profile *p, double angle_deg, double position_mm)
{
    double turns = floor((angle_deg + 1e-9) / 180), angle = angle_deg - 180 * turns;
    double position = fmod(turns, 2) == 0 ? position_mm : -position_mm;
    for (int k = 0; k < p->ndiameters; k++)
        for (size_t i = 0; i < p->diameters[k].npoints; i++)
            if (fabs(p->diameters[k].angle_deg - angle) < 0.03 &&
                fabs(p->diameters[k].points[i].position_mm - position) < 0.005)
                return &p->diameters[k].points[i];
    return NULL;
}

static bool has_centre(const fw_diameter *d)
{
    for (size_t i = 0; i < d->npoints; i++)
        if (d->points[i].position_mm == 0)
            return true;
    return false;
}

/* The datum's parameters at a point: pistons (0: of the centre), slopes after them; or a plane. */
static void datum_columns(const fw_profile *p, bool plane, int k, double s, gsl_vector *row)
{
    gsl_vector_set_zero(row);
    if (plane) {
        gsl_vector_set(row, 0, 1);
        gsl_vector_set(row, 1, s / 100 * cos(p->diameters[k].angle_deg * RAD));
        gsl_vector_set(row, 2, s / 100 * sin(p->diameters[k].angle_deg * RAD));
        return;
    }
    gsl_vector_set(row, has_centre(&p->diameters[k]) ? 0 : (size_t)k + 1, 1);
    gsl_vector_set(row, (size_t)p->ndiameters + 1 + (size_t)k, s / 100);
}

/* Inside the clear aperture and outside the bore, by the job and not by the profile. */
static bool inside(const fw_flat *flat, double position)
{
    return fabs(position) <= flat->clear_mm / 2 + 0.01 &&
           fabs(position) >= flat->bore_mm / 2 - 0.01;
}

/* Least squares of the clear heights by the datum's parameters, the centre taken once. */
static void fit_datum(const fw_profile *p, const fw_flat *flat, bool plane, bool all,
                      const double *h, gsl_vector *c)
{
    size_t n = 0, rows = profile_size(p) + c->size;
    bool centre = false;
    gsl_matrix *x = gsl_matrix_calloc(rows, c->size), *cov = gsl_matrix_alloc(c->size, c->size);
    gsl_vector *y = gsl_vector_calloc(rows);
    gsl_multifit_linear_workspace *work = gsl_multifit_linear_alloc(rows, c->size);
    double chi;
    for (int k = 0; k < p->ndiameters; k++)
        for (size_t i = 0; i < p->diameters[k].npoints; i++, h++) {
            const fw_point *pt = &p->diameters[k].points[i];
            if (!(pt->determined || all) || !inside(flat, pt->position_mm) ||
                (pt->position_mm == 0 && centre))
                continue;
            centre = centre || pt->position_mm == 0;
            gsl_vector_view row = gsl_matrix_row(x, n);
            datum_columns(p, plane, k, pt->position_mm, &row.vector);
            gsl_vector_set(y, n++, *h);
        }
    /* A parameter of no point is zero: GSL's decomposition does not bear a column of noughts. */
    for (size_t j = 0; j < c->size; j++) {
        gsl_vector_view column = gsl_matrix_column(x, j);
        if (gsl_vector_isnull(&column.vector))
            gsl_matrix_set(x, n++, j, 1);
    }
    gsl_multifit_linear(x, y, c, cov, &chi, work);
    gsl_multifit_linear_free(work);
    gsl_matrix_free(x);
    gsl_matrix_free(cov);
    gsl_vector_free(y);
}

double *truth_on_datum(sim *s, int flat, int state, int minus, const fw_profile *p, bool all)
{
    bool plane = s->job->levelling == FW_LEVELLING_SETUP;
    double *h = malloc(sizeof *h * (profile_size(p) + 1)), *at = h;
    gsl_vector *c = gsl_vector_calloc(plane ? 3 : 1 + 2 * (size_t)p->ndiameters);
    gsl_vector *row = gsl_vector_calloc(c->size);
    for (int k = 0; k < p->ndiameters; k++)
        for (size_t i = 0; i < p->diameters[k].npoints; i++, at++) {
            double angle = p->diameters[k].angle_deg,
                   position = p->diameters[k].points[i].position_mm;
            *at = sim_height(s, flat, state, angle, position);
            *at -= minus >= 0 ? sim_height(s, flat, minus, angle, position) : 0;
        }
    fit_datum(p, &s->job->flats[flat], plane, all, h, c);
    at = h;
    for (int k = 0; k < p->ndiameters; k++)
        for (size_t i = 0; i < p->diameters[k].npoints; i++, at++) {
            datum_columns(p, plane, k, p->diameters[k].points[i].position_mm, row);
            for (size_t j = 0; j < c->size; j++)
                *at -= gsl_vector_get(row, j) * gsl_vector_get(c, j);
            if (!p->diameters[k].points[i].determined)
                *at = NAN;
        }
    gsl_vector_free(c);
    gsl_vector_free(row);
    return h;
}

static double worst_of(sim *s, int flat, int state, int minus, const fw_profile *p, bool all)
{
    double worst = 0, *want = truth_on_datum(s, flat, state, minus, p, all), *at = want;
    for (int k = 0; k < p->ndiameters; k++)
        for (size_t i = 0; i < p->diameters[k].npoints; i++, at++)
            if (p->diameters[k].points[i].determined) {
                double off = fabs(p->diameters[k].points[i].height_nm - *at);
                worst = isnan(off) ? INFINITY : fmax(worst, off);
            }
    free(want);
    return worst;
}

void truth_compare(sim *s, int flat, int state, int minus, const fw_profile *p, truth_match *m)
{
    double worst = worst_of(s, flat, state, minus, p, true);
    if (!p->determined)
        worst = fmin(worst, worst_of(s, flat, state, minus, p, false));
    m->worst_nm = fmax(m->worst_nm, worst);
    for (int k = 0; k < p->ndiameters; k++)
        for (size_t i = 0; i < p->diameters[k].npoints; i++) {
            m->told += p->diameters[k].points[i].determined;
            m->untold += !p->diameters[k].points[i].determined;
        }
}
