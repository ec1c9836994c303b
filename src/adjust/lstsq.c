/* lstsq.c - dense least squares of any rank: solution, cofactor matrix, residuals. */
#include "flatwright/lstsq.h"

#include <string.h>

#include "flatwright/alloc.h"
#include "linalg.h"
#include "linalg_parts.h"

/* cofactor = X X' with X = D P R11^-1: (A'A)^-1 on the independent columns. */
static fw_status cofactor_of(const fw_qr *qr, double *cofactor, fw_error *err)
{
    int n = qr->n, r = qr->rank, m = qr->m;
    fw_status status = FW_OK;
    double *unit = fw_alloc((size_t)m * r, sizeof *unit), *x = fw_alloc((size_t)n * r, sizeof *x);
    if (!unit || !x) {
        status = fw_out_of_memory(err);
        goto done;
    }
    for (int i = 0; i < r; i++)
        unit[i + (size_t)i * m] = 1;
    status = fw_qr_solve(qr, r, unit, x, err);
    if (!status)
        fw_gemm(0, 1, n, n, r, 1, x, n, x, n, 0, cofactor, n);
done:
    fw_free(unit);
    fw_free(x);
    return status;
}

fw_status fw_lstsq(int m, int n, const double *a, const double *b, double tolerance, double *x,
                   double *cofactor, double *residual, int *rank, fw_error *err)
{
    fw_qr qr = {0};
    size_t square = cofactor ? (size_t)n * n : 0;
    double *c = fw_alloc(m, sizeof *c), *made = fw_alloc((size_t)n + square, sizeof *made);
    fw_status status = c && made ? FW_OK : fw_out_of_memory(err);
    if (!status && !linalg_finite(m, b))
        status = fw_fail(err, FW_SYSTEM, "a number in the equations is not finite");
    if (status ||
        (status = fw_qr_factor(&qr, m, n, a, NULL, tolerance > 0 ? tolerance : 1e-13, err)))
        goto done;
    memcpy(c, b, (size_t)m * sizeof *c);
    if ((status = fw_qr_apply(&qr, 1, 1, c, err)) || (status = fw_qr_solve(&qr, 1, c, made, err)) ||
        (cofactor && (status = cofactor_of(&qr, made + n, err))))
        goto done;
    if (residual) {
        memset(c, 0, (size_t)qr.rank * sizeof *c);
        if ((status = fw_qr_apply(&qr, 0, 1, c, err)))
            goto done;
        memcpy(residual, c, (size_t)m * sizeof *c);
    }
    memcpy(x, made, (size_t)n * sizeof *x);
    if (cofactor)
        memcpy(cofactor, made + n, square * sizeof *cofactor);
    if (rank)
        *rank = qr.rank;
done:
    fw_qr_release(&qr);
    fw_free(c);
    fw_free(made);
    return status;
}
