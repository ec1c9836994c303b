/* adjustment.h - all rounds solved together: terms, heights, rank, misfit. */
#ifndef ADJUST_ADJUSTMENT_H
#define ADJUST_ADJUSTMENT_H

#include "factors.h"
#include "terms.h"

typedef struct adjustment {
    const struct adjust_model *model; /* whom to ask for heights and figures */
    struct surface *surface;   /* flats as circle polynomials; NULL: ring by ring */
    fw_net *net;
    factors store;
    scan_terms terms;
    double *height;   /* net->ring_height order: ring by ring, its class's columns */
    double *residual; /* weighted; ring by ring, as net->weighted */
    size_t unknowns, rank, redundancy;
    double chi_square; /* weighted sum of squared residuals */
    double sigma0;     /* sqrt(chi_square / redundancy); NAN without redundancy */
    double p_value;    /* NAN when sigma is estimated */
    double birge;      /* 1, or sigma0 where the stated sigma fails at 1 % */
    double variance;   /* what multiplies a covariance made for unit variance; NAN: not known */

    int nresponses; /* what the bench makes uncertain of it: response.h */
    struct response *responses;
    fw_job *corrected; /* the job it sees, where that is a copy without what the bench adds */
    bool lent;         /* classes and factors belong to another adjustment */
} adjustment;

/* Significance at which the stated sigma is rejected. */
#define FW_SIGMA_TEST_LEVEL 0.01

/* Adjusts all readings but the n whose indices are in `without`. Owned by the caller. */
fw_status adjustment_new(const fw_job *job, size_t n, const size_t *without, adjustment **out,
                         fw_error *err);
/* The same with flats as circle polynomials up to `order`; 0: chosen. Ring by ring nothing is kept. */
fw_status adjustment_of_surfaces(const fw_job *job, int order, size_t n, const size_t *without,
                                 adjustment **out, fw_error *err);
void adjustment_free(adjustment *a);

/*
 * The same equations with nm (one a reading of the job) in place of the readings: heights and terms
 * only, its variance is 0. It lives on the classes and factors of a, which must outlive it.
 */
fw_status adjustment_of_column(adjustment *a, const double *nm, adjustment **out, fw_error *err);

/* Sigma believed and tested (chi-square, then Birge), or estimated: from chi_square and redundancy. */
void adjustment_judge(adjustment *a);

#endif
