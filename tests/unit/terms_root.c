/* terms_root.c - the scan terms as solved, with root and null, against their normal equations. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "../support/close.h"
#include "../support/design.h"
#include "adjust/terms_gram.h"
#include "adjust/terms_root.h"

enum { APART = 3 }; /* columns stand this much further apart than they need */

static double *matrix(int m, int n)
{
    double *a = calloc((size_t)m * n + 1, sizeof *a);
    assert_non_null(a);
    return a;
}

/* One range: n (count x count) and b, its lengths, and what was made of them. */
typedef struct seen {
    int range, count, rank, nnull;
    const double *length;
    double *n, *b;
    double *root; /* count x rank: rows of the root, asked for with a unit of each term */
    double *null; /* count x nnull */
} seen;

/* b a unit of each of the terms, columns further apart than they need be. */
static seen see(factors *store, const scan_terms *t, int range, const double *length)
{
    int count = t->range[range].count, first = t->range[range].first;
    int rank = t->roots[range].count, nnull = t->nulls[range].count;
    seen s = {range, count, rank, nnull, length + first, matrix(count, count), matrix(count, 1),
              matrix(count, rank), matrix(count, nnull)};
    double *one = matrix(count, count), *unit = matrix(count + APART, count), *x = matrix(rank + APART, count);
    double *y = matrix(nnull + APART, count);
    assert_int_equal(rank + nnull, count);
    double *packed = matrix((int)fw_packed(0, count), 1);
    assert_int_equal(terms_gram(store, range, t->nranges, t->range[range], packed, s.b, NULL), FW_OK);
    for (int j = 0; j < count; j++) {
        for (int i = 0; i <= j; i++)
            s.n[i + (size_t)j * count] = s.n[j + (size_t)i * count] = packed[fw_packed(i, j)];
        one[j + (size_t)j * count] = 1;
    }
    assert_int_equal(terms_turn(t, range, count, one, NULL), FW_OK);
    for (int j = 0; j < count; j++)
        memcpy(unit + (size_t)j * (count + APART), one + (size_t)j * count, (size_t)count * sizeof *one);
    terms_root_times(t, range, count, unit, count + APART, x, rank + APART);
    terms_null_times(t, range, count, unit, count + APART, y, nnull + APART);
    for (int i = 0; i < count; i++) {
        for (int k = 0; k < rank; k++)
            s.root[i + (size_t)k * count] = x[k + (size_t)i * (rank + APART)];
        for (int k = 0; k < nnull; k++)
            s.null[i + (size_t)k * count] = y[k + (size_t)i * (nnull + APART)];
    }
    free(packed);
    free(one);
    free(unit);
    free(x);
    free(y);
    return s;
}

static void seen_release(seen *s)
{
    free(s->n);
    free(s->b);
    free(s->root);
    free(s->null);
}

/* N a, a of `columns`. */
static double *times_n(const seen *s, int columns, const double *a)
{
    double *c = matrix(s->count, columns);
    fw_gemm(0, 0, s->count, columns, s->count, 1, s->n, s->count, a, s->count, 0, c, s->count);
    return c;
}

/* C = root root' is a generalised inverse: N C N = N. The null vectors are orthonormal, and N is blind. */
static void check_inverse(const seen *s)
{
    double *nr = times_n(s, s->rank, s->root), *nz = times_n(s, s->nnull, s->null);
    double *ncn = matrix(s->count, s->count), longest = 0;
    for (int i = 0; i < s->count; i++)
        longest = fmax(longest, s->length[i]);
    fw_gram_rows(s->count, s->rank, nr, s->count, ncn, s->count);
    for (int j = 0; j < s->count; j++)
        for (int i = 0; i < s->count; i++)
            assert_close(ncn[i + (size_t)j * s->count], s->n[i + (size_t)j * s->count], 0,
                         1e-11 * s->length[i] * s->length[j]);
    for (int k = 0; k < s->nnull; k++)
        for (int i = 0; i < s->count; i++)
            assert_close(nz[i + (size_t)k * s->count], 0, 0, 1e-11 * s->length[i] * longest);
    for (int k = 0; k < s->nnull; k++)
        for (int l = 0; l <= k; l++)
            assert_close(fw_dot(s->count, s->null + (size_t)k * s->count, 1,
                                s->null + (size_t)l * s->count),
                         k == l, 0, 1e-11);
    free(nr);
    free(nz);
    free(ncn);
}

/* N t = b: the solution says what the readings say. */
static void check_solution(const seen *s, const scan_terms *t)
{
    double *nt = times_n(s, 1, t->t + t->range[s->range].first);
    for (int i = 0; i < s->count; i++)
        assert_close(nt[i], s->b[i], 1e-11, 1e-8 * s->length[i]);
    free(nt);
}

/* A term's row of the root, added to what is there. */
static void check_rows(const seen *s, const scan_terms *t)
{
    double *x = matrix(s->rank, 1);
    for (int i = 0; i < s->count; i++) {
        double most = s->rank;
        for (int k = 0; k < s->rank; k++) {
            x[k] = k;
            most = fmax(most, fabs(s->root[i + (size_t)k * s->count]));
        }
        terms_root_add(t, s->range, t->range[s->range].first + i, -2, x);
        for (int k = 0; k < s->rank; k++)
            assert_close(x[k], k - 2 * s->root[i + (size_t)k * s->count], 0, 1e-13 * most);
    }
    free(x);
}

/* *waves: are both ranges solved by waves, or neither? */
static void check_job(const fw_job *job, bool *waves)
{
    fw_net *net = NULL;
    factors store;
    scan_terms t;
    assert_int_equal(net_new(job, 0, NULL, &net, NULL), FW_OK);
    assert_int_equal(factors_init(&store, net, NULL), FW_OK);
    assert_int_equal(terms_solve(&store, &t, NULL), FW_OK);
    double *length = matrix(net->nterms, 1);
    terms_lengths(net, length);
    for (int r = 0; r < t.nranges; r++) {
        seen s = see(&store, &t, r, length);
        check_inverse(&s);
        check_solution(&s, &t);
        check_rows(&s, &t);
        seen_release(&s);
    }
    *waves = t.waves[0] && t.waves[1];
    assert_true(*waves == (t.waves[0] || t.waves[1]));
    free(length);
    terms_release(&t);
    factors_release(&store);
    net_free(net);
}

static bool check_design(const design *d, unsigned long seed)
{
    bool waves;
    sim s;
    sim_init(&s, d->nflats, 200, seed);
    s.sigma_nm = s.stated_nm = 2;
    design_read(d, &s);
    check_job(s.job, &waves);
    sim_release(&s);
    return waves;
}

/* Plans of all kinds; those of four and more even diameters, whole, are solved by their waves. */
static void by_definition(void **state)
{
    int by_waves = 0, whole = 0, odd = 0;
    (void)state;
    for (unsigned long seed = 1; seed <= 90; seed++) {
        design d = design_random(seed);
        d.ndiam += (int)(seed % 4);
        bool waves = check_design(&d, seed);
        bool even = d.ndiam >= 4 && !d.setup && !d.lossy && !d.weights;
        if (waves != even)
            fail_msg("seed %lu: %d diameters, waves %d", seed, d.ndiam, waves);
        by_waves += waves;
        odd += waves && d.ndiam % 2;
        whole += !waves;
    }
    assert_true(by_waves > 15 && odd > 5 && whole > 15);
}

/*
 * Even but for one thing: a weight, a reading, a scan on one diameter only, a ring of one scan; whatever
 * the readings weigh.
 */
static void one_thing_uneven(void **state)
{
    const double sigma_nm[] = {2, 2e-6, 2e6};
    (void)state;
    for (int i = 0; i < 3 * 5; i++) {
        int thing = i % 5;
        design d = {.nflats = 3, .ndiam = 6, .nstations = 9, .rounds = 2, .turned = 1};
        double x[9];
        bool waves;
        sim s;
        sim_init(&s, 3, 200, 11);
        s.sigma_nm = s.stated_nm = sigma_nm[i / 5];
        design_read(&d, &s);
        if (thing == 1)
            s.job->readings[41].sigma_nm *= 1 + 1e-9;
        if (thing == 2)
            s.job->nreadings--;
        sim_stations(9, 90, x);
        if (thing == 3)
            sim_scan(&s, 1, 0, 1, 0, 30, 9, x);
        if (thing == 4) {
            s.job->nreadings -= 2;
            s.job->readings[s.job->nreadings - 7] = s.job->readings[s.job->nreadings];
        }
        check_job(s.job, &waves);
        assert_int_equal(waves, thing == 0);
        sim_release(&s);
    }
}

/*
 * Each scan lacks one ring, those on the first diameter another than the rest: as many readings in all.
 * Pairings are read diameter by diameter, to and fro: groups are not found by the order of the file.
 */
static void alike_by_length_only(void **state)
{
    const int pairs[][2] = {{0, 1}, {0, 2}, {1, 2}, {0, 1}};
    (void)state;
    for (int uneven = 0; uneven < 2; uneven++) {
        bool waves;
        sim s;
        sim_init(&s, 3, 200, 12);
        s.sigma_nm = s.stated_nm = 2;
        for (int k = 0; k < 6; k++)
            for (int i = 0; i < 4; i++) {
                double x[8];
                int p = k % 2 ? 3 - i : i, without = uneven && k == 0 ? 1 : 2;
                sim_stations(8, 90, x);
                x[without] = x[7 - without] = NAN;
                sim_scan(&s, 1, pairs[p][0], pairs[p][1], p == 3 ? 30 : 0, 30 * k, 8, x);
            }
        check_job(s.job, &waves);
        assert_int_equal(waves, !uneven);
        sim_release(&s);
    }
}

/* What the turned pairing alone tells, and hardly, the squares of an order do not carry: no waves. */
static void hardly_told(void **state)
{
    design d = {.nflats = 3, .ndiam = 6, .nstations = 8, .rounds = 1, .turned = 1};
    bool waves;
    sim s;
    (void)state;
    sim_init(&s, 3, 200, 13);
    s.sigma_nm = s.stated_nm = 2;
    design_read(&d, &s);
    for (size_t i = 0; i < s.job->nreadings; i++)
        if (fabs(s.job->scans[s.job->readings[i].scan].turn_deg) > 1)
            s.job->readings[i].sigma_nm *= 1e3;
    check_job(s.job, &waves);
    assert_false(waves);
    sim_release(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(by_definition),
        cmocka_unit_test(one_thing_uneven),
        cmocka_unit_test(alike_by_length_only),
        cmocka_unit_test(hardly_told),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
