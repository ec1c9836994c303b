/* terms_part.c - terms of the scans that no reading joins to others, solved by themselves. */
#include "terms_part.h"

#include "flatwright/alloc.h"

/* Least pivot, of columns of unit length; sound plans have 0.05 and more. It costs 1e-12 of a figure. */
static const double PIVOT_LEAST = 1e-2;

fw_status terms_part_of_qr(const fw_qr *qr, const double *c, term_part *out, double *x,
                           fw_error *err)
{
    term_part made = {.count = qr->n, .rank = qr->rank, .nnull = qr->n - qr->rank};
    size_t n = (size_t)made.count, rank = (size_t)made.rank;
    made.root = fw_alloc(rank * rank, sizeof *made.root);
    made.row = fw_alloc(n, sizeof *made.row);
    made.null = fw_alloc(n * (size_t)made.nnull, sizeof *made.null);
    fw_status status = made.root && made.row && made.null ? FW_OK : fw_out_of_memory(err);
    if (status || (status = fw_qr_solve(qr, 1, c, x, err)) ||
        (status = fw_qr_null(qr, made.null, err))) {
        terms_part_release(&made);
        return status;
    }
    fw_qr_root(qr, made.root);
    for (int k = 0; k < made.count; k++)
        made.row[qr->perm[k]] = k < made.rank ? k : -1;
    *out = made;
    return FW_OK;
}

fw_status terms_part_of_gram(int count, const double *gram, const double *b, const double *length,
                             int whole, term_part *out, double *x, bool *good, fw_error *err)
{
    fw_qr qr;
    double *c = fw_alloc(count, sizeof *c);
    *good = false;
    fw_status status = c ? fw_qr_of_gram(&qr, count, gram, length, PIVOT_LEAST, whole, good, err)
                         : fw_out_of_memory(err);
    if (!status && *good) {
        for (int i = 0; i < qr.rank; i++)
            c[i] = b[qr.perm[i]] * qr.scale[qr.perm[i]];
        fw_upper_solve_transposed(qr.rank, 1, qr.a, qr.m, c, qr.m);
        status = terms_part_of_qr(&qr, c, out, x, err);
        fw_qr_release(&qr);
    }
    fw_free(c);
    return status;
}

void terms_part_release(term_part *p)
{
    fw_free(p->root);
    fw_free(p->row);
    fw_free(p->null);
    *p = (term_part){0};
}
