/* sag.c - the spherometer: sag over a ring becomes radius and power. */
#include <math.h>

#include "flatwright/sag.h"

fw_status fw_sag_sphere(double ring_mm, double u_ring_mm, double sag_um, double sigma_um,
                        double clear_mm, fw_sphere *sphere, fw_error *err)
{
    double r = ring_mm, s = 1e-3 * sag_um, a = 0.5 * clear_mm;
    if (!(r > 0 && a > 0 && u_ring_mm >= 0 && isfinite(r + a + u_ring_mm)) || sigma_um < 0)
        return fw_fail(err, FW_INPUT, "no spherometer with a ring of radius %g mm on %g mm", r,
                       clear_mm);
    if (!(fabs(s) < r))
        return fw_fail(err, FW_INPUT, "a sag of %g um is out of range for a ring of radius %g mm",
                       sag_um, r);
    double square = r * r + s * s;
    double k = 2 * s / square; /* curvature */
    if (!(fabs(k) * a < 1))
        return fw_fail(err, FW_INPUT, "the sphere of sag %g um is smaller than the clear aperture",
                       sag_um);
    double by_sag = 2 * (r * r - s * s) / (square * square); /* dk/ds */
    double by_ring = -4 * s * r / (square * square);         /* dk/dr */
    double u_k = hypot(by_sag * 1e-3 * sigma_um, by_ring * u_ring_mm);
    double root = sqrt(1 - k * k * a * a), power = k * a * a / (1 + root);
    double by_k = 0.5 * (power * power + a * a) / root; /* from k (P^2 + a^2) = 2 P */

    *sphere = (fw_sphere){ .radius_mm = s != 0 ? 1 / k : INFINITY,
                           .u_radius_mm = s != 0 ? u_k / (k * k) : NAN,
                           .power_nm = 1e6 * power,
                           .u_power_nm = 1e6 * by_k * u_k };
    return FW_OK;
}

double fw_sag_power_nm(double ring_mm, double sag_um, double clear_mm)
{
    double ratio = 0.5 * clear_mm / ring_mm;
    return 1e3 * sag_um * ratio * ratio;
}
