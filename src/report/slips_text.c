/* slips_text.c - what looks mistyped, as questions. */
#include "flatwright/report.h"

void fw_slips_text(fw_screen *screen, const fw_job *job, size_t n, const fw_slip *slips)
{
    if (n > 0)
        fw_screen_say(screen, 0, 2, FW_BOLD "Worth a look:" FW_PLAIN " slips of the pen?");
    for (size_t i = 0; i < n; i++) {
        const fw_scan *scan = &job->scans[slips[i].scan];
        fw_screen_begin(screen, 2, 4);
        fw_screen_put(screen, "readings.csv:%d: ", job->readings[scan->first].line);
        fw_screen_text(screen, job->flats[scan->top].name);
        fw_screen_put(screen, " on ");
        fw_screen_text(screen, job->flats[scan->bottom].name);
        fw_screen_put(screen, ", %zu reading%s along %g" FW_BLANK "deg at turn %g: ", scan->count,
                      scan->count == 1 ? "" : "s", scan->diameter_deg, scan->turn_deg);
        fw_screen_put(screen, "is %s %g meant?", slips[i].turn ? "turn" : "diameter",
                      slips[i].meant_deg);
        fw_screen_end(screen);
    }
}
