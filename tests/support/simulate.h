/* simulate.h - made-up sets with known truth. All data from here are invented. */
#ifndef TESTS_SIMULATE_H
#define TESTS_SIMULATE_H

#include <gsl/gsl_rng.h>

#include "flatwright/job.h"

/* Height in nm of a flat's state at a point of its own face, in mm. */
typedef double sim_truth(void *context, int flat, int state, double x, double y);

typedef struct sim {
    fw_job *job;
    sim_truth *truth;
    void *context;
    gsl_rng *rng;
    double sigma_nm;  /* noise of the readings; 0: none */
    double stated_nm; /* sigma written beside them; NAN: none */
    double level_nm;  /* size of the random pistons and edge tilts of the scans */
    size_t room, scan_room;
} sim;

/* A set of solid flats named A, B, ...; truth may be NULL (sim_rough is used). */
void sim_init(sim *s, int nflats, double diameter_mm, unsigned long seed);
void sim_release(sim *s);

/* A bumpy surface of about 100 nm, different for every flat and state: not a polynomial. */
double sim_rough(void *context, int flat, int state, double x, double y);

/* One scan at n positions; returns its index. A position of NAN is left out. */
size_t sim_scan(sim *s, int round, int bottom, int top, double turn, double diameter, int n,
                const double *positions);

/* A fan: one scan on each of ndiam diameters 0, 180/ndiam, ... */
void sim_fan(sim *s, int round, int bottom, int top, double turn, int ndiam, int n,
             const double *positions);

/* n stations from -r to r, evenly. */
void sim_stations(int n, double r, double *positions);

void sim_work(sim *s, int round, int flat, double hours);

/* True height of a point at `position` on the diameter `angle` of a flat's own face. */
double sim_height(sim *s, int flat, int state, double angle_deg, double position);

#endif
