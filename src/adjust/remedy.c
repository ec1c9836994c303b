/* remedy.c - the pairing that would show most of what is undetermined. */
#include "remedy.h"

#include <math.h>
#include <string.h>

#include "flatwright/alloc.h"
#include "flatwright/mating.h"

/*
 * A ring on which every present scan has both its stations. A reading that is zero makes its two
 * heights opposite, so heights fall into groups, in each of which all are one value with a sign: a
 * pattern that no reading sees, unless some chain of readings makes a height its own opposite.
 */
typedef struct model_ring {
    int n;             /* places: face, angle, side */
    int left;          /* undetermined patterns */
    int *up;           /* n: another place of the group; itself: it stands for the group */
    signed char *sign; /* n: to the height of that place */
    bool *fixed;       /* n: of what stands for a group: it is its own opposite, so zero */
    bool *seen;        /* n: bound by some scan; the others are no unknowns of the ring */
} model_ring;

static int place(const fw_net *net, int face, int angle, int side)
{
    return 2 * (face * net->nangles + angle) + side;
}

/* The places that one scan's two stations bind: bottom and top for +, then for -. */
static void bind(const fw_net *net, const int face[2], const int angle[2], const int flip[2],
                 int at[2][2])
{
    for (int end = 0; end < 2; end++)
        for (int which = 0; which < 2; which++)
            at[end][which] = place(net, face[which], angle[which], flip[which] > 0 ? end : 1 - end);
}

static int angle_index(const fw_net *net, double angle_deg)
{
    for (int k = 0; k < net->nangles; k++)
        if (fabs(net->angles_deg[k] - angle_deg) <= FW_ANGLE_TOLERANCE_DEG)
            return k;
    return -1;
}

/* What stands for a place's group; *sign <- the place's height to its. The way there is shortened. */
static int group_of(model_ring *ring, int at, int *sign)
{
    *sign = 1;
    while (ring->up[at] != at) {
        int above = ring->up[at];
        ring->sign[at] = (signed char)(ring->sign[at] * ring->sign[above]);
        ring->up[at] = ring->up[above];
        *sign *= ring->sign[at];
        at = ring->up[at];
    }
    return at;
}

/* A reading of two heights that shows one pattern less where it is not told by others already. */
static void read_pair(model_ring *ring, const int at[2])
{
    int sign[2], group[2];
    for (int which = 0; which < 2; which++)
        group[which] = group_of(ring, at[which], &sign[which]);
    bool *fixed = &ring->fixed[group[0]];
    if (group[0] == group[1]) {
        ring->left -= !*fixed && sign[0] == sign[1];
        *fixed = *fixed || sign[0] == sign[1];
        return;
    }
    ring->left -= !*fixed || !ring->fixed[group[1]];
    *fixed = *fixed || ring->fixed[group[1]];
    ring->up[group[1]] = group[0];
    ring->sign[group[1]] = (signed char)(-sign[0] * sign[1]);
}

static void ring_release(model_ring *ring)
{
    fw_free(ring->up);
    fw_free(ring->sign);
    fw_free(ring->fixed);
    fw_free(ring->seen);
}

static fw_status ring_room(model_ring *ring, int n, fw_error *err)
{
    *ring = (model_ring){.n = n};
    ring->up = fw_alloc(n, sizeof *ring->up);
    ring->sign = fw_alloc(n, sizeof *ring->sign);
    ring->fixed = fw_alloc(n, sizeof *ring->fixed);
    ring->seen = fw_alloc(n, sizeof *ring->seen);
    return ring->up && ring->sign && ring->fixed && ring->seen ? FW_OK : fw_out_of_memory(err);
}

static void ring_copy(const model_ring *from, model_ring *to)
{
    size_t n = (size_t)from->n;
    to->left = from->left;
    memcpy(to->up, from->up, n * sizeof *to->up);
    memcpy(to->sign, from->sign, n * sizeof *to->sign);
    memcpy(to->fixed, from->fixed, n * sizeof *to->fixed);
    memcpy(to->seen, from->seen, n * sizeof *to->seen);
}

/* All that was read. */
static void fill_ring(const fw_net *net, model_ring *ring)
{
    for (int i = 0; i < ring->n; i++) {
        ring->up[i] = i;
        ring->sign[i] = 1;
    }
    for (int pass = 0; pass < 2; pass++)
        for (int i = 0; i < net->nscans; i++) {
            const net_scan *s = &net->scans[i];
            int flip[2] = {s->flip[0], s->flip[1]}, at[2][2];
            if (s->piston < 0)
                continue;
            bind(net, s->face, s->angle, flip, at);
            for (int end = 0; end < 2; end++)
                for (int which = 0; which < 2 && pass == 0; which++) {
                    ring->left += !ring->seen[at[end][which]];
                    ring->seen[at[end][which]] = true;
                }
            for (int end = 0; end < 2 && pass == 1; end++)
                read_pair(ring, at[end]);
        }
}

/* The lines that a turn puts under the net's; is every one among them? */
static bool lines_under(const fw_net *net, double turn, int *angle, signed char *flip)
{
    for (int k = 0; k < net->nangles; k++) {
        fw_line line = fw_line_of_top(turn, net->angles_deg[k]);
        angle[k] = angle_index(net, line.angle_deg);
        flip[k] = (signed char)line.flip;
        if (angle[k] < 0)
            return false; /* it would bring new diameters of its own */
    }
    return true;
}

/* Reads bottom and top at a turn, on all lines of the net; false where a line was never read. */
static bool read_pairing(const fw_net *net, const int face[2], const int *angle,
                         const signed char *flip, model_ring *ring)
{
    for (int k = 0; k < net->nangles; k++) {
        int line[2] = {k, angle[k]}, sense[2] = {1, flip[k]}, at[2][2];
        bind(net, face, line, sense, at);
        if (!ring->seen[at[0][0]] || !ring->seen[at[0][1]])
            return false;
        for (int end = 0; end < 2; end++)
            read_pair(ring, at[end]);
    }
    return true;
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
    int n = 2 * net->nfaces * net->nangles;
    double step = turn_step(net);
    int nturns = job->nturns ? job->nturns : (int)(360 / step + 0.5);
    model_ring ring = {0}, trial = {0};
    int *angle = fw_alloc(net->nangles, sizeof *angle);
    signed char *flip = fw_alloc(net->nangles, sizeof *flip);
    fw_status status = angle && flip ? ring_room(&ring, n, err) : fw_out_of_memory(err);
    if (status || (status = ring_room(&trial, n, err)))
        goto done;
    fill_ring(net, &ring);
    *out = (remedy){.left = ring.left};
    for (int t = 0; t < nturns; t++) {
        double turn = job->nturns ? job->turns_deg[t] : t * step;
        bool there = lines_under(net, turn, angle, flip);
        for (int b = 0; b < job->nflats && there; b++)
            for (int p = 0; p < job->nflats; p++) {
                int face[2] = {today[b], today[p]};
                if (b == p || face[0] < 0 || face[1] < 0)
                    continue;
                ring_copy(&ring, &trial);
                if (read_pairing(net, face, angle, flip, &trial) && trial.left < out->left)
                    *out = (remedy){true, b, p, turn, trial.left};
            }
    }
done:
    fw_free(angle);
    fw_free(flip);
    ring_release(&ring);
    ring_release(&trial);
    return status;
}
