/* surface_order.c - which order the readings carry, and which they ask for. */
#include "surface_order.h"

#include <math.h>
#include <string.h>

#include "flatwright/alloc.h"
#include "flatwright/stats.h"
#include "linalg.h"
#include "stack.h"
#include "surface_angles.h"

/* A term is not seen when its own stations leave this part of it beside the lower terms. */
static const double UNSEEN = 1e-6;

/* Chances at which a stated sigma is not used to choose the order. */
static const double TOO_LARGE = 0.01, TOO_SMALL = 1e-4;

enum { ITERATIONS = 60 };

/* Largest singular value of r, or of its inverse; x is the start, work n. */
static double extreme(int n, const double *r, int ldr, bool inverse, double *x, double *work)
{
    double size = 0;
    for (int i = 0; i < n; i++)
        x[i] = 1 + 0.1 * sin(1.7 * i);
    for (int k = 0; k < ITERATIONS; k++) {
        double length = fw_length(n, x), last = size;
        for (int i = 0; i < n; i++)
            work[i] = x[i] / length;
        memcpy(x, work, (size_t)n * sizeof *x);
        if (inverse) {
            fw_upper_solve_transposed(n, 1, r, ldr, x, n);
            fw_upper_solve(n, 1, r, ldr, x, n);
        } else {
            fw_gemm(0, 0, n, 1, n, 1, r, ldr, work, n, 0, x, n);
            memcpy(work, x, (size_t)n * sizeof *x);
            fw_gemm(1, 0, n, 1, n, 1, r, ldr, work, n, 0, x, n);
        }
        size = sqrt(fw_length(n, x));
        if (!(fabs(size - last) > 1e-3 * size))
            break;
    }
    return size;
}

fw_status surface_condition(int n, const double *r, int ldr, double *out, fw_error *err)
{
    double *x = fw_alloc((size_t)n, sizeof *x), *work = fw_alloc((size_t)n, sizeof *work);
    fw_status status = x && work ? FW_OK : fw_out_of_memory(err);
    if (!status)
        *out = n ? extreme(n, r, ldr, false, x, work) * extreme(n, r, ldr, true, x, work) : 1;
    fw_free(x);
    fw_free(work);
    return status;
}

/* The equations of one face, all other flats taken as known. */
static fw_status own_rows(const surface *s, int face, int ngroups, const surface_group *groups,
                          const surface_rows *rows, stack *own, double *length, fw_error *err)
{
    int nb = s->terms.basis->nterms;
    for (int k = 0; k < ngroups; k++)
        for (int side = 0; side < 2; side++) {
            const surface_rows *r = &rows[k];
            double *to = NULL;
            if (groups[k].face[side] != face || !r->rows)
                continue;
            if (!(to = stack_push(own, r->rows, err)))
                return FW_SYSTEM;
            for (int j = 0; j < nb; j++) {
                memcpy(to + (size_t)j * (size_t)own->size,
                       r->a + r->from + (size_t)(side * nb + j) * (size_t)r->ld,
                       (size_t)r->rows * sizeof *to);
                length[j] += r->length2[side * nb + j];
            }
        }
    return stack_compress(own, err);
}

static fw_status cap_of(surface *s, stack *own, double *length, char *used, int *cap, fw_error *err)
{
    const fw_basis *basis = s->terms.basis;
    fw_status status = FW_OK;
    for (int j = 0; j < basis->nterms; j++)
        length[j] = sqrt(length[j]);
    fw_qr_stairs(own->ncols, basis->nterms, 0, own->a, own->size, length, UNSEEN, used);
    *cap = 2;
    for (int k = 2, j = 0; k <= basis->order; k++) {
        double condition = 0;
        for (; j < fw_basis_count(basis, k); j++)
            if (!used[j])
                return FW_OK;
        if ((status = surface_condition(j, own->a, own->size, &condition, err)) ||
            condition > SURFACE_CONDITION_MAX)
            return status;
        *cap = k;
    }
    return status;
}

fw_status surface_caps(surface *s, int ngroups, const surface_group *groups,
                       const surface_rows *rows, fw_error *err)
{
    int nb = s->terms.basis->nterms;
    fw_status status = FW_OK;
    double *length = fw_alloc((size_t)nb, sizeof *length);
    char *used = fw_alloc((size_t)nb, sizeof *used);
    if (!length || !used)
        status = fw_out_of_memory(err);
    for (int f = 0; f < s->net->nfaces && !status; f++) {
        stack own = {0};
        memset(length, 0, (size_t)nb * sizeof *length);
        if (!(status = stack_init(&own, nb, err)) &&
            !(status = own_rows(s, f, ngroups, groups, rows, &own, length, err)))
            status = cap_of(s, &own, length, used, &s->cap[f], err);
        stack_release(&own);
    }
    fw_free(length);
    fw_free(used);
    return status;
}

/* The used columns of orders up to k as a triangle, and its condition. */
static fw_status condition_of(const surface *s, int k, double *out, fw_error *err)
{
    int p = surface_rank(s, k);
    double *r = fw_alloc((size_t)p * (size_t)p, sizeof *r);
    if (!r)
        return fw_out_of_memory(err);
    for (int j = 0; j < p; j++)
        memcpy(r + (size_t)j * (size_t)p, s->stairs + (size_t)s->used_column[j] * (size_t)s->ld,
               (size_t)(j + 1) * sizeof *r);
    fw_status status = surface_condition(p, r, p, out, err);
    fw_free(r);
    return status;
}

static double room(const surface *s, int k)
{
    return (double)s->readings - s->scan_rank - surface_rank(s, k) - 1;
}

/* What pairs and turns leave open of the terms of order n, however densely they are read. */
static fw_status blind_in(const surface *s, int n, int *blind, fw_error *err)
{
    bool *use = fw_alloc((size_t)s->net->nfaces, sizeof *use);
    fw_status status = use ? FW_OK : fw_out_of_memory(err);
    *blind = 0;
    for (int f = 0; f < s->net->nfaces && !status; f++)
        use[f] = s->cap[f] >= n;
    for (int m = n % 2; m <= n && !status; m += 2) {
        int d = 0;
        status = surface_angles(s->net, m, use, NULL, NULL, &d, err);
        *blind += d;
    }
    fw_free(use);
    return status;
}

/*
 * An order counts only while it leaves no more open than its pairs and turns must: else it is the
 * stations that are too few for it.
 */
static fw_status find_highest(surface *s, double *condition, fw_error *err)
{
    s->highest = 2;
    for (int k = 2; k <= s->terms.basis->order; k++) {
        int blind = 0, open = s->count[k] - s->count[k - 1] -
                              (surface_rank(s, k) - surface_rank(s, k - 1));
        fw_status status = condition_of(s, k, &condition[k], err);
        if (status || (status = blind_in(s, k, &blind, err)))
            return status;
        if (k > 2 && (condition[k] > SURFACE_CONDITION_MAX || room(s, k) < 2 ||
                      s->count[k] == s->count[k - 1] || open > blind))
            break;
        s->highest = k;
    }
    return FW_OK;
}

/* s^2 of the criterion; 0: sigma is not given. */
static double noise(const surface *s)
{
    double dof = (double)s->readings - s->scan_rank - surface_rank(s, s->highest);
    double chi = surface_chi(s, s->highest);
    if (!s->net->sigma_known)
        return 0;
    if (dof < 1)
        return 1;
    double p = fw_chi_square_tail(chi, dof);
    return p < TOO_LARGE || p > 1 - TOO_SMALL ? fmax(chi / dof, 1e-24) : 1;
}

static int least_criterion(const surface *s)
{
    double least = INFINITY, n = (double)s->readings, s2 = noise(s);
    int best = 2;
    for (int k = 2; k <= s->highest; k++) {
        double chi = surface_chi(s, k), p = s->scan_rank + surface_rank(s, k), spare = n - p - 1;
        double misfit = s2 > 0 ? chi / s2 : n * log(fmax(chi / n, 1e-24));
        if (spare < 1)
            break;
        double aicc = misfit + 2 * p + 2 * p * (p + 1) / spare;
        if (aicc < least) {
            least = aicc;
            best = k;
        }
    }
    return best;
}

fw_status surface_choose(surface *s, int fixed, fw_error *err)
{
    double *condition = fw_alloc((size_t)s->terms.basis->order + 1, sizeof *condition);
    if (!condition)
        return fw_out_of_memory(err);
    fw_status status = find_highest(s, condition, err);
    if (!status) {
        s->order = fixed > 0 ? s->highest : least_criterion(s);
        s->lowered = fixed > 0 && s->order < fixed;
        s->condition = condition[s->order];
        if (s->highest > SURFACE_JUDGED_MAX && fixed == 0)
            s->highest = s->order > SURFACE_JUDGED_MAX ? s->order : SURFACE_JUDGED_MAX;
    }
    fw_free(condition);
    return status;
}
