/* net.c - the observation equations: which unknown heights and scan terms each reading binds. */
#include "net.h"

#include <limits.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "classes.h"
#include "flatwright/alloc.h"
#include "flatwright/mating.h"
#include "match.h"

static int by_flat_then_state(const void *a, const void *b)
{
    const net_face *x = a, *y = b;
    return x->flat != y->flat ? (x->flat > y->flat) - (x->flat < y->flat)
                              : (x->state > y->state) - (x->state < y->state);
}

static net_face *face_of(const fw_net *net, int flat, int state)
{
    net_face key = {.flat = flat, .state = state};
    return bsearch(&key, net->faces, net->nfaces, sizeof key, by_flat_then_state);
}

/* A list of (flat, state), one entry a use, sorted and made distinct. */
static fw_status find_faces(fw_net *net, const size_t *uses, fw_error *err)
{
    const fw_job *job = net->job;
    int n = 0;
    net->faces = fw_alloc(2 * job->nscans, sizeof *net->faces);
    if (!net->faces)
        return fw_out_of_memory(err);
    for (size_t i = 0; i < job->nscans; i++) {
        const fw_scan *scan = &job->scans[i];
        int flats[2] = {scan->bottom, scan->top};
        for (int side = 0; side < 2 && uses[i]; side++) {
            const fw_flat *flat = &job->flats[flats[side]];
            net->faces[n++] = (net_face){.flat = flats[side],
                                         .state = fw_job_state(job, flats[side], scan->round),
                                         .first_round = scan->round,
                                         .last_round = scan->round,
                                         .clear_mm = flat->clear_mm / 2,
                                         .bore_mm = flat->bore_mm / 2};
        }
    }
    qsort(net->faces, n, sizeof *net->faces, by_flat_then_state);
    for (int i = 0; i < n; i++) {
        net_face *last = net->nfaces ? &net->faces[net->nfaces - 1] : NULL, *face = &net->faces[i];
        if (last && by_flat_then_state(last, face) == 0) {
            last->first_round =
                face->first_round < last->first_round ? face->first_round : last->first_round;
            last->last_round =
                face->last_round > last->last_round ? face->last_round : last->last_round;
        } else
            net->faces[net->nfaces++] = *face;
    }
    return FW_OK;
}

static void lines_of(const fw_scan *scan, fw_line line[2])
{
    line[0] = fw_line_of(scan->diameter_deg);
    line[1] = fw_line_of_top(scan->turn_deg, scan->diameter_deg);
}

static fw_status match_angles(fw_net *net, const size_t *uses, fw_error *err)
{
    const fw_job *job = net->job;
    match m = {0};
    fw_line line[2];
    fw_status status = FW_OK;
    for (size_t i = 0; i < job->nscans && !status; i++) {
        lines_of(&job->scans[i], line);
        for (int side = 0; side < 2 && uses[i] && !status; side++)
            status = match_add(&m, line[side].angle_deg, err);
    }
    if (status || (status = match_group(&m, FW_ANGLE_TOLERANCE_DEG, err)))
        goto done;
    net->nangles = m.ngroups;
    net->angles_deg = m.centre;
    m.centre = NULL;
    for (size_t i = 0; i < job->nscans; i++) {
        lines_of(&job->scans[i], line);
        for (int side = 0; side < 2 && uses[i]; side++) {
            net->scans[i].angle[side] = match_find(&m, line[side].angle_deg);
            net->scans[i].flip[side] = (signed char)line[side].flip;
        }
    }
    /* A name the user typed is shown as typed; of several the smallest. */
    for (size_t i = job->nscans; i-- > 0;)
        if (uses[i])
            net->angles_deg[net->scans[i].angle[0]] = NAN;
    for (size_t i = 0; i < job->nscans; i++)
        if (uses[i]) {
            double typed = fw_line_of(job->scans[i].diameter_deg).angle_deg;
            double *shown = &net->angles_deg[net->scans[i].angle[0]];
            *shown = isnan(*shown) || typed < *shown ? typed : *shown;
        }
done:
    match_release(&m);
    return status;
}

typedef struct setup_key {
    int round, bottom, top;
    double turn;
    size_t scan;
} setup_key;

static int by_setup(const void *a, const void *b)
{
    const setup_key *x = a, *y = b;
    if (x->round != y->round)
        return (x->round > y->round) - (x->round < y->round);
    if (x->bottom != y->bottom)
        return (x->bottom > y->bottom) - (x->bottom < y->bottom);
    if (x->top != y->top)
        return (x->top > y->top) - (x->top < y->top);
    return (x->turn > y->turn) - (x->turn < y->turn);
}

static double turn_of(double turn_deg)
{
    double turn = fmod(turn_deg, 360);
    turn = turn < 0 ? turn + 360 : turn;
    return turn >= 360 - FW_ANGLE_TOLERANCE_DEG ? 0 : turn;
}

/* One plane p + q1 x + q2 y for every pairing of a round; x, y on the bottom. */
static fw_status terms_of_setups(fw_net *net, const size_t *uses, fw_error *err)
{
    const fw_job *job = net->job;
    size_t n = 0;
    int setup = -1;
    setup_key *keys = fw_alloc(job->nscans, sizeof *keys);
    if (!keys)
        return fw_out_of_memory(err);
    for (size_t i = 0; i < job->nscans; i++)
        if (uses[i])
            keys[n++] = (setup_key){job->scans[i].round, job->scans[i].bottom, job->scans[i].top,
                                    turn_of(job->scans[i].turn_deg), i};
    qsort(keys, n, sizeof *keys, by_setup);
    double start = 0;
    for (size_t i = 0; i < n; i++) {
        if (i == 0 || keys[i].round != keys[i - 1].round || keys[i].bottom != keys[i - 1].bottom ||
            keys[i].top != keys[i - 1].top || keys[i].turn - start > FW_ANGLE_TOLERANCE_DEG) {
            setup++;
            start = keys[i].turn;
        }
        net_scan *scan = &net->scans[keys[i].scan];
        double theta = job->scans[keys[i].scan].diameter_deg * FW_RAD;
        scan->piston = setup;
        scan->ntilt = 2;
        scan->tilt_coef[0] = cos(theta);
        scan->tilt_coef[1] = sin(theta);
    }
    net->npistons = setup + 1;
    net->nterms = 3 * net->npistons;
    for (size_t i = 0; i < n; i++) {
        net_scan *scan = &net->scans[keys[i].scan];
        scan->tilt[0] = net->npistons + 2 * scan->piston;
        scan->tilt[1] = scan->tilt[0] + 1;
    }
    fw_free(keys);
    return FW_OK;
}

static void terms_of_scans(fw_net *net, const size_t *uses)
{
    for (size_t i = 0; i < net->job->nscans; i++)
        if (uses[i])
            net->scans[i].piston = net->npistons++;
    net->nterms = 2 * net->npistons;
    for (size_t i = 0; i < net->job->nscans; i++)
        if (uses[i]) {
            net->scans[i].ntilt = 1;
            net->scans[i].tilt[0] = net->npistons + net->scans[i].piston;
            net->scans[i].tilt_coef[0] = 1;
        }
}

static fw_status find_scans(fw_net *net, const size_t *uses, fw_error *err)
{
    const fw_job *job = net->job;
    net->nscans = (int)job->nscans;
    net->scans = fw_alloc(job->nscans, sizeof *net->scans);
    if (!net->scans)
        return fw_out_of_memory(err);
    for (size_t i = 0; i < job->nscans; i++) {
        const fw_scan *scan = &job->scans[i];
        net->scans[i].piston = -1;
        if (!uses[i])
            continue;
        int flats[2] = {scan->bottom, scan->top};
        for (int side = 0; side < 2; side++) {
            int state = fw_job_state(job, flats[side], scan->round);
            net->scans[i].face[side] = (int)(face_of(net, flats[side], state) - net->faces);
        }
    }
    fw_status status = match_angles(net, uses, err);
    if (status)
        return status;
    if (job->levelling == FW_LEVELLING_SETUP)
        return terms_of_setups(net, uses, err);
    terms_of_scans(net, uses);
    return FW_OK;
}

/* The readings that take part, ring by ring; in a ring in the order of the scans. */
static fw_status sort_into_rings(fw_net *net, const match *m, size_t n, const size_t *without,
                                 fw_error *err)
{
    const fw_job *job = net->job;
    net->ring_first = fw_alloc((size_t)net->nrings + 1, sizeof *net->ring_first);
    net->ring_reading = fw_alloc(net->nreadings, sizeof *net->ring_reading);
    size_t *next = fw_alloc((size_t)net->nrings + 1, sizeof *next);
    int *ring = fw_alloc(job->nreadings, sizeof *ring);
    fw_status status = FW_OK;
    if (!net->ring_first || !net->ring_reading || !next || !ring) {
        status = fw_out_of_memory(err);
        goto done;
    }
    for (size_t i = 0, k = 0; i < job->nreadings; i++) {
        ring[i] = k < n && without[k] == i ? -1 : match_find(m, fabs(job->readings[i].position_mm));
        if (ring[i] < 0)
            k++;
        else
            net->ring_first[ring[i] + 1]++;
    }
    for (int r = 0; r < net->nrings; r++)
        net->ring_first[r + 1] += net->ring_first[r];
    memcpy(next, net->ring_first, ((size_t)net->nrings + 1) * sizeof *next);
    for (size_t i = 0; i < job->nreadings; i++)
        if (ring[i] >= 0)
            net->ring_reading[next[ring[i]]++] = (uint32_t)i;
done:
    fw_free(next);
    fw_free(ring);
    return status;
}

static fw_status find_rings(fw_net *net, size_t n, const size_t *without, fw_error *err)
{
    const fw_job *job = net->job;
    match m = {0};
    fw_status status = FW_OK;
    for (size_t i = 0, k = 0; i < job->nreadings && !status; i++) {
        if (k < n && without[k] == i)
            k++;
        else
            status = match_add(&m, fabs(job->readings[i].position_mm), err);
    }
    if (status || (status = match_group(&m, FW_POSITION_TOLERANCE_MM, err)))
        goto done;
    net->nrings = m.ngroups;
    net->ring_mm = m.centre;
    m.centre = NULL;
    if (net->nrings && net->ring_mm[0] <= FW_POSITION_TOLERANCE_MM)
        net->ring_mm[0] = 0;
    net->rmax_mm =
        net->nrings && net->ring_mm[net->nrings - 1] > 0 ? net->ring_mm[net->nrings - 1] : 1;
    status = sort_into_rings(net, &m, n, without, err);
done:
    match_release(&m);
    return status;
}

fw_status net_weigh(fw_net *net, const double *nm, fw_error *err)
{
    net->weighted = fw_alloc(net->nreadings, sizeof *net->weighted);
    if (!net->weighted)
        return fw_out_of_memory(err);
    for (int r = 0; r < net->nrings; r++) {
        const net_row *row = net->classes[net->ring_class[r]].rows;
        for (size_t i = net->ring_first[r]; i < net->ring_first[r + 1]; i++, row++)
            net->weighted[i] = row->weight * nm[net->ring_reading[i]];
    }
    return FW_OK;
}

fw_status net_new(const fw_job *job, size_t n, const size_t *without, fw_net **out, fw_error *err)
{
    fw_status status;
    size_t *uses = fw_alloc(job->nscans, sizeof *uses);
    fw_net *made = fw_alloc(1, sizeof *made);
    if (!uses || !made) {
        status = fw_out_of_memory(err);
        goto done;
    }
    if (job->nreadings > UINT32_MAX || job->nscans > INT_MAX / 4) {
        status = fw_fail(err, FW_INPUT, "too many readings: more than %u", UINT32_MAX);
        goto done;
    }
    made->job = job;
    made->nreadings = job->nreadings - n;
    made->sigma_known = job->nreadings > 0 && !isnan(job->readings[0].sigma_nm);
    for (size_t i = 0; i < job->nscans; i++)
        uses[i] = job->scans[i].count;
    for (size_t k = 0; k < n; k++)
        uses[job->readings[without[k]].scan]--;
    if ((status = find_faces(made, uses, err)) || (status = find_scans(made, uses, err)) ||
        (status = find_rings(made, n, without, err)) || (status = net_find_classes(made, err)))
        goto done;
    *out = made;
    made = NULL;
done:
    fw_free(uses);
    net_free(made);
    return status;
}

void net_free(fw_net *net)
{
    if (!net)
        return;
    for (int c = 0; c < net->nclasses; c++) {
        fw_free(net->classes[c].rows);
        fw_free(net->classes[c].columns);
        fw_free(net->classes[c].rings);
    }
    fw_free(net->classes);
    fw_free(net->faces);
    fw_free(net->angles_deg);
    fw_free(net->scans);
    fw_free(net->ring_mm);
    fw_free(net->ring_first);
    fw_free(net->ring_reading);
    fw_free(net->weighted);
    fw_free(net->ring_class);
    fw_free(net->ring_height);
    fw_free(net);
}
