/* compare.c - do profiles and surfaces say the same of readings that both explain? */
#include "compare.h"

#include <gsl/gsl_cdf.h>
#include <math.h>

#include "flatwright/alloc.h"
#include "flatwright/stats.h"
#include "surface_rows.h"

fw_status compare_beyond(const adjustment *surfaces, size_t **list, size_t *n, fw_error *err)
{
    const fw_net *net = surfaces->net;
    const fw_job *job = net->job;
    size_t *made = fw_alloc(job->nreadings, sizeof *made);
    *n = 0;
    if (!made)
        return fw_out_of_memory(err);
    for (size_t i = 0; i < job->nreadings; i++)
        if (!surface_counts(net, job->readings[i].scan, job->readings[i].position_mm))
            made[(*n)++] = i;
    *list = made;
    return FW_OK;
}

/* chi (nscans) += the weighted squared residuals, scan by scan. */
static void by_scan(const adjustment *a, double *chi)
{
    const fw_net *net = a->net;
    for (size_t i = 0; i < net->nreadings; i++)
        chi[net->job->readings[net->ring_reading[i]].scan] += a->residual[i] * a->residual[i];
}

/* The scan with more than half of what the surfaces leave beyond noise of the variance `own`. */
static fw_status find_worst(const adjustment *surfaces, double own, comparison *out, fw_error *err)
{
    const fw_job *job = surfaces->net->job;
    double *chi = fw_alloc(job->nscans, sizeof *chi);
    double beyond = surfaces->chi_square - own * (double)surfaces->redundancy;
    if (!chi)
        return fw_out_of_memory(err);
    by_scan(surfaces, chi);
    for (size_t i = 0; i < job->nscans && job->nscans > 4; i++)
        if (chi[i] - own * (double)job->scans[i].count > beyond / 2)
            out->worst_scan = (int)i;
    fw_free(chi);
    return FW_OK;
}

fw_status compare_models(const adjustment *rings, const adjustment *surfaces, comparison *out,
                         fw_error *err)
{
    const fw_job *job = rings->net->job;
    double dof = (double)surfaces->redundancy - (double)rings->redundancy, square = 0;
    double excess = fmax(surfaces->chi_square - rings->chi_square, 0);
    double own = rings->redundancy ? rings->chi_square / (double)rings->redundancy : NAN;
    bool known = rings->net->sigma_known && rings->birge <= 1;
    comparison c = {.p = NAN, .worst_scan = -1};
    fw_status status = FW_OK;
    if (surfaces->redundancy > rings->redundancy && rings->redundancy > 0 && (known || own > 0)) {
        c.made = true;
        c.p = known ? fw_chi_square_tail(excess, dof)
                    : gsl_cdf_fdist_Q(excess / dof / own, dof, (double)rings->redundancy);
        for (size_t i = 0; i < job->nreadings && rings->net->sigma_known; i++)
            square += job->readings[i].sigma_nm * job->readings[i].sigma_nm /
                      (double)job->nreadings;
        /* both flats of a pairing share what is left */
        c.rms_nm = sqrt(fmax(excess / dof - (known ? 1 : own), 0) *
                        (rings->net->sigma_known ? square : 1) / 2);
    }
    if (c.p < FW_SIGMA_TEST_LEVEL || surfaces->birge > 1)
        status = find_worst(surfaces, rings->net->sigma_known ? 1 : own, &c, err);
    if (!status)
        *out = c;
    return status;
}
