/* check.c - flatwright check: reads everything, reports every fault, or says what is there. */
#include <stdio.h>
#include <stdlib.h>

#include "cli/cli.h"
#include "cli/progress.h"
#include "flatwright/alloc.h"
#include "flatwright/json.h"
#include "flatwright/mating.h"
#include "flatwright/report.h"
#include "flatwright/show.h"

static const cli_option options[] = {{'j', "json", NULL, "print JSON"}, {0, NULL, NULL, NULL}};

const cli_usage usage_check = {
    "check JOB [--json]",
    "Reads every file of the job. Faults go to stderr as file:line:column with what was found and\n"
    "what was expected, and the exit status is 2; without faults it prints what the job holds.",
    options, 1, {"flatwright check trio", "flatwright check trio --json"}};

/* What a job holds, in numbers, and what looks mistyped. */
typedef struct counts {
    size_t rounds, diameters, stations;
    size_t nslips;
    fw_slip *slips;
} counts;

static int compare(const void *a, const void *b)
{
    const double *x = a, *y = b;
    return (*x > *y) - (*x < *y);
}

/* How many of the n values lie farther than `tolerance` from the one before, once sorted. */
static size_t count_distinct(double *values, size_t n, double tolerance)
{
    size_t distinct = n > 0;
    qsort(values, n, sizeof *values, compare);
    for (size_t i = 1; i < n; i++)
        distinct += values[i] - values[i - 1] > tolerance;
    return distinct;
}

static double station_of(const fw_job *job, size_t reading)
{
    const fw_reading *r = &job->readings[reading];
    return fw_line_of(job->scans[r->scan].diameter_deg).flip * r->position_mm;
}

/*
 * values (nreadings) <- where readings stand, each place at least once; returns how many. What stands
 * where the same reading of the scan before did is left out: whole scans mostly do, and need no sorting.
 */
static size_t stations_of(const fw_job *job, double *values)
{
    size_t n = 0;
    for (size_t i = 0; i < job->nreadings; i++) {
        int scan = job->readings[i].scan;
        size_t back = scan > 0 ? job->scans[scan].first - job->scans[scan - 1].first : 0;
        double station = station_of(job, i);
        if (back == 0 || back > i || station_of(job, i - back) != station)
            values[n++] = station;
    }
    return n;
}

static fw_status count(const fw_job *job, counts *c, fw_error *err)
{
    size_t room = job->nreadings > job->nscans ? job->nreadings : job->nscans;
    double *values = fw_alloc(room, sizeof *values);
    if (!values)
        return fw_fail(err, FW_SYSTEM, "no memory for %zu readings", room);
    for (size_t i = 0; i < job->nscans; i++)
        values[i] = job->scans[i].round;
    c->rounds = count_distinct(values, job->nscans, 0);
    for (size_t i = 0; i < job->nscans; i++)
        values[i] = fw_line_of(job->scans[i].diameter_deg).angle_deg;
    c->diameters = count_distinct(values, job->nscans, FW_ANGLE_TOLERANCE_DEG);
    c->stations = count_distinct(values, stations_of(job, values), FW_POSITION_TOLERANCE_MM);
    fw_free(values);
    return fw_slips_find(job, &c->slips, &c->nslips, err);
}

static void print_json(const fw_job *job, const counts *c)
{
    fw_json json = {.out = stdout};
    fw_json_object(&json, NULL, FW_JSON_LINES);
    fw_json_text(&json, "format", "flatwright-check/1");
    fw_json_text(&json, "title", job->title);
    fw_json_array(&json, "flats", FW_JSON_INLINE);
    for (int i = 0; i < job->nflats; i++)
        fw_json_text(&json, NULL, job->flats[i].name);
    fw_json_close(&json);
    fw_json_integer(&json, "round", fw_job_round(job));
    fw_json_integer(&json, "readings", (long long)job->nreadings);
    fw_json_integer(&json, "skipped", (long long)job->nskipped);
    fw_json_integer(&json, "scans", (long long)job->nscans);
    fw_json_integer(&json, "rounds", (long long)c->rounds);
    fw_json_integer(&json, "diameters", (long long)c->diameters);
    fw_json_integer(&json, "stations", (long long)c->stations);
    fw_json_integer(&json, "work", (long long)job->nwork);
    fw_json_integer(&json, "sags", (long long)job->nsag);
    fw_json_array(&json, "slips", FW_JSON_LINES);
    for (size_t i = 0; i < c->nslips; i++) {
        const fw_slip *slip = &c->slips[i];
        fw_json_object(&json, NULL, FW_JSON_INLINE);
        fw_json_integer(&json, "line", job->readings[job->scans[slip->scan].first].line);
        fw_json_text(&json, "column", slip->turn ? "turn_deg" : "diameter_deg");
        fw_json_number(&json, "found", slip->typed_deg);
        fw_json_number(&json, "meant", slip->meant_deg);
        fw_json_close(&json);
    }
    fw_json_close(&json);
    fw_json_close(&json);
}

static void print_count(size_t n, const char *one, const char *many)
{
    printf("%zu %s", n, n == 1 ? one : many);
}

static void print_text(const fw_job *job, const counts *c)
{
    char shown[200];
    if (*job->title)
        printf("%s\n", fw_show(shown, sizeof shown, job->title));
    printf("flats    ");
    for (int i = 0; i < job->nflats; i++)
        printf(" %s", job->flats[i].name);
    printf("\nreadings  ");
    print_count(job->nreadings, "reading in ", "readings in ");
    print_count(job->nscans, "scan", "scans");
    if (job->nskipped > 0)
        printf(", %zu skipped", job->nskipped);
    printf("\n          ");
    print_count(c->diameters, "diameter, ", "diameters, ");
    print_count(c->stations, "station, ", "stations, ");
    print_count(c->rounds, "round", "rounds");
    printf("\nwork      ");
    print_count(job->nwork, "spell", "spells");
    if (job->nsag > 0) {
        printf("\nsag       ");
        print_count(job->nsag, "reading", "readings");
    }
    printf("\n");
    fw_screen screen = fw_screen_of(stdout);
    fw_slips_text(&screen, job, c->nslips, c->slips);
    printf("no faults; the set is in round %d\n", fw_job_round(job));
}

int cmd_check(int argc, char **argv)
{
    const char *folder = NULL;
    bool json = false;
    counts c = {0};
    fw_job *job = NULL;
    fw_error err = {FW_OK, ""};
    cli_args args = cli_start(&usage_check, argc, argv);
    for (int id; (id = cli_next(&args)) != CLI_END;) {
        if (id == CLI_STOP)
            return args.status;
        if (id == 'j')
            json = true;
        else
            folder = args.value;
    }
    cli_progress_begin("reading %s:", folder);
    int status = cli_load_all_told(folder, &job);
    cli_progress_end();
    if (status != FW_OK)
        return status;
    if (count(job, &c, &err) != FW_OK)
        status = cli_error(&err);
    else if (json)
        print_json(job, &c);
    else
        print_text(job, &c);
    fw_free(c.slips);
    fw_job_free(job);
    return status;
}
