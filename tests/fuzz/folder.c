/* folder.c - a whole folder of any bytes: read, solved, advised, looked back over, printed. */
#define _XOPEN_SOURCE 700
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "flatwright/advice.h"
#include "flatwright/report.h"
#include "flatwright/track.h"
#include "place.h"

enum { READINGS_MAX = 400, FLATS_MAX = 6 };

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size);

/* The four files stand one after the other, parted by lines of "@@". */
static void lay(const char *bytes, size_t size)
{
    static const char *const names[] = {"job.ini", "readings.csv", "work.csv", "sag.csv"};
    const char *at = bytes, *end = bytes + size;
    for (int i = 0; i < 4; i++) {
        const char *stop = at;
        while (stop && stop < end && (end - stop < 3 || memcmp(stop, "@@\n", 3) != 0)) {
            stop = memchr(stop, '\n', (size_t)(end - stop));
            stop = stop ? stop + 1 : end;
        }
        place_put(names[i], at && (at < end || i < 2) ? (size ? at : "") : NULL,
                  at ? (size_t)(stop - at) : 0);
        at = stop && stop < end ? stop + 3 : end;
    }
}

/* No number that is none in what programs read: JSON and CSV. */
static void check_numbers(const char *text)
{
    static const char *const bad[] = {": nan", ": -nan", ": inf", ": -inf", "[nan", "[inf",
                                      ",nan",  ",-nan",  ",inf,", ",-inf"};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++)
        if (strstr(text, bad[i])) {
            fprintf(stderr, "'%s' in\n%s\n", bad[i], text);
            abort();
        }
}

/* No control character gets to a screen but the end of a line. */
static void check_screen(const char *text)
{
    for (; *text; text++)
        if (((unsigned char)*text < ' ' && *text != '\n') || *text == 127)
            abort();
}

static void print_all(const fw_result *result, const fw_advice *advice, const fw_track *track)
{
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&text, &size);
    if (!out)
        abort();
    fw_solution_json(out, result, true);
    fw_solution_csv(out, result, true);
    if (advice)
        fw_advice_json(out, advice);
    if (track)
        fw_track_json(out, track);
    if (fclose(out) != 0)
        abort();
    check_numbers(text);
    free(text);

    out = open_memstream(&text, &size);
    fw_screen screen = {.out = out, .columns = 80};
    fw_solution_text(&screen, result);
    fw_summary_text(&screen, result);
    if (advice)
        fw_advice_text(&screen, advice);
    if (track)
        fw_track_text(&screen, track);
    if (fclose(out) != 0)
        abort();
    check_screen(text);
    free(text);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size)
{
    fw_result *result = NULL;
    fw_advice *advice = NULL;
    fw_track *track = NULL;
    fw_error err = {FW_OK, ""};
    lay((const char *)bytes, size);
    fw_job *job = place_read();
    if (job && job->nreadings <= READINGS_MAX && job->nflats <= FLATS_MAX) {
        fw_status status = fw_solve(job, NULL, &result, &err);
        if (!status) {
            fw_advise_options how = {0};
            status = fw_advise(result, &how, &advice, &err);
            if (!status)
                status = fw_track_new(result, &track, &err);
            print_all(result, advice, track);
        }
        if (status == FW_SYSTEM) { /* there is memory, and nothing is read: a defect of ours */
            fprintf(stderr, "%s\n", err.text);
            abort();
        }
    }
    fw_track_free(track);
    fw_advice_free(advice);
    fw_result_free(result);
    fw_job_free(job);
    return 0;
}
