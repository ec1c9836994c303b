/* habits.c - how a person's readings.csv is written, so that a new row looks like its neighbours. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/open.h"
#include "flatwright/alloc.h"
#include "flatwright/number.h"
#include "flatwright/text.h"
#include "flatwright/units.h"
#include "job/habits.h"
#include "job/parts.h"

#define BLOCK 65536
static const char STATIONS[] = "# stations:", SKIPPED[] = "# skipped:";

/* A number with decimals tells which point is used; the last one that does decides. */
static void look_at_point(const fw_table *t, fw_habits *habits)
{
    static const int numbers[] = {FW_COL_POSITION, FW_COL_DEVIATION, FW_COL_TURN, FW_COL_DIAMETER,
                                  FW_COL_SIGMA};
    for (size_t i = 0; i < sizeof numbers / sizeof numbers[0]; i++) {
        const fw_field *field = fw_table_field(t, numbers[i]);
        if (field && strpbrk(field->text, ".,"))
            habits->comma = strchr(field->text, ',') != NULL;
    }
}

/* The columns, from the table itself. */
static fw_status read_table(const char *path, fw_habits *habits, fw_error *err)
{
    fw_table t;
    fw_row row = FW_ROW_END;
    fw_faults faults = {0};
    fw_status status = fw_table_open(&t, path, fw_reading_columns, FW_READING_COLUMNS, false,
                                     &faults, err);
    while (status == FW_OK && faults.count == 0 && (row = fw_table_next(&t, err)) == FW_ROW)
        look_at_point(&t, habits);
    if (status == FW_OK && row == FW_ROW_FAILED)
        status = FW_SYSTEM;
    if (status == FW_OK && faults.count > 0)
        status = fw_fail(err, FW_INPUT, "'%s': %s", path,
                         faults.listed ? faults.list[0].text : "has faults");
    habits->separator = t.rows.separator;
    habits->comma = habits->comma && t.rows.separator == ';';
    habits->nfields = (int)t.nfields;
    memcpy(habits->slot, t.slot, sizeof habits->slot);
    fw_table_close(&t);
    fw_faults_release(&faults);
    return status;
}

static int compare(const void *a, const void *b)
{
    const double *x = a, *y = b;
    return (*x > *y) - (*x < *y);
}

/* "# stations: -90 -45 0": takes its numbers; what a spreadsheet put behind them does not count. */
static void take_stations(const char *line, fw_habits *habits)
{
    const char *at = line + sizeof STATIONS - 1;
    double value;
    size_t used;
    habits->nstations = 0;
    for (;;) {
        at += strspn(at, " ");
        if (habits->nstations == FW_STATIONS_LIMIT ||
            fw_number_prefix(at, strlen(at), false, &value, &used) != FW_NUMBER_OK)
            break;
        habits->stations[habits->nstations++] = value;
        at += used;
    }
    qsort(habits->stations, habits->nstations, sizeof habits->stations[0], compare);
}

char *fw_habits_skip_line(const fw_job *job, const fw_entry *e)
{
    char turn[FW_NUMBER_SIZE], diameter[FW_NUMBER_SIZE], position[FW_NUMBER_SIZE];
    const char *bottom = job->flats[e->bottom].name, *top = job->flats[e->top].name;
    size_t room = strlen(bottom) + strlen(top) + strlen(e->label) + 4 * FW_NUMBER_SIZE + 40;
    char *line = fw_alloc(room, 1);
    if (line)
        snprintf(line, room, "%s %d %s %s %s %s %s%s%s", SKIPPED, e->round, bottom, top,
                 fw_number(e->turn_deg, turn), fw_number(e->diameter_deg, diameter),
                 fw_number(e->position_mm, position), *e->label ? " " : "", e->label);
    return line;
}

bool fw_habits_has_skip(const fw_habits *h, const char *line)
{
    size_t length = strlen(line);
    for (const char *at = h->skipped; at && (at = strstr(at, line)) != NULL; at++)
        if (at[-1] == '\n' && at[length] == '\n')
            return true;
    return false;
}

fw_status fw_habits_note_skip(fw_habits *h, const char *line, fw_error *err)
{
    size_t had = h->skipped ? strlen(h->skipped) : 1, room = had + strlen(line) + 2;
    char *longer = fw_resize(h->skipped, room, 1);
    if (!longer)
        return fw_out_of_memory(err);
    longer[0] = '\n';
    snprintf(longer + had, room - had, "%s\n", line);
    h->skipped = longer;
    return FW_OK;
}

/* Takes of a comment what it tells us. `line` ends in 0 and may have been cut. */
static fw_status take_line(char *line, fw_habits *habits, fw_error *err)
{
    char *text = *line == '"' ? line + 1 : line;
    if (text > line) /* as a spreadsheet saves it, with empty fields behind */
        text[strcspn(text, "\"")] = '\0';
    if (strncmp(text, STATIONS, sizeof STATIONS - 1) == 0)
        take_stations(text, habits);
    if (strncmp(text, SKIPPED, sizeof SKIPPED - 1) != 0)
        return FW_OK;
    for (size_t n = strlen(text); n > 0 && strchr(" ,;", text[n - 1]); n--)
        text[n - 1] = '\0';
    return fw_habits_note_skip(habits, text, err);
}

/* Line ends and comments, which the table does not show. */
static fw_status read_lines(const char *path, fw_habits *habits, fw_error *err)
{
    char *buffer = fw_alloc(BLOCK, 1), line[8192];
    size_t got = BLOCK, filled = 0, lf = 0, crlf = 0, cr = 0;
    bool missing;
    int fd = -1;
    char before = 0;
    fw_error why;
    fw_status status = buffer ? fw_open_input(path, &fd, &missing, &why) : fw_out_of_memory(&why);
    while (status == FW_OK && got == BLOCK) {
        status = fw_read_input(fd, buffer, BLOCK, &got, &why);
        for (size_t i = 0; status == FW_OK && i < got; i++) {
            char c = buffer[i];
            lf += c == '\n';
            crlf += c == '\n' && before == '\r';
            cr += c == '\r';
            before = c;
            if (c != '\n' && c != '\r') {
                if (filled + 1 < sizeof line)
                    line[filled++] = c;
                continue;
            }
            line[filled] = '\0';
            filled = 0;
            status = take_line(line, habits, &why);
        }
    }
    if (fd >= 0)
        close(fd);
    fw_free(buffer);
    habits->eol = lf == 0 && cr > 0 ? "\r" : 2 * crlf > lf ? "\r\n" : "\n";
    return status == FW_OK ? FW_OK : fw_fail(err, status, "'%s' %s", path, why.text);
}

fw_status fw_habits_read(const char *path, fw_habits *habits, fw_error *err)
{
    fw_habits_release(habits);
    fw_status status = read_table(path, habits, err);
    return status == FW_OK ? read_lines(path, habits, err) : status;
}

void fw_habits_release(fw_habits *habits)
{
    fw_free(habits->skipped);
    *habits = (fw_habits){0};
}

/* A row being made. Values are added with a separator before all but the first. */
typedef struct row {
    char *text;
    size_t filled;
} row;

static void put(row *r, const char *text)
{
    size_t length = strlen(text);
    memcpy(r->text + r->filled, text, length + 1);
    r->filled += length;
}

static void put_number(row *r, double value, bool comma)
{
    char number[FW_NUMBER_SIZE], *point;
    fw_number(value, number);
    if (comma && (point = strchr(number, '.')) != NULL)
        *point = ',';
    put(r, number);
}

/* RFC 4180, 2.6 and 2.7: quoted where it must be, quotes doubled. Outer blanks would be lost. */
static void put_text(row *r, const char *text, char separator)
{
    char special[] = {separator, '"', '\r', '\n', ',', ';', '\0'};
    size_t length = strlen(text);
    bool plain = !strpbrk(text, special) && (length == 0 || (*text != ' ' && *text != '\t' &&
                                             text[length - 1] != ' ' && text[length - 1] != '\t'));
    if (plain) {
        put(r, text);
        return;
    }
    r->text[r->filled++] = '"';
    for (; *text; text++) {
        if (*text == '"')
            r->text[r->filled++] = '"';
        r->text[r->filled++] = *text;
    }
    r->text[r->filled++] = '"';
    r->text[r->filled] = '\0';
}

static void put_column(row *r, const fw_habits *h, const fw_job *job, const fw_entry *e, int column)
{
    char number[FW_NUMBER_SIZE];
    switch (column) {
    case FW_COL_BOTTOM: put(r, job->flats[e->bottom].name); break;
    case FW_COL_TOP: put(r, job->flats[e->top].name); break;
    case FW_COL_TURN: put_number(r, e->turn_deg, h->comma); break;
    case FW_COL_DIAMETER: put_number(r, e->diameter_deg, h->comma); break;
    case FW_COL_POSITION: put_number(r, e->position_mm, h->comma); break;
    case FW_COL_DEVIATION: put_number(r, e->deviation, h->comma); break;
    case FW_COL_ROUND:
        snprintf(number, sizeof number, "%d", e->round);
        put(r, number);
        break;
    case FW_COL_SCAN: put_text(r, e->label, h->separator); break;
    case FW_COL_UNIT: put(r, e->unit == job->unit ? "" : fw_unit_names[e->unit]); break;
    case FW_COL_SIGMA:
        if (!isnan(e->sigma))
            put_number(r, e->sigma, h->comma);
        break;
    case FW_COL_NOTE: put_text(r, e->note, h->separator); break;
    default: break; /* skip: empty, the reading is used */
    }
}

void fw_habits_lacking(const fw_habits *h, const fw_job *job, const fw_entry *e,
                       bool add[FW_READING_COLUMNS])
{
    add[FW_COL_UNIT] |= e->unit != job->unit && h->slot[FW_COL_UNIT] < 0;
    add[FW_COL_ROUND] |= e->round != 1 && h->slot[FW_COL_ROUND] < 0;
    add[FW_COL_SCAN] |= *e->label && h->slot[FW_COL_SCAN] < 0;
    add[FW_COL_SIGMA] |= !isnan(e->sigma) && h->slot[FW_COL_SIGMA] < 0;
    add[FW_COL_NOTE] |= *e->note && h->slot[FW_COL_NOTE] < 0;
}

void fw_habits_widen(fw_habits *h, const bool add[FW_READING_COLUMNS])
{
    for (int k = 0; k < FW_READING_COLUMNS; k++)
        if (add[k])
            h->slot[k] = h->nfields++;
}

/* A row that begins with # is a comment to whoever reads it. */
static bool begins_comment(const fw_habits *h, const fw_entry *e)
{
    return (h->slot[FW_COL_SCAN] == 0 && *e->label == '#') ||
           (h->slot[FW_COL_NOTE] == 0 && *e->note == '#');
}

char *fw_habits_row(const fw_habits *h, const fw_job *job, const fw_entry *e, fw_error *err)
{
    size_t room = 2 * (strlen(e->label) + strlen(e->note)) + strlen(job->flats[e->bottom].name) +
                  strlen(job->flats[e->top].name) + (size_t)(h->nfields + 10) * FW_NUMBER_SIZE;
    row r = {NULL, 0};
    if (begins_comment(h, e))
        fw_fail(err, FW_INPUT, "'#' begins the row, which would make it a comment");
    else if (!isfinite(fw_unit_nm(e->unit, &job->light)))
        fw_fail(err, FW_INPUT, "the reading's unit needs a light, expected [light] in job.ini");
    else if (!(r.text = fw_alloc(room, 1)))
        fw_out_of_memory(err);
    if (!r.text)
        return NULL;
    for (int i = 0; i < h->nfields; i++) {
        if (i > 0)
            r.text[r.filled++] = h->separator;
        for (int k = 0; k < FW_READING_COLUMNS; k++)
            if (h->slot[k] == i)
                put_column(&r, h, job, e, k);
    }
    put(&r, h->eol);
    return r.text;
}
