/* waves_plan.c - was all read alike turned by one diameter? Lines and scans as combs of N. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "flatwright/alloc.h"
#include "flatwright/mating.h"
#include "outlook_cells.h"
#include "waves.h"

/* Diameters stand where even spacing puts them, but for what typing rounds off. */
static const double EVEN_DEG = FW_ANGLE_TOLERANCE_DEG / 5;
/* Combs are told apart where their lines are. */
static const double SAME_COMB_DEG = FW_ANGLE_TOLERANCE_DEG / 2;
/*
 * Mean square of the weights' differences, over that of their mean, that is let pass where each is a
 * mean over rings: uncertainties change in the second order, by a few times this, which is less than
 * what such means leave out.
 */
static const double UNEQUAL_MOST = 1e-3, UNEQUAL_ROUNDING = 1e-14;
/* Unknowns of a system that are still few. */
enum { UNKNOWNS_MOST = 400 };

/* How far a line stands behind the diameter before it; a little before one counts as there. */
static double over(const waves *w, double angle_deg)
{
    double at = (angle_deg - w->first_deg) / w->gap_deg;
    return (at - floor(at + EVEN_DEG / w->gap_deg)) * w->gap_deg;
}

static bool evenly_spaced(waves *w, const outlook *o)
{
    w->n = o->ndiameters;
    w->gap_deg = w->n ? 180.0 / w->n : 0;
    if (w->n < 2 || w->gap_deg <= 4 * FW_ANGLE_TOLERANCE_DEG)
        return false;
    w->first_deg = o->line_deg[o->diameter[0]];
    for (int k = 1; k < w->n; k++)
        w->first_deg = fmin(w->first_deg, o->line_deg[o->diameter[k]]);
    for (int k = 0; k < w->n; k++)
        if (fabs(over(w, o->line_deg[o->diameter[k]])) > EVEN_DEG)
            return false;
    return true;
}

static int comb_at(waves *w, double offset_deg)
{
    for (int k = 0; k < w->ncombs; k++)
        if (fabs(remainder(w->offset_deg[k] - offset_deg, w->gap_deg)) <= SAME_COMB_DEG)
            return k;
    w->offset_deg[w->ncombs] = offset_deg;
    return w->ncombs++;
}

/* Every comb is whole, and was read on all its lines alike. */
static fw_status find_combs(waves *w, const outlook *o, bool *even, fw_error *err)
{
    int *lines = fw_alloc(o->nlines, sizeof *lines);
    w->line = fw_alloc(o->nlines, sizeof *w->line);
    w->offset_deg = fw_alloc(o->nlines, sizeof *w->offset_deg);
    w->comb = fw_alloc(o->nlines, sizeof *w->comb);
    if (!lines || !w->line || !w->offset_deg || !w->comb) {
        fw_free(lines);
        return fw_out_of_memory(err);
    }
    comb_at(w, 0);
    for (int k = 0; k < o->nlines; k++) {
        w->comb[k] = comb_at(w, over(w, o->line_deg[k]));
        lines[w->comb[k]]++;
    }
    for (int k = 0; k < w->ncombs; k++)
        *even = *even && lines[k] == w->n;
    for (int k = 0; k < o->nlines; k++)
        w->line[w->comb[k]] = k;
    for (int f = 0; f < o->job->nflats; f++)
        for (int k = 0; k < o->nlines; k++) {
            size_t at = (size_t)f * o->nlines;
            size_t like = at + (size_t)w->line[w->comb[k]];
            at += (size_t)k;
            *even = *even && o->read[at] == o->read[like] && o->tied[at] == o->tied[like] &&
                    o->fresh[at] == o->fresh[like];
        }
    fw_free(lines);
    return FW_OK;
}

/* A turn puts lines of one comb over the diameters. */
static bool keeps_comb(const waves *w, const outlook *o, double turn_deg)
{
    int first = -1;
    for (int k = 0; k < w->n; k++) {
        double diameter = o->line_deg[o->diameter[k]];
        int line = outlook_line(o, fw_line_of_top(turn_deg, diameter).angle_deg);
        first = k ? first : w->comb[line];
        if (w->comb[line] != first)
            return false;
    }
    return true;
}

static int surface_of(const outlook *o, int face)
{
    const net_face *f = &o->a->net->faces[face];
    return o->today[f->flat].state == f->state ? f->flat : o->job->nflats + face;
}

/* A read from a line and its sense on the bottom, and those of the top that lie there. */
static wave_read read_at(const waves *w, const int line[2], const int flip[2])
{
    const outlook *o = w->o;
    wave_read r = {.comb = w->comb[line[1]]};
    double turn = -2 * w->first_deg - w->offset_deg[r.comb];
    for (int side = 0; side < 2; side++)
        turn += o->line_deg[line[side]] + (flip[side] < 0 ? 180 : 0);
    int shift = (int)lround(turn / w->gap_deg) % (2 * w->n);
    r.shift = shift < 0 ? shift + 2 * w->n : shift;
    return r;
}

wave_read waves_read_of(const waves *w, const setup *p)
{
    const int line[2] = {w->o->diameter[0], p->line[0]}, flip[2] = {1, p->flip[0]};
    wave_read r = read_at(w, line, flip);
    r.surface[0] = p->bottom;
    r.surface[1] = p->top;
    return r;
}

typedef struct placed {
    wave_read read;
    int line, again, scan; /* again: how often the line was read so before */
} placed;

static int compare_reads(const wave_read *x, const wave_read *y)
{
    const int a[] = {x->surface[0], x->surface[1], x->comb, x->shift, x->term};
    const int b[] = {y->surface[0], y->surface[1], y->comb, y->shift, y->term};
    for (int i = 0; i < 5; i++)
        if (a[i] != b[i])
            return a[i] < b[i] ? -1 : 1;
    return 0;
}

static int by_line(const void *a, const void *b)
{
    const placed *x = a, *y = b;
    int order = compare_reads(&x->read, &y->read);
    return order                ? order
           : x->line != y->line ? (x->line > y->line) - (x->line < y->line)
                                : (x->scan > y->scan) - (x->scan < y->scan);
}

static int by_repeat(const void *a, const void *b)
{
    const placed *x = a, *y = b;
    int order = compare_reads(&x->read, &y->read);
    return order                  ? order
           : x->again != y->again ? (x->again > y->again) - (x->again < y->again)
                                  : (x->line > y->line) - (x->line < y->line);
}

static int place_scans(const waves *w, const int *line, placed *list)
{
    const outlook *o = w->o;
    const fw_net *net = o->a->net;
    int n = 0;
    for (int i = 0; i < net->nscans; i++) {
        const net_scan *s = &net->scans[i];
        if (s->piston < 0)
            continue;
        const int at[2] = {line[s->angle[0]], line[s->angle[1]]};
        const int flip[2] = {s->flip[0], s->flip[1]};
        placed *p = &list[n++];
        *p = (placed){.read = read_at(w, at, flip), .line = at[0], .scan = i};
        for (int side = 0; side < 2; side++)
            p->read.surface[side] = surface_of(o, s->face[side]);
        p->read.term = o->plane ? s->piston : 0;
    }
    return n;
}

/* The sorted scans fall into reads of N. */
static void take_reads(waves *w, const placed *list, int n, int *of, bool *even)
{
    *even = n > 0 && n % w->n == 0;
    for (int i = 0; i < n && *even; i++) {
        const placed *first = &list[i - i % w->n];
        *even = list[i].again == first->again && !compare_reads(&list[i].read, &first->read) &&
                (i % w->n == 0 || list[i].line != list[i - 1].line);
        if (i % w->n == 0) {
            w->reads[w->nreads] = first->read;
            w->reads[w->nreads].term = w->o->plane ? first->read.term : w->nreads;
            w->nreads++;
        }
        of[list[i].scan] = w->nreads - 1;
    }
    w->nterms = w->o->plane ? w->o->a->net->npistons : w->nreads;
}

/* of (nscans) <- the read that a scan belongs to. */
static fw_status find_reads(waves *w, int *of, bool *even, fw_error *err)
{
    const fw_net *net = w->o->a->net;
    placed *list = fw_alloc(net->nscans, sizeof *list);
    int *line = fw_alloc(net->nangles, sizeof *line);
    w->reads = fw_alloc(net->nscans, sizeof *w->reads);
    fw_status status = list && line && w->reads ? FW_OK : fw_out_of_memory(err);
    if (!status) {
        for (int k = 0; k < net->nangles; k++)
            line[k] = outlook_line(w->o, net->angles_deg[k]);
        int n = place_scans(w, line, list);
        qsort(list, n, sizeof *list, by_line);
        for (int i = 1; i < n; i++)
            if (list[i].line == list[i - 1].line &&
                !compare_reads(&list[i].read, &list[i - 1].read))
                list[i].again = list[i - 1].again + 1;
        qsort(list, n, sizeof *list, by_repeat);
        take_reads(w, list, n, of, even);
    }
    fw_free(list);
    fw_free(line);
    return status;
}

/* information (nreads) <- of a class's readings on one diameter; is it the same on all? */
static fw_status weigh_reads(const waves *w, const net_class *class, const int *of, double most,
                             double *information, bool *even, fw_error *err)
{
    double *square = fw_alloc(w->nreads, sizeof *square), each = w->n * (class->centre ? 1.0 : 2.0);
    int *count = fw_alloc(w->nreads, sizeof *count);
    fw_status status = square && count ? FW_OK : fw_out_of_memory(err);
    for (int i = 0; i < class->nrows && !status; i++) {
        double weight2 = pow(class->rows[i].weight, 2) / w->o->variance;
        int r = of[class->rows[i].scan];
        information[r] += weight2 / each;
        square[r] += weight2 * weight2 / each;
        count[r]++;
    }
    for (int r = 0; r < w->nreads && !status; r++) {
        double mean = information[r];
        bool same = square[r] - mean * mean <= most * mean * mean;
        *even = *even && (count[r] == 0 || (count[r] == (int)each && same));
    }
    fw_free(square);
    fw_free(count);
    return status;
}

void waves_lay_column(const waves *w, wave_cell *c, int surface, int comb, bool scored)
{
    int *find = &c->find[(size_t)surface * w->ncombs + (c->centre ? 0 : comb)];
    if (*find >= 0)
        return;
    bool today = surface < w->o->job->nflats;
    *find = c->ncolumns++;
    c->columns[*find] = (wave_column){surface, c->centre ? 0 : comb, scored,
                                      today ? c->ntoday : *find - c->ntoday};
    c->ntoday += today;
}

static void lay_columns(const waves *w, wave_cell *c)
{
    const outlook *o = w->o;
    int nflats = o->job->nflats, line = o->diameter[0];
    for (int r = 0; r < w->nreads; r++)
        for (int side = 0; side < 2 && c->information[r] > 0; side++) {
            int s = w->reads[r].surface[side];
            waves_lay_column(w, c, s, side ? w->reads[r].comb : 0,
                             s < nflats && outlook_counts(o, s, c->ring) &&
                                 !(c->centre && o->today[s].untied));
        }
    for (int f = 0; f < nflats && c->sides; f++)
        if (outlook_counts(o, f, c->ring) &&
            (c->centre ? o->centre[f] : o->fresh[(size_t)f * o->nlines + line]))
            waves_lay_column(w, c, f, 0, true);
}

static fw_status new_cell(waves *w, const net_class *class, int ring, const double *information,
                          wave_cell *c, fw_error *err)
{
    size_t most = (size_t)w->nsurfaces * w->ncombs;
    *c = (wave_cell){.centre = class->centre, .ring = ring, .sides = w->o->sides[ring]};
    c->information = fw_alloc(w->nreads, sizeof *c->information);
    c->columns = fw_alloc(most, sizeof *c->columns);
    c->find = fw_alloc(most, sizeof *c->find);
    if (!c->information || !c->columns || !c->find)
        return fw_out_of_memory(err);
    memcpy(c->information, information, (size_t)w->nreads * sizeof *information);
    for (size_t i = 0; i < most; i++)
        c->find[i] = -1;
    lay_columns(w, c);
    return FW_OK;
}

/* The rings of a class fall into cells by their use. */
static fw_status cells_of_class(waves *w, const net_class *class, const double *information,
                                fw_error *err)
{
    const fw_net *net = w->o->a->net;
    int first = w->ncells;
    for (int c = 0; c < class->nrings; c++) {
        int ring = class->rings[c], at = first;
        while (at < w->ncells && !outlook_same_use(w->o, ring, w->cells[at].ring))
            at++;
        if (at == w->ncells) {
            wave_cell *cells = fw_resize(w->cells, (size_t)w->ncells + 1, sizeof *cells);
            if (!cells)
                return fw_out_of_memory(err);
            w->cells = cells;
            fw_status status = new_cell(w, class, ring, information, &cells[w->ncells++], err);
            if (status)
                return status;
        }
        w->cells[at].rings++;
        w->cells[at].rho2 += pow(net->ring_mm[ring] / net->rmax_mm, 2);
    }
    return FW_OK;
}

static int unknowns_of(const waves *w)
{
    int n = 0;
    for (int k = 0; k < w->ncells; k++)
        n += 2 * w->cells[k].ncolumns;
    return n;
}

static fw_status find_cells(waves *w, const int *of, bool *even, fw_error *err)
{
    const outlook *o = w->o;
    double *information = fw_alloc(w->nreads, sizeof *information);
    double most = o->alike ? UNEQUAL_MOST : UNEQUAL_ROUNDING;
    fw_status status = information ? FW_OK : fw_out_of_memory(err);
    for (int i = 0; i < 2 * o->nclasses && *even && !status; i++) { /* the centre first */
        const net_class *class = &o->classes[i % o->nclasses];
        if (class->centre != (i < o->nclasses))
            continue;
        *even = class->centre || outlook_apart(o, class);
        memset(information, 0, (size_t)w->nreads * sizeof *information);
        if (*even && !(status = weigh_reads(w, class, of, most, information, even, err)) && *even)
            status = cells_of_class(w, class, information, err);
        *even = *even && unknowns_of(w) <= UNKNOWNS_MOST;
    }
    fw_free(information);
    return status;
}

fw_status waves_plan(waves *w, int nturns, const double *turns_deg, bool *even, fw_error *err)
{
    const outlook *o = w->o;
    *even = evenly_spaced(w, o);
    if (!*even)
        return FW_OK;
    int *of = fw_alloc(o->a->net->nscans, sizeof *of);
    fw_status status = of ? FW_OK : fw_out_of_memory(err);
    w->nsurfaces = o->job->nflats + o->a->net->nfaces;
    if (!status)
        status = find_combs(w, o, even, err);
    for (int t = 0; t < nturns && *even && !status; t++)
        *even = keeps_comb(w, o, turns_deg[t]);
    if (!status && *even && !(status = find_reads(w, of, even, err)) && *even)
        status = find_cells(w, of, even, err);
    fw_free(of);
    return status;
}
