/* madeup.c - made-up flats: smooth surfaces drawn by chance, of a size that is asked for. */
#include "madeup.h"

#include <gsl/gsl_randist.h>
#include <math.h>

#include "flatwright/alloc.h"
#include "flatwright/form.h"
#include "flatwright/mating.h"

/* Points on which the whole face is looked at: PV of order 6 is found to a per cent. */
enum { SPOKES = 48, CIRCLES = 25 };

void madeup_draw(madeup *m, int family, gsl_rng *rng)
{
    for (int j = 0; j < m->basis->nterms; j++) {
        struct fw_term t = m->basis->terms[j];
        double sd = family == 0 ? 1 : pow(t.n / 2.0, -1.5);
        m->c[j] = gsl_ran_gaussian(rng, family == 2 && t.m ? sd / 3 : sd);
    }
}

double madeup_height(const madeup *m, double angle_deg, double position_mm)
{
    double sum = 0, rho = fabs(position_mm) / m->clear_mm;
    double theta = (angle_deg + (position_mm < 0 ? 180 : 0)) * FW_RAD;
    for (int j = 0; j < m->basis->nterms; j++)
        sum += m->c[j] * fw_basis_value(m->basis, j, rho, theta);
    return sum;
}

void madeup_scale(madeup *m, double factor)
{
    for (int j = 0; j < m->basis->nterms; j++)
        m->c[j] *= factor;
}

fw_status madeup_size(const madeup *m, double bore_mm, fw_measure measure, double *size_nm,
                      fw_error *err)
{
    enum { POINTS = SPOKES * CIRCLES };
    double bore = bore_mm / m->clear_mm;
    fw_form *form = NULL;
    fw_shape shape;
    fw_status status;
    double *rho = fw_alloc(POINTS, sizeof *rho), *theta = fw_alloc(POINTS, sizeof *theta);
    if (!rho || !theta) {
        status = fw_out_of_memory(err);
        goto done;
    }
    for (int i = 0; i < POINTS; i++) {
        int spoke = i / CIRCLES;
        rho[i] = bore + (1 - bore) * (i % CIRCLES) / (CIRCLES - 1);
        theta[i] = 360.0 * FW_RAD * spoke / SPOKES;
    }
    if ((status = fw_form_new(m->basis, bore, POINTS, rho, theta, &form, err)) ||
        (status = fw_form_quantities(form, m->basis->nterms, m->c, &shape, err)))
        goto done;
    *size_nm = measure == FW_MEASURE_PV    ? shape.pv_nm
               : measure == FW_MEASURE_RMS ? shape.rms_nm
                                           : shape.irregularity_nm;
done:
    fw_form_free(form);
    fw_free(rho);
    fw_free(theta);
    return status;
}
