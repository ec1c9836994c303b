/* unknowns.c - what the readings do not carry, in the trade's words, and what would show it. */
#include "unknowns.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "flatwright/alloc.h"
#include "remedy.h"
#include "spread.h"

static const double TOUCHED = 1e-6;

/* What is undetermined of one flat on one of the net's lines. */
typedef struct gap {
    bool even, odd;  /* a part that rings leave open */
    int open, rings; /* of its rings: open, all */
} gap;

typedef struct finder {
    adjustment *a;
    fw_result *result;
    int *face;  /* per flat: today's face in the net, -1: not read */
    int *color; /* per face of the net: side in the graph of pairings, 0 or 1 */
    int *root;  /* per face: its component */
    bool *ring; /* per component (root): three or more flats close a ring of odd length */
    gap *gaps;  /* flats x angles */
    remedy best;
} finder;

static void append(char *text, size_t size, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

static void append(char *text, size_t size, const char *format, ...)
{
    size_t used = strlen(text);
    va_list args;
    va_start(args, format);
    vsnprintf(text + used, size - used, format, args);
    va_end(args);
}

/* "A", "A and B", "A, B and C", "A, B and 5 more". */
static void append_flats(const finder *f, char *text, size_t size, int n, const int *flats)
{
    enum { MOST = 6 };
    int shown = n > MOST ? MOST - 1 : n;
    for (int i = 0; i < shown; i++)
        append(text, size, "%s%s",
               i == 0                         ? ""
               : i == shown - 1 && n == shown ? " and "
                                              : ", ",
               f->result->job->flats[flats[i]].name);
    if (n > shown)
        append(text, size, " and %d more", n - shown);
}

static void append_angles(char *text, size_t size, int n, const double *angles)
{
    enum { MOST = 8 };
    int shown = n > MOST ? MOST - 1 : n;
    for (int i = 0; i < shown; i++)
        append(text, size, "%s%.6g",
               i == 0                         ? ""
               : i == shown - 1 && n == shown ? " and "
                                              : ", ",
               angles[i]);
    if (n > shown)
        append(text, size, " and %d more", n - shown);
    append(text, size, " deg");
}

static fw_status add_unknown(finder *f, int nflats, const int *flats, int ndiameters,
                             const double *diameters, fw_unknown **out, fw_error *err)
{
    fw_result *r = f->result;
    fw_unknown *list = fw_resize(r->unknowns, (size_t)r->nunknowns + 1, sizeof *list);
    if (!list)
        return fw_out_of_memory(err);
    r->unknowns = list;
    fw_unknown *u = &list[r->nunknowns];
    *u = (fw_unknown){.nflats = nflats, .ndiameters = ndiameters};
    u->flats = fw_alloc(nflats, sizeof *u->flats);
    u->diameters_deg = fw_alloc(ndiameters, sizeof *u->diameters_deg);
    r->nunknowns++;
    if (!u->flats || !u->diameters_deg)
        return fw_out_of_memory(err);
    for (int i = 0; i < nflats; i++)
        u->flats[i] = flats[i];
    for (int i = 0; i < ndiameters; i++)
        u->diameters_deg[i] = diameters[i];
    *out = u;
    return FW_OK;
}

static int root_of(finder *f, int face)
{
    while (f->root[face] != face)
        face = f->root[face];
    return face;
}

/* Colour of a face relative to its root. */
static int color_of(finder *f, int face)
{
    int color = 0;
    for (; f->root[face] != face; face = f->root[face])
        color ^= f->color[face];
    return color ^ f->color[face];
}

/* Which faces are bound together, and whether a ring of three (of any odd number) is among the pairs. */
static void bind_faces(finder *f)
{
    const fw_net *net = f->a->net;
    for (int i = 0; i < net->nfaces; i++)
        f->root[i] = i;
    for (int i = 0; i < net->nscans; i++) {
        const net_scan *s = &net->scans[i];
        if (s->piston < 0)
            continue;
        int a = root_of(f, s->face[0]), b = root_of(f, s->face[1]);
        int same = color_of(f, s->face[0]) == color_of(f, s->face[1]);
        if (a == b)
            f->ring[a] = f->ring[a] || same;
        else {
            f->root[b] = a;
            f->color[b] ^= same;
            f->ring[a] = f->ring[a] || f->ring[b];
        }
    }
}

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
            fw_status status = class_spread_new(f->a, c, (contrast){f->face[flat], -1}, &s, err);
            if (status)
                return status;
            mark_class(f, flat, &f->a->net->classes[c], &s);
            class_spread_release(&s);
        }
    return FW_OK;
}

static void append_remedy(const finder *f, char *text, size_t size)
{
    const fw_job *job = f->result->job;
    if (f->best.found)
        append(text, size, "; %s below, %s on top, turned %.6g deg, would show %s",
               job->flats[f->best.bottom].name, job->flats[f->best.top].name, f->best.turn_deg,
               f->best.left ? "most of it" : "it");
}

/* Flats that were not read since they were last worked, or never. */
static fw_status name_unread(finder *f, fw_error *err)
{
    const fw_job *job = f->result->job;
    for (int flat = 0; flat < job->nflats; flat++) {
        fw_unknown *u;
        int last = 0;
        if (f->face[flat] >= 0)
            continue;
        fw_status status = add_unknown(f, 1, &flat, 0, NULL, &u, err);
        if (status)
            return status;
        for (size_t i = 0; i < job->nwork; i++)
            if (job->work[i].flat == flat && job->work[i].round > last)
                last = job->work[i].round;
        if (last)
            append(u->text, sizeof u->text,
                   "%s was worked after round %d and has not been read since",
                   job->flats[flat].name, last);
        else
            append(u->text, sizeof u->text, "%s has not been read", job->flats[flat].name);
        append(u->text, sizeof u->text,
               "; read it against two flats that are paired with each other");
    }
    return FW_OK;
}

/* The pairing that turns sums into flats: two flats on the same side of the graph, or a third flat. */
static void append_third(finder *f, int root, char *text, size_t size)
{
    const fw_job *job = f->result->job;
    for (int i = 0; i < job->nflats; i++)
        for (int k = i + 1; k < job->nflats; k++)
            if (f->face[i] >= 0 && f->face[k] >= 0 && root_of(f, f->face[i]) == root &&
                root_of(f, f->face[k]) == root &&
                color_of(f, f->face[i]) == color_of(f, f->face[k])) {
                append(text, size, "; %s against %s closes the ring of three and separates them",
                       job->flats[i].name, job->flats[k].name);
                return;
            }
    if (job->nflats < 3)
        append(text, size, "; two flats alone cannot be told apart, a third is needed");
    else
        append(text, size,
               "; read each of them against a third flat as well: three pairs close the ring");
}

/* Flats of which only sums are known. */
static fw_status name_sums(finder *f, bool *named, fw_error *err)
{
    const fw_job *job = f->result->job;
    fw_status status = FW_OK;
    int *flats = fw_alloc(job->nflats, sizeof *flats);
    if (!flats)
        return fw_out_of_memory(err);
    for (int first = 0; first < job->nflats && !status; first++) {
        int n = 0, root = f->face[first] < 0 ? -1 : root_of(f, f->face[first]);
        fw_unknown *u;
        if (root < 0 || f->ring[root] || named[first])
            continue;
        for (int flat = first; flat < job->nflats; flat++)
            if (f->face[flat] >= 0 && root_of(f, f->face[flat]) == root) {
                flats[n++] = flat;
                named[flat] = true;
            }
        if ((status = add_unknown(f, n, flats, 0, NULL, &u, err)))
            break;
        append(u->text, sizeof u->text, "Only %s ",
               n > 2   ? "sums of pairs of"
               : n > 1 ? "the sum of"
                       : "a sum with an earlier state of another flat is known of");
        append_flats(f, u->text, sizeof u->text, n, flats);
        append(u->text, sizeof u->text, "%s", n > 1 ? " is known" : "");
        append_third(f, root, u->text, sizeof u->text);
    }
    fw_free(flats);
    return status;
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
        append(text, size, "Some stations of ");
        append_flats(f, text, size, nflats, flats);
        append(text, size, " on ");
        append_angles(text, size, n, angles);
        append(text, size, " were read in too few pairings to be told; read the missing ones");
        return;
    }
    append(text, size, "On ");
    append_angles(text, size, n, angles);
    append(text, size, " %s ", part[kind]);
    append(text, size, nflats > 1 ? "that is common to " : "of ");
    append_flats(f, text, size, nflats, flats);
    append(text, size, nflats > 1 ? " changes no reading and is not known" : " is not known");
    append_remedy(f, text, size);
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
        if ((status = add_unknown(f, n, flats, nangles, angles, &u, err)))
            break;
        if (never_meet(f, first)) {
            append(u->text, sizeof u->text, "The stations of ");
            append_flats(f, u->text, sizeof u->text, n, flats);
            append(u->text, sizeof u->text,
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
            (status = add_unknown(f, 1, &flat, n, angles, &u, err)))
            continue;
        append(u->text, sizeof u->text, "%s on ", job->flats[flat].name);
        append_angles(u->text, sizeof u->text, n, angles);
        append(u->text, sizeof u->text,
               " is not tied to its other diameters; read the centre and more common stations in "
               "every scan");
    }
    fw_free(angles);
    return status;
}

static void end_sentences(fw_result *r)
{
    for (int i = 0; i < r->nunknowns; i++)
        append(r->unknowns[i].text, sizeof r->unknowns[i].text, ".");
}

static bool all_determined(const fw_result *r)
{
    for (int flat = 0; flat < r->job->nflats; flat++)
        if (!r->faces[r->today[flat]].profile.determined)
            return false;
    return true;
}

static fw_status name_all(finder *f, fw_error *err)
{
    fw_status status;
    bool *done = fw_alloc(f->result->job->nflats, sizeof *done);
    if (!done)
        return fw_out_of_memory(err);
    bind_faces(f);
    if (!(status = mark_gaps(f, err)) && !(status = remedy_find(f->a, f->face, &f->best, err)) &&
        !(status = name_unread(f, err)) && !(status = name_sums(f, done, err)))
        for (int kind = 4; kind-- > 0 && !status;) /* the whole shape first, single stations last */
            status = name_gaps(f, kind == 0 ? 4 : kind, done, err);
    if (!status)
        status = name_floating(f, done, err);
    end_sentences(f->result);
    fw_free(done);
    return status;
}

fw_status unknowns_find(adjustment *a, fw_result *result, fw_error *err)
{
    finder f = {.a = a, .result = result};
    size_t nflats = (size_t)result->job->nflats, nfaces = (size_t)a->net->nfaces;
    fw_status status = FW_OK;
    if (all_determined(result))
        return FW_OK;
    f.face = fw_alloc(nflats, sizeof *f.face);
    f.color = fw_alloc(nfaces, sizeof *f.color);
    f.root = fw_alloc(nfaces, sizeof *f.root);
    f.ring = fw_alloc(nfaces, sizeof *f.ring);
    f.gaps = fw_alloc(nflats * (size_t)a->net->nangles, sizeof *f.gaps);
    if (!f.face || !f.color || !f.root || !f.ring || !f.gaps)
        status = fw_out_of_memory(err);
    for (size_t flat = 0; flat < nflats && !status; flat++) {
        const fw_face *today = &result->faces[result->today[flat]];
        f.face[flat] = -1;
        for (int i = 0; i < a->net->nfaces; i++)
            if (a->net->faces[i].flat == (int)flat && a->net->faces[i].state == today->state)
                f.face[flat] = i;
    }
    if (!status)
        status = name_all(&f, err);
    fw_free(f.face);
    fw_free(f.color);
    fw_free(f.root);
    fw_free(f.ring);
    fw_free(f.gaps);
    return status;
}
