/* scheme.c - a measuring plan from the command line: pairs, turns, diameters, stations, sigma. */
#include "cli/scheme.h"

#include <math.h>
#include <string.h>

#include "flatwright/alloc.h"
#include "flatwright/nearest.h"
#include "flatwright/number.h"
#include "flatwright/show.h"
#include "flatwright/units.h"

#include "cli/cli.h"

enum { MATES_MAX = 1000, LIST_MAX = 1000, REPEATS_MAX = 100 };

static int no_memory(void)
{
    fw_error err;
    fw_out_of_memory(&err);
    return cli_error(&err);
}

/* A --turn after a --pair turns it; a second one is the same pair once more. */
int cli_scheme_take(cli_scheme *asked, int id, const char *value)
{
    const char *pair = value, *turn = NULL;
    if (id == 't') {
        if (asked->nmates == 0)
            return cli_usage_fault("--turn turns the top of the --pair before it, and there is "
                                   "none");
        if (!asked->mates[asked->nmates - 1].turn) {
            asked->mates[asked->nmates - 1].turn = value;
            return 0;
        }
        pair = asked->mates[asked->nmates - 1].pair;
        turn = value;
    }
    if (asked->nmates == asked->room) {
        int room = asked->room ? 2 * asked->room : 8;
        void *more = fw_resize(asked->mates, room, sizeof *asked->mates);
        if (!more)
            return no_memory();
        asked->mates = more;
        asked->room = room;
    }
    asked->mates[asked->nmates].pair = pair;
    asked->mates[asked->nmates++].turn = turn;
    return 0;
}

/* The flat of a name of `length` bytes; -1, told with the nearest. */
static int find_flat(const fw_job *job, const char *name, size_t length)
{
    char word[80], quoted[FW_QUOTED], suggestion[FW_SUGGESTION];
    snprintf(word, sizeof word, "%.*s", (int)(length < 79 ? length : 79), name);
    fw_nearest nearest = fw_nearest_start(word);
    for (int f = 0; f < job->nflats; f++) {
        if (strcmp(job->flats[f].name, word) == 0)
            return f;
        fw_nearest_offer(&nearest, job->flats[f].name);
    }
    cli_usage_fault("%s of --pair is no flat of this set%s", fw_show_quoted(quoted, word),
                    fw_nearest_text(&nearest, suggestion));
    return -1;
}

static int read_number(const char *option, const char *text, size_t length, double *value)
{
    char word[80], quoted[FW_QUOTED];
    while (length && *text == ' ')
        text++, length--;
    while (length && text[length - 1] == ' ')
        length--;
    fw_number_status fault = fw_number_read(text, length, false, value);
    if (fault == FW_NUMBER_OK)
        return 0;
    snprintf(word, sizeof word, "%.*s", (int)(length < 79 ? length : 79), text);
    return cli_usage_fault("%s %s %s", option, fw_show_quoted(quoted, word),
                           fw_number_text(fault));
}

/* BOTTOM:TOP[:TURN] */
static int read_mate(const fw_job *job, const char *pair, const char *turn, fw_mate *mate)
{
    char quoted[FW_QUOTED];
    const char *colon = strchr(pair, ':'), *second = colon ? strchr(colon + 1, ':') : NULL;
    mate->turn_deg = 0;
    if (!colon)
        return cli_usage_fault("--pair %s has no colon, expected BOTTOM:TOP, such as %s:%s",
                               fw_show_quoted(quoted, pair), job->flats[0].name,
                               job->flats[1].name);
    size_t length = second ? (size_t)(second - colon) - 1 : strlen(colon + 1);
    mate->bottom = find_flat(job, pair, (size_t)(colon - pair));
    if (mate->bottom < 0)
        return FW_USAGE;
    mate->top = find_flat(job, colon + 1, length);
    if (mate->top < 0)
        return FW_USAGE;
    if (mate->bottom == mate->top)
        return cli_usage_fault("--pair %s lays a flat on itself", fw_show_quoted(quoted, pair));
    if (second && turn)
        return cli_usage_fault("--pair %s has a turn, --turn gives it another",
                               fw_show_quoted(quoted, pair));
    const char *said = second ? second + 1 : turn;
    int status = said ? read_number("turn", said, strlen(said), &mate->turn_deg) : 0;
    if (!status && fabs(mate->turn_deg) > 3600)
        return cli_usage_fault("turn %s is out of range, expected an angle in degrees",
                               fw_show_quoted(quoted, said));
    return status;
}

/* "a,b,c"; a single number is a list of one. */
static int read_list(const char *option, const char *text, double **list, int *count)
{
    int n = 1;
    for (const char *c = text; *c; c++)
        n += *c == ',';
    if (n > LIST_MAX)
        return cli_usage_fault("%s takes at most %d numbers", option, LIST_MAX);
    *list = fw_alloc(n, sizeof **list);
    if (!*list)
        return no_memory();
    for (*count = 0; *count < n; ++*count) {
        size_t length = strcspn(text, ",");
        int status = read_number(option, text, length, &(*list)[*count]);
        if (status)
            return status;
        text += length + 1;
    }
    return 0;
}

/* A number by itself says how many; whole and from 1 on. */
static bool is_count(double value, double most)
{
    return value >= 1 && value <= most && floor(value) == value;
}

static int read_diameters(const char *text, fw_scheme *scheme)
{
    int status = read_list("--diameters", text, &scheme->diameters_deg, &scheme->ndiameters);
    if (status || scheme->ndiameters > 1)
        return status;
    if (!is_count(scheme->diameters_deg[0], 180))
        return cli_usage_fault("--diameters takes how many, 1 to 180, or angles such as 0,60,120");
    int n = (int)scheme->diameters_deg[0];
    fw_free(scheme->diameters_deg);
    scheme->diameters_deg = fw_alloc(n, sizeof *scheme->diameters_deg);
    if (!scheme->diameters_deg)
        return no_memory();
    for (int i = 0; i < n; i++)
        scheme->diameters_deg[i] = 180.0 * i / n;
    scheme->ndiameters = n;
    return 0;
}

/* Positions beyond the glass of every flat are a slip of the unit. */
static int check_stations(const fw_job *job, const fw_scheme *scheme)
{
    double widest = 0;
    for (int f = 0; f < job->nflats; f++)
        widest = fmax(widest, job->flats[f].diameter_mm / 2);
    for (int i = 0; i < scheme->nstations; i++)
        if (fabs(scheme->stations_mm[i]) > widest)
            return cli_usage_fault("--stations %g is off the glass, which ends %g mm from its "
                                   "centre",
                                   scheme->stations_mm[i], widest);
    return 0;
}

static int read_stations(const fw_job *job, const char *text, fw_scheme *scheme)
{
    int status = read_list("--stations", text, &scheme->stations_mm, &scheme->nstations);
    if (status)
        return status;
    if (scheme->nstations > 1)
        return check_stations(job, scheme);
    if (!is_count(scheme->stations_mm[0], LIST_MAX))
        return cli_usage_fault("--stations takes how many, 1 to %d, or places in mm such as "
                               "-90,0,90",
                               LIST_MAX);
    int n = (int)scheme->stations_mm[0];
    fw_free(scheme->stations_mm);
    scheme->stations_mm = fw_alloc(n, sizeof *scheme->stations_mm);
    if (!scheme->stations_mm)
        return no_memory();
    scheme->nstations = fw_stations(job, n, scheme->stations_mm);
    return 0;
}

/* "2 nm", "0.02 fringe"; a bare number is in the unit of job.ini's readings. */
static int read_sigma(const fw_job *job, const char *text, double *sigma_nm)
{
    static const char *const units[] = {"nm", "um", "fringe", "wave"};
    char quoted[FW_QUOTED];
    size_t used = 0;
    double value = 0;
    fw_unit unit = job->unit;
    fw_number_status fault = fw_number_prefix(text, strlen(text), false, &value, &used);
    if (fault)
        return cli_usage_fault("--sigma %s %s", fw_show_quoted(quoted, text),
                               fw_number_text(fault));
    const char *name = text + used + strspn(text + used, " ");
    int k = *name ? 0 : (int)unit;
    while (*name && k < 4 && strcmp(units[k], name) != 0)
        k++;
    if (k == 4)
        return cli_usage_fault("--sigma %s has an unknown unit, expected nm, um, fringe or wave",
                               fw_show_quoted(quoted, text));
    *sigma_nm = value * fw_unit_nm((fw_unit)k, &job->light);
    if (isnan(*sigma_nm))
        return cli_usage_fault("--sigma in fringes or waves needs the light, and job.ini names "
                               "none");
    if (!(*sigma_nm > 0))
        return cli_usage_fault("--sigma %s is not above 0", fw_show_quoted(quoted, text));
    return 0;
}

/* Every pairing so many times, in turn. */
static int read_mates(const cli_scheme *asked, const fw_job *job, fw_scheme *scheme)
{
    double repeats = 1;
    int status = asked->repeats ? read_number("--repeats", asked->repeats, strlen(asked->repeats),
                                              &repeats) : 0;
    if (status)
        return status;
    if (!is_count(repeats, REPEATS_MAX))
        return cli_usage_fault("--repeats takes a whole number from 1 to %d", REPEATS_MAX);
    if (asked->repeats && asked->nmates == 0)
        return cli_usage_fault("--repeats repeats every --pair, and there is none");
    if (asked->nmates * repeats > MATES_MAX)
        return cli_usage_fault("at most %d pairings can be rehearsed", MATES_MAX);
    scheme->mates = fw_alloc((size_t)asked->nmates * (size_t)repeats, sizeof *scheme->mates);
    if (!scheme->mates)
        return no_memory();
    for (int k = 0; k < (int)repeats; k++)
        for (int m = 0; m < asked->nmates; m++)
            if ((status = read_mate(job, asked->mates[m].pair, asked->mates[m].turn,
                                    &scheme->mates[scheme->nmates++])))
                return status;
    return 0;
}

int cli_scheme_read(const cli_scheme *asked, const fw_job *job, fw_scheme *scheme)
{
    int status;
    *scheme = (fw_scheme){.sigma_nm = job->sigma_nm, .model = asked->model};
    if (asked->sigma && (status = read_sigma(job, asked->sigma, &scheme->sigma_nm)))
        return status;
    if (isnan(scheme->sigma_nm))
        return cli_usage_fault("the readings have no sigma: give --sigma, or sigma in [readings]");
    if (asked->diameters && (status = read_diameters(asked->diameters, scheme)))
        return status;
    if (asked->stations && (status = read_stations(job, asked->stations, scheme)))
        return status;
    return read_mates(asked, job, scheme);
}

void cli_scheme_release(fw_scheme *scheme)
{
    fw_free(scheme->mates);
    fw_free(scheme->diameters_deg);
    fw_free(scheme->stations_mm);
    *scheme = (fw_scheme){0};
}
