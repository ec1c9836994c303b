/* sag.c - sag.csv: what the spherometer read while the flats were ground. */
#include <math.h>
#include <stdio.h>

#include "flatwright/alloc.h"
#include "job/field.h"
#include "job/parts.h"

enum { ROUND, FLAT, RING, SAG, SIGMA, NOTE };

static const fw_column columns[] = {
    {"round", true},  {"flat", true},      {"ring_mm", true},
    {"sag_um", true}, {"sigma_um", false}, {"note", false},
};

#define NCOLUMNS ((int)(sizeof columns / sizeof columns[0]))

static const fw_range ring_range = {0, 1e6, true, "the radius of the legs' circle in mm, above 0"};
static const fw_range sag_range = {-1e5, 1e5, false, "a sag in um, at most 100 mm"};
static const fw_range sigma_range = {0, 1e5, true, "a standard uncertainty in um, above 0"};

/* The legs stand on glass. */
static bool check_ring(fw_table *t, const fw_job *job, const fw_sag *sag)
{
    if (sag->flat < 0)
        return true;
    const fw_flat *flat = &job->flats[sag->flat];
    if (sag->ring_mm > flat->diameter_mm / 2 + FW_EDGE_MM) {
        fw_table_fault(t, RING, "ring_mm is %.15g, outside the flat, expected at most %.15g",
                       sag->ring_mm, flat->diameter_mm / 2);
        return false;
    }
    if (sag->ring_mm < flat->bore_mm / 2 - FW_EDGE_MM) {
        fw_table_fault(t, RING,
                       "ring_mm is %.15g, in the bore of the flat, expected at least %.15g",
                       sag->ring_mm, flat->bore_mm / 2);
        return false;
    }
    return true;
}

static bool read_row(fw_table *t, const fw_job *job, fw_sag *sag)
{
    bool good = fw_field_round(t, ROUND, &sag->round);
    good &= fw_field_flat(t, FLAT, job, &sag->flat);
    good &= fw_field_number(t, RING, &ring_range, &sag->ring_mm) && check_ring(t, job, sag);
    good &= fw_field_number(t, SAG, &sag_range, &sag->sag_um);
    good &= fw_field_number_or(t, SIGMA, &sigma_range, &sag->sigma_um);
    return good;
}

/* Adds one row; false: no memory. */
static bool keep(fw_job *job, size_t *room, const fw_sag *sag)
{
    if (job->nsag == *room) {
        size_t more = *room ? 2 * *room : 16;
        fw_sag *list = fw_resize(job->sag, more, sizeof *list);
        if (!list)
            return false;
        job->sag = list;
        *room = more;
    }
    job->sag[job->nsag++] = *sag;
    return true;
}

fw_status fw_sag_read(const char *path, fw_job *job, fw_faults *faults, fw_error *err)
{
    fw_table t;
    fw_row row;
    size_t room = 0;
    fw_status status = fw_table_open(&t, path, columns, NCOLUMNS, true, faults, err);
    if (status != FW_OK)
        goto done;
    while ((row = fw_table_next(&t, err)) == FW_ROW) {
        fw_sag sag = {1, -1, NAN, NAN, NAN, NULL, t.rows.line};
        bool good = read_row(&t, job, &sag);
        sag.note = fw_field_text(&t, NOTE, &good);
        if (sag.note && good && keep(job, &room, &sag))
            continue;
        bool short_of_memory = !sag.note || good;
        fw_free(sag.note);
        if (short_of_memory) {
            status = fw_fail(err, FW_SYSTEM, "no memory for '%s'", path);
            goto done;
        }
    }
    if (row == FW_ROW_FAILED)
        status = FW_SYSTEM;
done:
    fw_table_close(&t);
    return status;
}
