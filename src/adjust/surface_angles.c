/* surface_angles.c - what pairs and turns show of each angular order, were the sampling perfect. */
#include "surface_angles.h"

#include <math.h>

#include "flatwright/alloc.h"
#include "flatwright/mating.h"
#include "linalg.h"

/* Turns closer than this show the same: a hundredth of what an angle is told apart by. */
static const double BLIND = 1e-4;

static double rounded(double x)
{
    return fabs(x) < BLIND ? 0 : fabs(fabs(x) - 1) < BLIND * BLIND ? copysign(1, x) : x;
}

/* Two rows of h (m rows in all), from row `at`. */
static void show(int m, const int face[2], double turn_deg, const bool *use, int rows, int at,
                 double *h)
{
    double c = rounded(cos(m * turn_deg * FW_RAD)), s = rounded(sin(m * turn_deg * FW_RAD));
    const double value[2][2][2] = {{{1, 0}, {0, 1}}, {{c, s}, {s, -c}}};
    for (int side = 0; side < 2; side++)
        for (int row = 0; row < 2; row++)
            for (int part = 0; part < 2; part++)
                if (!use || use[face[side]])
                    h[at + row + (size_t)(2 * face[side] + part) * (size_t)rows] +=
                        value[side][row][part];
}

/* A unit row for what is no unknown: a face left out, the sine of m = 0. */
static int fix(int m, int nfaces, const bool *use, int rows, double *h)
{
    int at = 0;
    for (int f = 0; f < nfaces; f++)
        for (int part = 0; part < 2; part++)
            if ((use && !use[f]) || (m == 0 && part == 1))
                h[at++ + (size_t)(2 * f + part) * (size_t)rows] = 1;
    return at;
}

/* Does an earlier scan stand for the same setting? Most follow their like. */
static bool told_before(const fw_net *net, int scan)
{
    const fw_scan *x = &net->job->scans[scan], *y = scan ? x - 1 : NULL;
    return y && net->scans[scan - 1].piston >= 0 &&
           net->scans[scan].face[0] == net->scans[scan - 1].face[0] &&
           net->scans[scan].face[1] == net->scans[scan - 1].face[1] &&
           fabs(x->turn_deg - y->turn_deg) <= 0;
}

fw_status surface_angles(const fw_net *net, int m, const bool *use, const surface_pairing *more,
                         double **null, int *d, fw_error *err)
{
    int n = 2 * net->nfaces, rows = n + (more ? 2 : 0), at;
    fw_qr qr = {0};
    double *z = NULL;
    for (int i = 0; i < net->nscans; i++)
        rows += net->scans[i].piston >= 0 && !told_before(net, i) ? 2 : 0;
    double *h = fw_alloc((size_t)rows * (size_t)n, sizeof *h);
    fw_status status = h ? FW_OK : fw_out_of_memory(err);
    if (status)
        return status;
    at = fix(m, net->nfaces, use, rows, h);
    for (int i = 0; i < net->nscans; i++)
        if (net->scans[i].piston >= 0 && !told_before(net, i)) {
            show(m, net->scans[i].face, net->job->scans[i].turn_deg, use, rows, at, h);
            at += 2;
        }
    if (more)
        show(m, more->face, more->turn_deg, use, rows, at, h);
    if ((status = fw_qr_factor(&qr, rows, n, h, NULL, BLIND, err)))
        goto done;
    *d = n - qr.rank;
    if (!null)
        goto done;
    z = fw_alloc((size_t)n * (size_t)*d, sizeof *z);
    status = z ? fw_qr_null(&qr, z, err) : fw_out_of_memory(err);
    if (!status) {
        *null = z;
        z = NULL;
    }
done:
    fw_qr_release(&qr);
    fw_free(z);
    fw_free(h);
    return status;
}
