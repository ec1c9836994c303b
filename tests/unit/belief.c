/* belief.c - the draws of a figure have the mean and the spread of the prior's mixture, cell by cell. */
#include "adjust/belief.h"

#include <math.h>
#include <string.h>

#include "../support/close.h"
#include "adjust/linalg.h"
#include "base/draws.h"

enum { N = 12, DRAWS = 20000, SHAPES = 16, SIZES = 14 }; /* orders 2 to 4 */
static const double VARIANCE = 4, LEAST = 1;

/* Numbers without pattern, by Park and Miller's rule. */
static double draw(void)
{
    static long long state = 1;
    state = state * 16807 % 2147483647;
    return (double)state / 2147483647 - 0.5;
}

/* Some terms are told well, some hardly, none alone. */
static void lay(double r[N * N], double z[N])
{
    memset(r, 0, N * N * sizeof *r);
    for (int k = 0; k < N; k++) {
        for (int i = 0; i <= k; i++)
            r[i + k * N] = i == k ? 0.1 + 2 * fabs(draw()) : draw() / 2;
        z[k] = 8 * draw();
    }
}

/* sd <- the prior's standard deviations at an rms of 1; returns how readily it is believed. */
static double prior(const fw_basis *basis, int shape, double sd[N])
{
    static const double ratio[] = {1, 0.3, 0.1, 0.01}, readily[] = {6, 2, 1, 1};
    bool fine = shape / 4 % 2;
    double total = 0;
    for (int k = 0; k < N; k++) {
        struct fw_term t = basis->terms[k];
        sd[k] = pow(t.n / 2.0, shape / 8 ? -1.5 : -0.5);
        sd[k] *= t.m ? ratio[shape % 4] : 1;
        sd[k] *= fine && t.n > 3 ? 0.1 : 1;
        total += sd[k] * sd[k];
    }
    for (int k = 0; k < N; k++)
        sd[k] /= sqrt(total);
    return readily[shape % 4] * (fine ? 0.4 : 1);
}

/* One cell by its definition: mean, second moments about 0, and the logarithm of its evidence. */
static double cell(const double *r, const double *z, const double *sd, double *mean, double *square)
{
    double m[N * N], b[N], inverse[N * N], rcond, evidence = 0;
    for (int k = 0; k < N; k++) {
        b[k] = 0;
        for (int i = 0; i < N; i++) {
            b[k] += sd[k] * r[i + k * N] * z[i] / VARIANCE;
            m[i + k * N] = i == k;
            for (int p = 0; p < N; p++)
                m[i + k * N] += sd[i] * r[p + i * N] * r[p + k * N] * sd[k] / VARIANCE;
        }
    }
    memcpy(inverse, m, sizeof m);
    assert_int_equal(fw_inverse_definite(N, inverse, &rcond, NULL), FW_OK);
    assert_int_equal(fw_cholesky(N, m, NULL), FW_OK);
    for (int i = 0; i < N; i++) {
        mean[i] = 0;
        for (int k = 0; k < N; k++) {
            mean[i] += sd[i] * inverse[i + k * N] * b[k];
            evidence += b[i] * inverse[i + k * N] * b[k] / 2;
        }
        evidence -= log(m[i + i * N]);
    }
    for (int i = 0; i < N; i++)
        square[i] = sd[i] * inverse[i + i * N] * sd[i] + mean[i] * mean[i];
    return evidence;
}

/* c of least squares: R c = z. */
static double length_of_fit(const double *r, const double *z)
{
    double c[N], sum = 0;
    for (int i = N - 1; i >= 0; i--) {
        c[i] = z[i];
        for (int k = i + 1; k < N; k++)
            c[i] -= r[i + k * N] * c[k];
        c[i] /= r[i + i * N];
        sum += c[i] * c[i];
    }
    return sqrt(sum);
}

static void is_the_mixture(void **state)
{
    static double c[N * DRAWS], mean[SHAPES * SIZES][N], square[SHAPES * SIZES][N];
    double r[N * N], z[N], log_weight[SHAPES * SIZES], most = -INFINITY, sum = 0;
    int used[N];
    fw_basis *basis = NULL;
    gsl_rng *rng = draws_new(1);
    (void)state;
    lay(r, z);
    assert_int_equal(fw_basis_new(false, 4, &basis, NULL), FW_OK);
    assert_int_equal(basis->nterms, N);
    for (int k = 0; k < N; k++)
        used[k] = k;
    smooth s = {.basis = basis, .nused = N, .used = used, .r = r, .z = z};
    assert_int_equal(belief_draw(&s, VARIANCE, 0, LEAST, DRAWS, rng, c, NULL), FW_OK);

    double top = fmax(4 * length_of_fit(r, z), 100 * LEAST);
    for (int i = 0; i < SHAPES * SIZES; i++) {
        double sd[N], size = LEAST * pow(top / LEAST, i % SIZES / (SIZES - 1.0)),
                      readily = prior(basis, i / SIZES, sd);
        for (int k = 0; k < N; k++)
            sd[k] *= size;
        log_weight[i] = cell(r, z, sd, mean[i], square[i]) + log(readily * size * size);
        most = fmax(most, log_weight[i]);
    }
    for (int i = 0; i < SHAPES * SIZES; i++)
        sum += exp(log_weight[i] - most);
    for (int k = 0; k < N; k++) {
        double want = 0, want2 = 0, got = 0, got2 = 0;
        for (int i = 0; i < SHAPES * SIZES; i++) {
            double weight = exp(log_weight[i] - most) / sum;
            want += weight * mean[i][k];
            want2 += weight * square[i][k];
        }
        for (int d = 0; d < DRAWS; d++) {
            got += c[k + d * N] / DRAWS;
            got2 += c[k + d * N] * c[k + d * N] / DRAWS;
        }
        /* every draw has its mirror image, so that only shares are rounded; squares are by chance */
        assert_close(got, want, 0, 2e-3 * sqrt(want2));
        assert_close(got2, want2, 0.06, 0);
    }
    fw_basis_free(basis);
    draws_free(rng);
}

/* Of one term, told as 10 +- 1: what is drawn lies about that, a little nearer to 0; of none nothing. */
static void few_terms(void **state)
{
    enum { FEW = 1000 };
    static double c[N * FEW];
    double r[] = {2}, z[] = {20}, mean = 0, square = 0;
    int used[] = {3};
    fw_basis *basis = NULL;
    gsl_rng *rng = draws_new(1);
    (void)state;
    assert_int_equal(fw_basis_new(false, 4, &basis, NULL), FW_OK);
    smooth s = {.basis = basis, .nused = 1, .used = used, .r = r, .z = z};
    assert_int_equal(belief_draw(&s, VARIANCE, 0, LEAST, FEW, rng, c, NULL), FW_OK);
    for (int d = 0; d < FEW; d++)
        for (int k = 0; k < N; k++) {
            double x = c[k + d * N];
            mean += k == used[0] ? x / FEW : 0;
            square += k == used[0] ? x * x / FEW : 0;
            assert_true(k == used[0] || x == 0);
        }
    assert_in_range((long)(100 * mean), 960, 1000);
    assert_close(sqrt(square - mean * mean), 1, 0.1, 0);
    s.nused = 0;
    assert_int_equal(belief_draw(&s, VARIANCE, 0, LEAST, FEW, rng, c, NULL), FW_OK);
    for (int k = 0; k < N * FEW; k++)
        assert_close(c[k], 0, 0, 0);
    fw_basis_free(basis);
    draws_free(rng);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(is_the_mixture),
                                       cmocka_unit_test(few_terms)};
    return cmocka_run_group_tests_name("belief", tests, NULL, NULL);
}
