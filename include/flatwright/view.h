/* view.h - an eye at a finite distance over a finite gap, and a lamp whose fringes fade. */
#ifndef FLATWRIGHT_VIEW_H
#define FLATWRIGHT_VIEW_H

#include "job.h"

/*
 * The false rise of an oblique view: an eye above the centre sees the gap d at r under the slope
 * i = r / H, and cos i short of 1 looks like a gap that is smaller, so like glass that is higher, by
 *     d r^2 / (2 H^2)
 *   gap_um  in  d
 *   eye_mm  in  H, from the gap to the eye or the lens
 *   r_mm    in  distance from the centre
 * Returns nm, to be taken off a reading (of the sum of both surfaces); NAN when not known. The next
 * term is 3/4 (r/H)^2 of it. Source: derived; 12.5 nm for 10 um, 150 mm, 3 m. Test: tests/unit/view.c.
 */
double fw_view_rise_nm(double gap_um, double eye_mm, double r_mm);

/*
 * The gap, in um, over which the fringes of a lamp lose their contrast: lambda^2 / (4 width), where
 * two lines `width` apart, such as sodium's, wipe each other out, and a line so wide is faint.
 * NAN when the lamp is not a known one. Source: sodium from its lines; discharge lamps 0.05 nm
 * and the laser 0.002 nm are common practice. Test: tests/unit/view.c.
 */
double fw_view_contrast_um(const fw_light *light);

#endif
