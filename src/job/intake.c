/* intake.c - readings from another file: every value checked, what is known already left out. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
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
#include "job/sheet_in.h"

/* Readings of one place: positions closer than this; values that are one number written twice. */
#define SAME_MM 0.01
#define SAME_VALUE 1e-9
#define NEIGHBOURS 64 /* readings of one place looked at; more would be a heap, not a scan */

typedef struct taker {
    const fw_grid *grid;
    const fw_job *job;
    fw_intake *intake;
    size_t room, texts_room;
    int round;
    fw_unit unit;
} taker;

static const char *text_at(const taker *t, const fw_sighting *s, fw_role role)
{
    return s->at[role].row < 0 || s->at[role].cell < 0
               ? ""
               : fw_grid_text(t->grid, (size_t)s->at[role].row, (size_t)s->at[role].cell);
}

/* Adds a fault at the place of a part; `format` has a %s for the quoted text. */
static bool wrong(const taker *t, const fw_sighting *s, fw_role role, const char *what,
                  const char *expected)
{
    char quoted[FW_QUOTED];
    const char *text = text_at(t, s, role);
    fw_grid_fault(t->grid, (size_t)s->at[role].row, (size_t)s->at[role].cell, "%s %s%s%s", what,
                  *text ? fw_show_quoted(quoted, text) : "is empty", *expected ? ", expected " : "",
                  expected);
    return false;
}

/* false: said. */
static bool number_at(const taker *t, const fw_sighting *s, fw_role role, const char *name,
                      double limit, double *value)
{
    const char *text = text_at(t, s, role);
    char expected[80];
    fw_number_status fault = fw_number_read(text, strlen(text), t->grid->comma, value);
    if (fault == FW_NUMBER_OK && fabs(*value) <= limit)
        return true;
    snprintf(expected, sizeof expected, fault == FW_NUMBER_OK ? "a number from -%g to %g" : "a number",
             limit, limit);
    return wrong(t, s, role, name, expected);
}

static int flat_named(const taker *t, const char *name, size_t length)
{
    for (int i = 0; i < t->job->nflats; i++)
        if (strlen(t->job->flats[i].name) == length &&
            memcmp(t->job->flats[i].name, name, length) == 0)
            return i;
    return -1;
}

static bool unknown_flat(const taker *t, const fw_sighting *s, fw_role role, const char *name)
{
    char quoted[FW_QUOTED], suggestion[FW_SUGGESTION], known[FW_FLATS_TEXT];
    fw_nearest nearest = fw_nearest_start(name);
    for (int i = 0; i < t->job->nflats; i++)
        fw_nearest_offer(&nearest, t->job->flats[i].name);
    fw_grid_fault(t->grid, (size_t)s->at[role].row, (size_t)s->at[role].cell,
                  "unknown flat %s%s%s", fw_show_quoted(quoted, name),
                  fw_flats_text(t->job, known), fw_nearest_text(&nearest, suggestion));
    return false;
}

static bool flat_at(const taker *t, const fw_sighting *s, fw_role role, int *flat)
{
    const char *name = text_at(t, s, role);
    if (!*name)
        return wrong(t, s, role, role == FW_ROLE_TOP ? "top" : "bottom", "the name of a flat");
    *flat = flat_named(t, name, strlen(name));
    return *flat >= 0 || unknown_flat(t, s, role, name);
}

/* "A/B", "A B" or "A + B": the bottom first, as in all of the job. */
static bool pair_at(const taker *t, const fw_sighting *s, fw_entry *e)
{
    if (s->at[FW_ROLE_PAIR].row < 0) {
        bool bottom = flat_at(t, s, FW_ROLE_BOTTOM, &e->bottom);
        return flat_at(t, s, FW_ROLE_TOP, &e->top) && bottom;
    }
    const char *text = text_at(t, s, FW_ROLE_PAIR);
    size_t first = strcspn(text, "/+ "), gap = strspn(text + first, "/+ ");
    const char *second = text + first + gap;
    if (gap == 0 || !*second)
        return wrong(t, s, FW_ROLE_PAIR, "pair", "the bottom's name, a /, the top's name");
    e->bottom = flat_named(t, text, first);
    e->top = flat_named(t, second, strlen(second));
    return (e->bottom >= 0 && e->top >= 0) || unknown_flat(t, s, FW_ROLE_PAIR, text);
}

static bool unit_at(const taker *t, const fw_sighting *s, fw_unit *unit)
{
    const char *own = text_at(t, s, FW_ROLE_UNIT);
    *unit = t->unit;
    if (s->unit)
        fw_unit_find(s->unit, unit);
    if (*own && !fw_unit_find(own, unit))
        return wrong(t, s, FW_ROLE_UNIT, "unit", "nm, um, fringe or wave");
    if (isfinite(fw_unit_nm(*unit, &t->job->light)))
        return true;
    fw_grid_fault(t->grid, (size_t)s->at[FW_ROLE_DEVIATION].row,
                  (size_t)s->at[FW_ROLE_DEVIATION].cell,
                  "unit '%s' needs a light, expected [light] in job.ini", fw_unit_names[*unit]);
    return false;
}

static bool round_at(const taker *t, const fw_sighting *s, int *round)
{
    const char *text = text_at(t, s, FW_ROLE_ROUND);
    long value = t->round;
    if (*text && (fw_integer_read(text, strlen(text), &value) != FW_NUMBER_OK || value < 1 ||
                  value > FW_ROUND_LIMIT))
        return wrong(t, s, FW_ROLE_ROUND, "round", "a whole number from 1 to 9999");
    *round = (int)value;
    return true;
}

/* A copy that lives as long as the intake; the one before is used again. NULL: no memory. */
static const char *keep_text(taker *t, const char *text)
{
    fw_intake *in = t->intake;
    if (!*text)
        return "";
    if (in->ntexts > 0 && strcmp(in->texts[in->ntexts - 1], text) == 0)
        return in->texts[in->ntexts - 1];
    if (in->ntexts == t->texts_room) {
        size_t room = 2 * t->texts_room + 16;
        char **texts = fw_resize(in->texts, room, sizeof *texts);
        if (!texts)
            return NULL;
        in->texts = texts;
        t->texts_room = room;
    }
    char *copy = fw_copy_text(text);
    if (copy)
        in->texts[in->ntexts++] = copy;
    return copy;
}

static bool check_pair(const taker *t, const fw_sighting *s, const fw_entry *e)
{
    char why[300];
    if (e->bottom == e->top) {
        fw_role role = s->at[FW_ROLE_PAIR].row < 0 ? FW_ROLE_TOP : FW_ROLE_PAIR;
        fw_grid_fault(t->grid, (size_t)s->at[role].row, (size_t)s->at[role].cell,
                      "flat '%s' stands against itself, expected another one on top",
                      t->job->flats[e->top].name);
        return false;
    }
    if (fw_is_on_glass(t->job, e->bottom, e->top, e->position_mm, why, sizeof why))
        return true;
    fw_grid_fault(t->grid, (size_t)s->at[FW_ROLE_POSITION].row,
                  (size_t)s->at[FW_ROLE_POSITION].cell, "%s", why);
    return false;
}

/* Height and uncertainty, in the unit of the reading. */
static bool values_at(const taker *t, const fw_sighting *s, fw_entry *e)
{
    bool unit = unit_at(t, s, &e->unit);
    double nm = unit ? fw_unit_nm(e->unit, &t->job->light) : 1;
    bool good = number_at(t, s, FW_ROLE_DEVIATION, "deviation", FW_NM_LIMIT / nm, &e->deviation);
    if (*text_at(t, s, FW_ROLE_SIGMA)) {
        good &= number_at(t, s, FW_ROLE_SIGMA, "sigma", FW_NM_LIMIT / nm, &e->sigma);
        if (good && !(e->sigma * nm >= FW_SIGMA_LEAST_NM))
            good = wrong(t, s, FW_ROLE_SIGMA, "sigma", "a number above 0");
    }
    return good && unit;
}

static bool skipped(const taker *t, const fw_sighting *s, bool *good)
{
    const char *text = text_at(t, s, FW_ROLE_SKIP);
    if (*text && strcmp(text, "0") != 0 && strcmp(text, "1") != 0)
        *good = wrong(t, s, FW_ROLE_SKIP, "skip", "0 or 1");
    return strcmp(text, "1") == 0;
}

static bool check_utf8(const taker *t, const fw_sighting *s, fw_role role, const char *name)
{
    return fw_show_is_utf8(text_at(t, s, role)) ||
           wrong(t, s, role, name, "UTF-8 text");
}

/* One reading found: all its parts are checked, so that all faults are told. */
static fw_status take(void *context, const fw_sighting *s, fw_error *err)
{
    taker *t = context;
    fw_intake *in = t->intake;
    fw_entry e = {.round = t->round, .sigma = NAN};
    bool good = pair_at(t, s, &e), pair = good;
    good &= number_at(t, s, FW_ROLE_TURN, "turn", 3600, &e.turn_deg);
    good &= number_at(t, s, FW_ROLE_DIAMETER, "diameter", 3600, &e.diameter_deg);
    bool placed = number_at(t, s, FW_ROLE_POSITION, "position", 1e6, &e.position_mm);
    e.position_mm *= s->position_factor;
    good &= placed && (!pair || check_pair(t, s, &e));
    good &= round_at(t, s, &e.round);
    good &= values_at(t, s, &e);
    good &= check_utf8(t, s, FW_ROLE_SCAN, "scan") && check_utf8(t, s, FW_ROLE_NOTE, "note");
    bool skip = skipped(t, s, &good);
    if (!good || skip) {
        in->nskipped += good && skip;
        return FW_OK;
    }
    e.label = keep_text(t, text_at(t, s, FW_ROLE_SCAN));
    e.note = e.label ? keep_text(t, text_at(t, s, FW_ROLE_NOTE)) : NULL;
    if (in->count == t->room) {
        size_t room = 2 * t->room + 64;
        fw_entry *entries = e.note ? fw_resize(in->entries, room, sizeof *entries) : NULL;
        if (!entries)
            return fw_out_of_memory(err);
        in->entries = entries;
        t->room = room;
    }
    if (!e.note)
        return fw_out_of_memory(err);
    in->entries[in->count++] = e;
    return FW_OK;
}

fw_status fw_intake_read(const char *path, const fw_job *job, const fw_intake_options *options,
                         fw_intake **intake, fw_faults *faults, fw_error *err)
{
    fw_grid grid;
    *intake = NULL;
    *faults = (fw_faults){0};
    fw_intake *in = fw_alloc(1, sizeof *in);
    fw_status status = fw_grid_read(path, &grid, faults, err);
    if (status == FW_OK && !in)
        status = fw_out_of_memory(err);
    taker t = {.grid = &grid, .job = job, .intake = in};
    t.round = options && options->round > 0 ? options->round : fw_job_round(job);
    t.unit = options && options->unit ? *options->unit : job->unit;
    if (status == FW_OK && faults->count == 0)
        status = fw_sheet_walk(&grid, in, take, &t, err);
    if (status == FW_OK && faults->count == 0 && in->count + in->nskipped == 0)
        fw_fault_add(faults, path, 0, 0, "has no readings: expected a header with bottom, top, turn, "
                     "diameter, position, deviation, or a sheet with such lines over its columns");
    fw_grid_release(&grid);
    fw_faults_sort(faults);
    if (status == FW_OK && faults->out_of_memory)
        status = fw_out_of_memory(err);
    if (status == FW_OK && faults->count > 0)
        status = fw_fail(err, FW_INPUT, "%zu %s in '%s', nothing was written", faults->count,
                         faults->count == 1 ? "fault" : "faults", path);
    if (status == FW_OK)
        *intake = in;
    else
        fw_intake_free(in);
    return status;
}

void fw_intake_free(fw_intake *in)
{
    if (!in)
        return;
    for (size_t i = 0; i < in->ntexts; i++)
        fw_free(in->texts[i]);
    fw_free(in->texts);
    fw_free(in->entries);
    fw_free(in->unread);
    fw_free(in);
}

/* A reading of the job, or of the file (index + 1), in the order of line and place. */
typedef struct mark {
    int line, scan;  /* the diameter, whichever end names it; the scan as it is named */
    double mm, nm;   /* on that line */
    size_t entry;    /* 0: of the job */
} mark;

/* Readings marked so far. */
typedef struct marks {
    mark *list;
    size_t count;
    fw_scans lines, scans;
} marks;

static int compare(const void *a, const void *b)
{
    const mark *x = a, *y = b;
    if (x->line != y->line)
        return x->line < y->line ? -1 : 1;
    if (x->mm != y->mm)
        return x->mm < y->mm ? -1 : 1;
    return (x->entry > y->entry) - (x->entry < y->entry);
}

static bool same_value(double a, double b)
{
    return fabs(a - b) <= SAME_VALUE * fmax(1, fmax(fabs(a), fabs(b)));
}

/* 370.3 less 360 is 10.3 again. */
static double angle_of(double deg)
{
    return round(deg * 1e6) / 1e6 + 0.0;
}

/* A diameter named by its other end is read backwards; a turn is one of a whole circle. */
static bool add_mark(marks *m, const fw_scan *scan, double mm, double nm, size_t entry)
{
    fw_scan key = *scan;
    double whole = angle_of(fmod(scan->diameter_deg, 360));
    whole += whole < 0 ? 360 : 0;
    bool other_end = whole >= 180;
    key.diameter_deg = angle_of(whole - (other_end ? 180 : 0));
    key.turn_deg = angle_of(remainder(scan->turn_deg, 360));
    key.turn_deg = key.turn_deg == -180 ? 180 : key.turn_deg;
    mark one = {fw_scans_find(&m->lines, &key), fw_scans_find(&m->scans, scan),
                other_end ? -mm : mm, nm, entry};
    if (one.line < 0 || one.scan < 0)
        return false;
    m->list[m->count++] = one;
    return true;
}

/* Marks all of the job and of the file; false: no memory. */
static bool make_marks(const fw_intake *in, const fw_job *job, marks *m)
{
    bool good = true;
    for (size_t i = 0; good && i < job->nreadings; i++) {
        const fw_reading *r = &job->readings[i];
        good = add_mark(m, &job->scans[r->scan], r->position_mm, r->deviation_nm, 0);
    }
    for (size_t i = 0; good && i < in->count; i++) {
        const fw_entry *e = &in->entries[i];
        char *label = fw_copy_text(e->label);
        fw_scan scan = {.round = e->round, .bottom = e->bottom, .top = e->top, .label = label,
                        .turn_deg = e->turn_deg, .diameter_deg = e->diameter_deg};
        good = label && add_mark(m, &scan, e->position_mm,
                                 e->deviation * fw_unit_nm(e->unit, &job->light), i + 1);
        fw_free(label);
    }
    return good;
}

/* What one mark says of another: 0 nothing, 1 in the job, 2 in the file before, 3 another value. */
static int says_of(const mark *one, const mark *of)
{
    if (one->entry > 0 && one->entry >= of->entry)
        return 0; /* not before it */
    if (same_value(one->nm, of->nm))
        return one->entry == 0 ? 1 : 2;
    return one->scan == of->scan ? 3 : 0; /* in another scan it is another reading */
}

/* What the marks of its place say of i; that it is known counts more than another value. */
static int said_of(const marks *m, size_t i)
{
    const mark *list = m->list, *of = &list[i];
    size_t first = i, end = i + 1;
    int found = 0;
    while (first > 0 && i - first < NEIGHBOURS && list[first - 1].line == of->line &&
           of->mm - list[first - 1].mm <= SAME_MM)
        first--;
    while (end < m->count && end - i < NEIGHBOURS && list[end].line == of->line &&
           list[end].mm - of->mm <= SAME_MM)
        end++;
    for (size_t j = first; j < end; j++) {
        int said = says_of(&list[j], of);
        if (said > 0 && (found == 0 || said < found))
            found = said;
    }
    return found;
}

/* All rows of the job's own file: one with skip = 1 is known as well. */
static fw_status read_all(const fw_job *job, fw_job *all, fw_error *err)
{
    fw_faults faults = {0};
    char *path = fw_path_in(job->folder, "readings.csv");
    *all = *job;
    all->nreadings = all->nscans = 0;
    all->readings = NULL;
    all->scans = NULL;
    fw_status status = path ? fw_readings_read(path, all, false, true, &faults, err)
                            : fw_out_of_memory(err);
    fw_faults_release(&faults); /* the job was read without: of skipped rows nothing is required */
    fw_free(path);
    return status;
}

static void count_marks(fw_intake *in, const marks *m, char *out)
{
    in->nsecond = 0;
    for (size_t i = 0; i < m->count; i++) {
        int said = m->list[i].entry > 0 ? said_of(m, i) : 0;
        if (said == 1 || said == 2)
            out[m->list[i].entry - 1] = 1;
        in->nknown += said == 1;
        in->ntwice += said == 2;
        in->nsecond += said == 3;
    }
}

fw_status fw_intake_drop_known(fw_intake *in, const fw_job *job, fw_error *err)
{
    fw_job all;
    marks m = {0};
    char *out = NULL;
    size_t kept = 0;
    fw_status status = read_all(job, &all, err);
    if (status != FW_OK)
        goto done;
    m.list = fw_alloc(all.nreadings + in->count, sizeof *m.list);
    out = fw_alloc(in->count, 1);
    if (!m.list || !out || !make_marks(in, &all, &m)) {
        status = fw_out_of_memory(err);
        goto done;
    }
    qsort(m.list, m.count, sizeof *m.list, compare);
    count_marks(in, &m, out);
    for (size_t i = 0; i < in->count; i++)
        if (!out[i])
            in->entries[kept++] = in->entries[i];
    in->count = kept;
done:
    for (size_t k = 0; k < all.nscans; k++)
        fw_free(all.scans[k].label);
    fw_free(all.scans);
    fw_free(all.readings);
    fw_scans_release(&m.lines);
    fw_scans_release(&m.scans);
    fw_free(m.list);
    fw_free(out);
    return status;
}
