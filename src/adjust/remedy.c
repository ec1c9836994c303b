/* remedy.c - the pairing that would show most of what is undetermined. */
#include "remedy.h"

#include <math.h>
#include <string.h>

#include "flatwright/alloc.h"
#include "flatwright/mating.h"
#include "linalg.h"

/* A ring on which every present scan has both its stations; columns (face, angle, side). */
typedef struct model_ring {
    const fw_net *net;
    int n, d;     /* heights, undetermined patterns */
    double *null; /* n x d */
    bool *seen;   /* n: bound by some scan; the others are no unknowns of the ring */
} model_ring;

static int place(const fw_net *net, int face, int angle, int side)
{
    return 2 * (face * net->nangles + angle) + side;
}

/* The columns that one scan's two stations bind: bottom and top for +, then for -. */
static void bind(const fw_net *net, const int face[2], const int angle[2], const int flip[2],
                 int column[2][2])
{
    for (int end = 0; end < 2; end++)
        for (int which = 0; which < 2; which++)
            column[end][which] =
                place(net, face[which], angle[which], flip[which] > 0 ? end : 1 - end);
}

static int angle_index(const fw_net *net, double angle_deg)
{
    for (int k = 0; k < net->nangles; k++)
        if (fabs(net->angles_deg[k] - angle_deg) <= FW_ANGLE_TOLERANCE_DEG)
            return k;
    return -1;
}

static fw_status ring_new(const fw_net *net, model_ring *out, fw_error *err)
{
    int n = 2 * net->nfaces * net->nangles, column[2][2], m = 0;
    fw_qr qr = {0};
    fw_status status = FW_OK;
    *out = (model_ring){.net = net, .n = n};
    for (int i = 0; i < net->nscans; i++)
        m += net->scans[i].piston < 0 ? 0 : 2;
    m += n; /* a row each for the heights that no scan binds: they are not to count */
    double *h = fw_alloc((size_t)m * n, sizeof *h);
    out->seen = fw_alloc(n, sizeof *out->seen);
    if (!h || !out->seen) {
        status = fw_out_of_memory(err);
        goto done;
    }
    for (int i = 0, row = n; i < net->nscans; i++) {
        const net_scan *s = &net->scans[i];
        int flip[2] = {s->flip[0], s->flip[1]};
        if (s->piston < 0)
            continue;
        bind(net, s->face, s->angle, flip, column);
        for (int end = 0; end < 2; end++, row++)
            for (int which = 0; which < 2; which++) {
                h[row + (size_t)column[end][which] * m] += 1;
                out->seen[column[end][which]] = true;
            }
    }
    for (int j = 0; j < n; j++)
        h[j + (size_t)j * m] = !out->seen[j];
    if ((status = fw_qr_factor(&qr, m, n, h, NULL, 0, err)))
        goto done;
    out->d = n - qr.rank;
    out->null = fw_alloc((size_t)n * out->d, sizeof *out->null);
    status = out->null ? fw_qr_null(&qr, out->null, err) : fw_out_of_memory(err);
done:
    fw_qr_release(&qr);
    fw_free(h);
    return status;
}

/* How many patterns the candidate would show: the rank of its equations on the null space. */
static fw_status shown_by(const model_ring *ring, const int face[2], double turn, int *shown,
                          fw_error *err)
{
    const fw_net *net = ring->net;
    int rows = 2 * net->nangles, column[2][2];
    fw_qr qr = {0};
    double *m = fw_alloc((size_t)rows * ring->d, sizeof *m);
    double *length = fw_alloc(ring->d, sizeof *length);
    fw_status status = m && length ? FW_OK : fw_out_of_memory(err);
    *shown = -1;
    for (int k = 0; k < net->nangles && !status; k++) {
        fw_line line = fw_line_of_top(turn, net->angles_deg[k]);
        int angle[2] = {k, angle_index(net, line.angle_deg)}, flip[2] = {1, line.flip};
        if (angle[1] < 0)
            goto done; /* it would bring new diameters of its own */
        bind(net, face, angle, flip, column);
        if (!ring->seen[column[0][0]] || !ring->seen[column[0][1]])
            goto done;
        for (int end = 0; end < 2; end++)
            for (int q = 0; q < ring->d; q++)
                m[2 * k + end + (size_t)q * rows] =
                    ring->null[column[end][0] + (size_t)q * ring->n] +
                    ring->null[column[end][1] + (size_t)q * ring->n];
    }
    for (int q = 0; q < ring->d && !status; q++)
        length[q] = 1;
    if (!status && !(status = fw_qr_factor(&qr, rows, ring->d, m, length, 1e-8, err)))
        *shown = qr.rank;
done:
    fw_qr_release(&qr);
    fw_free(m);
    fw_free(length);
    return status;
}

static double turn_step(const fw_net *net)
{
    double step = 180;
    for (int k = 0; k < net->nangles; k++) {
        double next = k + 1 < net->nangles ? net->angles_deg[k + 1] : net->angles_deg[0] + 180;
        step = fmin(step, next - net->angles_deg[k]);
    }
    return step;
}

fw_status remedy_find(const adjustment *a, const int *today, remedy *out, fw_error *err)
{
    const fw_net *net = a->net;
    const fw_job *job = net->job;
    model_ring ring = {0};
    fw_status status = ring_new(net, &ring, err);
    double step = turn_step(net);
    int nturns = job->nturns ? job->nturns : (int)(360 / step + 0.5), best = 0;
    *out = (remedy){.left = ring.d};
    for (int t = 0; t < nturns && !status; t++)
        for (int b = 0; b < job->nflats && !status; b++)
            for (int p = 0; p < job->nflats && !status; p++) {
                double turn = job->nturns ? job->turns_deg[t] : t * step;
                int face[2] = {today[b], today[p]}, shown;
                if (b == p || face[0] < 0 || face[1] < 0 ||
                    (status = shown_by(&ring, face, turn, &shown, err)) || shown <= best)
                    continue;
                best = shown;
                *out = (remedy){true, b, p, turn, ring.d - shown};
            }
    fw_free(ring.null);
    fw_free(ring.seen);
    return status;
}
