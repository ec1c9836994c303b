/* candidates_turns.c - the turns worth trying where the job lists none. */
#include <math.h>
#include <stdlib.h>

#include "candidates.h"
#include "flatwright/alloc.h"
#include "flatwright/mating.h"

/* Nobody sets a turn finer than this without being asked to. */
static const double FINEST_STEP_DEG = 1;
/* Turns of diameters that are not even, at most; as many as even ones 4 deg apart have. */
enum { UNEVEN_MOST = 90 };

/* A turn up to half a circle, and how many diameters it lays on lines that are read. */
typedef struct turn {
    double deg;
    int lays;
} turn;

/* The diameters that were typed, ascending; their number. */
static int typed_diameters(const fw_net *net, double *deg)
{
    int n = 0;
    for (int k = 0; k < net->nangles; k++) {
        bool typed = false;
        for (int i = 0; i < net->nscans && !typed; i++)
            typed = net->scans[i].piston >= 0 && net->scans[i].angle[0] == k;
        if (typed)
            deg[n++] = net->angles_deg[k];
    }
    return n;
}

/* Are all gaps the same but for what typing rounds off? */
static bool is_even(const double *deg, int n)
{
    double gap = deg[0] + 180 - deg[n - 1];
    for (int k = 1; k < n; k++)
        gap = fmin(gap, deg[k] - deg[k - 1]);
    return 180.0 / n - gap <= FW_ANGLE_TOLERANCE_DEG / 2;
}

static void add_turn(candidates *c, double deg)
{
    double full = fmod(deg, 360);
    full = full < 0 ? full + 360 : full;
    for (int t = 0; t < c->nturns; t++)
        if (fabs(remainder(c->turns_deg[t] - full, 360)) <= FW_ANGLE_TOLERANCE_DEG)
            return;
    c->turns_deg[c->nturns++] = full;
}

static fw_status even_turns(candidates *c, int n, fw_error *err)
{
    double step = 180.0 / n;
    while (step < FINEST_STEP_DEG)
        step *= 2;
    int count = (int)ceil(360 / step - 1e-6);
    c->turns_deg = fw_alloc(count, sizeof *c->turns_deg);
    if (!c->turns_deg)
        return fw_out_of_memory(err);
    for (int t = 0; t < count; t++)
        add_turn(c, t * step);
    return FW_OK;
}

static int ascending(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static int most_first(const void *a, const void *b)
{
    const turn *x = a, *y = b;
    return x->lays != y->lays ? y->lays - x->lays : ascending(&x->deg, &y->deg);
}

/* sums: a line read and a diameter, the turn that lays one on the other; their number. */
static int find_sums(const fw_net *net, const double *deg, int n, double *sums, turn *turns)
{
    int count = 0, found = 0;
    for (int l = 0; l < net->nangles; l++)
        for (int k = 0; k < n; k++)
            sums[count++] = fw_line_of(net->angles_deg[l] + deg[k]).angle_deg;
    qsort(sums, count, sizeof *sums, ascending);
    for (int i = 0; i < count; i++)
        if (found && sums[i] - turns[found - 1].deg <= FW_ANGLE_TOLERANCE_DEG)
            turns[found - 1].lays++;
        else
            turns[found++] = (turn){sums[i], 1};
    return found;
}

/* Is a turn as fine as nobody sets it beside those that are taken? */
static bool too_near(const candidates *c, double deg)
{
    for (int t = 0; t < c->nturns; t++)
        if (fabs(remainder(c->turns_deg[t] - deg, 180)) < FINEST_STEP_DEG - FW_ANGLE_TOLERANCE_DEG)
            return true;
    return false;
}

/* Multiples of a gap would lay nothing on anything: the turns that lay most diameters on lines read. */
static fw_status uneven_turns(candidates *c, const fw_net *net, const double *deg, int n,
                              fw_error *err)
{
    size_t most = (size_t)net->nangles * n;
    double *sums = fw_alloc(most, sizeof *sums);
    turn *turns = fw_alloc(most, sizeof *turns);
    c->turns_deg = fw_alloc(UNEVEN_MOST, sizeof *c->turns_deg);
    fw_status status = FW_OK;
    if (!sums || !turns || !c->turns_deg) {
        status = fw_out_of_memory(err);
        goto done;
    }
    int found = find_sums(net, deg, n, sums, turns);
    qsort(turns, found, sizeof *turns, most_first);
    for (int i = 0; i < found && c->nturns < UNEVEN_MOST; i++)
        for (int half = 0; half < 2 && (half || !too_near(c, turns[i].deg)); half++)
            c->turns_deg[c->nturns++] = turns[i].deg + 180 * half;
    qsort(c->turns_deg, c->nturns, sizeof *c->turns_deg, ascending);
done:
    fw_free(sums);
    fw_free(turns);
    return status;
}

static fw_status listed_turns(candidates *c, const fw_job *job, fw_error *err)
{
    c->turns_deg = fw_alloc(job->nturns, sizeof *c->turns_deg);
    if (!c->turns_deg)
        return fw_out_of_memory(err);
    for (int t = 0; t < job->nturns; t++)
        add_turn(c, job->turns_deg[t]);
    return FW_OK;
}

fw_status candidates_turns(const adjustment *a, candidates *c, fw_error *err)
{
    const fw_net *net = a->net;
    double *deg = fw_alloc(net->nangles, sizeof *deg);
    if (!deg)
        return fw_out_of_memory(err);
    int n = typed_diameters(net, deg);
    fw_status status = FW_OK;
    if (n && net->job->nturns)
        status = listed_turns(c, net->job, err);
    else if (n)
        status = is_even(deg, n) ? even_turns(c, n, err) : uneven_turns(c, net, deg, n, err);
    fw_free(deg);
    return status;
}
