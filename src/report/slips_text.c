/* slips_text.c - what looks mistyped, as questions. */
#include "flatwright/report.h"
#include "report/words.h"

void words_slip(fw_screen *screen, const fw_job *job, const fw_slip *slip)
{
    const fw_scan *scan = &job->scans[slip->scan];
    words_place(screen, job, "readings.csv", job->readings[scan->first].line);
    fw_screen_put(screen, ": ");
    fw_screen_text(screen, job->flats[scan->top].name);
    fw_screen_put(screen, " on ");
    fw_screen_text(screen, job->flats[scan->bottom].name);
    fw_screen_put(screen, ", %zu reading%s along %g" FW_BLANK "deg at turn %g: ", scan->count,
                  scan->count == 1 ? "" : "s", scan->diameter_deg, scan->turn_deg);
    fw_screen_put(screen, "is %s %g meant?", slip->turn ? "turn" : "diameter", slip->meant_deg);
}

void fw_slips_text(fw_screen *screen, const fw_job *job, size_t n, const fw_slip *slips)
{
    if (n > 0)
        fw_screen_say(screen, 0, 2, FW_BOLD "Worth a look:" FW_PLAIN " slips of the pen?");
    for (size_t i = 0; i < n; i++) {
        fw_screen_begin(screen, 2, 4);
        words_slip(screen, job, &slips[i]);
        fw_screen_end(screen);
    }
}
