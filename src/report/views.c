/* views.c - which flats and pairings the page pictures, their faces and fringes, common scales. */
#include "report/views.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "flatwright/alloc.h"
#include "flatwright/basis.h"
#include "flatwright/mating.h"
#include "flatwright/show.h"
#include "flatwright/units.h"
#include "report/axes.h"
#include "report/words.h"

enum { CIRCLES = 29, ANGLES = 120 };

#define GREEN_NM 546.07 /* mercury e line in air, as in job/light.c */
#define CONTOURS 5      /* at most, to either side */

const char *views_name(const views *v, int flat, char buffer[VIEWS_NAME])
{
    return fw_show(buffer, VIEWS_NAME, v->result->job->flats[flat].name);
}

int views_place(const views *v, int flat)
{
    for (int k = 0; k < v->nshown; k++)
        if (v->shown[k] == flat)
            return k;
    return -1;
}

/*
 * grid += scale * figure. mirrored: the figure is the top's, and its angle at the bottom's t is
 * turn - t. Term by term, since each is a factor of the circle times one of the angle.
 */
static void add_figure(contour_grid *grid, const fw_figure *figure, double scale, bool mirrored,
                       double turn_deg)
{
    for (int k = 0; k < figure->nterms; k++) {
        const fw_figure_term *term = &figure->terms[k];
        int m = abs(term->m);
        double radial[CIRCLES] = {0};
        for (int i = 0; i < grid->nr; i++)
            radial[i] = scale * term->value_nm * fw_zernike_norm(term->n, m) *
                        fw_zernike_radial(term->n, m, contour_radius(grid, i) / figure->radius_mm);
        for (int j = 0; j < grid->na; j++) {
            double t = contour_angle(grid, j), own = mirrored ? turn_deg * FW_RAD - t : t;
            double around = term->m < 0 ? sin(m * own) : cos(m * own);
            for (int i = 0; i < grid->nr; i++)
                grid->height[i + j * grid->nr] += radial[i] * around;
        }
    }
}

void views_fringes(const fw_figure *bottom, const fw_figure *top, double turn_deg, double fringe_nm,
                   double bands, contour_grid *grid, double *pv_nm)
{
    int low, high;
    add_figure(grid, bottom, 1, false, 0);
    add_figure(grid, top, 1, true, turn_deg);
    contour_level(grid);
    contour_extremes(grid, &low, &high);
    *pv_nm = grid->height[high] - grid->height[low];
    for (int j = 0; j < grid->na; j++)
        for (int i = 0; i < grid->nr; i++) {
            double y = contour_radius(grid, i) * sin(contour_angle(grid, j));
            double *at = &grid->height[i + j * grid->nr];
            *at = bands * y / (2 * grid->outer) - *at / fringe_nm;
        }
}

static bool has_face(const fw_figure *figure)
{
    return figure->nterms > 0 && !figure->line;
}

/* How far a flat is from the target; unknown ones come last. */
static double urgency(const views *v, int flat)
{
    double value = words_judged(v->result, flat).value_nm;
    return isfinite(value) ? value : -1;
}

static void choose_flats(views *v)
{
    int nflats = v->result->job->nflats;
    double last = INFINITY;
    bool crowded = nflats > VIEWS_FLATS;
    if (crowded) { /* the value that so many reach or exceed */
        double most[VIEWS_FLATS];
        int n = 0;
        for (int f = 0; f < nflats; f++) {
            double u = urgency(v, f);
            int at = n < VIEWS_FLATS ? n++ : VIEWS_FLATS;
            while (at > 0 && most[at - 1] < u) {
                if (at < VIEWS_FLATS)
                    most[at] = most[at - 1];
                at--;
            }
            if (at < VIEWS_FLATS)
                most[at] = u;
        }
        last = most[n - 1];
    }
    for (int pass = 0; pass < 2; pass++) /* those above it first, then equal ones for the rest */
        for (int f = 0; f < nflats && v->nshown < VIEWS_FLATS; f++)
            if (!crowded ? pass == 0 : pass ? urgency(v, f) == last : urgency(v, f) > last)
                v->shown[v->nshown++] = f;
    for (int i = 1; i < v->nshown; i++)
        for (int k = i; k > 0 && v->shown[k] < v->shown[k - 1]; k--) {
            int t = v->shown[k];
            v->shown[k] = v->shown[k - 1];
            v->shown[k - 1] = t;
        }
}

static fw_status make_faces(views *v, fw_error *err)
{
    double most = 0;
    for (int k = 0; k < v->nshown; k++) {
        const fw_flat *flat = &v->result->job->flats[v->shown[k]];
        const fw_figure *figure = &words_today(v->result, v->shown[k])->figure;
        int low, high;
        if (!has_face(figure))
            continue;
        fw_status status = contour_new(flat->bore_mm / 2, flat->clear_mm / 2, CIRCLES, ANGLES,
                                       &v->face[k], err);
        if (status)
            return status;
        add_figure(&v->face[k], figure, 1, false, 0);
        contour_level(&v->face[k]);
        contour_extremes(&v->face[k], &low, &high);
        most = fmax(most, fmax(v->face[k].height[high], -v->face[k].height[low]));
    }
    v->step_nm = most > 0 ? axis_round_up(most / CONTOURS) : 1;
    v->nsteps = (int)fmax(2, ceil(most / v->step_nm - 1e-9));
    return FW_OK;
}

/* Profiles of all flats go as far as the farthest point with its uncertainty, and the target. */
static void find_reach(views *v)
{
    v->reach_nm = 0.6 * v->result->job->flatness_nm;
    for (int k = 0; k < v->nshown; k++) {
        const fw_profile *profile = &words_today(v->result, v->shown[k])->profile;
        for (int d = 0; d < profile->ndiameters; d++)
            for (size_t i = 0; i < profile->diameters[d].npoints; i++) {
                const fw_point *p = &profile->diameters[d].points[i];
                double u = isfinite(p->u_nm) ? fmin(2 * p->u_nm, fabs(p->height_nm) + 50) : 0;
                if (p->determined && isfinite(p->height_nm))
                    v->reach_nm = fmax(v->reach_nm, fabs(p->height_nm) + u);
            }
    }
    v->reach_nm *= 1.05;
}

static bool seen(const views *v, const fw_scan *scan)
{
    for (int p = 0; p < v->npairings; p++)
        if (v->pairings[p].bottom == scan->bottom && v->pairings[p].top == scan->top &&
            fabs(v->pairings[p].turn_deg - scan->turn_deg) < FW_ANGLE_TOLERANCE_DEG)
            return true;
    return false;
}

static fw_status add_pairing(views *v, const fw_scan *scan, fw_error *err)
{
    const fw_flat *a = &v->result->job->flats[scan->bottom];
    const fw_flat *b = &v->result->job->flats[scan->top];
    view_pairing *p = &v->pairings[v->npairings];
    double outer = fmin(a->clear_mm, b->clear_mm) / 2, inner = fmax(a->bore_mm, b->bore_mm) / 2;
    if (!(outer > inner))
        return FW_OK;
    fw_status status = contour_new(inner, outer, CIRCLES, ANGLES, &p->order, err);
    if (status)
        return status;
    p->bottom = scan->bottom;
    p->top = scan->top;
    p->turn_deg = scan->turn_deg;
    views_fringes(&words_today(v->result, p->bottom)->figure,
                  &words_today(v->result, p->top)->figure, p->turn_deg, v->light_nm, VIEWS_BANDS,
                  &p->order, &p->pv_nm);
    v->npairings++;
    return FW_OK;
}

static fw_status make_pairings(views *v, fw_error *err)
{
    const fw_job *job = v->result->job;
    const fw_scan *last = NULL;
    fw_light light = job->light;
    v->light_named = isfinite(light.wavelength_nm);
    if (!v->light_named)
        light = (fw_light){"", GREEN_NM, 0};
    v->light_nm = fw_unit_nm(FW_UNIT_FRINGE, &light);
    for (size_t s = 0; s < job->nscans; s++) {
        const fw_scan *scan = &job->scans[s];
        if (last && scan->bottom == last->bottom && scan->top == last->top &&
            scan->turn_deg == last->turn_deg)
            continue;
        last = scan;
        if (seen(v, scan) || !has_face(&words_today(v->result, scan->bottom)->figure) ||
            !has_face(&words_today(v->result, scan->top)->figure))
            continue;
        if (v->npairings == VIEWS_PAIRINGS) {
            v->more_pairings++;
            continue;
        }
        fw_status status = add_pairing(v, scan, err);
        if (status)
            return status;
    }
    return FW_OK;
}

bool views_moved(const views *v)
{
    for (int k = 0; k < v->nshown; k++) {
        int known = 0;
        for (int i = 0; i < v->result->nfaces; i++)
            known += v->result->faces[i].flat == v->shown[k] &&
                     isfinite(fw_track_judged(v->result->job, &v->result->faces[i].figure).value_nm);
        if (known > 1)
            return true;
    }
    return false;
}

/* Names of long-named flats would not do as a file's: their number stands instead. */
static void name_flat(const views *v, int flat, char buffer[VIEWS_NAME])
{
    if (strlen(v->result->job->flats[flat].name) < VIEWS_NAME)
        snprintf(buffer, VIEWS_NAME, "%s", v->result->job->flats[flat].name);
    else
        snprintf(buffer, VIEWS_NAME, "%d", flat + 1);
}

static picture *add_picture(views *v, picture_kind kind, int flat, int index)
{
    picture *p = &v->pictures[v->npictures++];
    *p = (picture){.kind = kind, .flat = flat, .index = index};
    return p;
}

static void list_pictures(views *v)
{
    char a[VIEWS_NAME], b[VIEWS_NAME];
    for (int k = 0; k < v->nshown; k++) {
        name_flat(v, v->shown[k], a);
        if (words_today(v->result, v->shown[k])->profile.ndiameters > 0)
            snprintf(add_picture(v, PICTURE_PROFILE, v->shown[k], 0)->name, PICTURE_NAME,
                     "profile-%s", a);
        if (v->face[k].height)
            snprintf(add_picture(v, PICTURE_FACE, v->shown[k], k)->name, PICTURE_NAME, "face-%s",
                     a);
    }
    for (int i = 0; i < v->npairings; i++) {
        name_flat(v, v->pairings[i].bottom, a);
        name_flat(v, v->pairings[i].top, b);
        snprintf(add_picture(v, PICTURE_FRINGES, v->pairings[i].bottom, i)->name, PICTURE_NAME,
                 "fringes-%s-%s-%g", a, b, v->pairings[i].turn_deg);
    }
    if (v->track && views_moved(v)) {
        snprintf(add_picture(v, PICTURE_ROUNDS, -1, 0)->name, PICTURE_NAME, "rounds");
        snprintf(add_picture(v, PICTURE_HOURS, -1, 0)->name, PICTURE_NAME, "hours");
    }
    for (int i = 0; v->advice && i < v->advice->nplans && i < VIEWS_FLATS; i++) {
        const fw_plan *plan = &v->advice->plans[i];
        int rows = plan->warnings & FW_WARN_WAVE ? 0 : plan->nrows; /* over a wave: to be ground */
        for (int r = 0; r < rows && r < VIEWS_STROKES; r++) {
            picture *p = add_picture(v, PICTURE_WORK, i, r);
            name_flat(v, plan->flat, a);
            snprintf(p->name, PICTURE_NAME, "work-%s-%d", a, r + 1);
        }
    }
}

fw_status views_new(const fw_advice *advice, const fw_track *track, views *out, fw_error *err)
{
    size_t most = 2 * VIEWS_FLATS + VIEWS_PAIRINGS + 2 + VIEWS_FLATS * VIEWS_STROKES;
    views v = {.result = advice->result, .advice = advice, .track = track};
    fw_status status;
    choose_flats(&v);
    find_reach(&v);
    if ((status = make_faces(&v, err)) || (status = make_pairings(&v, err)))
        goto done;
    v.pictures = fw_alloc(most, sizeof *v.pictures);
    if (!v.pictures) {
        status = fw_out_of_memory(err);
        goto done;
    }
    list_pictures(&v);
done:
    if (status)
        views_release(&v);
    *out = v;
    return status;
}

void views_release(views *v)
{
    for (int k = 0; k < VIEWS_FLATS; k++)
        contour_release(&v->face[k]);
    for (int i = 0; i < VIEWS_PAIRINGS; i++)
        contour_release(&v->pairings[i].order);
    fw_free(v->pictures);
    *v = (views){0};
}
