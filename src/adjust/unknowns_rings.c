/* unknowns_rings.c - what rings leave open: parts of diameters, stations, diameters that float. */
#include <math.h>

#include "finder.h"
#include "flatwright/alloc.h"
#include "spread.h"

static const double TOUCHED = 1e-6;

/* What is undetermined of one flat on one of the net's lines. */
typedef struct gap {
    bool even, odd;  /* a part that rings leave open */
    int open, rings; /* of its rings: open, all */
} gap;

/* Marks the open parts of one class's rings for one flat. */
static void mark_class(finder *f, int flat, const net_class *class, const class_spread *s)
{
    gap *gaps = f->gaps + (size_t)flat * f->a->net->nangles;
    for (int i = 0; i < s->n; i++) {
        if (s->angle[i] < 0)
            continue;
        gap *g = &gaps[s->angle[i]];
        bool paired = i + 1 < s->n && s->angle[i + 1] == s->angle[i];
        bool even = false, odd = false;
        for (int q = 0; q < s->nnull; q++) {
            double plus = s->null[i + (size_t)q * s->n],
                   minus = paired ? s->null[i + 1 + (size_t)q * s->n] : 0;
            even = even || fabs(plus + minus) > TOUCHED;
            odd = odd || fabs(plus - minus) > TOUCHED;
        }
        g->rings += class->nrings;
        g->open += even || odd ? class->nrings : 0;
        g->even = g->even || even;
        g->odd = g->odd || odd;
        i += paired;
    }
}

static fw_status mark_gaps(finder *f, fw_error *err)
{
    for (int flat = 0; flat < f->result->job->nflats; flat++)
        for (int c = 0; c < f->a->net->nclasses && f->face[flat] >= 0; c++) {
            class_spread s = {0};
            fw_status status = class_spread_new(f->a, c, (contrast){f->face[flat], -1}, SPREAD_TERMS,
                                                &s, err);
            if (status)
                return status;
            mark_class(f, flat, &f->a->net->classes[c], &s);
            class_spread_release(&s);
        }
    return FW_OK;
}

/* What kind of gap a diameter has; 0: none. */
static int kind_of(const finder *f, int flat, int angle)
{
    const gap *g = &f->gaps[(size_t)flat * f->a->net->nangles + angle];
    if (!g->open)
        return 0;
    return 2 * g->open < g->rings ? 4 : (g->even ? 1 : 0) + (g->odd ? 2 : 0);
}

static bool same_gaps(const finder *f, int a, int b, int kind)
{
    for (int k = 0; k < f->a->net->nangles; k++)
        if ((kind_of(f, a, k) == kind) != (kind_of(f, b, k) == kind))
            return false;
    return true;
}

/* Stations so apart that no ring is closed anywhere. */
static bool never_meet(const finder *f, int flat)
{
    for (int k = 0; k < f->a->net->nangles; k++) {
        const gap *g = &f->gaps[(size_t)flat * f->a->net->nangles + k];
        if (g->open < g->rings)
            return false;
    }
    return true;
}

static void describe_gap(const finder *f, int kind, int nflats, const int *flats, int n,
                         const double *angles, char *text, size_t size)
{
    static const char *const part[] = {"", "the even part (both sides alike)",
                                       "the odd part (one side up, the other down)", "the shape"};
    if (kind == 4) {
        finder_append(text, size, "Some stations of ");
        finder_flats(f, text, size, nflats, flats);
        finder_append(text, size, " on ");
        finder_angles(text, size, n, angles);
        finder_append(text, size, " were read in too few pairings to be told; read the missing ones");
        return;
    }
    finder_append(text, size, "On ");
    finder_angles(text, size, n, angles);
    finder_append(text, size, " %s ", part[kind]);
    finder_append(text, size, nflats > 1 ? "that is common to " : "of ");
    finder_flats(f, text, size, nflats, flats);
    finder_append(text, size, nflats > 1 ? " changes no reading and is not known" : " is not known");
    finder_remedy(f, text, size);
}

/* One entry for all flats that miss the same part on the same diameters. */
static fw_status name_gaps(finder *f, int kind, const bool *done, fw_error *err)
{
    const fw_job *job = f->result->job;
    const fw_net *net = f->a->net;
    fw_status status = FW_OK;
    int *flats = fw_alloc(job->nflats, sizeof *flats);
    double *angles = fw_alloc(net->nangles, sizeof *angles);
    bool *named = fw_alloc(job->nflats, sizeof *named);
    if (!flats || !angles || !named)
        status = fw_out_of_memory(err);
    for (int first = 0; first < job->nflats && !status; first++) {
        int n = 0, nangles = 0;
        fw_unknown *u;
        if (f->face[first] < 0 || done[first] || named[first])
            continue;
        for (int k = 0; k < net->nangles; k++)
            if (kind_of(f, first, k) == kind)
                angles[nangles++] = net->angles_deg[k];
        if (!nangles)
            continue;
        for (int flat = first; flat < job->nflats; flat++)
            if (f->face[flat] >= 0 && !done[flat] && !named[flat] &&
                same_gaps(f, first, flat, kind)) {
                flats[n++] = flat;
                named[flat] = true;
            }
        if ((status = finder_add(f, n, flats, nangles, angles, &u, err)))
            break;
        if (never_meet(f, first)) {
            finder_append(u->text, sizeof u->text, "The stations of ");
            finder_flats(f, u->text, sizeof u->text, n, flats);
            finder_append(u->text, sizeof u->text,
                   " never meet: no distance from the centre was read in all three pairs; "
                   "read every scan at the same distances");
        } else
            describe_gap(f, kind, n, flats, nangles, angles, u->text, sizeof u->text);
    }
    fw_free(flats);
    fw_free(angles);
    fw_free(named);
    return status;
}

/* Diameters whose rings are all closed but that float against the rest, or hold too few stations. */
static fw_status name_floating(finder *f, const bool *done, fw_error *err)
{
    const fw_job *job = f->result->job;
    const fw_net *net = f->a->net;
    double *angles = fw_alloc(net->nangles, sizeof *angles);
    fw_status status = angles ? FW_OK : fw_out_of_memory(err);
    for (int flat = 0; flat < job->nflats && !status; flat++) {
        const fw_profile *p = &f->result->faces[f->result->today[flat]].profile;
        int n = 0, diameter = 0;
        bool gaps = false;
        fw_unknown *u;
        for (int k = 0; k < net->nangles; k++)
            gaps = gaps || kind_of(f, flat, k) != 0;
        for (; diameter < p->ndiameters; diameter++)
            if (!p->diameters[diameter].determined)
                angles[n++] = p->diameters[diameter].angle_deg;
        if (f->face[flat] < 0 || done[flat] || gaps || !n ||
            (status = finder_add(f, 1, &flat, n, angles, &u, err)))
            continue;
        finder_append(u->text, sizeof u->text, "%s on ", job->flats[flat].name);
        finder_angles(u->text, sizeof u->text, n, angles);
        finder_append(u->text, sizeof u->text,
               " is not tied to its other diameters; read the centre and more common stations in "
               "every scan");
    }
    fw_free(angles);
    return status;
}

fw_status rings_open(finder *f, const bool *done, fw_error *err)
{
    fw_status status;
    f->gaps = fw_alloc((size_t)f->result->job->nflats * (size_t)f->a->net->nangles,
                       sizeof *f->gaps);
    if (!f->gaps)
        return fw_out_of_memory(err);
    if (!(status = mark_gaps(f, err)) && !(status = remedy_find(f->a, f->face, &f->best, err)))
        for (int kind = 4; kind-- > 0 && !status;) /* the whole shape first, single stations last */
            status = name_gaps(f, kind == 0 ? 4 : kind, done, err);
    if (!status)
        status = name_floating(f, done, err);
    fw_free(f->gaps);
    f->gaps = NULL;
    return status;
}
