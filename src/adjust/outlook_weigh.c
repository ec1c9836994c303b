/* outlook_weigh.c - the datum of every flat as weights on its cells: what of a variance counts. */
#include <math.h>

#include "flatwright/alloc.h"
#include "linalg.h"
#include "outlook_cells.h"

/* half' half = (sum of d d')^+ over the flat's stations; a knot sees but a part of the parameters. */
static fw_status halve_datum(const outlook *o, knot *s, int flat, fw_error *err)
{
    int p = o->nparams[flat], index[3];
    double c0[3], c1[3];
    double *dd = fw_alloc((size_t)p * p, sizeof *dd), *w = fw_alloc(p, sizeof *w);
    fw_status status = FW_OK;
    int rank = 0;
    if (!dd || !w) {
        status = fw_out_of_memory(err);
        goto done;
    }
    for (int k = 0; k < s->ncells; k++) {
        const cell *c = &s->cells[k];
        for (int i = c->first[flat]; i < c->first[flat + 1]; i++) {
            int count = c->scored[i] ? outlook_datum(o, c, i, index, c0, c1) : 0;
            for (int a = 0; a < count; a++)
                for (int b = 0; b < count; b++)
                    dd[index[a] + (size_t)index[b] * p] +=
                        c->moment[0] * c0[a] * c0[b] +
                        c->moment[1] * (c0[a] * c1[b] + c1[a] * c0[b]) +
                        c->moment[2] * c1[a] * c1[b];
        }
    }
    if ((status = fw_eigen_symmetric(p, dd, w, err)))
        goto done;
    while (rank < p && w[p - 1 - rank] > 1e-12 * w[p - 1])
        rank++;
    s->rank[flat] = rank;
    s->half[flat] = fw_alloc((size_t)rank * p, sizeof(double));
    if (!s->half[flat])
        status = fw_out_of_memory(err);
    for (int i = p - rank; i < p && !status; i++)
        for (int j = 0; j < p; j++)
            s->half[flat][i - (p - rank) + (size_t)j * rank] = dd[j + (size_t)i * p] / sqrt(w[i]);
done:
    fw_free(dd);
    fw_free(w);
    return status;
}

/* W of a flat's block: moment0 - sum over rings of d' V d, V = half' half. */
static fw_status weigh_block(const outlook *o, const knot *s, cell *c, int flat, fw_error *err)
{
    int p = s->rank[flat], from = c->first[flat], n = c->first[flat + 1] - from, index[3];
    double c0[3], c1[3];
    size_t size = (size_t)p * n;
    double *d = fw_alloc(2 * size, sizeof *d);
    if (!d)
        return fw_out_of_memory(err);
    for (int i = 0; i < n; i++) {
        int count = c->scored[from + i] ? outlook_datum(o, c, from + i, index, c0, c1) : 0;
        for (int a = 0; a < count; a++)
            for (int q = 0; q < p; q++) {
                d[q + (size_t)i * p] += s->half[flat][q + (size_t)index[a] * p] * c0[a];
                d[q + (size_t)i * p + size] += s->half[flat][q + (size_t)index[a] * p] * c1[a];
            }
    }
    double *w = c->w + from + (size_t)from * c->n;
    for (int i = 0; i < n; i++)
        w[i + (size_t)i * c->n] = c->scored[from + i] ? c->moment[0] : 0;
    fw_gemm(1, 0, n, n, p, -c->moment[0], d, p, d, p, 1, w, c->n);
    fw_gemm(1, 0, n, n, p, -c->moment[1], d, p, d + size, p, 1, w, c->n);
    fw_gemm(1, 0, n, n, p, -c->moment[1], d + size, p, d, p, 1, w, c->n);
    fw_gemm(1, 0, n, n, p, -c->moment[2], d + size, p, d + size, p, 1, w, c->n);
    fw_free(d);
    return FW_OK;
}

int knot_shares(const outlook *o, const knot *s, int flat, share *list)
{
    int index[3], n = 0, at = 0;
    double c0[3], c1[3], mix[2][2];
    for (int i = 0; i < s->ncells; i++) {
        const cell *c = &s->cells[i];
        for (int k = 0, count = cell_mix(c, mix); k < count; k++, at += c->n)
            for (int j = c->first[flat]; j < c->first[flat + 1]; j++) {
                int parts = c->scored[j] ? outlook_datum(o, c, j, index, c0, c1) : 0;
                for (int a = 0; a < parts; a++)
                    list[n++] = (share){at + j, index[a],
                                        mix[k][0] * c0[a] + mix[k][1] * c1[a], a == 0};
            }
    }
    return n;
}

void cell_keep(cell *c, int nflats)
{
    for (int f = 0; f < nflats; f++) {
        c->kept[f] = 0;
        for (int j = c->first[f]; j < c->first[f + 1]; j++)
            for (int i = c->first[f]; i < c->first[f + 1]; i++)
                c->kept[f] += c->k[i + (size_t)j * c->n] * c->w[i + (size_t)j * c->n];
    }
}

fw_status knot_weigh(outlook *o, knot *s, fw_error *err)
{
    int nflats = o->job->nflats;
    fw_status status = FW_OK;
    s->half = fw_alloc(nflats, sizeof *s->half);
    s->rank = fw_alloc(nflats, sizeof *s->rank);
    if (!s->half || !s->rank)
        return fw_out_of_memory(err);
    for (int f = 0; f < nflats && !status; f++)
        status = halve_datum(o, s, f, err);
    for (int k = 0; k < s->ncells && !status; k++) {
        cell *c = &s->cells[k];
        for (int f = 0; f < nflats && !status; f++)
            status = weigh_block(o, s, c, f, err);
        cell_keep(c, nflats);
        for (int f = 0; f < nflats; f++)
            for (int i = c->first[f]; i < c->first[f + 1]; i++)
                o->nstations[f] += c->scored[i] ? c->moment[0] : 0;
    }
    return status;
}
