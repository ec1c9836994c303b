/* bench_notes.c - the bench in words: what is not counted, and where its limits stand in the way. */
#include "bench_notes.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>

/* A bending solved for counts as unlike theory beyond so many standard uncertainties. */
static const double UNLIKE = 3;
/* Part of the gap at which fringes are gone that is cautioned about. */
static const double FAINT = 0.5;

typedef struct list {
    int n;
    bench_text *text;
} list;

static void say(list *l, const char *format, ...) __attribute__((format(printf, 2, 3)));

static void say(list *l, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    vsnprintf(l->text[l->n++], sizeof(bench_text), format, args);
    va_end(args);
}

static double sag_of(const fw_bench_flat *b)
{
    double low = isnan(b->sag_nm[0]) ? 0 : b->sag_nm[0];
    return isnan(b->sag_nm[1]) ? low : fmax(low, b->sag_nm[1]);
}

static void note_solved(list *l, const fw_flat *f, const fw_bench_flat *b)
{
    double off = fabs(b->factor - 1) / hypot(b->factor_u, FW_PLATE_RELATIVE);
    if (!b->solved)
        say(l, "%s: no reading tells its bending from its figure, so plate theory is taken off; read "
               "its pairs with bottom and top exchanged as well", f->name);
    else if (off > UNLIKE)
        say(l, "%s: its bending comes out as %.2f +- %.2f of what plate theory says: look at its "
               "thickness, its glass and what carries it", f->name, b->factor, b->factor_u);
}

static void note_bending(list *l, const fw_job *job, const fw_flat *f, const fw_bench_flat *b)
{
    bool supported = job->support_bottom.kind || job->support_top.kind;
    if (!supported)
        return;
    if (isnan(b->ring_nm))
        say(l, "%s: without thickness and glass its bending cannot be reckoned, and is not counted",
            f->name);
    else if (!b->counted)
        say(l, "%s: its bending, %.2g nm by plate theory, is ignored as job.ini asks", f->name,
            sag_of(b));
    else if (b->thick)
        say(l, "%s: thickness over diameter is %.2f; above 1/8 plate theory leaves out what shear adds: "
               "%.2g nm of it are counted as uncertainty",
            f->name, f->thickness_mm / f->diameter_mm, b->shear_nm);
    if (b->counted && job->bending == FW_BENDING_SOLVE)
        note_solved(l, f, b);
}

static void note_warmth(list *l, const fw_job *job, const fw_flat *f, const fw_bench_flat *b)
{
    if (!isnan(job->gradient_k) && isnan(b->bow_nm))
        say(l, "%s: without thickness and the glass's expansion its bow by warmth is not counted",
            f->name);
}

int bench_notes(const fw_result *r, bench_text *text)
{
    const fw_job *job = r->job;
    const fw_bench *bench = &r->bench;
    list l = {0, text};
    for (int f = 0; f < job->nflats; f++) {
        note_bending(&l, job, &job->flats[f], &bench->flats[f]);
        note_warmth(&l, job, &job->flats[f], &bench->flats[f]);
    }
    if (job->bending != FW_BENDING_IGNORE && !job->support_bottom.kind != !job->support_top.kind)
        say(&l, "%s is not given: what flats bend in that place is not counted",
            job->support_top.kind ? "support_bottom" : "support_top");
    if (job->gap_um > FAINT * bench->contrast_um)
        say(&l, "over a gap of %.3g um the fringes of %s are faint: at %.3g um they are gone",
            job->gap_um, job->light.source, bench->contrast_um);
    return l.n;
}
