/* bench_notes.c - the bench in words: what is not counted, and where its limits stand in the way. */
#include "bench_notes.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

/* A bending solved for counts as unlike theory beyond so many standard uncertainties. */
static const double UNLIKE = 3;
/* Part of the gap at which fringes are gone that is cautioned about. */
static const double FAINT = 0.5;
/* Characters of names, after which it is "and others". */
enum { NAMES = 40 };

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

static bool supported(const fw_job *job)
{
    return job->support_bottom.kind || job->support_top.kind;
}

/* What can be true of a flat, and is said of all such at once. */
typedef bool of_flat(const fw_job *job, const fw_bench_flat *b);

static bool unreckoned(const fw_job *job, const fw_bench_flat *b)
{
    return supported(job) && isnan(b->ring_nm);
}

static bool ignored(const fw_job *job, const fw_bench_flat *b)
{
    return supported(job) && !isnan(b->ring_nm) && !b->counted;
}

static bool thick(const fw_job *job, const fw_bench_flat *b)
{
    return supported(job) && b->counted && b->thick;
}

static bool untold(const fw_job *job, const fw_bench_flat *b)
{
    return job->bending == FW_BENDING_SOLVE && b->counted && !b->solved;
}

static bool unwarmed(const fw_job *job, const fw_bench_flat *b)
{
    return !isnan(job->gradient_k) && isnan(b->bow_nm);
}

/* "A, B and others: text"; nothing when it is true of none. */
static void say_of(list *l, const fw_result *r, of_flat *is, const char *text)
{
    char names[NAMES + 64] = "";
    for (int f = 0; f < r->job->nflats; f++) {
        size_t used = strlen(names);
        if (!is(r->job, &r->bench.flats[f]))
            continue;
        if (used > NAMES) {
            snprintf(names + used, sizeof names - used, " and others");
            break;
        }
        snprintf(names + used, sizeof names - used, "%s%s", used ? ", " : "", r->job->flats[f].name);
    }
    if (*names)
        say(l, "%s: %s", names, text);
}

static void say_unlike(list *l, const fw_flat *f, const fw_bench_flat *b)
{
    if (b->solved && fabs(b->factor - 1) > UNLIKE * hypot(b->factor_u, FW_PLATE_RELATIVE))
        say(l, "%s: its bending comes out as %.2f +- %.2f of what plate theory says: look at its "
               "thickness, its glass and what carries it", f->name, b->factor, b->factor_u);
}

int bench_notes(const fw_result *r, bench_text *text)
{
    const fw_job *job = r->job;
    const fw_bench *bench = &r->bench;
    list l = {0, text};
    say_of(&l, r, unreckoned, "without thickness and glass the bending cannot be reckoned, and is not "
                              "counted");
    say_of(&l, r, ignored, "bending is ignored, as job.ini asks");
    say_of(&l, r, thick, "thickness over diameter is above 1/8, where plate theory leaves out what shear "
                         "adds: that is counted as uncertainty");
    say_of(&l, r, untold, "no reading tells the bending from the figure, so plate theory is taken off; "
                          "read pairs with bottom and top exchanged as well");
    for (int f = 0; f < job->nflats; f++)
        say_unlike(&l, &job->flats[f], &bench->flats[f]);
    say_of(&l, r, unwarmed, "without thickness and the glass's expansion the bow by warmth is not counted");
    if (job->bending != FW_BENDING_IGNORE && !job->support_bottom.kind != !job->support_top.kind)
        say(&l, "%s is not given: what flats bend in that place is not counted",
            job->support_top.kind ? "support_bottom" : "support_top");
    if (job->gap_um > FAINT * bench->contrast_um)
        say(&l, "over a gap of %.3g um the fringes of %s are faint: at %.3g um they are gone",
            job->gap_um, job->light.source, bench->contrast_um);
    return l.n;
}
