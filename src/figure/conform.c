/* conform.c - the probability that a quantity is within its limits, and the verdict it allows. */
#include "flatwright/conform.h"

#include <math.h>

#include "flatwright/stats.h"

double fw_conform_probability(double y, double u, double lower, double upper)
{
    if (!isfinite(y) || !isfinite(u) || u < 0 || !(lower <= upper))
        return NAN;
    if (u == 0)
        return lower <= y && y <= upper;
    double a = (lower - y) / u, b = (upper - y) / u;
    if (a > 0)
        return fw_normal_tail(a) - fw_normal_tail(b);
    return fw_normal_tail(-b) - fw_normal_tail(-a);
}

fw_verdict fw_conform_verdict(double probability, double confidence)
{
    if (isnan(probability))
        return FW_UNDETERMINED;
    const double rounding = 1e-12; /* decimal fractions that add up to one meet in binary too */
    if (probability >= confidence - rounding)
        return FW_WITHIN;
    return 1 - probability >= confidence - rounding ? FW_OUTSIDE : FW_UNDECIDED;
}
