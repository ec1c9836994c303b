/* rehearse.c - the command `rehearse`: a measuring plan before any reading. */
#include <stdio.h>
#include <string.h>

#include "flatwright/alloc.h"
#include "flatwright/number.h"
#include "flatwright/rehearse.h"
#include "flatwright/show.h"

#include "cli/cli.h"
#include "cli/progress.h"
#include "cli/scheme.h"
#include "cli/solved.h"

static const cli_option options[] = {
    {'p', "pair", "BOTTOM:TOP...", "a pairing of the plan; as often as you like"},
    {'t', "turn", "DEG...", "turn of the top of the --pair before; once more: read it again so"},
    {'d', "diameters", "LIST", "how many, or their angles: 4, or 0,45,90,135"},
    {'s', "stations", "LIST", "how many on a diameter, or their positions in mm"},
    {'r', "repeats", "N", "read every --pair so many times"},
    {'u', "sigma", "SIGMA", "standard uncertainty of a reading: 2nm, 0.02fringe"},
    {'n', "seed", "SEED", "make up flats and their readings by the plan, to practise on"},
    {'o', "output", "FOLDER", "with --seed: lay them as a job there, not in JOB itself"},
    {'m', "model", "auto|profile|surface", "instead of what job.ini says"},
    {'j', "json", NULL, "print flatwright-rehearsal/1 instead of the screen"},
    {'w', "words", NULL, "words only"},
    {0, NULL, NULL, NULL}};

const cli_usage usage_rehearse = {
    "rehearse JOB [--pair BOTTOM:TOP [--turn DEG]...]... [--diameters LIST] [--stations LIST] "
    "[--repeats N] [--sigma SIGMA] [--seed SEED [-o FOLDER]] [--model MODEL] [--json] "
    "[--words]",
    "Tells how sure a measuring plan would be before any reading, and whether that is enough for "
    "the target. Without --pair it looks for the smallest plan that is. Of the job only job.ini is "
    "read. With --seed it makes up flats and reads them, into a job that has no readings.",
    options, 1, {"flatwright rehearse trio -p Ash:Birch -p Birch:Cedar -p Cedar:Ash -d 1 -s 9",
                 "flatwright rehearse trio -d 4 -s 9 --sigma 1nm --seed 7 -o practice"}};

typedef struct request {
    const char *folder, *seed, *practice;
    cli_scheme plan;
    bool json, words;
} request;

/* Reads the arguments; -1: go on, else the exit status. */
static int read_arguments(int argc, char **argv, request *asked)
{
    cli_args args = cli_start(&usage_rehearse, argc, argv);
    for (int id, status; (id = cli_next(&args)) != CLI_END;) {
        if (id == CLI_STOP)
            return args.status;
        if ((id == 'p' || id == 't') && (status = cli_scheme_take(&asked->plan, id, args.value)))
            return status;
        const char **value = id == CLI_OPERAND ? &asked->folder
                             : id == 'd'       ? &asked->plan.diameters
                             : id == 's'       ? &asked->plan.stations
                             : id == 'r'       ? &asked->plan.repeats
                             : id == 'u'       ? &asked->plan.sigma
                             : id == 'n'       ? &asked->seed
                             : id == 'o'       ? &asked->practice
                                               : NULL;
        if (value)
            *value = args.value;
        if (id == 'm')
            asked->plan.model = cli_model(args.value);
        asked->json = asked->json || id == 'j';
        asked->words = asked->words || id == 'w';
    }
    if (asked->practice && !asked->seed)
        return cli_usage_fault("--output takes made-up readings, and there is no --seed");
    return -1;
}

static void tell(void *context, int tried, size_t scans)
{
    (void)context;
    cli_progress("looking for a plan, %d tried, at %zu scans:", tried, scans);
}

/* What is not said of a plan with pairs: four diameters, nine stations. */
static int fill_in(const fw_job *job, fw_scheme *scheme)
{
    enum { DIAMETERS = 4, STATIONS = 9 };
    if (scheme->ndiameters == 0) {
        scheme->diameters_deg = fw_alloc(DIAMETERS, sizeof *scheme->diameters_deg);
        for (int i = 0; i < DIAMETERS && scheme->diameters_deg; i++)
            scheme->diameters_deg[i] = 180.0 * i / DIAMETERS;
        scheme->ndiameters = DIAMETERS;
    }
    if (scheme->nstations == 0) {
        scheme->stations_mm = fw_alloc(STATIONS, sizeof *scheme->stations_mm);
        if (scheme->stations_mm)
            scheme->nstations = fw_stations(job, STATIONS, scheme->stations_mm);
    }
    fw_error err;
    return scheme->diameters_deg && scheme->stations_mm ? 0
                                                        : (fw_out_of_memory(&err), cli_error(&err));
}

static int run(const fw_job *job, fw_scheme *scheme, fw_rehearsal **rehearsal)
{
    fw_error err;
    fw_status status;
    if (scheme->nmates > 0) {
        int filled = fill_in(job, scheme);
        if (filled)
            return filled;
        cli_progress_begin("rehearsing:");
        status = fw_rehearse(job, scheme, rehearsal, &err);
    } else {
        fw_wish wish = {.sigma_nm = scheme->sigma_nm,
                        .ndiameters = scheme->ndiameters,
                        .diameters_deg = scheme->diameters_deg,
                        .nstations = scheme->nstations,
                        .stations_mm = scheme->stations_mm,
                        .model = scheme->model,
                        .progress = tell};
        cli_progress_begin("looking for a plan:");
        status = fw_rehearse_search(job, &wish, rehearsal, &err);
    }
    cli_progress_end();
    return status ? cli_error(&err) : 0;
}

/* Made-up readings, by the plan just rehearsed. */
static int practise(const request *asked, const fw_rehearsal *rehearsal)
{
    char shown[500];
    const char *folder = asked->practice ? asked->practice : asked->folder;
    fw_error err;
    long seed = 0;
    fw_number_status fault = fw_integer_read(asked->seed, strlen(asked->seed), &seed);
    if (fault || seed < 0)
        return cli_usage_fault("--seed takes a whole number, 0 or above");
    fw_practised done;
    cli_progress_begin("making up readings:");
    fw_status made = fw_practice(rehearsal, (unsigned long)seed, asked->practice, &done, &err);
    cli_progress_end();
    if (made)
        return cli_error(&err);
    fw_show(shown, sizeof shown, folder);
    if (done.went_on)
        cli_tell("flatwright: added %zu invented readings of round %d to %s, renewed its truth.csv",
                 done.nreadings, done.round, shown);
    else {
        cli_tell("flatwright: laid invented readings in %s, the truth in %s/truth.csv", shown,
                 shown);
        cli_tell("next: flatwright %s; look at the truth when you have made up your mind", shown);
    }
    return 0;
}

int cmd_rehearse(int argc, char **argv)
{
    request asked = {0};
    fw_job *job = NULL;
    fw_scheme scheme = {0};
    fw_rehearsal *rehearsal = NULL;
    int status = read_arguments(argc, argv, &asked);
    if (status >= 0)
        goto done;
    if ((status = cli_load_set(asked.folder, &job)) ||
        (status = cli_scheme_read(&asked.plan, job, &scheme)) ||
        (status = run(job, &scheme, &rehearsal)) ||
        (asked.seed && (status = practise(&asked, rehearsal))))
        goto done;
    if (asked.json)
        fw_rehearsal_json(stdout, rehearsal);
    else {
        fw_screen screen = cli_screen(asked.words);
        fw_rehearsal_text(&screen, rehearsal);
    }
done:
    fw_rehearsal_free(rehearsal);
    cli_scheme_release(&scheme);
    fw_job_free(job);
    fw_free(asked.plan.mates);
    return status;
}
