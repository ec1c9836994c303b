/* menu.c - every stroke a plan may choose from, tabulated over the clear aperture when it is asked for. */
#include <assert.h>
#include <math.h>
#include <string.h>

#include "adjust/linalg.h"
#include "flatwright/alloc.h"
#include "shop/plan.h"

#define PI 3.14159265358979323846
#define STEP 0.5 /* mm: zones are set by a rule, not finer */

enum { HALF = FW_MENU_ANGLES / 2 + 1, POINTS = FW_MENU_RADII * FW_MENU_ANGLES, MOST = 200 };

double menu_dot(const fw_menu *menu, const double *a, const double *b)
{
    double sum = 0;
    for (int i = 0; i < menu->npoints; i++)
        sum += menu->weight[i] * a[i] * b[i];
    return sum;
}

void menu_project(const fw_menu *menu, bool power, double *v)
{
    double share[POINTS], c[FW_MENU_FREE];
    int n = menu->npoints, nfree = power ? menu->nfree : menu->nfree - 1;
    for (int i = 0; i < n; i++)
        share[i] = menu->weight[i] * v[i];
    fw_dots(n, nfree, menu->free, n, share, c);
    for (int k = 0; k < nfree; k++)
        fw_add(n, -c[k], menu->free + (size_t)k * (size_t)n, 1, v);
}

static void lay_grid(fw_menu *m)
{
    double bore = m->flat.bore_mm, width = m->clear_mm - bore, area = 0;
    for (int i = 0; i < m->npoints; i++) {
        int ring = i / m->nangles;
        double r = bore + width * ring / (m->nradii - 1);
        double end = ring == 0 || ring == m->nradii - 1 ? 0.5 : 1;
        m->r_mm[i] = r;
        m->theta[i] = 2 * PI * (i % m->nangles) / m->nangles;
        m->weight[i] = end * r;
        area += end * r;
    }
    for (int i = 0; i < m->npoints; i++) {
        int ring = i / m->nangles;
        double end = ring == 0 || ring == m->nradii - 1 ? 0.5 : 1;
        double along = end / (m->nradii - 1) / m->nangles;
        m->weight[i] = m->line ? along : 0.5 * (m->weight[i] / area + along);
    }
}

/* Piston, tilts and power, made orthonormal by Gram and Schmidt, twice. */
static void lay_free(fw_menu *m)
{
    int kept = 0;
    for (int k = 0; k < FW_MENU_FREE; k++) {
        double *f = m->free + (size_t)kept * m->npoints;
        if (m->line && k == 2)
            continue;
        for (int i = 0; i < m->npoints; i++) {
            double x = m->r_mm[i] / m->clear_mm;
            f[i] = k == 0 ? 1 : k == 3 ? x * x : x * (k == 1 ? cos(m->theta[i]) : sin(m->theta[i]));
        }
        for (int turn = 0; turn < 2; turn++)
            for (int j = 0; j < kept; j++) {
                const double *g = m->free + (size_t)j * m->npoints;
                double c = menu_dot(m, f, g);
                for (int i = 0; i < m->npoints; i++)
                    f[i] -= c * g[i];
            }
        double length = sqrt(menu_dot(m, f, f));
        for (int i = 0; i < m->npoints; i++)
            f[i] /= length;
        kept++;
    }
    m->nfree = kept;
}

static double to_step(double mm, const fw_disc *flat)
{
    if (isnan(mm) || fabs(mm - flat->bore_mm) < STEP || fabs(mm - flat->radius_mm) < STEP)
        return mm;
    return STEP * round(mm / STEP);
}

/* Strokes that a row of the work list can name again; a zone too narrow once rounded is left out. */
static int list_strokes(const fw_disc *flat, bool line, fw_stroke *list)
{
    fw_stroke all[MOST];
    fw_travel travel;
    int n = fw_stroke_menu(flat, MOST, all), kept = 0;
    assert(n <= MOST);
    for (int i = 0; i < n; i++) {
        fw_stroke s = all[i];
        if (line && s.method == FW_SIDE)
            continue;
        s.inner_mm = to_step(s.inner_mm, flat);
        s.outer_mm = to_step(s.outer_mm, flat);
        if (fw_stroke_travel(&s, flat, &travel, NULL) == FW_OK)
            list[kept++] = s;
    }
    return kept;
}

/* A side k places on: the same, turned. */
static void turn_side(const fw_menu *m, const double *unit, int k, double *turned)
{
    for (int i = 0; i < m->npoints; i++) {
        int first = i - i % m->nangles;
        turned[first + (i - first + k) % m->nangles] = unit[i];
    }
}

/* A stroke that is the same all round: reckoned on one angle. */
static fw_status round_about(const fw_menu *m, const fw_stroke *s, double *unit, fw_error *err)
{
    double r[FW_MENU_RADII], f[FW_MENU_RADII];
    for (int k = 0; k < m->nradii; k++)
        r[k] = m->r_mm[k * m->nangles];
    fw_status status = fw_stroke_by_hand(s, &m->flat, (size_t)m->nradii, r, NULL, f, err);
    for (int i = 0; i < m->npoints && !status; i++)
        unit[i] = f[i / m->nangles];
    return status;
}

/* A side at angle 0 is its own mirror image: reckoned on the angles of half a turn. */
static fw_status one_side(const fw_menu *m, const fw_stroke *s, double *unit, fw_error *err)
{
    double r[FW_MENU_RADII * HALF], theta[FW_MENU_RADII * HALF], f[FW_MENU_RADII * HALF];
    int half = m->nangles / 2 + 1, n = m->nradii * half;
    for (int i = 0; i < n; i++) {
        int at = i / half * m->nangles + i % half;
        r[i] = m->r_mm[at];
        theta[i] = m->theta[at];
    }
    fw_status status = fw_stroke_by_hand(s, &m->flat, (size_t)n, r, theta, f, err);
    for (int i = 0; i < m->npoints && !status; i++) {
        int k = i % m->nangles;
        unit[i] = f[i / m->nangles * half + (k < half ? k : m->nangles - k)];
    }
    return status;
}

static bool reaches(const fw_menu *m, int j, int ring)
{
    const double *unit = m->unit + (size_t)j * (size_t)m->npoints + (size_t)(ring * m->nangles);
    bool any = false;
    for (int i = 0; i < m->nangles; i++)
        any = any || unit[i] != 0;
    return any;
}

/* Stroke j, whose removal is there, becomes known. */
static void know(fw_menu *m, int j)
{
    double *modes = m->modes + (size_t)j * FW_HABIT_MODES * (size_t)m->nradii;
    for (int k = 0; k < m->nradii; k++, modes += FW_HABIT_MODES)
        fw_habit_modes(&m->strokes[j], &m->flat, m->r_mm[k * m->nangles], modes);
    for (m->end[j] = m->nradii; m->end[j] > 0 && !reaches(m, j, m->end[j] - 1);)
        m->end[j]--;
    for (m->first[j] = 0; m->first[j] < m->end[j] && !reaches(m, j, m->first[j]);)
        m->first[j]++;
    m->known[j] = true;
}

/* A side and all it can be turned to, which stand in a row. */
static fw_status tabulate_sides(fw_menu *m, int first, fw_error *err)
{
    size_t n = (size_t)m->npoints, size = FW_HABIT_MODES * (size_t)m->nradii;
    double *unit = m->unit + (size_t)first * n, *modes = m->modes + (size_t)first * size;
    fw_status status = one_side(m, &m->strokes[first], unit, err);
    if (status)
        return status;
    know(m, first);
    for (int k = 1; k < m->nangles; k++) {
        turn_side(m, unit, k, unit + (size_t)k * n);
        memcpy(modes + (size_t)k * size, modes, size * sizeof *modes);
        m->first[first + k] = m->first[first];
        m->end[first + k] = m->end[first];
        m->known[first + k] = true;
    }
    return FW_OK;
}

fw_status menu_tabulate(fw_menu *m, int j, fw_error *err)
{
    const fw_stroke *s = &m->strokes[j];
    if (m->known[j])
        return FW_OK;
    if (s->method == FW_SIDE)
        return tabulate_sides(m, j - (int)lround(s->side_deg / 360 * m->nangles), err);
    fw_status status = round_about(m, s, m->unit + (size_t)j * (size_t)m->npoints, err);
    if (!status)
        know(m, j);
    return status;
}

/* Sides at every angle of the grid. */
static void turn_sides(fw_menu *m, int nlist, const fw_stroke *list)
{
    for (int i = 0; i < nlist; i++) {
        fw_stroke s = list[i];
        bool side = s.method == FW_SIDE;
        for (int k = 0; k < (side ? m->nangles : 1); k++) {
            s.side_deg = side ? 360.0 * k / m->nangles : NAN;
            m->strokes[m->nstrokes++] = s;
        }
    }
}

static bool make_room(fw_menu *m, size_t nstrokes)
{
    size_t n = (size_t)m->npoints;
    m->r_mm = fw_alloc(n, sizeof *m->r_mm);
    m->theta = fw_alloc(n, sizeof *m->theta);
    m->weight = fw_alloc(n, sizeof *m->weight);
    m->free = fw_alloc(FW_MENU_FREE * n, sizeof *m->free);
    m->strokes = fw_alloc(nstrokes, sizeof *m->strokes);
    m->unit = fw_alloc(n * nstrokes, sizeof *m->unit);
    m->modes = fw_alloc(FW_HABIT_MODES * (size_t)m->nradii * nstrokes, sizeof *m->modes);
    m->first = fw_alloc(nstrokes, sizeof *m->first);
    m->end = fw_alloc(nstrokes, sizeof *m->end);
    m->known = fw_alloc(nstrokes, sizeof *m->known);
    return m->r_mm && m->theta && m->weight && m->free && m->strokes && m->unit && m->modes &&
           m->first && m->end && m->known;
}

fw_status fw_menu_new(const fw_disc *flat, double clear_mm, bool line, fw_menu **out, fw_error *err)
{
    fw_stroke list[MOST];
    fw_menu *m = fw_alloc(1, sizeof *m);
    if (!m)
        return fw_out_of_memory(err);
    *m = (fw_menu){.flat = *flat,
                   .clear_mm = clear_mm,
                   .line = line,
                   .nradii = FW_MENU_RADII,
                   .nangles = line ? 2 : FW_MENU_ANGLES};
    m->npoints = m->nradii * m->nangles;
    int nlist = list_strokes(flat, line, list), all = 0;
    for (int i = 0; i < nlist; i++)
        all += list[i].method == FW_SIDE ? m->nangles : 1;
    if (!make_room(m, (size_t)all)) {
        fw_menu_free(m);
        return fw_out_of_memory(err);
    }
    lay_grid(m);
    lay_free(m);
    turn_sides(m, nlist, list);
    *out = m;
    return FW_OK;
}

fw_status menu_reweigh(const fw_menu *menu, const double *factor, fw_menu *out, fw_error *err)
{
    fw_menu m = *menu;
    double sum = 0;
    m.weight = fw_alloc((size_t)m.npoints, sizeof(double));
    m.free = fw_alloc(FW_MENU_FREE * (size_t)m.npoints, sizeof(double));
    if (!m.weight || !m.free) {
        menu_release(&m);
        return fw_out_of_memory(err);
    }
    for (int i = 0; i < m.npoints; i++)
        sum += m.weight[i] = menu->weight[i] * factor[i];
    for (int i = 0; i < m.npoints; i++)
        m.weight[i] /= sum;
    lay_free(&m);
    *out = m;
    return FW_OK;
}

void menu_release(fw_menu *menu)
{
    fw_free(menu->weight);
    fw_free(menu->free);
}

void fw_menu_free(fw_menu *menu)
{
    if (!menu)
        return;
    fw_free(menu->r_mm);
    fw_free(menu->theta);
    fw_free(menu->weight);
    fw_free(menu->free);
    fw_free(menu->strokes);
    fw_free(menu->unit);
    fw_free(menu->modes);
    fw_free(menu->first);
    fw_free(menu->end);
    fw_free(menu->known);
    fw_free(menu);
}
