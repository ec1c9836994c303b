/* versus.c - a job adjusted ring by ring and as one dense system: heights, uncertainties, rank. */
#include "versus.h"

#include <math.h>
#include <stdlib.h>

#include "adjust/profile.h"
#include "close.h"
#include "dense.h"

/* Which heights of a face the profile tells. */
static int mark_told(const dense *d, const net_face *face, const fw_profile *p, bool *told)
{
    int count = 0;
    for (int k = 0; k < p->ndiameters; k++)
        for (size_t i = 0; i < p->diameters[k].npoints; i++) {
            const fw_point *pt = &p->diameters[k].points[i];
            int at =
                dense_find(d, face->flat, face->state, p->diameters[k].angle_deg, pt->position_mm);
            assert_true(at >= 0);
            count += pt->determined && !told[at];
            told[at] = told[at] || pt->determined;
        }
    return count;
}

/*
 * Open but for the datum, which takes all of its diameter and makes it zero whatever is read: the
 * program does not tell it, and it is no reason to prefer a datum.
 */
static bool is_empty(const dense *d, int i, double u)
{
    return !d->firm[i] && u < 1e-7;
}

/* The datum that lets most be told, the plainer one where two tell the same; on that one. */
static int best_datum(const dense *d, const adjustment *a, const net_face *face, int *most,
                      double *value, double *u, bool *known)
{
    int best = DENSE_TIED;
    *most = -1;
    for (int kind = DENSE_TIED; kind < DENSE_DATUMS; kind++) {
        int count =
            dense_on_datum(d, a->net->job, face->flat, face->state, kind, value, u, known);
        for (int i = 0; i < d->heights; i++)
            count -= d->height[i].flat == face->flat && d->height[i].state == face->state &&
                     known[i] && is_empty(d, i, u[i]);
        if (count > *most) {
            *most = count;
            best = kind;
        }
    }
    dense_on_datum(d, a->net->job, face->flat, face->state, best, value, u, known);
    return best;
}

/* Empty heights need not be told; where `less` of the others are than could be, they are tallied. */
static void spare_untold(const dense *d, const net_face *face, bool less, const bool *told,
                         const double *u, bool *known, versus_tally *t)
{
    for (int i = 0; i < d->heights; i++)
        if (d->height[i].flat == face->flat && d->height[i].state == face->state && known[i] &&
            !told[i] && (less || is_empty(d, i, u[i]))) {
            t->less += !is_empty(d, i, u[i]);
            known[i] = false;
        }
}

static void compare_point(const adjustment *a, const fw_point *pt, double value, double u,
                          bool known)
{
    assert_int_equal(pt->determined, known);
    if (!known) {
        assert_true(isnan(pt->height_nm) && isnan(pt->u_nm));
        return;
    }
    assert_close(pt->height_nm, value, 1e-9, 1e-7);
    if (a->variance > 0)
        assert_close(pt->u_nm / sqrt(a->variance), u, 1e-6, 1e-6); /* of a root */
}

static void compare_face(adjustment *a, const dense *d, int f, versus_tally *t)
{
    const net_face *face = &a->net->faces[f];
    size_t n = (size_t)d->heights + 1;
    double *value = calloc(n, sizeof *value), *u = calloc(n, sizeof *u);
    bool *known = calloc(n, sizeof *known), *told = calloc(n, sizeof *told);
    fw_profile p = {0};
    assert_int_equal(profile_new(a, (contrast){f, -1}, &p, NULL), FW_OK);
    int count = mark_told(d, face, &p, told), all = 0, most;
    for (int i = 0; i < d->heights; i++)
        all += d->height[i].flat == face->flat && d->height[i].state == face->state;
    int datum = best_datum(d, a, face, &most, value, u, known);
    if (datum & DENSE_FIRM)
        t->restricted++;
    else if (datum & DENSE_UNTIED)
        t->untied++;
    else
        (count == all ? &t->full : &t->partial)[0]++;
    spare_untold(d, face, count < most, told, u, known, t);
    for (int k = 0; k < p.ndiameters; k++)
        for (size_t i = 0; i < p.diameters[k].npoints; i++) {
            const fw_point *pt = &p.diameters[k].points[i];
            int at =
                dense_find(d, face->flat, face->state, p.diameters[k].angle_deg, pt->position_mm);
            compare_point(a, pt, value[at], u[at], known[at]);
            t->heights += known[at];
        }
    profile_release(&p);
    free(value);
    free(u);
    free(known);
    free(told);
}

void versus_dense(const fw_job *job, versus_tally *t)
{
    adjustment *a = NULL;
    dense d;
    fw_error err = {0};
    if (adjustment_new(job, 0, NULL, &a, &err))
        fail_msg("%s", err.text);
    dense_solve(job, &d);
    assert_int_equal(a->unknowns, d.unknowns);
    assert_int_equal(a->rank, d.rank);
    assert_int_equal(a->redundancy, d.readings - d.rank);
    assert_close(a->chi_square, d.chi_square, 1e-8, 1e-9 * d.readings);
    for (int f = 0; f < a->net->nfaces; f++)
        compare_face(a, &d, f, t);
    dense_release(&d);
    adjustment_free(a);
}
