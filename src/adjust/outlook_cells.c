/* outlook_cells.c - each kind of ring, on the prior, given the terms; then the terms given all. */
#include "outlook_cells.h"

#include <assert.h>
#include <math.h>
#include <string.h>

#include "flatwright/alloc.h"
#include "linalg.h"

/* Keeps what no reading touches from making the terms' matrix singular; of what one does it takes no part. */
static const double RIDGE = 1e-13;

/* One class, or a half of it, given the terms: heights have covariance k and depend on t by b. */
typedef struct given {
    const outlook *o;
    const net_class *class;
    int kind;
    int step; /* rows and columns of the class that make one here */
    int m, n;
    place *at; /* n */
    bool *today;
    double *h;     /* m x n, unit weight: readings of variance 1 */
    double *k;     /* n x n */
    double *g, *w; /* k h' and 1 - h k h' */
    double *b[2];  /* n x nt */
} given;

static void given_release(given *v)
{
    fw_free(v->at);
    fw_free(v->today);
    fw_free(v->h);
    fw_free(v->k);
    fw_free(v->g);
    fw_free(v->w);
    fw_free(v->b[0]);
    fw_free(v->b[1]);
    *v = (given){0};
}

static void fill_places(given *v, const int *line)
{
    const fw_net *net = v->o->a->net;
    for (int j = 0; j < v->n; j++) {
        const net_column *c = &v->class->columns[v->step * j];
        const net_face *face = &net->faces[c->face];
        v->at[j] = (place){face->flat, c->angle < 0 ? -1 : line[c->angle], c->sign};
        v->today[j] = v->o->today[face->flat].state == face->state;
    }
}

static void fill_rows(given *v)
{
    double scale = 1 / sqrt(v->o->variance);
    for (int i = 0; i < v->m; i++) {
        const net_row *row = &v->class->rows[v->step * i];
        for (int side = 0; side < 2; side++) {
            int column = row->column[side];
            double sign = v->kind == CELL_ODD && column % 2 ? -1 : 1;
            v->h[i + (size_t)(column / v->step) * v->m] += sign * scale * row->weight;
        }
    }
}

/* k = (h'h + 1 / prior^2)^-1, g = k h', w = 1 - h k h'. */
static fw_status fill_given(given *v, fw_error *err)
{
    int m = v->m, n = v->n;
    fw_gemm(1, 0, n, n, m, 1, v->h, m, v->h, m, 0, v->k, n);
    for (int j = 0; j < n; j++)
        v->k[j + (size_t)j * n] += 1 / (v->o->prior_nm * v->o->prior_nm);
    fw_status status = fw_cholesky(n, v->k, err);
    if (status)
        return status;
    fw_upper_inverse(n, v->k, n, v->k);
    fw_upper_square(n, v->k, v->k);
    fw_gemm(0, 1, n, m, n, 1, v->k, n, v->h, m, 0, v->g, n);
    for (int i = 0; i < m; i++)
        v->w[i + (size_t)i * m] = 1;
    fw_gemm(0, 0, m, m, n, -1, v->h, m, v->g, n, 1, v->w, m);
    return FW_OK;
}

static fw_status given_new(const outlook *o, const net_class *class, int kind, const int *line,
                           given *out, fw_error *err)
{
    int step = kind == CELL_PLAIN ? 1 : 2;
    given v = {.o = o,
               .class = class,
               .kind = kind,
               .step = step,
               .m = class->nrows / step,
               .n = class->ncolumns / step};
    size_t m = (size_t)v.m, n = (size_t)v.n;
    v.at = fw_alloc(n, sizeof *v.at);
    v.today = fw_alloc(n, sizeof *v.today);
    v.h = fw_alloc(m * n, sizeof(double));
    v.k = fw_alloc(n * n, sizeof(double));
    v.g = fw_alloc(n * m, sizeof(double));
    v.w = fw_alloc(m * m, sizeof(double));
    fw_status status;
    if (!v.at || !v.today || !v.h || !v.k || !v.g || !v.w)
        status = fw_out_of_memory(err);
    else {
        fill_places(&v, line);
        fill_rows(&v);
        status = fill_given(&v, err);
    }
    if (status)
        given_release(&v);
    else
        *out = v;
    return status;
}

/* The entries of row i of T_power among a knot's terms; their number. */
static int entries(const given *v, const knot *s, int i, int power, int index[2], double value[2])
{
    const fw_net *net = v->o->a->net;
    const net_row *row = &v->class->rows[v->step * i];
    const net_scan *scan = &net->scans[row->scan];
    double coef = row->weight / sqrt(v->o->variance) * (v->kind == CELL_PLAIN ? 1 : sqrt(2));
    if (power == 0) {
        index[0] = scan->piston;
        value[0] = coef;
        return v->kind != CELL_ODD;
    }
    if (v->kind == CELL_EVEN || v->class->centre)
        return 0;
    for (int q = 0; q < scan->ntilt; q++) {
        index[q] = scan->tilt[q] - (s->sees[0] ? 0 : net->npistons);
        value[q] = coef * row->sign * scan->tilt_coef[q];
    }
    return scan->ntilt;
}

static void moments(const fw_net *net, const net_class *class, double moment[3])
{
    moment[0] = moment[1] = moment[2] = 0;
    for (int c = 0; c < class->nrings; c++) {
        double rho = net->ring_mm[class->rings[c]] / net->rmax_mm;
        moment[0] += 1;
        moment[1] += rho;
        moment[2] += rho * rho;
    }
}

/* Row i, power p meets all others: normal[index, .] += value times the row of w T over the rings. */
static void add_normal(const given *v, const knot *s, int i, int p, int index, double value,
                       double *normal)
{
    double moment[3], with;
    int other[2];
    double entry[2];
    moments(v->o->a->net, v->class, moment);
    for (int l = 0; l < v->m; l++)
        for (int q = 0; q < 2; q++) {
            int count = entries(v, s, l, q, other, entry);
            with = moment[p + q] * value * v->w[i + (size_t)l * v->m];
            for (int e = 0; e < count; e++)
                normal[index + (size_t)other[e] * s->nt] += with * entry[e];
        }
}

/* b0 = -g T0, b1 = -g T1; normal += sum over rings of T' w T. */
static fw_status meet_terms(given *v, const knot *s, double *normal, fw_error *err)
{
    int index[2];
    double value[2];
    for (int power = 0; power < 2; power++)
        if (!(v->b[power] = fw_alloc((size_t)v->n * s->nt, sizeof(double))))
            return fw_out_of_memory(err);
    for (int i = 0; i < v->m; i++)
        for (int p = 0; p < 2; p++) {
            int count = entries(v, s, i, p, index, value);
            for (int a = 0; a < count; a++) {
                double *b = v->b[p] + (size_t)index[a] * v->n;
                for (int j = 0; j < v->n; j++)
                    b[j] -= value[a] * v->g[j + (size_t)i * v->n];
                add_normal(v, s, i, p, index[a], value[a], normal);
            }
        }
    return FW_OK;
}

bool outlook_same_use(const outlook *o, int a, int b)
{
    if (o->sides[a] != o->sides[b])
        return false;
    for (int f = 0; f < o->job->nflats; f++)
        if (outlook_has_glass(o, f, a) != outlook_has_glass(o, f, b) ||
            outlook_counts(o, f, a) != outlook_counts(o, f, b))
            return false;
    return true;
}

static void add_place(cell *c, const outlook *o, place at, bool scored)
{
    c->find[outlook_slot(o, at)] = c->n;
    c->scored[c->n] = scored;
    c->at[c->n++] = at;
}

/* The places of a flat in a cell: read today, source the column of `given`, and stood for. */
static void places_of_flat(cell *c, const outlook *o, const given *v, int flat, int ring,
                           int *source)
{
    bool counts = outlook_counts(o, flat, ring) && !(c->centre && o->today[flat].untied);
    for (int j = 0; j < v->n; j++)
        if (v->today[j] && v->at[j].flat == flat) {
            source[c->n] = j;
            add_place(c, o, v->at[j], counts);
        }
    if (!counts || !c->sides)
        return;
    if (c->centre) {
        place at = {flat, -1, 0};
        if (o->centre[flat] && c->find[outlook_slot(o, at)] < 0) {
            source[c->n] = -1;
            add_place(c, o, at, true);
        }
        return;
    }
    for (int k = 0; k < o->nlines; k++)
        for (int sign = 1; sign >= -1 && o->fresh[(size_t)flat * o->nlines + k]; sign -= 2)
            if (sign > 0 ? c->sides & 1 : c->kind == CELL_PLAIN && c->sides & 2) {
                source[c->n] = -1;
                add_place(c, o, (place){flat, k, sign}, true);
            }
}

static void copy_given(cell *c, const outlook *o, const given *v, const knot *s, const int *source)
{
    for (int j = 0; j < c->n; j++) {
        if (source[j] < 0) {
            c->k[j + (size_t)j * c->n] = o->prior_nm * o->prior_nm;
            continue;
        }
        for (int i = 0; i < c->n; i++)
            if (source[i] >= 0)
                c->k[i + (size_t)j * c->n] = v->k[source[i] + (size_t)source[j] * v->n];
    }
    for (int p = 0; p < 2; p++)
        for (int q = 0; q < s->nt && c->b[p]; q++)
            for (int j = 0; j < c->n; j++)
                if (source[j] >= 0)
                    c->b[p][j + (size_t)q * c->n] = v->b[p][source[j] + (size_t)q * v->n];
}

/* The places of a new cell, and their sources among the columns of `given`. */
static fw_status lay_cell(cell *c, const outlook *o, const given *v, int ring, int *source,
                          fw_error *err)
{
    size_t nflats = (size_t)o->job->nflats, slots = outlook_slots(o);
    *c = (cell){.kind = v->kind, .centre = v->class->centre, .sides = o->sides[ring]};
    c->glass = fw_alloc(nflats, sizeof *c->glass);
    c->at = fw_alloc(slots, sizeof *c->at);
    c->first = fw_alloc(nflats + 1, sizeof *c->first);
    c->scored = fw_alloc(slots, sizeof *c->scored);
    c->find = fw_alloc(slots, sizeof *c->find);
    c->kept = fw_alloc(nflats, sizeof *c->kept);
    if (!c->glass || !c->at || !c->first || !c->scored || !c->find || !c->kept)
        return fw_out_of_memory(err);
    for (size_t i = 0; i < slots; i++)
        c->find[i] = -1;
    for (int f = 0; f < o->job->nflats; f++) {
        c->glass[f] = outlook_has_glass(o, f, ring);
        places_of_flat(c, o, v, f, ring, source);
        c->first[f + 1] = c->n;
    }
    return FW_OK;
}

static fw_status fill_cell(cell *c, const outlook *o, const given *v, const knot *s,
                           const int *source, fw_error *err)
{
    const bool sees[2] = {c->kind != CELL_ODD, c->kind != CELL_EVEN && !c->centre};
    c->k = fw_alloc((size_t)c->n * c->n, sizeof *c->k);
    c->w = fw_alloc((size_t)c->n * c->n, sizeof *c->w);
    if (!c->k || !c->w)
        return fw_out_of_memory(err);
    for (int p = 0; p < 2; p++)
        if (sees[p] && !(c->b[p] = fw_alloc((size_t)c->n * s->nt, sizeof(double))))
            return fw_out_of_memory(err);
    copy_given(c, o, v, s, source);
    return FW_OK;
}

static fw_status add_cell(outlook *o, knot *s, const given *v, int ring, fw_error *err)
{
    int *source = fw_alloc(outlook_slots(o), sizeof *source);
    cell *cells = fw_resize(s->cells, (size_t)s->ncells + 1, sizeof *cells);
    fw_status status;
    if (cells)
        s->cells = cells;
    if (!cells || !source) {
        status = fw_out_of_memory(err);
        goto done;
    }
    cell *c = &cells[s->ncells++];
    if (!(status = lay_cell(c, o, v, ring, source, err)))
        status = fill_cell(c, o, v, s, source, err);
done:
    fw_free(source);
    return status;
}

/* The rings of a class fall into cells by their use. */
static fw_status cells_of_class(outlook *o, knot *s, const given *v, fw_error *err)
{
    const fw_net *net = o->a->net;
    int first = s->ncells;
    fw_status status = FW_OK;
    int *like = fw_alloc(v->class->nrings, sizeof *like);
    if (!like)
        return fw_out_of_memory(err);
    for (int c = 0; c < v->class->nrings && !status; c++) {
        int ring = v->class->rings[c], at = first;
        double rho = net->ring_mm[ring] / net->rmax_mm;
        while (at < s->ncells && !outlook_same_use(o, ring, like[at - first]))
            at++;
        if (at == s->ncells) {
            like[at - first] = ring;
            if ((status = add_cell(o, s, v, ring, err)))
                break;
        }
        for (int q = 0; q < 3; q++)
            s->cells[at].moment[q] += pow(rho, q);
    }
    fw_free(like);
    return status;
}

int cell_mix(const cell *c, double mix[2][2])
{
    double a = sqrt(c->moment[0]), d = c->moment[1] / a;
    assert(c->b[0] || c->b[1]);
    mix[0][0] = c->b[0] ? a : 0;
    mix[0][1] = !c->b[1] ? 0 : c->b[0] ? d : sqrt(c->moment[2]);
    mix[1][0] = 0;
    mix[1][1] = sqrt(fmax(c->moment[2] - d * d, 0));
    return c->b[0] && c->b[1] && c->moment[0] > 1 ? 2 : 1; /* of one ring the second is 0 */
}

int cell_modes(const cell *c, size_t size, double *const b[2], double *const out[2])
{
    double mix[2][2];
    int count = cell_mix(c, mix);
    for (size_t i = 0; i < size; i++) {
        double b0 = c->b[0] ? b[0][i] : 0, b1 = c->b[1] ? b[1][i] : 0;
        out[0][i] = mix[0][0] * b0 + mix[0][1] * b1;
        if (count > 1)
            out[1][i] = mix[1][1] * b1;
    }
    return count;
}

int knot_modes(const knot *s)
{
    int rows = 0;
    double mix[2][2];
    for (int i = 0; i < s->ncells; i++)
        rows += s->cells[i].n * cell_mix(&s->cells[i], mix);
    return rows;
}

int cell_stack(const cell *c, double *const b[2], int nt, int rows, double *stack)
{
    double mix[2][2];
    int count = cell_mix(c, mix);
    for (int k = 0; k < count; k++)
        for (int q = 0; q < nt; q++)
            for (int j = 0; j < c->n; j++) {
                size_t at = (size_t)j + (size_t)q * c->n;
                stack[k * c->n + j + (size_t)q * rows] =
                    (mix[k][0] != 0 ? mix[k][0] * b[0][at] : 0) +
                    (mix[k][1] != 0 ? mix[k][1] * b[1][at] : 0);
            }
    return count * c->n;
}

fw_status knot_compress(knot *s, fw_error *err)
{
    int nt = s->nt, rows = knot_modes(s), at = 0;
    if (rows >= nt)
        return FW_OK;
    fw_status status = FW_OK;
    double *all = fw_alloc((size_t)nt * rows, sizeof *all),
           *q = fw_alloc((size_t)nt * rows, sizeof *q);
    double *r = fw_alloc((size_t)rows * rows, sizeof *r),
           *part = fw_alloc(2 * (size_t)nt * rows, sizeof *part);
    if (!all || !q || !r || !part) {
        status = fw_out_of_memory(err);
        goto done;
    }
    for (int i = 0; i < s->ncells; i++) {
        const cell *c = &s->cells[i];
        double *mode[2] = {part, part + (size_t)nt * c->n};
        int count = cell_modes(c, (size_t)c->n * nt, c->b, mode);
        for (int k = 0; k < count; k++)
            for (int j = 0; j < c->n; j++, at++)
                for (int t = 0; t < nt; t++)
                    all[t + (size_t)at * nt] = mode[k][j + (size_t)t * c->n];
    }
    if ((status = fw_qr_thin(nt, rows, all, q, r, err)))
        goto done;
    for (int i = 0; i < s->ncells; i++)
        for (int p = 0; p < 2; p++) {
            cell *c = &s->cells[i];
            if (!c->b[p])
                continue;
            fw_gemm(0, 0, c->n, rows, nt, 1, c->b[p], c->n, q, nt, 0, part, c->n);
            memcpy(c->b[p], part, (size_t)c->n * rows * sizeof *part);
        }
    s->nt = rows;
done:
    fw_free(all);
    fw_free(q);
    fw_free(r);
    fw_free(part);
    return status;
}

/* b <- b R^-1 with normal = R'R, so that b b' carries the covariance of the terms. */
static fw_status whiten(knot *s, double *normal, fw_error *err)
{
    for (int q = 0; q < s->nt; q++) {
        double *at = &normal[q + (size_t)q * s->nt];
        *at = *at > 0 ? *at * (1 + RIDGE * s->nt) : 1;
    }
    fw_status status = fw_cholesky(s->nt, normal, err);
    for (int k = 0; k < s->ncells && !status; k++)
        for (int p = 0; p < 2; p++)
            if (s->cells[k].b[p])
                fw_upper_solve_right(s->cells[k].n, s->nt, normal, s->nt, s->cells[k].b[p],
                                     s->cells[k].n);
    return status ? status : knot_compress(s, err);
}

bool outlook_apart(const outlook *o, const net_class *class)
{
    for (int c = 0; c < class->nrings; c++)
        if (o->sides[class->rings[c]] == 1 || o->sides[class->rings[c]] == 2)
            return false;
    return class->paired;
}

static fw_status knot_fill(outlook *o, knot *s, const int *line, fw_error *err)
{
    fw_status status = FW_OK;
    double *normal = fw_alloc((size_t)s->nt * s->nt, sizeof *normal);
    if (!normal)
        return fw_out_of_memory(err);
    for (int c = 0; c < o->nclasses && !status; c++) {
        const net_class *class = &o->classes[c];
        bool halves = outlook_apart(o, class);
        for (int kind = CELL_PLAIN; kind <= CELL_ODD && !status; kind++) {
            given v = {0};
            if (halves ? kind == CELL_PLAIN || !s->sees[kind == CELL_ODD]
                       : kind != CELL_PLAIN || !s->sees[0])
                continue;
            if (!(status = given_new(o, class, kind, line, &v, err)) &&
                !(status = meet_terms(&v, s, normal, err)))
                status = cells_of_class(o, s, &v, err);
            given_release(&v);
        }
    }
    if (!status && !(status = whiten(s, normal, err)))
        status = knot_weigh(o, s, err);
    fw_free(normal);
    return status;
}

fw_status outlook_cells(outlook *o, fw_error *err)
{
    const fw_net *net = o->a->net;
    bool apart = true;
    fw_status status = FW_OK;
    int *line = fw_alloc(net->nangles, sizeof *line);
    if (!line)
        return fw_out_of_memory(err);
    for (int k = 0; k < net->nangles; k++)
        line[k] = outlook_line(o, net->angles_deg[k]);
    for (int c = 0; c < o->nclasses; c++)
        apart = apart && (o->classes[c].centre || outlook_apart(o, &o->classes[c]));
    o->nknots = apart ? 2 : 1;
    for (int q = 0; q < o->nknots && !status; q++) {
        knot *s = &o->knots[q];
        s->sees[0] = q == 0;
        s->sees[1] = q == 1 || !apart;
        s->nt = (s->sees[0] ? net->npistons : 0) + (s->sees[1] ? net->nterms - net->npistons : 0);
        status = knot_fill(o, s, line, err);
    }
    fw_free(line);
    return status;
}
