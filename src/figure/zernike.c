/* zernike.c - circle polynomials by Jacobi's recurrence, and the two ways of numbering them. */
#include <math.h>
#include <stdlib.h>

#include "flatwright/basis.h"

static bool is_term(int n, int m)
{
    return n >= 0 && m >= -n && m <= n && (n - m) % 2 == 0;
}

/* x^n, n >= 0: quicker than pow, which takes any exponent. */
static double power(double x, int n)
{
    double y = 1;
    for (; n > 0; n >>= 1) {
        y *= n & 1 ? x : 1;
        x *= x;
    }
    return y;
}

double fw_zernike_radial(int n, int m, double rho)
{
    if (m < 0 || !is_term(n, m))
        return NAN;
    double u = rho * rho;
    double old = 1;
    double now = n == m ? 1 : 1 + (m + 2) * (u - 1); /* P_0, P_1 at x = 2 u - 1 */
    for (int k = 2; k <= (n - m) / 2; k++) {
        /*
         * 2 k (k+m) (s-2) P_k = (s-1) (s (s-2) x - m^2) P_(k-1) - 2 (k-1) (k+m-1) s P_(k-2),
         * s = 2 k + m
         */
        double s = 2.0 * k + m, b = m;
        double next = (s - 1) * (s * (s - 2) * (2 * u - 1) - b * b) * now
                      - 2 * (k - 1) * (k + b - 1) * s * old;
        old = now;
        now = next / (2 * k * (k + b) * (s - 2));
    }
    return power(rho, m) * now;
}

double fw_zernike_norm(int n, int m)
{
    return sqrt((m ? 2.0 : 1.0) * (n + 1));
}

double fw_zernike(int n, int m, double rho, double theta)
{
    if (!is_term(n, m))
        return NAN;
    double around = m < 0 ? sin(-m * theta) : m > 0 ? cos(m * theta) : 1;
    return fw_zernike_norm(n, m) * fw_zernike_radial(n, abs(m), rho) * around;
}

int fw_zernike_noll(int n, int m)
{
    if (!is_term(n, m))
        return -1;
    /* within an order the numbers rise with |m| in pairs; which is even follows n mod 4 */
    bool high = n % 4 >= 2;
    bool second = m == 0 ? true : (m > 0) == high;
    return n * (n + 1) / 2 + abs(m) + second;
}

int fw_zernike_osa(int n, int m)
{
    return is_term(n, m) ? (n * (n + 2) + m) / 2 : -1;
}

/* The largest n with n (n + 1) / 2 <= j. */
static int triangle_below(int j)
{
    int n = (int)((sqrt(8.0 * j + 1) - 1) / 2);
    while ((double)n * (n + 1) / 2 > j)
        n--;
    while ((n + 1.0) * (n + 2) / 2 <= j)
        n++;
    return n;
}

struct fw_term fw_zernike_from_noll(int j)
{
    if (j < 1)
        return (struct fw_term){-1, 0};
    int n = triangle_below(j - 1);
    int k = j - n * (n + 1) / 2; /* 1 .. n + 1 */
    int m = n % 2 ? 2 * ((k - 1) / 2) + 1 : 2 * (k / 2);
    return (struct fw_term){n, j % 2 ? -m : m};
}

struct fw_term fw_zernike_from_osa(int j)
{
    if (j < 0)
        return (struct fw_term){-1, 0};
    int n = triangle_below(j);
    return (struct fw_term){n, 2 * (j - n * (n + 1) / 2) - n};
}
