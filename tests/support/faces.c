/* faces.c - sets of flats that are circle polynomials, read at odd angles. Invented. */
#include "faces.h"

#include <math.h>

#include "close.h"

double faces_height(void *context, int flat, int state, double x, double y)
{
    const faces *f = context;
    double sum = 0, rho = hypot(x, y) / FACES_CLEAR_MM, theta = atan2(y, x);
    for (int j = 0; j < f->basis->nterms; j++)
        sum += f->c[flat][j] * (1 + 0.1 * state) * fw_basis_value(f->basis, j, rho, theta);
    return sum;
}

void faces_make(faces *f, int order, double size, gsl_rng *rng)
{
    assert_int_equal(fw_basis_new(false, order, &f->basis, NULL), FW_OK);
    for (int flat = 0; flat < 3; flat++)
        for (int j = 0; j < f->basis->nterms; j++)
            f->c[flat][j] = size * (0.5 + gsl_rng_uniform(rng)) *
                            (gsl_rng_uniform(rng) < 0.5 ? -1 : 1);
}

void faces_read_odd(sim *s, int n)
{
    static const double angles[] = {7, 43, 75, 116, 151}, turns[] = {0, 0, 0, 47, 111};
    double at[64];
    int scan = 0;
    for (int pair = 0; pair < 5; pair++)
        for (int k = 0; k < 5; k++, scan++) {
            for (int i = 0; i < n; i++)
                at[i] = -97 + 194.0 * i / (n - 1) + 2.6 * sin(1.1 * scan + 0.7 * i);
            sim_scan(s, 1, pair % 3, (pair + 1) % 3, turns[pair], angles[k], n, at);
        }
}
