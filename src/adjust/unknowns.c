/* unknowns.c - what the readings do not carry, in the trade's words, and what would show it. */
#include "unknowns.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "flatwright/alloc.h"
#include "finder.h"
#include "model.h"

void finder_append(char *text, size_t size, const char *format, ...)
{
    size_t used = strlen(text);
    va_list args;
    va_start(args, format);
    vsnprintf(text + used, size - used, format, args);
    va_end(args);
}

/* "A", "A and B", "A, B and C", "A, B and 5 more". */
void finder_flats(const finder *f, char *text, size_t size, int n, const int *flats)
{
    enum { MOST = 6 };
    int shown = n > MOST ? MOST - 1 : n;
    for (int i = 0; i < shown; i++)
        finder_append(text, size, "%s%s",
               i == 0                         ? ""
               : i == shown - 1 && n == shown ? " and "
                                              : ", ",
               f->result->job->flats[flats[i]].name);
    if (n > shown)
        finder_append(text, size, " and %d more", n - shown);
}

void finder_angles(char *text, size_t size, int n, const double *angles)
{
    enum { MOST = 8 };
    int shown = n > MOST ? MOST - 1 : n;
    for (int i = 0; i < shown; i++)
        finder_append(text, size, "%s%.6g",
               i == 0                         ? ""
               : i == shown - 1 && n == shown ? " and "
                                              : ", ",
               angles[i]);
    if (n > shown)
        finder_append(text, size, " and %d more", n - shown);
    finder_append(text, size, " deg");
}

fw_status finder_add(finder *f, int nflats, const int *flats, int ndiameters,
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

void finder_remedy(const finder *f, char *text, size_t size)
{
    const fw_job *job = f->result->job;
    if (f->best.found)
        finder_append(text, size, "; %s below, %s on top, turned %.6g deg, would show %s",
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
        fw_status status = finder_add(f, 1, &flat, 0, NULL, &u, err);
        if (status)
            return status;
        for (size_t i = 0; i < job->nwork; i++)
            if (job->work[i].flat == flat && job->work[i].round > last)
                last = job->work[i].round;
        if (last)
            finder_append(u->text, sizeof u->text,
                   "%s was worked after round %d and has not been read since",
                   job->flats[flat].name, last);
        else
            finder_append(u->text, sizeof u->text, "%s has not been read", job->flats[flat].name);
        finder_append(u->text, sizeof u->text,
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
                finder_append(text, size, "; %s against %s closes the ring of three and separates them",
                       job->flats[i].name, job->flats[k].name);
                return;
            }
    if (job->nflats < 3)
        finder_append(text, size, "; two flats alone cannot be told apart, a third is needed");
    else
        finder_append(text, size,
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
        if ((status = finder_add(f, n, flats, 0, NULL, &u, err)))
            break;
        finder_append(u->text, sizeof u->text, "Only %s ",
               n > 2   ? "sums of pairs of"
               : n > 1 ? "the sum of"
                       : "a sum with an earlier state of another flat is known of");
        finder_flats(f, u->text, sizeof u->text, n, flats);
        finder_append(u->text, sizeof u->text, "%s", n > 1 ? " is known" : "");
        append_third(f, root, u->text, sizeof u->text);
    }
    fw_free(flats);
    return status;
}

static void end_sentences(fw_result *r)
{
    for (int i = 0; i < r->nunknowns; i++)
        finder_append(r->unknowns[i].text, sizeof r->unknowns[i].text, ".");
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
    if (!(status = name_unread(f, err)) && !(status = name_sums(f, done, err)))
        status = f->a->model->open(f, done, err);
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
    if (!f.face || !f.color || !f.root || !f.ring)
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
    return status;
}
