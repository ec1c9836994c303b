/* model_rings.c - flats as heights on rings: figures are judged along the diameters read. */
#include <math.h>

#include "flatwright/alloc.h"
#include "flatwright/mating.h"
#include "linalg.h"
#include "model.h"
#include "profile.h"

enum {
    ALONG = 33,   /* points of the smooth figure along a diameter */
    STATIONS = 48 /* stations of a diameter that stand for all when terms are counted */
};

/* A column of which less than this part is left by those before it is like them. */
static const double ALIKE = 1e-6;

static size_t clear_stations(const fw_diameter *d, size_t *first, size_t *last)
{
    size_t n = 0;
    for (size_t i = 0; i < d->npoints; i++)
        if (d->points[i].clear) {
            *first = n ? *first : i;
            *last = i;
            n++;
        }
    return n;
}

/* The highest order the stations could carry. */
static int highest_order(const fw_profile *p, int limit)
{
    size_t most = 0, first = 0, last = 0;
    for (int k = 0; k < p->ndiameters; k++) {
        size_t n = clear_stations(&p->diameters[k], &first, &last);
        most = n > most ? n : most;
    }
    return most < 3 ? 0 : most > (size_t)limit + 1 ? limit : (int)most - 1;
}

static fw_status smooth_figure(adjustment *a, int face, const fw_profile *profile, int most,
                               smooth *out, fw_error *err)
{
    int order = highest_order(profile, most);
    if (order < 2)
        return FW_OK;
    return smooth_new(a, face, profile->ndiameters == 1, order, out, err);
}

/* x (n) <- what a piston and a slope along rho leave of it. */
static void take_line(int n, const double *rho, double *x)
{
    double mean[2] = {0}, slope = 0, size = 0, length = fw_length(n, rho);
    for (int i = 0; i < n; i++) {
        mean[0] += rho[i] / n;
        mean[1] += x[i] / n;
    }
    for (int i = 0; i < n; i++) {
        slope += (rho[i] - mean[0]) * (x[i] - mean[1]);
        size += pow(rho[i] - mean[0], 2);
    }
    bool told = sqrt(size) > ALIKE * length;
    for (int i = 0; i < n; i++)
        x[i] -= mean[1] + (told ? slope / size * (rho[i] - mean[0]) : 0);
}

/* The terms at a diameter's stations, from row `rows` of a (room x nterms); how many rows. */
static int fill_diameter(const fw_diameter *d, const fw_basis *basis, double clear_mm, int room,
                         double *rho, double *a)
{
    size_t first = 0, last = 0, step = clear_stations(d, &first, &last) / STATIONS + 1;
    int n = 0;
    for (size_t i = 0, seen = 0; i < d->npoints; i++) {
        if (!d->points[i].clear || seen++ % step)
            continue;
        rho[n] = d->points[i].position_mm / clear_mm;
        for (int j = 0; j < basis->nterms; j++)
            a[n + (size_t)j * room] =
                fw_basis_value(basis, j, rho[n], basis->line ? 0 : d->angle_deg * FW_RAD);
        n++;
    }
    return n;
}

/* Which terms the clear stations by themselves can tell apart from piston, slopes and each other. */
static fw_status countable_terms(const adjustment *adj, int face, const fw_profile *p,
                                 const fw_basis *basis, bool *countable, fw_error *err)
{
    double rho[STATIONS];
    int rows = 0, n = basis->nterms, room = STATIONS * p->ndiameters;
    fw_status status = FW_OK;
    double *a = fw_alloc((size_t)room * n, sizeof *a), *length = fw_alloc(n, sizeof *length);
    char *used = fw_alloc(n, 1);
    if (!a || !length || !used) {
        status = fw_out_of_memory(err);
        goto done;
    }
    for (int k = 0; k < p->ndiameters; k++) {
        int more = fill_diameter(&p->diameters[k], basis, adj->net->faces[face].clear_mm, room, rho,
                                 a + rows);
        for (int j = 0; j < n && more; j++) {
            double *x = a + rows + (size_t)j * room;
            length[j] = hypot(length[j], fw_length(more, x));
            take_line(more, rho, x);
        }
        rows += more;
    }
    fw_qr_stairs(rows, n, 0, a, room, length, ALIKE, used);
    for (int j = 0; j < n; j++)
        countable[j] = used[j];
done:
    fw_free(a);
    fw_free(length);
    fw_free(used);
    return status;
}

/* Points along every diameter, between its outermost clear stations and outside the bore. */
static fw_status lay_form(const adjustment *a, int which, const fw_profile *p,
                          const fw_basis *basis, fw_form **out, fw_error *err)
{
    const net_face *face = &a->net->faces[which];
    int n = 0;
    fw_status status;
    double *rho = fw_alloc((size_t)ALONG * p->ndiameters, sizeof *rho);
    double *theta = fw_alloc((size_t)ALONG * p->ndiameters, sizeof *theta);
    if (!rho || !theta) {
        status = fw_out_of_memory(err);
        goto done;
    }
    for (int k = 0; k < p->ndiameters; k++) {
        const fw_diameter *d = &p->diameters[k];
        size_t first = 0, last = 0;
        if (!clear_stations(d, &first, &last))
            continue;
        double from = d->points[first].position_mm, to = d->points[last].position_mm;
        for (int i = 0; i < ALONG; i++) {
            double s = from + (to - from) * i / (ALONG - 1);
            if (fabs(s) < face->bore_mm - FW_POSITION_TOLERANCE_MM)
                continue;
            rho[n] = s / face->clear_mm;
            theta[n++] = basis->line ? 0 : d->angle_deg * FW_RAD;
        }
    }
    status = fw_form_new(basis, face->bore_mm / face->clear_mm, n, rho, theta, out, err);
done:
    fw_free(rho);
    fw_free(theta);
    return status;
}

static fw_status solve(const fw_job *job, int order, adjustment **out, fw_error *err)
{
    (void)order;
    return adjustment_new(job, 0, NULL, out, err);
}

static fw_status moved(adjustment *a, int face, const smooth *like, smooth *out, fw_error *err)
{
    return smooth_new(a, face, like->basis->line, like->basis->order, out, err);
}

static fw_status again(const adjustment *a, size_t n, const size_t *without, adjustment **out,
                       fw_error *err)
{
    return adjustment_new(a->net->job, n, without, out, err);
}

const adjust_model model_rings = {
    .kind = FW_MODEL_PROFILE,
    .solve = solve,
    .again = again,
    .column = adjustment_of_column,
    .profile = profile_new,
    .smooth = smooth_figure,
    .moved = moved,
    .countable = countable_terms,
    .form = lay_form,
    .finer = finer_find,
    .snoop = snoop_all,
    .open = rings_open,
};
