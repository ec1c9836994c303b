/* work.c - work.csv: which flat was worked after which round, how and for how long. */
#include <math.h>
#include <stdio.h>

#include "flatwright/alloc.h"
#include "job/field.h"
#include "job/parts.h"

enum { ROUND, FLAT, HOURS, METHOD, INNER, OUTER, SIDE, STROKE, SWEEP, LAP, NOTE };

static const fw_column columns[] = {
    {"round", true},     {"flat", true},      {"hours", true},    {"method", true},
    {"inner_mm", false}, {"outer_mm", false}, {"side_deg", false}, {"stroke", false},
    {"sweep", false},    {"lap_mm", false},   {"note", false},
};

#define NCOLUMNS ((int)(sizeof columns / sizeof columns[0]))

const char *const fw_method_names[6] = {"lap-on-top", "flat-on-top", "ring",
                                        "side",       "grind",       "other"};

static const fw_range hours_range = {0, 10000, false, "hours, 0 or more"};
static const fw_range inner_range = {0, 1e6, false, "a radius in mm, 0 or more"};
static const fw_range outer_range = {0, 1e6, true, "a radius in mm above 0"};
static const fw_range side_range = {-3600, 3600, false, "an angle in degrees"};
static const fw_range stroke_range = {0, 2, true, "a fraction of the diameter, above 0 up to 2"};
static const fw_range sweep_range = {0, 0.99, true,
                                     "a fraction of the diameter, above 0 up to 0.99"};
static const fw_range lap_range = {0, 1e6, true, "the lap's radius in mm, above 0"};

/* The zone worked: inside the rim, the inner radius below the outer one. */
static bool check_zone(fw_table *t, const fw_job *job, const fw_work *work)
{
    double radius = work->flat >= 0 ? job->flats[work->flat].diameter_mm / 2 : NAN;
    if (work->outer_mm > radius + FW_EDGE_MM) {
        fw_table_fault(t, OUTER, "outer_mm is %.15g, outside the flat, expected at most %.15g",
                       work->outer_mm, radius);
        return false;
    }
    if (work->inner_mm > radius + FW_EDGE_MM) {
        fw_table_fault(t, INNER, "inner_mm is %.15g, outside the flat, expected less than %.15g",
                       work->inner_mm, radius);
        return false;
    }
    if (work->inner_mm >= work->outer_mm) {
        fw_table_fault(t, INNER, "inner_mm is %.15g, expected less than outer_mm, %.15g",
                       work->inner_mm, work->outer_mm);
        return false;
    }
    return true;
}

/* What the method cannot do without. */
static bool check_method(fw_table *t, const fw_work *work)
{
    if (work->method == FW_RING && (isnan(work->inner_mm) || isnan(work->outer_mm))) {
        fw_table_fault(t, METHOD,
                       "method 'ring' without its radii, expected inner_mm and outer_mm");
        return false;
    }
    if (work->method == FW_SIDE && isnan(work->side_deg)) {
        fw_table_fault(t, METHOD, "method 'side' without its angle, expected side_deg");
        return false;
    }
    return true;
}

static bool read_row(fw_table *t, const fw_job *job, fw_work *work)
{
    int method = FW_OTHER;
    bool good = fw_field_round(t, ROUND, &work->round);
    good &= fw_field_flat(t, FLAT, job, &work->flat);
    good &= fw_field_number(t, HOURS, &hours_range, &work->hours);
    bool method_good = fw_field_word(t, METHOD, fw_method_names, 6, &method);
    work->method = (fw_method)method;
    bool zone = fw_field_number_or(t, INNER, &inner_range, &work->inner_mm);
    zone &= fw_field_number_or(t, OUTER, &outer_range, &work->outer_mm);
    bool side = fw_field_number_or(t, SIDE, &side_range, &work->side_deg);
    good &= fw_field_number_or(t, STROKE, &stroke_range, &work->stroke);
    good &= fw_field_number_or(t, SWEEP, &sweep_range, &work->sweep);
    good &= fw_field_number_or(t, LAP, &lap_range, &work->lap_mm);
    good &= zone && check_zone(t, job, work);
    good &= method_good && zone && side && check_method(t, work);
    return good;
}

/* Adds one row; false: no memory. */
static bool keep(fw_job *job, size_t *room, const fw_work *work)
{
    if (job->nwork == *room) {
        size_t more = *room ? 2 * *room : 16;
        fw_work *list = fw_resize(job->work, more, sizeof *list);
        if (!list)
            return false;
        job->work = list;
        *room = more;
    }
    job->work[job->nwork++] = *work;
    return true;
}

fw_status fw_work_read(const char *path, fw_job *job, fw_faults *faults, fw_error *err)
{
    fw_table t;
    fw_row row;
    size_t room = 0;
    fw_status status = fw_table_open(&t, path, columns, NCOLUMNS, true, faults, err);
    if (status != FW_OK)
        goto done;
    while ((row = fw_table_next(&t, err)) == FW_ROW) {
        fw_work work = {1,   -1,  NAN,  FW_OTHER,     NAN, NAN,
                        NAN, NAN, NULL, t.rows.line, NAN, NAN};
        bool good = read_row(&t, job, &work);
        work.note = fw_field_text(&t, NOTE, &good);
        if (work.note && good && keep(job, &room, &work))
            continue;
        bool short_of_memory = !work.note || good;
        fw_free(work.note);
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
