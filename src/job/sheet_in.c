/* sheet_in.c - the layouts in which people write readings down: a table, or a sheet of blocks. */
#include <ctype.h>
#include <stdio.h>
#include <string.h>

#include "flatwright/alloc.h"
#include "flatwright/number.h"
#include "flatwright/show.h"
#include "job/sheet_in.h"

#define HEADER_WITHIN 50 /* rows in which the header of a table is looked for */

typedef struct word {
    const char *name;
    fw_role role;
} word;

/* Our names first, then what is near. A unit alone names the deviation, mm the position. */
static const word words[] = {
    {"bottom", FW_ROLE_BOTTOM},     {"lower", FW_ROLE_BOTTOM},   {"below", FW_ROLE_BOTTOM},
    {"under", FW_ROLE_BOTTOM},      {"top", FW_ROLE_TOP},        {"upper", FW_ROLE_TOP},
    {"above", FW_ROLE_TOP},         {"on top", FW_ROLE_TOP},     {"pair", FW_ROLE_PAIR},
    {"pairing", FW_ROLE_PAIR},      {"flats", FW_ROLE_PAIR},     {"turn", FW_ROLE_TURN},
    {"turned", FW_ROLE_TURN},       {"rotation", FW_ROLE_TURN},  {"diameter", FW_ROLE_DIAMETER},
    {"angle", FW_ROLE_DIAMETER},    {"azimuth", FW_ROLE_DIAMETER}, {"line", FW_ROLE_DIAMETER},
    {"position", FW_ROLE_POSITION}, {"pos", FW_ROLE_POSITION},   {"station", FW_ROLE_POSITION},
    {"place", FW_ROLE_POSITION},    {"x", FW_ROLE_POSITION},     {"mm", FW_ROLE_POSITION},
    {"deviation", FW_ROLE_DEVIATION}, {"dev", FW_ROLE_DEVIATION},
    {"reading", FW_ROLE_DEVIATION}, {"value", FW_ROLE_DEVIATION}, {"height", FW_ROLE_DEVIATION},
    {"nm", FW_ROLE_DEVIATION},      {"um", FW_ROLE_DEVIATION},   {"fringe", FW_ROLE_DEVIATION},
    {"fringes", FW_ROLE_DEVIATION}, {"wave", FW_ROLE_DEVIATION}, {"waves", FW_ROLE_DEVIATION},
    {"round", FW_ROLE_ROUND},       {"scan", FW_ROLE_SCAN},      {"repeat", FW_ROLE_SCAN},
    {"unit", FW_ROLE_UNIT},         {"units", FW_ROLE_UNIT},     {"sigma", FW_ROLE_SIGMA},
    {"uncertainty", FW_ROLE_SIGMA}, {"skip", FW_ROLE_SKIP},      {"note", FW_ROLE_NOTE},
    {"notes", FW_ROLE_NOTE},        {"remark", FW_ROLE_NOTE},    {"remarks", FW_ROLE_NOTE},
};

/* "Position (mm)", "turn_deg", "Diameter:" to "position", "turn", "diameter". */
static void plain_name(const char *name, char *out, size_t size, char unit[16])
{
    size_t n = 0, length = strcspn(name, "([");
    unit[0] = '\0';
    if (name[length])
        snprintf(unit, 16, "%.*s", (int)strcspn(name + length + 1, ")]"), name + length + 1);
    for (size_t i = 0; i < length && n + 1 < size; i++)
        out[n++] = name[i] == '_' || name[i] == '-' ? ' ' : (char)tolower((unsigned char)name[i]);
    while (n > 0 && (out[n - 1] == ' ' || out[n - 1] == ':'))
        n--;
    out[n] = '\0';
    static const char *const ends[] = {" deg", " mm", " cm", " in", " nm", " um"};
    for (size_t i = 0; i < sizeof ends / sizeof ends[0]; i++) {
        size_t less = strlen(ends[i]);
        if (n > less && strcmp(out + n - less, ends[i]) == 0) {
            if (!*unit)
                snprintf(unit, 16, "%s", ends[i] + 1);
            out[n - less] = '\0';
            return;
        }
    }
}

fw_role fw_role_of(const char *name, char unit[16])
{
    char plain[40];
    plain_name(name, plain, sizeof plain, unit);
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++)
        if (strcmp(words[i].name, plain) == 0) {
            if (!*unit && words[i].role == FW_ROLE_DEVIATION)
                snprintf(unit, 16, "%.15s", plain); /* "nm", or a word that is no unit */
            return words[i].role;
        }
    unit[0] = '\0';
    return FW_ROLE_NONE;
}

static bool is_number(const fw_grid *g, const char *text)
{
    double value;
    return *text && fw_number_read(text, strlen(text), g->comma, &value) == FW_NUMBER_OK;
}

/* A length's unit in mm; 0: not one. */
static double length_factor(const char *unit)
{
    static const struct { const char *name; double mm; } units[] = {
        {"", 1}, {"mm", 1}, {"cm", 10}, {"m", 1000}, {"in", 25.4}};
    for (size_t i = 0; i < sizeof units / sizeof units[0]; i++)
        if (strcmp(units[i].name, unit) == 0)
            return units[i].mm;
    return 0;
}

/* Only what names a unit of height is kept as one. */
static const char *height_unit(const char *unit)
{
    static const char *const names[][2] = {{"nm", "nm"}, {"um", "um"}, {"\xC2\xB5m", "um"},
                                           {"fringe", "fringe"}, {"fringes", "fringe"},
                                           {"wave", "wave"}, {"waves", "wave"}};
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++)
        if (strcmp(names[i][0], unit) == 0)
            return names[i][1];
    return NULL;
}

/* Notes what was taken for no data. */
static fw_status leave_out(fw_intake *intake, int line, const char *what, const char *text,
                           fw_error *err)
{
    char shown[60];
    if (!intake->unread) {
        intake->unread = fw_alloc(FW_UNREAD_LISTED, sizeof *intake->unread);
        if (!intake->unread)
            return fw_out_of_memory(err);
    }
    if (intake->nunread < FW_UNREAD_LISTED)
        snprintf(intake->unread[intake->nunread], sizeof *intake->unread, "%s %d: %s", what, line,
                 fw_show(shown, sizeof shown, text));
    intake->nunread++;
    return FW_OK;
}

/* The table's header: who stands where. false: the row is none. */
static bool find_columns(const fw_grid *g, size_t row, fw_sighting *s)
{
    char unit[16];
    *s = (fw_sighting){.position_factor = 1};
    for (int k = 0; k < FW_ROLES; k++)
        s->at[k].row = s->at[k].cell = -1;
    for (size_t i = 0; i < g->rows[row].count; i++) {
        fw_role role = fw_role_of(fw_grid_text(g, row, i), unit);
        if (role == FW_ROLE_NONE || s->at[role].cell >= 0)
            continue;
        s->at[role].cell = (long)i;
        if (role == FW_ROLE_POSITION)
            s->position_factor = length_factor(unit);
        if (role == FW_ROLE_DEVIATION)
            s->unit = height_unit(unit);
    }
    return s->at[FW_ROLE_POSITION].cell >= 0 && s->at[FW_ROLE_DEVIATION].cell >= 0 &&
           (s->at[FW_ROLE_PAIR].cell >= 0 ||
            (s->at[FW_ROLE_BOTTOM].cell >= 0 && s->at[FW_ROLE_TOP].cell >= 0));
}

/* What the header must have besides; columns that mean nothing, or the same twice. */
static fw_status check_columns(const fw_grid *g, size_t row, const fw_sighting *s,
                               fw_intake *intake, fw_error *err)
{
    char unit[16], quoted[FW_QUOTED];
    fw_status status = FW_OK;
    if (s->at[FW_ROLE_TURN].cell < 0)
        fw_grid_fault(g, row, g->rows[row].count, "a column for the turn is missing, turn_deg");
    if (s->at[FW_ROLE_DIAMETER].cell < 0)
        fw_grid_fault(g, row, g->rows[row].count,
                      "a column for the diameter is missing, diameter_deg");
    if (s->position_factor == 0)
        fw_grid_fault(g, row, (size_t)s->at[FW_ROLE_POSITION].cell,
                      "unknown unit of length, expected mm, cm, m or in");
    for (size_t i = 0; i < g->rows[row].count && status == FW_OK; i++) {
        const char *name = fw_grid_text(g, row, i);
        fw_role role = fw_role_of(name, unit);
        if (role == FW_ROLE_NONE && *name)
            status = leave_out(intake, (int)i + 1, "column", name, err);
        else if (role != FW_ROLE_NONE && s->at[role].cell != (long)i)
            fw_grid_fault(g, row, i, "column %s says the same as column %ld",
                          fw_show_quoted(quoted, name), s->at[role].cell + 1);
    }
    return status;
}

static fw_status walk_table(const fw_grid *g, size_t header, fw_sighting *s, fw_intake *intake,
                            fw_sighted *sighted, void *context, fw_error *err)
{
    fw_status status = FW_OK;
    for (size_t row = 0; row < header && status == FW_OK; row++)
        status = leave_out(intake, g->rows[row].line, "line", fw_grid_text(g, row, 0), err);
    if (status == FW_OK)
        status = check_columns(g, header, s, intake, err);
    if (g->faults->count > 0)
        return status;
    for (size_t row = header + 1; row < g->nrows && status == FW_OK; row++) {
        size_t beyond = g->rows[header].count;
        while (beyond < g->rows[row].count && !*fw_grid_text(g, row, beyond))
            beyond++;
        if (beyond < g->rows[row].count) {
            fw_grid_fault(g, row, beyond, "the value stands beyond the %zu columns of the header",
                          g->rows[header].count);
            continue;
        }
        for (int k = 0; k < FW_ROLES; k++)
            s->at[k].row = s->at[k].cell < 0 ? -1 : (long)row;
        status = sighted(context, s, err);
    }
    return status;
}

/* A block of a sheet: the rows of its headings. */
typedef struct block {
    long heading[FW_ROLES];
    bool has_data;
    size_t first, end; /* rows of its readings */
    double position_factor;
    long titles; /* the row that names position and deviation; -1 */
} block;

/* The cell of a heading over column i; what spans several columns stands over the first. */
static long over(const fw_grid *g, const block *b, fw_role role, size_t i)
{
    long row = b->heading[role];
    bool spans = role != FW_ROLE_DIAMETER && role != FW_ROLE_SCAN;
    if (row < 0)
        return -1;
    while (spans && i > 1 && !*fw_grid_text(g, (size_t)row, i))
        i--;
    return (long)i;
}

/* The readings of one column. */
static fw_status walk_column(const fw_grid *g, size_t i, const block *b, fw_sighted *sighted,
                             void *context, fw_error *err)
{
    char unit[16];
    fw_status status = FW_OK;
    fw_sighting s = {.position_factor = b->position_factor};
    for (int k = 0; k < FW_ROLES; k++) {
        s.at[k].row = b->heading[k];
        s.at[k].cell = over(g, b, (fw_role)k, i);
    }
    if (b->titles >= 0 &&
        fw_role_of(fw_grid_text(g, (size_t)b->titles, i), unit) == FW_ROLE_DEVIATION)
        s.unit = height_unit(unit);
    for (size_t row = b->first; row < b->end && status == FW_OK; row++) {
        if (!*fw_grid_text(g, row, i) || !is_number(g, fw_grid_text(g, row, 0)))
            continue;
        s.at[FW_ROLE_POSITION].row = s.at[FW_ROLE_DEVIATION].row = (long)row;
        s.at[FW_ROLE_POSITION].cell = 0;
        s.at[FW_ROLE_DEVIATION].cell = (long)i;
        status = sighted(context, &s, err);
    }
    return status;
}

/* A block that has come to its end: scan by scan. */
static fw_status walk_block(const fw_grid *g, const block *b, fw_sighted *sighted, void *context,
                            fw_error *err)
{
    size_t columns = 0;
    fw_status status = FW_OK;
    for (size_t row = b->first; b->has_data && row < b->end; row++)
        columns = g->rows[row].count > columns ? g->rows[row].count : columns;
    for (size_t i = 1; i < columns && status == FW_OK; i++)
        status = walk_column(g, i, b, sighted, context, err);
    return status;
}

static size_t filled_cells(const fw_grid *g, size_t row)
{
    size_t n = 0;
    for (size_t i = 0; i < g->rows[row].count; i++)
        n += *fw_grid_text(g, row, i) != '\0';
    return n;
}

/* A line of headings, or of titles, begins a new block when readings came before it. */
static void take_heading(const fw_grid *g, size_t row, fw_role role, const char *unit, block *b,
                         fw_intake *intake)
{
    if (b->has_data || intake->nblocks == 0) {
        intake->nblocks++;
        b->has_data = false; /* walked by now */
        b->heading[FW_ROLE_SCAN] = -1; /* a mark of repeats does not go on */
        b->titles = -1;
    }
    if (role == FW_ROLE_POSITION) {
        b->titles = (long)row;
        b->position_factor = length_factor(unit);
        if (b->position_factor == 0)
            fw_grid_fault(g, row, 0, "unknown unit of length, expected mm, cm, m or in");
    } else
        b->heading[role] = (long)row;
}

/* Every heading that a reading needs stands above it. */
static bool check_block(const fw_grid *g, size_t row, const block *b)
{
    bool pair = b->heading[FW_ROLE_PAIR] >= 0 ||
                (b->heading[FW_ROLE_BOTTOM] >= 0 && b->heading[FW_ROLE_TOP] >= 0);
    const char *missing = !pair ? "bottom and top" : b->heading[FW_ROLE_TURN] < 0 ? "turn"
                          : b->heading[FW_ROLE_DIAMETER] < 0 ? "diameter" : NULL;
    if (missing)
        fw_grid_fault(g, row, 0, "readings begin, and no line above says %s", missing);
    return !missing;
}

static fw_status walk_sheet(const fw_grid *g, fw_intake *intake, fw_sighted *sighted, void *context,
                            fw_error *err)
{
    char unit[16], quoted[FW_QUOTED];
    fw_status status = FW_OK;
    block b = {.position_factor = 1, .titles = -1};
    for (int k = 0; k < FW_ROLES; k++)
        b.heading[k] = -1;
    for (size_t row = 0; row < g->nrows && status == FW_OK; row++) {
        const char *first = fw_grid_text(g, row, 0);
        fw_role role = fw_role_of(first, unit);
        if (is_number(g, first)) {
            if (!b.has_data && !check_block(g, row, &b))
                return FW_OK;
            b.first = b.has_data ? b.first : row;
            b.end = row + 1;
            b.has_data = true;
        } else if (role != FW_ROLE_NONE && role != FW_ROLE_DEVIATION) {
            status = walk_block(g, &b, sighted, context, err);
            take_heading(g, row, role, unit, &b, intake);
        } else if (filled_cells(g, row) == 1)
            status = leave_out(intake, g->rows[row].line, "line", first, err);
        else
            fw_grid_fault(g, row, 0, "%s is neither a position nor bottom, top, pair, turn, "
                          "diameter, round, scan or unit", fw_show_quoted(quoted, first));
    }
    return status == FW_OK ? walk_block(g, &b, sighted, context, err) : status;
}

fw_status fw_sheet_walk(const fw_grid *g, fw_intake *intake, fw_sighted *sighted, void *context,
                        fw_error *err)
{
    fw_sighting s;
    for (size_t row = 0; row < g->nrows && row < HEADER_WITHIN; row++)
        if (find_columns(g, row, &s))
            return walk_table(g, row, &s, intake, sighted, context, err);
    intake->sheet = true;
    return walk_sheet(g, intake, sighted, context, err);
}
