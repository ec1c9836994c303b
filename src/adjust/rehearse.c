/* rehearse.c - a measuring plan before any reading: what the heights' covariance will be. */
#include "rehearse.h"

#include <math.h>
#include <string.h>

#include "adjustment.h"
#include "choose.h"
#include "figure/madeup.h"
#include "flatwright/alloc.h"
#include "flatwright/mating.h"
#include "linalg.h"
#include "planned.h"
#include "profile.h"
#include "surface.h"
#include "trials.h"

/* A copy of n items; NULL: no memory. */
static void *copy_list(const void *from, int n, size_t size)
{
    void *to = fw_alloc(n, size);
    if (to && n > 0)
        memcpy(to, from, (size_t)n * size);
    return to;
}

fw_status scheme_copy(const fw_scheme *from, fw_scheme *to, fw_error *err)
{
    *to = *from;
    to->mates = copy_list(from->mates, from->nmates, sizeof *to->mates);
    to->diameters_deg =
        copy_list(from->diameters_deg, from->ndiameters, sizeof *to->diameters_deg);
    to->stations_mm = copy_list(from->stations_mm, from->nstations, sizeof *to->stations_mm);
    return to->mates && to->diameters_deg && to->stations_mm ? FW_OK : fw_out_of_memory(err);
}

void scheme_release(fw_scheme *scheme)
{
    fw_free(scheme->mates);
    fw_free(scheme->diameters_deg);
    fw_free(scheme->stations_mm);
    *scheme = (fw_scheme){0};
}

static fw_status check(const fw_job *job, const fw_scheme *scheme, fw_error *err)
{
    for (int m = 0; m < scheme->nmates; m++)
        if (scheme->mates[m].bottom == scheme->mates[m].top)
            return fw_fail(err, FW_INPUT, "'%s' cannot lie on itself",
                           job->flats[scheme->mates[m].top].name);
    if (!(scheme->sigma_nm > 0))
        return fw_fail(err, FW_INPUT, "sigma of the plan's readings is not above 0");
    return FW_OK;
}

/* Mean and largest u of the clear heights; a centre shared by all diameters counts once. */
static void take_uncertainty(const fw_profile *p, bool one_centre, fw_expected *expected)
{
    double sum = 0, worst = 0;
    int n = 0;
    for (int k = 0; k < p->ndiameters; k++)
        for (size_t i = 0; i < p->diameters[k].npoints; i++) {
            const fw_point *point = &p->diameters[k].points[i];
            bool centre = fabs(point->position_mm) <= FW_POSITION_TOLERANCE_MM;
            if (!point->clear || (k > 0 && centre && one_centre))
                continue;
            sum += point->u_nm;
            worst = fmax(worst, point->u_nm);
            n++;
        }
    if (n == 0)
        return;
    expected->mean_u_nm = sum / n;
    expected->worst_u_nm = worst;
}

/* What the plan determines, from its equations alone; all: every flat is determined. */
static fw_status foresee_heights(adjustment *a, fw_expected *expected, bool *all,
                                 fw_error *err)
{
    int determined = 0;
    fw_status status = FW_OK;
    for (int face = 0; !status && face < a->net->nfaces; face++) {
        fw_expected *e = &expected[a->net->faces[face].flat];
        fw_profile profile = {0};
        if ((status = a->model->profile(a, (contrast){face, -1}, &profile, err)))
            break;
        e->determined = profile.determined;
        determined += e->determined;
        if (e->determined)
            take_uncertainty(&profile, profile.tied || a->surface, e);
        profile_release(&profile);
    }
    *all = determined == a->net->job->nflats;
    return status;
}

fw_status rehearse(const fw_job *job, const fw_scheme *scheme, bool hurry, fw_rehearsal **rehearsal,
                   fw_error *err)
{
    bool all = false;
    fw_job *planned = NULL;
    fw_rehearsal *r = NULL;
    adjustment *a = NULL;
    fw_status status = check(job, scheme, err);
    if (status || (status = fw_linalg_ready(err)) ||
        (status = planned_new(job, scheme, &planned, err)))
        goto done;
    r = fw_alloc(1, sizeof *r);
    if (!r) {
        status = fw_out_of_memory(err);
        goto done;
    }
    r->job = job;
    r->nscans = planned->nscans;
    r->nreadings = planned->nreadings;
    r->expected = fw_alloc(job->nflats, sizeof *r->expected);
    status = r->expected ? scheme_copy(scheme, &r->scheme, err) : fw_out_of_memory(err);
    for (int f = 0; f < job->nflats && !status; f++)
        r->expected[f] = (fw_expected){false, NAN, NAN, NAN, 0, 0};
    if (!status)
        status = choose_planned(planned, job->order ? job->order : MADEUP_ORDER, &a, err);
    if (!status)
        status = foresee_heights(a, r->expected, &all, err);
    if (!status && all)
        status = trials_run(planned, a->model, hurry, r->expected, &r->enough, err);
    if (!status) {
        r->model = a->model->kind;
        r->order = a->surface ? a->surface->order : 0;
        *rehearsal = r;
        r = NULL;
    }
done:
    adjustment_free(a);
    fw_rehearsal_free(r);
    fw_job_free(planned);
    return status;
}

fw_status fw_rehearse(const fw_job *job, const fw_scheme *scheme, fw_rehearsal **rehearsal,
                      fw_error *err)
{
    return rehearse(job, scheme, false, rehearsal, err);
}

void fw_rehearsal_free(fw_rehearsal *r)
{
    if (!r)
        return;
    scheme_release(&r->scheme);
    fw_free(r->expected);
    fw_free(r);
}

int fw_stations(const fw_job *job, int n, double *stations_mm)
{
    double widest = 0, bore = 0;
    int best = 0, grid = 0;
    for (int f = 0; f < job->nflats; f++) {
        widest = fmax(widest, job->flats[f].clear_mm / 2);
        bore = fmax(bore, job->flats[f].bore_mm / 2);
    }
    /* An even grid of m over the diameter, less what lies in the bore: the most that n allows. */
    for (int m = n; m <= 2 * n + 2; m++) {
        int count = 0;
        for (int i = 0; i < m; i++)
            count += m == 1 || fabs(widest * (2.0 * i - (m - 1)) / (m - 1)) >= bore;
        if (count <= n && count > best) {
            best = count;
            grid = m;
        }
    }
    int count = 0;
    for (int i = 0; i < grid; i++) {
        double at = grid > 1 ? widest * (2.0 * i - (grid - 1)) / (grid - 1) : 0;
        if (fabs(at) >= bore)
            stations_mm[count++] = at;
    }
    return count;
}
