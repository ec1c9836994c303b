/* budget.h - where a flat's uncertainty comes from, and how little it takes to make it smaller. */
#ifndef ADJUST_BUDGET_H
#define ADJUST_BUDGET_H

#include "flatwright/form.h"
#include "response.h"
#include "smooth.h"

/* A smooth figure, what the bench does to it, and both together. */
typedef struct widened {
    const smooth *s; /* borrowed: the readings' noise alone */
    int n;
    double *z;   /* s->nused x n: R c_k = z_k, c_k the response of the coefficients to cause k */
    smooth wide; /* R'R with the causes eliminated: information of everything; the rest as in s */
} widened;

/*
 * Each cause k moves the coefficients by c_k times an unknown of mean 0 and variance 1. With the
 * unknowns x appended, the triangle over
 *     s I    0    0
 *     -Z     R    z
 * that QR leaves below x is that of everything: covariance s^2 (R'R)^-1 + sum of c_k c_k'.
 */
fw_status widened_new(adjustment *a, int face, const smooth *s, widened *out, fw_error *err);
void widened_release(widened *w);

/*
 * Fills shares and total, without remedies, from ndraws figures c (leading dimension ld) that can be
 * believed: slopes are taken on up to 64 of them, evenly spread.
 */
fw_status budget_fill(const adjustment *a, const widened *w, const fw_form *form, int ndraws,
                      const double *c, int ld, fw_budget *out, fw_error *err);

/*
 * What is not determined has no bound: that share is put in. power: the power is told; shape: PV and
 * irregularity are.
 */
void budget_undetermined(fw_budget *budget, bool power, bool shape);

/* Sorts the shares of every face, and says how each is made smaller. */
void budget_advise(fw_result *result);

#endif
