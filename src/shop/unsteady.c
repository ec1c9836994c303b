/* unsteady.c - what a stroke takes off when its ends are set by hand, and never twice the same. */
#include <math.h>

#include "flatwright/alloc.h"
#include "flatwright/stroke.h"

#define PI 3.14159265358979323846
#define RIM 1e-9 /* of a rim: as near counts as on it */
#define UNSTEADY 0.025 /* of the flat's radius: standard deviation of where a stroke ends; assumed */

#define STEP 0.6 /* of that: between the places it is summed at */

enum { SIDE = 5, NODES = 2 * SIDE + 1 };

/* Radius r, its mirror image where there is no glass: the rims stay where they are. */
static double onto_glass(double r, const fw_disc *flat)
{
    if (r > flat->radius_mm)
        return 2 * flat->radius_mm - r;
    return flat->bore_mm > 0 && r < flat->bore_mm ? 2 * flat->bore_mm - r : r;
}

fw_status fw_stroke_by_hand(const fw_stroke *stroke, const fw_disc *flat, size_t n,
                            const double *r_mm, const double *theta_rad, double *removal,
                            fw_error *err)
{
    double *r = fw_alloc(3 * NODES * n, sizeof *r), part[NODES], total = 0;
    if (!r)
        return fw_out_of_memory(err);
    double *theta = r + NODES * n, *one = theta + NODES * n;
    for (int k = 0; k < NODES; k++) {
        double z = STEP * (k - SIDE);
        total += part[k] = exp(-z * z / 2);
        for (size_t i = 0; i < n; i++) {
            double at = r_mm[i] + z * UNSTEADY * flat->radius_mm, turned = at < 0 ? PI : 0;
            r[i + n * (size_t)k] = onto_glass(fabs(at), flat);
            theta[i + n * (size_t)k] = (theta_rad ? theta_rad[i] : 0) + turned;
        }
    }
    fw_status status = fw_stroke_at(stroke, flat, NODES * n, r, theta, one, err);
    for (size_t i = 0; i < n && !status; i++) {
        bool glass = r_mm[i] <= flat->radius_mm * (1 + RIM) && r_mm[i] >= flat->bore_mm * (1 - RIM);
        removal[i] = 0;
        for (int k = 0; k < NODES && glass; k++)
            removal[i] += part[k] / total * one[i + n * (size_t)k];
    }
    fw_free(r);
    return status;
}
