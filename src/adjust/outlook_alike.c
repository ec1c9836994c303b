/* outlook_alike.c - rings that differ in what is missing stand for each other, where they are many. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "classes.h"
#include "flatwright/alloc.h"
#include "outlook.h"

/* Heights of rings of their own, times terms squared, times candidates: a quarter of a second. */
static const double WORK_MOST = 2.5e8;

static double work_of(const outlook *o, int nturns)
{
    const fw_net *net = o->a->net;
    double heights = 0, pairs = o->job->nflats * (o->job->nflats - 1) / 2.0;
    for (int c = 0; c < net->nclasses; c++)
        if (net->classes[c].nrings == 1)
            heights += net->classes[c].ncolumns;
    return heights * net->nterms * net->nterms * pairs * nturns;
}

/* weight2 (2 nscans) += squared weights of a ring's readings, per scan and side. */
static void add_ring(const fw_net *net, int ring, double *weight2)
{
    const net_class *class = &net->classes[net->ring_class[ring]];
    for (int i = 0; i < class->nrows; i++) {
        const net_row *row = &class->rows[i];
        weight2[2 * row->scan + (row->sign < 0)] += row->weight * row->weight;
    }
}

/* Rows of the class from the sums of squared weights over its rings. */
static fw_status fill_rows(net_class *class, int nscans, const double *weight2, bool both,
                           fw_error *err)
{
    class->rows = fw_alloc(2 * (size_t)nscans, sizeof *class->rows);
    if (!class->rows)
        return fw_out_of_memory(err);
    class->paired = both;
    for (int i = 0; i < nscans; i++)
        for (int side = 0; side < 2; side++) {
            double sum = both ? (weight2[2 * i] + weight2[2 * i + 1]) / 2 : weight2[2 * i + side];
            if (sum > 0)
                class->rows[class->nrows++] = (net_row){
                    .scan = i, .sign = side ? -1 : 1, .weight = sqrt(sum / class->nrings)};
        }
    return FW_OK;
}

/* A ring that was read like the others, and only the scan that candidates are like lost it. */
static void find_lost(outlook *o)
{
    const fw_net *net = o->a->net;
    int most = 0;
    for (int c = 0; c < net->nclasses; c++)
        most = net->classes[c].nrows > most ? net->classes[c].nrows : most;
    for (int r = 0; r < net->nrings; r++) {
        const net_class *class = &net->classes[net->ring_class[r]];
        if (o->sides[r] == 0 && 2 * class->nrows >= most && !class->centre)
            o->sides[r] = 3;
    }
}

/* The rings in use like `first`, marked in done, as one class. */
static fw_status gather(outlook *o, int first, bool *done, int *stamps, fw_error *err)
{
    const fw_net *net = o->a->net;
    net_class *class = &o->classes[o->nclasses++];
    double *weight2 = fw_alloc(2 * (size_t)net->nscans, sizeof *weight2);
    *class = (net_class){.rings = fw_alloc(net->nrings - first, sizeof *class->rings)};
    fw_status status = weight2 && class->rings ? FW_OK : fw_out_of_memory(err);
    for (int r = first; r < net->nrings && !status; r++)
        if (!done[r] && outlook_same_use(o, first, r)) {
            done[r] = true;
            class->rings[class->nrings++] = r;
            add_ring(net, r, weight2);
        }
    if (!status &&
        !(status = fill_rows(class, net->nscans, weight2, o->sides[first] == 3, err)))
        status = net_find_columns(net, stamps, class, err);
    fw_free(weight2);
    return status;
}

/* The centre is by itself, as ever. */
static fw_status keep_centre(outlook *o, bool *done, fw_error *err)
{
    const fw_net *net = o->a->net;
    for (int c = 0; c < net->nclasses; c++) {
        const net_class *from = &net->classes[c];
        if (!from->centre)
            continue;
        net_class *class = &o->classes[o->nclasses++];
        *class = (net_class){.centre = true, .nrows = from->nrows, .ncolumns = from->ncolumns,
                             .nrings = 1};
        class->rows = fw_alloc(from->nrows, sizeof *class->rows);
        class->columns = fw_alloc(from->ncolumns, sizeof *class->columns);
        class->rings = fw_alloc(1, sizeof *class->rings);
        if (!class->rows || !class->columns || !class->rings)
            return fw_out_of_memory(err);
        memcpy(class->rows, from->rows, (size_t)from->nrows * sizeof *class->rows);
        memcpy(class->columns, from->columns, (size_t)from->ncolumns * sizeof *class->columns);
        class->rings[0] = from->rings[0];
        done[class->rings[0]] = true;
    }
    return FW_OK;
}

fw_status outlook_alike(outlook *o, int nturns, fw_error *err)
{
    const fw_net *net = o->a->net;
    o->alike = work_of(o, nturns) > WORK_MOST;
    if (!o->alike)
        return FW_OK;
    find_lost(o);
    o->nclasses = 0;
    o->classes = fw_alloc((size_t)net->nrings + 1, sizeof *o->classes);
    bool *done = fw_alloc(net->nrings, sizeof *done);
    int *stamps = fw_alloc(net_stamps(net), sizeof *stamps);
    fw_status status = o->classes && done && stamps ? FW_OK : fw_out_of_memory(err);
    if (!status) {
        memset(stamps, -1, net_stamps(net) * sizeof *stamps);
        status = keep_centre(o, done, err);
    }
    for (int r = 0; r < net->nrings && !status; r++)
        if (!done[r])
            status = gather(o, r, done, stamps, err);
    fw_free(done);
    fw_free(stamps);
    return status;
}
