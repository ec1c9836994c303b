/* net.h - the observation equations: which unknown heights and scan terms each reading binds. */
#ifndef ADJUST_NET_H
#define ADJUST_NET_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "flatwright/job.h"

/* A flat in one state: the owner of heights. */
typedef struct net_face {
    int flat, state;
    int first_round, last_round;
    double clear_mm, bore_mm; /* radii */
} net_face;

/* One scan as equations: d = h_bottom + h_top + p + tilt, p and tilt among the terms. */
typedef struct net_scan {
    int face[2];         /* bottom, top */
    int angle[2];        /* index into angles: the line on each face */
    signed char flip[2]; /* position s is flip s on that line */
    int piston;          /* index of its p among the terms */
    int ntilt;           /* 1 (levelling = scan) or 2 (setup) */
    int tilt[2];         /* indices among the terms */
    double tilt_coef[2]; /* 1, or cos theta and sin theta: times s / rmax */
} net_scan;

/* An unknown height of a ring: a face, a line, a side of it. The centre has angle -1, sign 0. */
typedef struct net_column {
    int face, angle, sign;
} net_column;

/* An equation of a ring: a scan, a side of its diameter, a weight. */
typedef struct net_row {
    int scan, sign; /* sign 0 at the centre */
    double weight;  /* 1 / sigma, 1 / nm; 1 where sigma is to be estimated */
    int column[2];  /* into the class's columns: the bottom's height, the top's */
} net_row;

/* Rings measured alike: same scans, same sides, same weights. They share every matrix. */
typedef struct net_class {
    bool centre; /* the one ring of radius 0 */
    bool paired; /* rows come as (+, -) of equal weight: even and odd parts separate */
    int nrows;
    net_row *rows;
    int ncolumns;
    net_column *columns; /* paired: as (+, -) of one line */
    int nrings;
    int *rings;
} net_class;

typedef struct fw_net {
    const fw_job *job;
    bool sigma_known;
    int nfaces;
    net_face *faces; /* by flat, then state; only those that were read */
    int nangles;
    double *angles_deg; /* ascending, in [0, 180) */
    int nscans;
    net_scan *scans;      /* parallel to job->scans; scans left without readings keep piston -1 */
    int npistons, nterms; /* terms: pistons first, then tilts */
    int nrings;
    double *ring_mm; /* ascending */
    double rmax_mm;  /* the largest; 1 when there is none */
    size_t nreadings;
    size_t *ring_first; /* nrings + 1: its readings in ring_reading, ordered as its class's rows */
    uint32_t *ring_reading; /* index into job->readings */
    double *weighted;       /* parallel: a reading's deviation times its row's weight */
    int *ring_class;        /* nrings */
    size_t *ring_height;    /* nrings + 1: first height of the ring; its class's columns follow */
    int nclasses;
    net_class *classes;
} fw_net;

/*
 * Builds the equations of all readings but those whose index is in `without` (ascending, n of them).
 * Angles are matched within FW_ANGLE_TOLERANCE_DEG, distances within FW_POSITION_TOLERANCE_MM.
 */
fw_status net_new(const fw_job *job, size_t n, const size_t *without, fw_net **out, fw_error *err);
void net_free(fw_net *net);

/* weighted <- nm (one a reading of the job) in place of the readings, where the rings want them. */
fw_status net_weigh(fw_net *net, const double *nm, fw_error *err);

#endif
