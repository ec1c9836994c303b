/* block.c - a ring's factor by its definition: pseudo-inverse, rank, what it cannot reach. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "../support/close.h"
#include "../support/design.h"
#include "adjust/block.h"
#include "adjust/linalg.h"

static double *dense_of(const block *k)
{
    double *h = calloc((size_t)k->m * k->n + 1, sizeof *h);
    assert_non_null(h);
    for (int i = 0; i < 2 * k->m; i++)
        h[i / 2 + (size_t)k->column[i] * k->m] += k->entry[i];
    return h;
}

/* a (m x n) <- b c, b m x k. */
static double *product(int m, int k, int n, const double *b, const double *c)
{
    double *a = calloc((size_t)m * n + 1, sizeof *a);
    assert_non_null(a);
    for (int j = 0; j < n; j++)
        for (int l = 0; l < k; l++)
            for (int i = 0; i < m; i++)
                a[i + (size_t)j * m] += b[i + (size_t)l * m] * c[l + (size_t)j * k];
    return a;
}

static void assert_symmetric(int n, const double *a)
{
    for (int j = 0; j < n; j++)
        for (int i = 0; i < j; i++)
            assert_close(a[i + (size_t)j * n], a[j + (size_t)i * n], 0, 1e-10);
}

static void assert_same(int count, const double *a, const double *b, double scale)
{
    for (int i = 0; i < count; i++)
        assert_close(a[i], b[i], 0, 1e-10 * scale);
}

/* G, column by column. */
static double *inverse_of(const block *k)
{
    double *g = calloc((size_t)k->n * k->m + 1, sizeof *g);
    double *work = calloc((size_t)k->n + 1, sizeof *work);
    assert_non_null(g);
    assert_non_null(work);
    for (int i = 0; i < k->m; i++)
        memcpy(g + (size_t)i * k->n, block_column(k, i, work), (size_t)k->n * sizeof *g);
    free(work);
    return g;
}

/* G of three columns, H' of two rows. */
static void check_products(const block *k, const double *h, const double *g)
{
    int m = k->m, n = k->n;
    size_t size = 3 * (size_t)m + 3 * (size_t)n + 1;
    double *y = calloc(size, sizeof *y), *x = calloc(size, sizeof *x);
    double *work = calloc(size, sizeof *work);
    assert_non_null(y);
    assert_non_null(x);
    assert_non_null(work);
    for (size_t i = 0; i < size; i++)
        y[i] = work[i] = sin((double)i);
    block_solve(k, 3, y, x, work);
    double *gy = product(n, m, 3, g, y);
    assert_same(3 * n, x, gy, 1 / k->coef[0]);
    block_times_design(k, 2, y, x);
    for (int i = 0; i < m; i++)
        for (int r = 0; r < 2; r++) {
            double sum = 0;
            for (int j = 0; j < n; j++)
                sum += y[r + 2 * j] * h[i + (size_t)j * m];
            assert_close(x[r + 2 * i], sum, 0, 1e-12 * k->coef[0]);
        }
    free(gy);
    free(y);
    free(x);
    free(work);
}

/* The four conditions of Penrose (1955): G is the pseudo-inverse of H, and no other matrix is. */
static void check_inverse(const block *k, const double *h)
{
    int m = k->m, n = k->n;
    double *g = inverse_of(k);
    double *hg = product(m, n, m, h, g), *gh = product(n, m, n, g, h);
    double *hgh = product(m, m, n, hg, h), *ghg = product(n, n, m, gh, g);
    assert_symmetric(m, hg);
    assert_symmetric(n, gh);
    assert_same(m * n, hgh, h, k->coef[0]);
    assert_same(n * m, ghg, g, 1 / k->coef[0]);
    for (int i = 0; i < m; i++)
        assert_close(block_leverage(k, i), hg[i + (size_t)i * m], 0, 1e-11);
    check_products(k, h, g);
    free(g);
    free(hg);
    free(gh);
    free(hgh);
    free(ghg);
}

/* G H leaves all but what the readings cannot tell: 1 - N N'. */
static void check_projection(const block *k)
{
    int n = k->n;
    double *h = dense_of(k), *g = inverse_of(k), *gh = product(n, k->m, n, g, h);
    for (int j = 0; j < n; j++)
        for (int i = 0; i < n; i++) {
            double told = i == j;
            for (int q = 0; q < n - k->rank; q++)
                told -= k->null[i + (size_t)q * n] * k->null[j + (size_t)q * n];
            assert_close(gh[i + (size_t)j * n], told, 0, 1e-8);
        }
    free(h);
    free(g);
    free(gh);
}

/* Rows (count x size, leading dimension count) are orthonormal. */
static void assert_orthonormal(int count, int size, const double *rows)
{
    for (int a = 0; a < count; a++)
        for (int b = 0; b <= a; b++) {
            double sum = 0;
            for (int i = 0; i < size; i++)
                sum += rows[a + (size_t)i * count] * rows[b + (size_t)i * count];
            assert_close(sum, a == b, 0, 1e-11);
        }
}

static void check_spaces(const block *k, const double *h)
{
    int m = k->m, n = k->n, d = n - k->rank, rest = m - k->rank;
    fw_qr qr;
    double *left = NULL, *turned = calloc((size_t)n * d + 1, sizeof *turned);
    assert_int_equal(fw_qr_factor(&qr, m, n, h, NULL, 0, NULL), FW_OK);
    assert_int_equal(qr.rank, k->rank);
    fw_qr_release(&qr);
    assert_int_equal(block_left(k, &left, NULL), FW_OK);
    double *nothing = product(rest, m, n, left, h), *none = product(m, n, d, h, k->null);
    for (int i = 0; i < rest * n; i++)
        assert_close(nothing[i], 0, 0, 1e-11 * k->coef[0]);
    for (int i = 0; i < m * d; i++)
        assert_close(none[i], 0, 0, 1e-11 * k->coef[0]);
    for (int j = 0; j < d; j++)
        for (int i = 0; i < n; i++)
            turned[j + (size_t)i * d] = k->null[i + (size_t)j * n];
    assert_orthonormal(rest, m, left);
    assert_orthonormal(d, n, turned);
    free(left);
    free(turned);
    free(nothing);
    free(none);
}

static void check_classes(const fw_job *job, int *shared, int *single, int *loose)
{
    fw_net *net = NULL;
    assert_int_equal(net_new(job, 0, NULL, &net, NULL), FW_OK);
    for (int c = 0; c < net->nclasses; c++) {
        factor *f = NULL;
        assert_int_equal(factor_new(&net->classes[c], &f, NULL), FW_OK);
        (net->classes[c].nrings > 1 ? shared : single)[0]++;
        for (int b = 0; b < f->nblocks; b++) {
            double *h = dense_of(&f->blocks[b]);
            check_inverse(&f->blocks[b], h);
            check_spaces(&f->blocks[b], h);
            *loose += f->blocks[b].rank < f->blocks[b].n;
            free(h);
        }
        factor_free(f);
    }
    net_free(net);
}

/* Designs of all kinds, many with missing readings and weights: rings that share a factor or do not. */
static void is_the_pseudo_inverse(void **state)
{
    int shared = 0, single = 0, loose = 0;
    (void)state;
    for (unsigned long seed = 1; seed <= 60; seed++) {
        design d = design_random(seed);
        sim s;
        d.lossy = d.lossy || seed % 3 == 0;
        d.weights = d.weights || seed % 4 == 0;
        sim_init(&s, d.nflats, 200, seed);
        s.sigma_nm = s.stated_nm = 2;
        design_read(&d, &s);
        check_classes(s.job, &shared, &single, &loose);
        sim_release(&s);
    }
    assert_true(shared > 20 && single > 50 && loose > 20);
}

/* Every reading of its own weight; of wild ones the graph's way is not good enough, and not taken. */
static void holds_for_any_weights(void **state)
{
    int shared = 0, single = 0, loose = 0;
    (void)state;
    for (int wild = 0; wild < 2; wild++) {
        design d = {
            .nflats = 3, .ndiam = 4, .nstations = 7, .rounds = 1, .turned = 1, .lossy = true};
        sim s;
        sim_init(&s, 3, 200, 7);
        s.sigma_nm = s.stated_nm = 2;
        design_read(&d, &s);
        for (size_t i = 0; i < s.job->nreadings; i++)
            s.job->readings[i].sigma_nm *= pow(wild ? 1e6 : 3, gsl_rng_uniform(s.rng));
        if (wild) { /* a product of such numbers has no digits left to be compared */
            int by_qr = 0;
            fw_net *net = NULL;
            assert_int_equal(net_new(s.job, 0, NULL, &net, NULL), FW_OK);
            for (int c = 0; c < net->nclasses; c++) {
                factor *f = NULL;
                assert_int_equal(factor_new(&net->classes[c], &f, NULL), FW_OK);
                assert_int_equal(f->nblocks, 1);
                by_qr += f->blocks[0].left != NULL;
                check_projection(&f->blocks[0]);
                factor_free(f);
            }
            assert_true(by_qr >= 3); /* all rings but the centre */
            net_free(net);
        } else
            check_classes(s.job, &shared, &single, &loose);
        sim_release(&s);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(is_the_pseudo_inverse),
        cmocka_unit_test(holds_for_any_weights),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
