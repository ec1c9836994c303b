/* readings.c - readings.csv: rows checked and converted, then brought together by scan. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "flatwright/alloc.h"
#include "flatwright/nearest.h"
#include "flatwright/number.h"
#include "flatwright/show.h"
#include "flatwright/units.h"
#include "job/field.h"
#include "job/parts.h"
#include "job/readings.h"
#include "job/scans.h"
#include "job/turn.h"

const fw_column fw_reading_columns[FW_READING_COLUMNS] = {
    {"bottom", true},    {"top", true},   {"turn_deg", true}, {"diameter_deg", true},
    {"position_mm", true}, {"deviation", true}, {"round", false},   {"scan", false},
    {"unit", false},     {"sigma", false}, {"skip", false},   {"note", false},
};
/* Weights are the squares: beyond 1e12 they cannot be reckoned with together in 16 digits. */
#define SIGMA_RATIO 1e6

static const fw_range any_angle = {-3600, 3600, false, "an angle in degrees"};
static const fw_range any_place = {-1e6, 1e6, false, "a place on the diameter in mm"};
static const fw_range any_number = {-1e300, 1e300, false, "a number"};
static const fw_range any_sigma = {0, 1e300, true, "a number above 0"};

typedef struct reader {
    fw_table table;
    fw_job *job;
    bool light_at_fault, skipped_too;
    double factor_nm[4];    /* of each unit; NAN: no light */
    bool told[4];           /* that the unit needs a light */
    fw_scans scans;
    size_t room;
    size_t with_sigma;      /* kept readings that have one of their own */
    int first_bare;         /* line of the first kept reading without; 0: none */
} reader;

/* The flats are mostly those of the row before. */
static bool read_flat(reader *r, int column, int before, int *flat)
{
    const fw_field *field = fw_table_field(&r->table, column);
    if (field && before >= 0 && strcmp(r->job->flats[before].name, field->text) == 0) {
        *flat = before;
        return true;
    }
    return fw_field_flat(&r->table, column, r->job, flat);
}

static bool read_pair(reader *r, fw_scan *scan)
{
    const fw_scan *before = r->scans.count ? &r->scans.list[r->scans.last] : NULL;
    bool bottom = read_flat(r, FW_COL_BOTTOM, before ? before->bottom : -1, &scan->bottom);
    bool top = read_flat(r, FW_COL_TOP, before ? before->top : -1, &scan->top);
    if (!bottom || !top)
        return false;
    const fw_field *a = fw_table_field(&r->table, FW_COL_BOTTOM);
    const fw_field *b = fw_table_field(&r->table, FW_COL_TOP);
    if (!a || !b || strcmp(a->text, b->text) != 0)
        return true;
    char quoted[FW_QUOTED];
    fw_table_fault(&r->table, FW_COL_TOP,
                   "flat %s stands against itself, expected another one on top",
                   fw_show_quoted(quoted, b->text));
    return false;
}

bool fw_is_on_glass(const fw_job *job, int bottom, int top, double position_mm, char *why,
                    size_t size)
{
    double s = fabs(position_mm);
    const int pair[] = {bottom, top};
    for (int i = 0; i < 2; i++) {
        if (pair[i] < 0)
            continue;
        const fw_flat *flat = &job->flats[pair[i]];
        double rim = flat->diameter_mm / 2, bore = flat->bore_mm / 2;
        if (s > rim + FW_EDGE_MM)
            snprintf(why, size, "position_mm is %.15g, outside flat '%s', expected -%.15g to %.15g",
                     position_mm, flat->name, rim, rim);
        else if (s < bore - FW_EDGE_MM)
            snprintf(why, size, "position_mm is %.15g, in the bore of flat '%s', expected %.15g or "
                     "more from the centre", position_mm, flat->name, bore);
        else
            continue;
        return false;
    }
    return true;
}

static bool is_on_glass(reader *r, const fw_scan *scan, double position)
{
    char why[300];
    if (fw_is_on_glass(r->job, scan->bottom, scan->top, position, why, sizeof why))
        return true;
    fw_table_fault(&r->table, FW_COL_POSITION, "%s", why);
    return false;
}

static bool read_unit(reader *r, fw_unit *unit)
{
    char quoted[FW_QUOTED], suggestion[FW_SUGGESTION];
    const fw_field *field = fw_table_field(&r->table, FW_COL_UNIT);
    *unit = r->job->unit;
    if (field && !fw_unit_find(field->text, unit)) {
        fw_nearest nearest = fw_nearest_start(field->text);
        for (int i = 0; i < 4; i++)
            fw_nearest_offer(&nearest, fw_unit_names[i]);
        fw_table_fault(&r->table, FW_COL_UNIT,
                       "unknown unit %s, expected nm, um, fringe or wave%s",
                       fw_show_quoted(quoted, field->text), fw_nearest_text(&nearest, suggestion));
        return false;
    }
    if (field && isnan(r->factor_nm[*unit]) && !r->light_at_fault && !r->told[*unit]) {
        r->told[*unit] = true; /* one cause, said once */
        fw_table_fault(&r->table, FW_COL_UNIT,
                       "unit '%s' needs a light, expected [light] in job.ini", field->text);
    }
    return true;
}

/* The number in its unit, in nm; NAN when the unit's factor is not known. */
static bool read_deviation(reader *r, fw_unit unit, double *deviation_nm)
{
    double value = 0;
    if (!fw_field_number(&r->table, FW_COL_DEVIATION, &any_number, &value))
        return false;
    *deviation_nm = value * r->factor_nm[unit];
    if (fabs(*deviation_nm) > FW_NM_LIMIT) {
        fw_table_fault(&r->table, FW_COL_DEVIATION,
                       "deviation is %.15g %s, expected less than 10 mm of gap", value,
                       fw_unit_names[unit]);
        return false;
    }
    return true;
}

/* NAN: the row has none of its own. */
static bool read_sigma(reader *r, fw_unit unit, double *sigma_nm)
{
    double value = NAN;
    if (!fw_field_number_or(&r->table, FW_COL_SIGMA, &any_sigma, &value))
        return false;
    *sigma_nm = value * r->factor_nm[unit];
    if (*sigma_nm < FW_SIGMA_LEAST_NM || *sigma_nm > FW_NM_LIMIT) {
        fw_table_fault(&r->table, FW_COL_SIGMA, "sigma is %.15g %s, expected 1e-9 nm to 10 mm",
                       value, fw_unit_names[unit]);
        return false;
    }
    return true;
}

static bool read_skip(reader *r, bool *skip)
{
    char quoted[FW_QUOTED];
    const fw_field *field = fw_table_field(&r->table, FW_COL_SKIP);
    *skip = field && strcmp(field->text, "1") == 0;
    if (!field || *skip || strcmp(field->text, "0") == 0)
        return true;
    fw_table_fault(&r->table, FW_COL_SKIP, "skip is %s, expected 0 or 1",
                   fw_show_quoted(quoted, field->text));
    return false;
}

static bool read_label(reader *r, fw_scan *scan)
{
    static char none[] = "";
    char quoted[FW_QUOTED];
    const fw_field *field = fw_table_field(&r->table, FW_COL_SCAN);
    scan->label = none;
    if (!field)
        return true;
    scan->label = field->text; /* borrowed, for the search only */
    if (fw_show_is_utf8(field->text))
        return true;
    fw_table_fault(&r->table, FW_COL_SCAN, "scan %s is not UTF-8 text",
                   fw_show_quoted(quoted, field->text));
    return false;
}

/* Checks the whole row, every field of it, so that all its faults are told. */
static bool read_row(reader *r, fw_scan *scan, fw_reading *reading, bool *skip)
{
    fw_table *t = &r->table;
    fw_unit unit = FW_UNIT_NM;
    bool good = read_pair(r, scan), placed, unit_good;
    good &= fw_field_number(t, FW_COL_TURN, &any_angle, &scan->turn_deg);
    good &= fw_field_number(t, FW_COL_DIAMETER, &any_angle, &scan->diameter_deg);
    placed = fw_field_number(t, FW_COL_POSITION, &any_place, &reading->position_mm);
    good &= placed && is_on_glass(r, scan, reading->position_mm);
    scan->round = 1;
    good &= fw_field_round(t, FW_COL_ROUND, &scan->round);
    good &= read_label(r, scan);
    unit_good = read_unit(r, &unit);
    good &= read_deviation(r, unit, &reading->deviation_nm) && unit_good;
    good &= read_sigma(r, unit, &reading->sigma_nm);
    good &= read_skip(r, skip);
    return good;
}

static bool make_room(reader *r)
{
    fw_job *job = r->job;
    if (job->nreadings < r->room)
        return true;
    size_t room = r->room ? r->room + r->room / 2 : 1024;
    fw_reading *readings = fw_resize(job->readings, room, sizeof *readings);
    if (!readings)
        return false;
    job->readings = readings;
    r->room = room;
    return true;
}

/* Keeps a good row; false: no memory. */
static bool keep(reader *r, const fw_scan *scan, fw_reading *reading)
{
    fw_job *job = r->job;
    if (!make_room(r))
        return false;
    reading->scan = fw_scans_find(&r->scans, scan);
    if (reading->scan < 0)
        return false;
    reading->line = r->table.rows.line;
    if (!isnan(reading->sigma_nm))
        r->with_sigma++;
    else if (!isnan(job->sigma_nm))
        reading->sigma_nm = job->sigma_nm;
    else if (r->first_bare == 0)
        r->first_bare = r->table.rows.line;
    r->scans.list[reading->scan].count++;
    job->readings[job->nreadings++] = *reading;
    return true;
}

static bool is_grouped(const fw_job *job)
{
    for (size_t i = 1; i < job->nreadings; i++)
        if (job->readings[i].scan < job->readings[i - 1].scan)
            return false;
    return true;
}

/* Counting sort, stable: first[k] is where the readings of scan k begin. */
static bool group(fw_job *job)
{
    size_t first = 0;
    for (size_t k = 0; k < job->nscans; k++) {
        job->scans[k].first = first;
        first += job->scans[k].count;
    }
    if (is_grouped(job))
        return true;
    fw_reading *sorted = fw_alloc(job->nreadings, sizeof *sorted);
    if (!sorted)
        return false;
    for (size_t i = 0; i < job->nreadings; i++) {
        fw_scan *scan = &job->scans[job->readings[i].scan];
        sorted[scan->first++] = job->readings[i];
    }
    for (size_t k = 0; k < job->nscans; k++)
        job->scans[k].first -= job->scans[k].count;
    fw_free(job->readings);
    job->readings = sorted;
    return true;
}

static fw_status read_rows(reader *r, fw_error *err)
{
    fw_row row;
    while ((row = fw_table_next(&r->table, err)) == FW_ROW) {
        fw_scan scan = {0};
        fw_reading reading = {0};
        bool skip = false;
        if (!read_row(r, &scan, &reading, &skip))
            continue;
        r->job->nskipped += skip;
        if (skip && !r->skipped_too)
            continue;
        if (!keep(r, &scan, &reading))
            return fw_fail(err, FW_SYSTEM, "no memory for %zu readings", r->job->nreadings);
    }
    return row == FW_ROW_FAILED ? FW_SYSTEM : FW_OK;
}

/* A line that was being added when the program was ended: it may be a whole row, and still cut. */
static void check_cut_off(reader *r)
{
    const fw_rows *t = &r->table.rows;
    char last = t->end > 0 ? t->buffer[t->end - 1] : '\n';
    if (last != '\n' && last != '\r' && fw_turn_is_pending(r->job->folder))
        fw_fault_add(r->table.rows.faults, t->path, t->line, 0,
                     "the last line was cut off while it was added, `flatwright add` completes it");
}

/* A reading without a sigma among others with one has no weight. */
static void check_sigmas(reader *r)
{
    if (r->with_sigma > 0 && r->first_bare > 0)
        fw_fault_add(r->table.rows.faults, r->table.rows.path, r->first_bare, 0,
                     "the reading has no sigma and others have one, expected one in every row, or "
                     "[readings] sigma in job.ini");
}

static void check_sigma_ratio(reader *r)
{
    const fw_job *job = r->job;
    const fw_reading *least = job->readings, *most = job->readings;
    for (size_t i = 1; i < job->nreadings; i++) {
        least = job->readings[i].sigma_nm < least->sigma_nm ? &job->readings[i] : least;
        most = job->readings[i].sigma_nm > most->sigma_nm ? &job->readings[i] : most;
    }
    if (job->nreadings > 0 && most->sigma_nm > SIGMA_RATIO * least->sigma_nm)
        fw_fault_add(r->table.rows.faults, r->table.rows.path, least->line, 0,
                     "sigma is %.15g nm here and %.15g nm in line %d, expected at most 1e6 times "
                     "the smallest",
                     least->sigma_nm, most->sigma_nm, most->line);
}

fw_status fw_readings_read(const char *path, fw_job *job, bool light_at_fault, bool skipped_too,
                           fw_faults *faults, fw_error *err)
{
    reader r = {.job = job, .light_at_fault = light_at_fault, .skipped_too = skipped_too};
    for (int i = 0; i < 4; i++)
        r.factor_nm[i] = fw_unit_nm((fw_unit)i, &job->light);
    fw_status status = fw_table_open(&r.table, path, fw_reading_columns, FW_READING_COLUMNS, false, faults, err);
    if (status != FW_OK)
        goto done;
    status = read_rows(&r, err);
    if (status != FW_OK)
        goto done;
    check_sigmas(&r);
    check_sigma_ratio(&r);
    check_cut_off(&r);
    job->nscans = r.scans.count;
    job->scans = r.scans.list;
    r.scans.count = 0;
    r.scans.list = NULL;
    if (!group(job))
        status = fw_fail(err, FW_SYSTEM, "no memory for %zu readings", job->nreadings);
done:
    fw_table_close(&r.table);
    fw_scans_release(&r.scans);
    return status;
}
