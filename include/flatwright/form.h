/* form.h - the numbers of a smooth figure: PV, rms, power, irregularity and its symmetric part. */
#ifndef FLATWRIGHT_FORM_H
#define FLATWRIGHT_FORM_H

#include "basis.h"
#include "status.h"

/*
 * The quantities of ISO 10110-5, of a figure h(rho, theta) = sum c_j f_j(rho, theta) from which
 * the plane was taken (piston and tilt by least squares over the area: the clear aperture less the
 * bore; on a line: its length less the bore). All in the unit of the coefficients.
 *   PV            highest less lowest h over the points given (the diameters read)
 *   rms           root of the mean square of h over the area
 *   power         sagitta of the best-fit sphere: with a + b rho^2 (and a plane) fitted to h by
 *                 least squares over the area, h_centre - h_rim = -b over the whole clear radius,
 *                 bored or not; + convex
 *   irregularity  PV over the points of what that sphere leaves
 *   symmetric     PV, from the bore to the rim, of the mean of what the sphere leaves around each
 *                 circle (the terms m = 0; on a line its even part); taken on 18 order + 1 circles,
 *                 never too large and at most 1e-3 of itself too small (Ehlich & Zeller,
 *                 Math. Z. 86, 41, 1964, from memory)
 */
typedef struct fw_shape {
    double pv_nm, rms_nm, power_nm, irregularity_nm, symmetric_nm;
} fw_shape;

/* Where the batched quantities go: nsamples entries each; NULL: not wanted. */
typedef struct fw_shapes {
    double *pv_nm, *rms_nm, *power_nm, *irregularity_nm, *symmetric_nm;
} fw_shapes;

/* The matrices that turn coefficients into quantities; opaque. */
typedef struct fw_form fw_form;

/*
 * Prepares the quantities of figures in one basis.
 *   basis        in   not kept
 *   bore_ratio   in   radius of the bore over the clear radius, 0 .. below 1; 0: solid
 *   npoints      in   number of points for PV; 0: PV and irregularity come out NAN
 *   rho, theta   in   npoints each, as fw_basis_value takes them; inside the clear aperture and
 *                     outside the bore (not checked)
 *   out          out  owned by the caller (fw_form_free); untouched on failure
 * Returns FW_OK, FW_INPUT (bore_ratio out of range) or FW_SYSTEM (memory).
 * Cost: npoints x nterms values of polynomials, and as much memory.
 * Averages over the area are exact to rounding (Gauss's rule in rho^2; on a line in rho).
 * Tests: tests/unit/form.c (closed forms of the unit disc, the annulus, the line).
 */
fw_status fw_form_new(const fw_basis *basis, double bore_ratio, int npoints, const double *rho,
                      const double *theta, fw_form **out, fw_error *err);

void fw_form_free(fw_form *form);

/*
 * Heights of the figure at the points, the plane taken off.
 *   count   in   leading terms used, 0 .. nterms (fw_basis_count for an order)
 *   c       in   count coefficients
 *   height  out  npoints
 */
void fw_form_heights(const fw_form *form, int count, const double *c, double *height);

/*
 * The quantities of one figure; fw_form_batch for a single sample.
 *   count  in   leading terms used
 *   c      in   count coefficients, finite
 *   out    out  untouched on failure
 * Returns FW_OK or FW_SYSTEM (memory).
 */
fw_status fw_form_quantities(const fw_form *form, int count, const double *c, fw_shape *out,
                             fw_error *err);

/*
 * How the quantities of one figure change with its coefficients: PV and irregularity with the heights
 * at their highest and lowest points, power everywhere alike.
 *   count                    in   leading terms used
 *   c                        in   count coefficients, finite
 *   pv, irregularity, power  out  count each; pv and irregularity 0 when there are no points
 * Returns FW_OK or FW_SYSTEM (memory). Test: tests/unit/form.c.
 */
fw_status fw_form_slopes(const fw_form *form, int count, const double *c, double *pv,
                         double *irregularity, double *power, fw_error *err);

/*
 * The quantities of many figures, as Monte Carlo wants them.
 *   count     in   leading terms used
 *   nsamples  in   number of figures
 *   c         in   count x nsamples, column-major with leading dimension ldc >= count; finite
 *   extra     in   npoints x nsamples, heights added at the points before PV and irregularity are
 *                  taken (structure finer than the basis); NULL: none
 *   out       out  see fw_shapes
 * Returns FW_OK or FW_SYSTEM (memory); out is then untouched.
 * Cost: one matrix product of npoints x count x nsamples through BLAS in blocks that stay in the
 * cache and below the size where threads would start. Test: tests/unit/form.c.
 */
fw_status fw_form_batch(const fw_form *form, int count, int nsamples, const double *c, int ldc,
                        const double *extra, const fw_shapes *out, fw_error *err);

#endif
