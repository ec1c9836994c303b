/* job.h - a job folder in memory: the set, its flats, the readings, the work. */
#ifndef FLATWRIGHT_JOB_H
#define FLATWRIGHT_JOB_H

#include <stdbool.h>
#include <stddef.h>

#include "fault.h"
#include "status.h"

/* A glass; SI-like units as makers' data sheets print them. NAN: not known. */
typedef struct fw_glass {
    char name[32];
    double young_gpa, poisson, density_kg_m3;
    double expansion_1e6_k; /* 1e-6 / K */
    double conductivity_w_mk, heat_j_kgk;
} fw_glass;

/* One flat of the set. Lengths in mm; clear and bore are diameters; bore 0: solid. */
typedef struct fw_flat {
    char *name;
    double diameter_mm, clear_mm, bore_mm;
    double thickness_mm; /* NAN: not given */
    fw_glass glass;      /* name "": not given */
} fw_flat;

typedef enum fw_unit { FW_UNIT_NM, FW_UNIT_UM, FW_UNIT_FRINGE, FW_UNIT_WAVE } fw_unit;
typedef enum fw_measure { FW_MEASURE_PV, FW_MEASURE_RMS, FW_MEASURE_IRREGULARITY } fw_measure;
typedef enum fw_levelling { FW_LEVELLING_SCAN, FW_LEVELLING_SETUP } fw_levelling;
typedef enum fw_model { FW_MODEL_AUTO, FW_MODEL_PROFILE, FW_MODEL_SURFACE } fw_model;
typedef enum fw_support_kind {
    FW_SUPPORT_NONE,
    FW_SUPPORT_RIM,
    FW_SUPPORT_RING,
    FW_SUPPORT_THREE
} fw_support_kind;
typedef enum fw_bending { FW_BENDING_CORRECT, FW_BENDING_SOLVE, FW_BENDING_IGNORE } fw_bending;
typedef enum fw_method {
    FW_LAP_ON_TOP,
    FW_FLAT_ON_TOP,
    FW_RING,
    FW_SIDE,
    FW_GRIND,
    FW_OTHER
} fw_method;

typedef struct fw_light {
    char source[32];      /* lamp name, "" when only a wavelength was given */
    double wavelength_nm; /* in air; NAN: no light given */
    double incidence_deg;
} fw_light;

typedef struct fw_support {
    fw_support_kind kind;
    double radius_mm; /* ring and three */
    double angle_deg; /* three: one point, from the bottom's mark, counter-clockwise from above */
} fw_support;

/* The readings along one diameter in one setting: equal round, pair, turn, diameter and label. */
typedef struct fw_scan {
    int round;           /* from 1 */
    int bottom, top;     /* indices into flats */
    double turn_deg;     /* as typed */
    double diameter_deg; /* as typed */
    char *label;         /* column `scan`, "" when absent */
    size_t first, count; /* its readings: readings[first .. first + count) */
} fw_scan;

/* One reading that is not skipped. 32 bytes: there may be ten million. */
typedef struct fw_reading {
    double position_mm;  /* signed, on the scan's diameter as typed */
    double deviation_nm; /* of the sum of the two surfaces */
    double sigma_nm;     /* standard uncertainty; NAN in every reading when it is to be estimated */
    int scan;            /* index into scans */
    int line;            /* of readings.csv */
} fw_reading;

/* A row of work.csv: after the readings of `round` the flat was worked. NAN: not given. */
typedef struct fw_work {
    int round, flat;
    double hours;
    fw_method method;
    double inner_mm, outer_mm, side_deg, stroke;
    char *note;
    int line;
    double sweep, lap_mm; /* 0, too: not given */
} fw_work;

/* A row of sag.csv; sag positive for convex. sigma NAN: not given. */
typedef struct fw_sag {
    int round, flat;
    double ring_mm, sag_um, sigma_um;
    char *note;
    int line;
} fw_sag;

typedef struct fw_job {
    char *folder; /* as given by the caller */
    char *title;  /* "" when not given */
    int nflats;
    fw_flat *flats;

    /* [target] */
    double flatness_nm;
    fw_measure measure;
    double confidence;

    fw_light light;

    /* [readings] */
    fw_unit unit;
    double sigma_nm; /* job-wide; NAN: not given */
    fw_levelling levelling;
    fw_model model;
    int order; /* fixed surface order; 0: free */

    /* [plan] */
    int nturns; /* 0: multiples of the diameters' spacing */
    double *turns_deg;
    double prior_nm;

    /* [bench]; NAN or NONE: not given */
    fw_support support_bottom, support_top;
    fw_bending bending;
    double gradient_k, gap_um, eye_mm;

    size_t nscans;
    fw_scan *scans;
    size_t nreadings;
    fw_reading *readings; /* grouped by scan, in a scan in file order */
    size_t nskipped;      /* rows with skip = 1 */
    size_t nwork;
    fw_work *work; /* in file order */
    size_t nsag;
    fw_sag *sag;
} fw_job;

/*
 * Reads the whole folder: job.ini, readings.csv, and work.csv and sag.csv where present.
 * folder  in   path of the job folder
 * job     out  the job, owned by the caller (fw_job_free); NULL on failure
 * faults  out  every fault of all files (caller releases); empty on success
 * err     out  one line on failure
 * Returns FW_OK, FW_INPUT (faults hold at least one entry) or FW_SYSTEM.
 * Cost: one pass over each file; about 32 bytes of memory a reading.
 */
fw_status fw_job_read(const char *folder, fw_job **job, fw_faults *faults, fw_error *err);

/*
 * Reads job.ini alone: the set, its target, light, bench and plan; no readings, no work. Arguments
 * and returns as fw_job_read.
 */
fw_status fw_job_read_set(const char *folder, fw_job **job, fw_faults *faults, fw_error *err);

void fw_job_free(fw_job *job);

/* The round the set is in now: the last round of the readings, or the one after the last work. */
int fw_job_round(const fw_job *job);

/* A flat's state in a round: the number of its work rows with a smaller round. */
int fw_job_state(const fw_job *job, int flat, int round);

/*
 * Lays a commented job folder: job.ini, readings.csv, work.csv, sag.csv. Never over existing
 * files: FW_INPUT when the folder holds one of them, FW_SYSTEM when it cannot be written; then
 * nothing of ours is left behind.
 */
fw_status fw_job_new(const char *folder, fw_error *err);

#endif
