/* madeup.h - made-up flats: smooth surfaces drawn by chance, of a size that is asked for. */
#ifndef FIGURE_MADEUP_H
#define FIGURE_MADEUP_H

#include <gsl/gsl_rng.h>

#include "flatwright/basis.h"
#include "flatwright/job.h"

enum { MADEUP_ORDER = 6, MADEUP_TERMS = 25, MADEUP_FAMILIES = 3 };

/*
 * A surface: circle polynomials of the orders 2 to MADEUP_ORDER over the clear radius. Families, by
 * the standard deviation of a coefficient of order n: 0 even; 1 falling as (n / 2)^-1.5; 2 falling,
 * and what is not of revolution a third of that.
 */
typedef struct madeup {
    const fw_basis *basis; /* borrowed: of the face, MADEUP_ORDER */
    double clear_mm;       /* radius */
    double c[MADEUP_TERMS];
} madeup;

/* Draws the coefficients; the size is as it falls. */
void madeup_draw(madeup *m, int family, gsl_rng *rng);

/* Height in nm of the point at a signed position on a diameter of the flat's own face. */
double madeup_height(const madeup *m, double angle_deg, double position_mm);

/* Makes it `factor` times as high. */
void madeup_scale(madeup *m, double factor);

/*
 * The PV, rms or irregularity over the whole face, the clear aperture less the bore (radius), in nm:
 * what no choice of diameters can hide.
 */
fw_status madeup_size(const madeup *m, double bore_mm, fw_measure measure, double *size_nm,
                      fw_error *err);

#endif
