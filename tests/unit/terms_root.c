/* terms_root.c - products with the root of the terms' covariance, against that covariance laid out. */
#include <stddef.h>

#include "../support/close.h"
#include "adjust/terms_root.h"

enum { NTERMS = 7, NROWS = 3, LDB = NROWS + 1, LDX = NTERMS + 2 };

/* Pistons 0 to 2 and tilts 3 to 6, one of each left out; triangles as QR leaves
 * them, zeros below. */
static double first[4] = {2, 0, -0.5, 3};
static double second[9] = {1, 0, 0, 0.25, 4, 0, -2, 0.75, 0.5};
static int rows_apart[NTERMS] = {1, -1, 0, 2, 0, -1, 1};
static const scan_terms apart = {.n = NTERMS,
                                 .rank = 5,
                                 .root = {first, second},
                                 .row = rows_apart,
                                 .nranges = 2,
                                 .range = {{0, 3}, {3, 4}},
                                 .roots = {{0, 2}, {2, 3}}};

/* The same terms solved together: a triangle of one range. */
static double both[25] = {2, 0, 0, 0,  0,    -0.5, 3, 0, 0, 0,  7,    0,  1,
                          0, 0, 0, -1, 0.25, 4,    0, 5, 0, -2, 0.75, 0.5};
static int rows_together[NTERMS] = {1, -1, 0, 4, 2, -1, 3};
static const scan_terms together = {.n = NTERMS,
                                    .rank = 5,
                                    .root = {both},
                                    .row = rows_together,
                                    .nranges = 1,
                                    .range = {{0, NTERMS}},
                                    .roots = {{0, 5}}};

/* root (NTERMS x rank) <- P U, by its definition. */
static void lay_root(const scan_terms *t, double root[NTERMS][NTERMS])
{
    for (int term = 0; term < NTERMS; term++)
        for (int k = 0; k < NTERMS; k++)
            root[term][k] = 0;
    for (int r = 0; r < t->nranges; r++)
        for (int j = t->range[r].first; j < t->range[r].first + t->range[r].count; j++)
            for (int k = 0; t->row[j] >= 0 && k < t->roots[r].count; k++)
                root[j][t->roots[r].first + k] = t->root[r][t->row[j] + k * t->roots[r].count];
}

static void by_definition(const scan_terms *t)
{
    double root[NTERMS][NTERMS], b[LDB * NTERMS], x[LDX * NROWS];
    lay_root(t, root);
    for (int i = 0; i < LDB * NTERMS; i++)
        b[i] = i % 5 - 1.75 * (i % 3);
    for (int r = 0; r < t->nranges; r++)
        terms_root_times(t, r, NROWS, b + LDB * t->range[r].first, LDB, x + t->roots[r].first, LDX);
    for (int i = 0; i < NROWS; i++)
        for (int k = 0; k < t->rank; k++) {
            double want = 0;
            for (int j = 0; j < NTERMS; j++)
                want += b[i + j * LDB] * root[j][k];
            assert_close(x[k + i * LDX], want, 1e-14, 1e-14);
        }
    for (int j = 0; j < NTERMS; j++) {
        double y[NTERMS] = {1, 2, 3, 4, 5};
        terms_root_add(t, j, -2, y);
        for (int k = 0; k < t->rank; k++)
            assert_close(y[k], 1 + k - 2 * root[j][k], 0, 0);
    }
}

static void ranges(void **state)
{
    (void)state;
    by_definition(&apart);
    by_definition(&together);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(ranges)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
