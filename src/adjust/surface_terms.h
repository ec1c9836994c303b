/* surface_terms.h - the terms of a face along a line: polynomials of the position. */
#ifndef ADJUST_SURFACE_TERMS_H
#define ADJUST_SURFACE_TERMS_H

#include "flatwright/basis.h"
#include "flatwright/job.h"

/*
 * On the line at angle theta a term (n, m) of a face is a polynomial of degree n in the position s:
 *     Z(s, theta) = f_n|m|(s / clear) {cos m theta, sin |m| theta} = sum_l c_l P_l(s / span),
 * P_l Legendre's. So a scan of any number of stations poses no more than order + 1 equations, and
 * its piston and tilt are the first two of them.
 *
 * Of a bored flat the columns are not the circle polynomials Z but F = Z T, T upper triangular,
 * orthonormal over the annulus (plane taken off): Mahajan's annular polynomials by Gram and Schmidt
 * (J. Opt. Soc. Am. 71, 75, 1981, from memory). F of orders up to k span what Z up to k span.
 */
typedef struct surface_terms {
    const fw_job *job;
    fw_basis *basis;   /* orders 2 .. top */
    double **triangle; /* per flat: R with a = R c, a of F, c of Z; NULL: solid, a = c */
    double **radial;   /* per flat and partner: (top + 1) x radial parts, in Legendre's; lazily */
    double **held;     /* per flat: nterms, the piston or tilt of F over the area; NULL: solid */
} surface_terms;

fw_status surface_terms_init(surface_terms *t, const fw_job *job, int top, fw_error *err);
void surface_terms_release(surface_terms *t);

/* Half the length of the line on which two flats are both clear: positions are s / span. */
double surface_span(const surface_terms *t, int flat, int partner);

/*
 * out ((top + 1) x nterms) <- the terms of `flat` on its line at theta, for scans against `partner`
 * (the flat itself: its own radius). datum: less the plane that a term holds over the area.
 */
fw_status surface_along(surface_terms *t, int flat, int partner, double theta_rad, bool datum,
                        double *out, fw_error *err);

/* c (n x ncols) <- the coefficients of the circle polynomials, from those of the columns F. */
void surface_to_circle(const surface_terms *t, int flat, int n, int ncols, double *c, int ldc);

/* p (order + 1) <- P_l(x). */
void surface_legendre(int order, double x, double *p);

#endif
