/* terms_root.c - products with the root of the covariance of the scan terms. */
#include "terms_root.h"

#include "linalg.h"

void terms_root_times(const scan_terms *t, int range, int nrows, const double *b, int ldb,
                      double *x, int ldx)
{
    int rank = t->roots[range].count;
    const int *row = t->row + t->range[range].first;
    for (int j = 0; j < t->range[range].count; j++)
        for (int i = 0; i < nrows && row[j] >= 0; i++)
            x[row[j] + (size_t)i * ldx] = b[i + (size_t)j * ldb];
    fw_upper_times_transposed(rank, nrows, t->root[range], rank, x, ldx);
}

void terms_root_add(const scan_terms *t, int term, double amount, double *x)
{
    int range = t->nranges == 2 && term >= t->range[1].first, row = t->row[term];
    int rank = t->roots[range].count;
    if (row >= 0)
        fw_add(rank - row, amount, t->root[range] + (size_t)row * (rank + 1), rank,
               x + t->roots[range].first + row);
}
