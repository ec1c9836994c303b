/* choose.h - profile or surface: which model a job is solved with, and why. */
#ifndef ADJUST_CHOOSE_H
#define ADJUST_CHOOSE_H

#include "adjustment.h"
#include "flatwright/result.h"

/* What was chosen, and what is to be told of it. */
typedef struct choice {
    adjustment *a;     /* owned by the caller, adjustment_free */
    fw_bench bench;    /* what the bench does to the flats; flats owned by the caller */
    char why[240];     /* why this model, a clause; "" when it was asked for */
    char against[240]; /* where the other model disagrees, a sentence; "" where it does not */
} choice;

/*
 * Solves a job with the model asked for or, on auto, with the one that fits: profile where the
 * diameters close on themselves, surface where they do not. Of today's heights at least half read in
 * two different pairings or more count as closing. Where fewer are, the model that determines more
 * flats is taken, profile of equals. Where both apply, they are compared (compare.h).
 */
fw_status choose_model(const fw_job *job, const fw_solve_options *options, choice *out,
                       fw_error *err);

/*
 * Solves a plan whose readings are not taken yet by the model that choose_model would take, surfaces
 * up to `order`.
 */
fw_status choose_planned(const fw_job *planned, int order, adjustment **out, fw_error *err);

/* The part of today's heights that were read against two or more others; NAN: nothing was read. */
double choose_closing(const fw_net *net);

#endif
