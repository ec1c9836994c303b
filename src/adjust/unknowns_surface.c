/* unknowns_surface.c - what surfaces leave open: terms by their angular order, and the turn for it. */
#include <math.h>
#include <stdlib.h>

#include "candidates.h"
#include "finder.h"
#include "flatwright/alloc.h"
#include "surface.h"
#include "surface_angles.h"

static const double TOUCHED = 1e-6;

/* Angular orders told one by one; text is short. */
enum { LISTED = 12 };

/* What is open of one flat: per angular order m the cosine and the sine. */
typedef struct open_terms {
    bool any, blind; /* blind: pairs and turns, not stations, hide some of it */
    bool unseen;     /* stations hide some of it */
    int low, high;   /* orders n */
    bool part[2][FW_BASIS_ORDER_MAX + 1];
} open_terms;

static void mark(const surface *s, const surface_null *z, int face, open_terms *o)
{
    *o = (open_terms){.low = FW_BASIS_ORDER_MAX};
    for (int j = 0; j < z->n; j++) {
        struct fw_term t = s->terms.basis->terms[s->column[j].term];
        double square = 0;
        for (int k = 0; k < z->d && s->column[j].face == face; k++)
            square += pow(z->v[(size_t)j + (size_t)k * (size_t)z->n], 2);
        if (sqrt(square) <= TOUCHED)
            continue;
        o->any = true;
        o->part[t.m < 0][abs(t.m)] = true;
        o->low = t.n < o->low ? t.n : o->low;
        o->high = t.n > o->high ? t.n : o->high;
    }
}

/* Is what is open of the flat hidden by pairs and turns, or by too few diameters? */
static fw_status find_cause(const finder *f, int face, open_terms *o, fw_error *err)
{
    fw_status status = FW_OK;
    for (int m = 0; m <= o->high && o->any && !status; m++) {
        double *null = NULL;
        int d = 0, n = 2 * f->a->net->nfaces;
        if (!o->part[0][m] && !o->part[1][m])
            continue;
        status = surface_angles(f->a->net, m, NULL, NULL, &null, &d, err);
        for (int part = 0; part < 2 && !status; part++) {
            bool blind = false;
            for (int k = 0; k < d; k++)
                blind = blind || fabs(null[2 * face + part + k * n]) > TOUCHED;
            o->blind = o->blind || blind;
            o->unseen = o->unseen || (o->part[part][m] && !blind);
        }
        fw_free(null);
    }
    return status;
}

static bool same(const open_terms *a, const open_terms *b)
{
    bool equal = a->any == b->any && a->blind == b->blind && a->unseen == b->unseen &&
                 a->low == b->low && a->high == b->high;
    for (int m = 0; m <= FW_BASIS_ORDER_MAX && equal; m++)
        equal = a->part[0][m] == b->part[0][m] && a->part[1][m] == b->part[1][m];
    return equal;
}

/* "sine terms of 1, 2 and 3 theta", "cosine terms of 4 theta". */
static int put_part(const bool *part, const char *name, bool more, char *text, size_t size)
{
    int n = 0, said = 0;
    for (int m = 0; m <= FW_BASIS_ORDER_MAX; m++)
        n += part[m];
    if (!n)
        return 0;
    finder_append(text, size, "%s%s terms of ", more ? " and the " : "", name);
    for (int m = 0; m <= FW_BASIS_ORDER_MAX && said < LISTED; m++)
        if (part[m]) {
            said++;
            finder_append(text, size, "%s%d",
                          said == 1                ? ""
                          : said == n              ? " and "
                                                   : ", ",
                          m);
        }
    if (n > said)
        finder_append(text, size, " and %d more multiples of", n - said);
    finder_append(text, size, " theta");
    return n;
}

static void describe(const finder *f, const open_terms *o, int n, const int *flats, char *text,
                     size_t size)
{
    finder_append(text, size, "Of ");
    finder_flats(f, text, size, n, flats);
    finder_append(text, size, " the ");
    int sines = put_part(o->part[1], "sine", false, text, size);
    put_part(o->part[0], "cosine", sines > 0, text, size);
    if (o->low == o->high)
        finder_append(text, size, ", order %d,", o->low);
    else
        finder_append(text, size, ", orders %d to %d,", o->low, o->high);
    if (!o->blind) {
        finder_append(text, size,
                      " are not shown by the diameters read; read more of them, at other angles");
        return;
    }
    if (n > 1 && !o->unseen)
        finder_append(text, size, " as far as they are common to these flats,");
    finder_append(text, size, " change no reading and are not known");
    finder_remedy(f, text, size);
    if (o->unseen)
        finder_append(text, size, "; some lie across the diameters read, and want others");
}

/* How many terms pairs and turns leave open up to an order, with one more pairing. */
static fw_status count_blind(const fw_net *net, int highest, const surface_pairing *more, int *out,
                             fw_error *err)
{
    fw_status status = FW_OK;
    *out = 0;
    for (int m = 0; m <= highest && !status; m++) {
        int d = 0, least = m < 2 ? m + 2 : m;
        status = surface_angles(net, m, NULL, more, NULL, &d, err);
        *out += d * ((highest - least + 2) / 2); /* orders least, least + 2 ... highest; maybe none */
    }
    return status;
}

/* The pairing of today's faces that leaves least; of equals the first. */
static fw_status find_remedy(finder *f, fw_error *err)
{
    const fw_job *job = f->result->job;
    candidates c = {0};
    int highest = f->a->surface->highest, before = 0;
    fw_status status = candidates_turns(f->a, &c, err);
    if (!status)
        status = count_blind(f->a->net, highest, NULL, &before, err);
    f->best = (remedy){.left = before};
    for (int t = 0; t < c.nturns && !status && before; t++)
        for (int b = 0; b < job->nflats && !status; b++)
            for (int p = 0; p < job->nflats && !status; p++) {
                surface_pairing more = {{f->face[b], f->face[p]}, c.turns_deg[t]};
                int left;
                if (b == p || more.face[0] < 0 || more.face[1] < 0)
                    continue;
                status = count_blind(f->a->net, highest, &more, &left, err);
                if (!status && left < f->best.left)
                    f->best = (remedy){true, b, p, c.turns_deg[t], left};
            }
    candidates_release(&c);
    return status;
}

fw_status surface_open(finder *f, const bool *done, fw_error *err)
{
    const surface *s = f->a->surface;
    int nflats = f->result->job->nflats, n;
    surface_null z = {0};
    open_terms *open = fw_alloc((size_t)nflats, sizeof *open);
    int *flats = fw_alloc((size_t)nflats, sizeof *flats);
    fw_status status = open && flats ? surface_null_new(s, s->highest, &z, err)
                                     : fw_out_of_memory(err);
    for (int i = 0; i < nflats && !status; i++)
        if (f->face[i] >= 0 && !done[i]) {
            mark(s, &z, f->face[i], &open[i]);
            status = find_cause(f, f->face[i], &open[i], err);
        }
    if (!status)
        status = find_remedy(f, err);
    for (int i = 0; i < nflats && !status; i++) {
        fw_unknown *u;
        open_terms like = open[i];
        if (!like.any)
            continue;
        n = 0;
        for (int k = i; k < nflats; k++)
            if (same(&open[k], &like)) {
                flats[n++] = k;
                open[k].any = false;
            }
        if (!(status = finder_add(f, n, flats, 0, NULL, &u, err)))
            describe(f, &like, n, flats, u->text, sizeof u->text);
    }
    surface_null_release(&z);
    fw_free(open);
    fw_free(flats);
    return status;
}
