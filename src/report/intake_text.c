/* intake_text.c - what was understood of a file of readings, before it is written. */
#include <math.h>
#include <string.h>

#include "flatwright/intake.h"

#define SCANS_SHOWN 40

static bool same_scan(const fw_entry *a, const fw_entry *b)
{
    return a->round == b->round && a->bottom == b->bottom && a->top == b->top &&
           a->turn_deg == b->turn_deg && a->diameter_deg == b->diameter_deg && a->unit == b->unit &&
           strcmp(a->label, b->label) == 0;
}

static void say_scan(fw_screen *screen, const fw_job *job, const fw_intake *in, size_t first)
{
    static const char *const units[] = {"nm", "um", "fringe", "wave"};
    const fw_entry *e = &in->entries[first];
    double low = INFINITY, high = -INFINITY, left = INFINITY, right = -INFINITY;
    size_t n = 0;
    for (size_t i = first; i < in->count; i++)
        if (same_scan(&in->entries[i], e)) {
            low = fmin(low, in->entries[i].deviation);
            high = fmax(high, in->entries[i].deviation);
            left = fmin(left, in->entries[i].position_mm);
            right = fmax(right, in->entries[i].position_mm);
            n++;
        }
    fw_screen_begin(screen, 2, 4);
    fw_screen_put(screen, "round %d, %s below, %s on top, turn %g, diameter %g", e->round,
                  job->flats[e->bottom].name, job->flats[e->top].name, e->turn_deg,
                  e->diameter_deg);
    if (*e->label) {
        fw_screen_put(screen, ", scan ");
        fw_screen_text(screen, e->label);
    }
    if (n == 1)
        fw_screen_put(screen, ": 1 reading at %g mm, %+.4g %s", left, low + 0.0, units[e->unit]);
    else
        fw_screen_put(screen, ": %zu readings from %g to %g mm, %+.4g to %+.4g %s", n, left, right,
                      low + 0.0, high + 0.0, units[e->unit]);
    fw_screen_end(screen);
}

/* The first entry of each scan is shown; scans need not stand together. */
static void say_scans(fw_screen *screen, const fw_job *job, const fw_intake *in)
{
    size_t first[SCANS_SHOWN], shown = 0, more = 0;
    for (size_t i = 0; i < in->count; i++) {
        size_t k = 0;
        while (k < shown && !same_scan(&in->entries[first[k]], &in->entries[i]))
            k++;
        if (k < shown)
            continue;
        if (shown < SCANS_SHOWN) {
            first[shown++] = i;
            say_scan(screen, job, in, i);
        } else
            more++;
    }
    if (more > 0)
        fw_screen_say(screen, 2, 4, "and %zu readings in other scans", more);
}

void fw_intake_text(fw_screen *screen, const fw_job *job, const fw_intake *in)
{
    const char *s = in->count == 1 ? "" : "s";
    if (in->sheet)
        fw_screen_say(screen, 0, 2, "A sheet, stations down and scans across, in %d block%s: %zu "
                      "reading%s.", in->nblocks, in->nblocks == 1 ? "" : "s", in->count, s);
    else
        fw_screen_say(screen, 0, 2, "A table, a row a reading: %zu reading%s.", in->count, s);
    say_scans(screen, job, in);
    if (in->nknown > 0)
        fw_screen_say(screen, 0, 2, "Left out: %zu that stand in the job already.", in->nknown);
    if (in->ntwice > 0)
        fw_screen_say(screen, 0, 2, "Left out: %zu that stand in the file twice.", in->ntwice);
    if (in->nskipped > 0)
        fw_screen_say(screen, 0, 2, "Left out: %zu with skip = 1.", in->nskipped);
    if (in->nsecond > 0)
        fw_screen_say(screen, 0, 2, "%zu are of places that have a reading with another value in "
                      "the same scan; both count.", in->nsecond);
    for (int i = 0; i < in->nunread && i < FW_UNREAD_LISTED; i++) {
        fw_screen_begin(screen, 0, 2);
        fw_screen_put(screen, "Not taken for data: ");
        fw_screen_text(screen, in->unread[i]);
        fw_screen_end(screen);
    }
    if (in->nunread > FW_UNREAD_LISTED)
        fw_screen_say(screen, 0, 2, "and %d more lines or columns", in->nunread - FW_UNREAD_LISTED);
}
