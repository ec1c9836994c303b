/* product.c - the product of matrices of every small size, by its definition, at any stride. */
#include <math.h>
#include <stddef.h>
#include <stdbool.h>

#include "../support/close.h"
#include "base/product.h"

enum { MOST = 40, ROOM = MOST + 3 };

/* Numbers without pattern, by Park and Miller's rule. */
static double draw(void)
{
    static long long state = 1;
    state = state * 16807 % 2147483647;
    return (double)state / 2147483647 - 0.5;
}

static void lay(double *x)
{
    for (int i = 0; i < ROOM * MOST; i++)
        x[i] = draw();
}

/* alpha a b + beta c for every m and k about the sizes that are treated apart, n of 1, 3 and 20. */
static void by_definition(void **state)
{
    static double a[ROOM * MOST], b[ROOM * MOST], c[ROOM * MOST], was[ROOM * MOST];
    static const int columns[] = {0, 1, 3, 20};
    (void)state;
    lay(a);
    lay(b);
    for (int m = 0; m <= 26; m++)
        for (int k = 0; k <= MOST; k = k < 18 ? k + 1 : k + 11)
            for (int q = 0; q < 4; q++)
                for (int beta = 0; beta <= 1; beta++) {
                    int n = columns[q];
                    lay(c);
                    for (int i = 0; i < ROOM * MOST; i++)
                        was[i] = c[i];
                    if (beta == 0) /* what is there does not count, whatever it is */
                        for (int j = 0; j < n; j++)
                            for (int i = 0; i < m; i++)
                                c[i + j * ROOM] = NAN;
                    product(m, n, k, 0.75, a, ROOM, b, ROOM, beta, c, ROOM);
                    for (int j = 0; j < MOST; j++)
                        for (int i = 0; i < ROOM; i++) {
                            bool inside = i < m && j < n;
                            double sum = inside && beta == 0 ? 0 : was[i + j * ROOM];
                            for (int p = 0; p < k && inside; p++)
                                sum += 0.75 * a[i + p * ROOM] * b[p + j * ROOM];
                            assert_close(c[i + j * ROOM], sum, 0, inside ? 1e-14 : 0);
                        }
                }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(by_definition)};
    return cmocka_run_group_tests_name("product", tests, NULL, NULL);
}
