/* along.c - a figure along a diameter, by Chebyshev's polynomials. */
#include "figure/along.h"

#include <math.h>

#define PI 3.14159265358979323846

/* a_k = (2 - [k = 0]) / n sum of f(cos t_i) cos k t_i, t_i = (i + 1/2) pi / n. */
along along_new(const fw_basis *basis, int nused, const int *used, const double *c, double theta)
{
    along p = {.n = basis->order + 1};
    for (int i = 0; i < p.n; i++) {
        double t = (i + 0.5) * PI / p.n, f = 0;
        for (int k = 0; k < nused; k++)
            f += c[k] * fw_basis_value(basis, used[k], cos(t), theta);
        for (int k = 0; k < p.n; k++)
            p.a[k] += (k ? 2.0 : 1.0) / p.n * f * cos(k * t);
    }
    return p;
}

/* Clenshaw's recurrence. */
double along_at(const along *p, double x)
{
    double b1 = 0, b2 = 0;
    for (int k = p->n - 1; k > 0; k--) {
        double b = p->a[k] + 2 * x * b1 - b2;
        b2 = b1;
        b1 = b;
    }
    return p->a[0] + x * b1 - b2;
}
