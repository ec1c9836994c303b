/* terms_root.c - products with the root of the terms' covariance, and with what is open of them. */
#include "terms_root.h"

#include <string.h>

#include "flatwright/alloc.h"
#include "linalg.h"

fw_status terms_turn(const scan_terms *t, int range, int nrows, double *b, fw_error *err)
{
    size_t size = (size_t)nrows * (size_t)t->range[range].count;
    if (!t->waves[range])
        return FW_OK;
    double *turned = fw_alloc(size, sizeof *turned);
    fw_status status = turned ? terms_waves_turn(t->waves[range], nrows, b, turned, err)
                              : fw_out_of_memory(err);
    if (!status)
        memcpy(b, turned, size * sizeof *b);
    fw_free(turned);
    return status;
}

void terms_root_times(const scan_terms *t, int range, int nrows, const double *b, int ldb,
                      double *x, int ldx)
{
    for (int k = 0; k < t->nparts[range]; k++) {
        const term_part *part = &t->parts[range][k];
        for (int j = 0; j < part->count; j++, b += ldb)
            for (int i = 0; i < nrows && part->row[j] >= 0; i++)
                x[part->row[j] + (size_t)i * ldx] = b[i];
        fw_upper_times_transposed(part->rank, nrows, part->root, part->rank, x, ldx);
        x += part->rank;
    }
}

void terms_null_times(const scan_terms *t, int range, int nrows, const double *b, int ldb,
                      double *y, int ldy)
{
    for (int k = 0; k < t->nparts[range]; k++) {
        const term_part *part = &t->parts[range][k];
        fw_gemm(1, 1, part->nnull, nrows, part->count, 1, part->null, part->count, b, ldb, 0, y,
                ldy);
        b += (size_t)part->count * ldb;
        y += part->nnull;
    }
}

/* x += amount times the row of a part's root that a coordinate has. */
static void add_row(const term_part *part, int coordinate, double amount, double *x)
{
    int row = part->row[coordinate];
    if (row >= 0)
        fw_add(part->rank - row, amount, part->root + (size_t)row * (part->rank + 1), part->rank,
               x + row);
}

void terms_root_add(const scan_terms *t, int range, int term, double amount, double *x)
{
    const term_waves *w = t->waves[range];
    term -= t->range[range].first;
    if (!w)
        add_row(t->parts[range], term, amount, x);
    for (int o = 0; w && o < w->norders; o++) {
        const term_part *part = &t->parts[range][o];
        int phases = terms_waves_phases(w, o), group = w->place[term] / w->n;
        for (int p = 0; p < phases; p++)
            add_row(part, group * phases + p, amount * terms_waves_share(w, term, w->first[o] + p),
                    x);
        x += part->rank;
    }
}
