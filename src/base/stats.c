/* stats.c - quantiles and tails through GSL, kept off the arguments where GSL ends the program. */
#include "flatwright/stats.h"

#include <math.h>

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_sf_log.h>

/* GSL's series are cut short from about here, and end the program from 2e6. */
#define GSL_DOF_MAX 1e4
/* Above this Student is normal to the last digit; GSL overflows at the square of either. */
#define STUDENT_DOF_MAX 1e15
#define STUDENT_T_MAX 1e150

static int is_probability(double p)
{
    return p >= 0 && p <= 1;
}

double fw_normal_quantile(double p)
{
    return is_probability(p) ? gsl_cdf_ugaussian_Pinv(p) : NAN;
}

double fw_normal_tail(double z)
{
    return isnan(z) ? NAN : gsl_cdf_ugaussian_Q(z);
}

double fw_student_quantile(double p, double dof)
{
    if (!is_probability(p) || !(dof >= 1))
        return NAN;
    return dof > STUDENT_DOF_MAX ? gsl_cdf_ugaussian_Pinv(p) : gsl_cdf_tdist_Pinv(p, dof);
}

double fw_student_tail(double t, double dof)
{
    if (isnan(t) || !(dof >= 1))
        return NAN;
    if (fabs(t) > STUDENT_T_MAX)
        return t < 0;
    return dof > STUDENT_DOF_MAX ? gsl_cdf_ugaussian_Q(t) : gsl_cdf_tdist_Q(t, dof);
}

/* Temme: the upper tail for side 1, the lower for side -1; 0 < x < infinity. */
static double temme(double x, double dof, int side)
{
    double a = dof / 2, mu = x / dof - 1;
    if (mu < -0.5)
        return side > 0; /* with so many degrees the lower tail is below 1e-400 */
    double eta = copysign(sqrt(-2 * gsl_sf_log_1plusx_mx(mu)), mu);
    double c0 = 1 / mu - 1 / eta;
    double c1 = 1 / (eta * eta * eta) - 1 / (mu * mu * mu) - 1 / (mu * mu) - 1 / (12 * mu);
    if (fabs(eta) < 0.03) { /* their power series, where the differences lose digits */
        const double e = eta;
        c0 = -1.0 / 3 + e * (1.0 / 12 + e * (-2.0 / 135 + e * (1.0 / 864 + e / 2835)));
        c1 = -1.0 / 540 + e * (-1.0 / 288 + e / 378);
    }
    double rest = exp(-a * eta * eta / 2) / sqrt(6.28318530717958647692 * a) * (c0 + c1 / a);
    return 0.5 * erfc(side * eta * sqrt(a / 2)) + side * rest;
}

static double chi_square(double x, double dof, int side)
{
    if (x <= 0 || isinf(x))
        return (x <= 0) == (side > 0);
    if (dof > GSL_DOF_MAX)
        return temme(x, dof, side);
    return side > 0 ? gsl_cdf_chisq_Q(x, dof) : gsl_cdf_chisq_P(x, dof);
}

double fw_chi_square_tail(double x, double dof)
{
    return isnan(x) || !(dof >= 1) || isinf(dof) ? NAN : chi_square(x, dof, 1);
}

double fw_chi_square_quantile(double p, double dof)
{
    if (!is_probability(p) || !(dof >= 1) || isinf(dof))
        return NAN;
    if (p == 0 || p == 1)
        return p == 0 ? 0 : INFINITY;
    int side = p > 0.5 ? 1 : -1;
    double goal = p > 0.5 ? 1 - p : p, low = 0, high = dof;
    while (side > 0 ? chi_square(high, dof, 1) > goal : chi_square(high, dof, -1) < goal)
        high *= 2;
    for (;;) {
        double mid = low + (high - low) / 2;
        if (mid <= low || mid >= high)
            return mid;
        if (side > 0 ? chi_square(mid, dof, 1) > goal : chi_square(mid, dof, -1) < goal)
            low = mid;
        else
            high = mid;
    }
}

double fw_tau_critical(double alpha, double f)
{
    if (!(alpha > 0 && alpha < 1) || !(f >= 2) || isinf(f))
        return NAN;
    double t = -fw_student_quantile(alpha / 2, f - 1);
    return sqrt(f) * t / sqrt(f - 1 + t * t);
}

double fw_baarda_critical(double alpha)
{
    return alpha > 0 && alpha < 1 ? -fw_normal_quantile(alpha / 2) : NAN;
}

double fw_baarda_shift(double alpha, double power)
{
    return power > 0 && power < 1 ? fw_baarda_critical(alpha) + fw_normal_quantile(power) : NAN;
}
