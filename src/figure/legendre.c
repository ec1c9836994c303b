/* legendre.c - Legendre polynomials, and Gauss's rule on their zeros. */
#include <math.h>

#include "flatwright/basis.h"

/* P_n(x) and P_(n-1)(x); n >= 1. */
static double legendre_pair(int n, double x, double *below)
{
    double old = 1, now = x;
    for (int k = 2; k <= n; k++) {
        double next = ((2 * k - 1) * x * now - (k - 1) * old) / k;
        old = now;
        now = next;
    }
    *below = old;
    return now;
}

double fw_legendre(int n, double x)
{
    double below;
    if (n < 0)
        return NAN;
    return n == 0 ? 1 : legendre_pair(n, x, &below);
}

void fw_gauss(int n, double *x, double *w)
{
    const double pi = 3.14159265358979323846;
    for (int i = 0; i < n; i++) {
        double z = -cos(pi * (i + 0.75) / (n + 0.5)), slope = 1;
        for (int step = 0; step < 8; step++) { /* from this start Newton needs three or four */
            double below, value = legendre_pair(n, z, &below);
            slope = n * (below - z * value) / (1 - z * z); /* P_n'(z) */
            z -= value / slope;
        }
        x[i] = z;
        w[i] = 2 / ((1 - z * z) * slope * slope);
    }
}
