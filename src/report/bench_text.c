/* bench_text.c - what support, warmth and view do to every flat, in words. */
#include <math.h>

#include "report/words.h"

/* "41 nm as bottom, 3.2 nm as top". */
static void put_sags(fw_screen *screen, const fw_bench_flat *b)
{
    static const char *const places[] = {"bottom", "top"};
    bool before = false;
    for (int place = 0; place < 2; place++)
        if (!isnan(b->sag_nm[place])) {
            fw_screen_put(screen, "%s%.2g" FW_BLANK "nm as %s", before ? ", " : "",
                          b->sag_nm[place], places[place]);
            before = true;
        }
}

static void put_bending(fw_screen *screen, const fw_job *job, const fw_bench_flat *b)
{
    fw_screen_put(screen, "sinks under its own weight by ");
    put_sags(screen, b);
    if (!b->counted)
        fw_screen_put(screen, " (ignored)");
    else if (b->solved)
        fw_screen_put(screen, "; the readings say %.2f " FW_PM " %.2f of that, which is taken off",
                      b->factor, b->factor_u);
    else
        fw_screen_put(screen, " by plate theory, taken off%s",
                      job->bending == FW_BENDING_SOLVE ? " (the readings do not tell it)" : "");
    fw_screen_put(screen, " (least: %.2g" FW_BLANK "nm on a ring of %.0f" FW_BLANK "mm radius, "
                          "%.2g" FW_BLANK "nm on three points at %.0f" FW_BLANK "mm). ",
                  b->ring_nm, b->ring_mm, b->points_nm, b->points_mm);
}

static void put_warmth(fw_screen *screen, const fw_job *job, const fw_bench_flat *b)
{
    fw_screen_put(screen, "Warmth: %.2g" FW_BLANK "K from front to back costs %.2g" FW_BLANK
                          "nm of power; the target allows %.2g" FW_BLANK "K",
                  job->gradient_k, b->bow_nm, b->allowed_k);
    if (b->wait_s > 0)
        fw_screen_put(screen, ": wait %.0f minutes", ceil(b->wait_s / 60));
    fw_screen_put(screen, ".");
}

void words_bench(fw_screen *screen, const fw_result *result)
{
    const fw_job *job = result->job;
    const fw_bench *bench = &result->bench;
    if (!bench->any)
        return;
    fw_screen_say(screen, 0, 0, FW_BOLD "Bench." FW_PLAIN);
    for (int f = 0; f < job->nflats; f++) {
        const fw_bench_flat *b = &bench->flats[f];
        bool bends = !isnan(b->sag_nm[0]) || !isnan(b->sag_nm[1]);
        if (!bends && isnan(b->bow_nm))
            continue;
        fw_screen_begin(screen, 2, 4);
        fw_screen_put(screen, "- ");
        fw_screen_text(screen, job->flats[f].name);
        fw_screen_put(screen, ": ");
        if (bends)
            put_bending(screen, job, b);
        if (!isnan(b->bow_nm))
            put_warmth(screen, job, b);
        fw_screen_end(screen);
    }
    if (!isnan(bench->rise_nm))
        fw_screen_say(screen, 2, 4, "- View: the false rise at the edge, %.2g" FW_BLANK "nm, is taken "
                                    "off; a fifth of it stays as uncertainty.", bench->rise_nm);
}
