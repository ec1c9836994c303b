/* effects.c - what support, warmth and view add to every reading of a job. */
#include "bench/effects.h"

#include <math.h>

#include "flatwright/alloc.h"
#include "flatwright/mating.h"
#include "flatwright/plate.h"
#include "flatwright/view.h"
#include "flatwright/warmth.h"

/* One flat in both its places; a place without support, or a flat that is not known, has no plate. */
typedef struct carried {
    bool known[2];
    fw_plate plate[2];
    double unit_nm, thin, a_mm;
} carried;

static carried carry(const fw_job *job, int flat)
{
    const fw_flat *f = &job->flats[flat];
    carried c = {.unit_nm = fw_plate_unit_nm(f), .a_mm = f->diameter_mm / 2,
                 .thin = 2 * f->thickness_mm / f->diameter_mm};
    c.known[0] = fw_plate_on(f, &job->support_bottom, &c.plate[0]);
    c.known[1] = fw_plate_on(f, &job->support_top, &c.plate[1]);
    return c;
}

/*
 * What a flat adds to a reading: -w as bottom, +w as top (bench.h has the signs). Both supports stand on
 * the bench, whose angles are the bottom's; the top's own angle of the point, phi - theta, and that of
 * the support, phi - alpha, differ by alpha - theta, so w is the same in the bench's angles.
 */
static double place_nm(const fw_job *job, const carried *c, effect_kind kind, int place,
                       const fw_scan *scan, double position_mm)
{
    const fw_support *support = place ? &job->support_top : &job->support_bottom;
    double x = fabs(position_mm) / c->a_mm, w, angle = 0;
    if (!c->known[place])
        return 0;
    if (support->kind == FW_SUPPORT_THREE)
        angle = (scan->diameter_deg + (position_mm < 0 ? 180 : 0) - support->angle_deg) * FW_RAD;
    x = fmin(fmax(x, c->plate[place].bore), 1);
    w = kind == EFFECT_SHEAR ? fw_plate_shear(&c->plate[place], c->thin, x)
                             : fw_plate_sag(&c->plate[place], x, angle);
    return (place ? 1 : -1) * c->unit_nm * w;
}

static void fill_plate(const fw_job *job, const effect *e)
{
    carried c = carry(job, e->flat);
    for (size_t i = 0; i < job->nreadings; i++) {
        const fw_scan *scan = &job->scans[job->readings[i].scan];
        double mm = job->readings[i].position_mm;
        e->nm[i] = 0;
        if (scan->bottom == e->flat)
            e->nm[i] += place_nm(job, &c, e->kind, 0, scan, mm);
        if (scan->top == e->flat)
            e->nm[i] += place_nm(job, &c, e->kind, 1, scan, mm);
    }
}

/* A face that is warmer by the gradient is convex, whichever way up it lies. */
static void fill_bow(const fw_job *job, const effect *e)
{
    const fw_flat *f = &job->flats[e->flat];
    double bow = fw_warmth_bow_nm(&f->glass, f->clear_mm, f->thickness_mm, job->gradient_k);
    for (size_t i = 0; i < job->nreadings; i++) {
        const fw_scan *scan = &job->scans[job->readings[i].scan];
        double x = 2 * job->readings[i].position_mm / f->clear_mm;
        e->nm[i] = scan->bottom == e->flat || scan->top == e->flat ? -bow * x * x : 0;
    }
}

static void fill_rise(const fw_job *job, const effect *e)
{
    for (size_t i = 0; i < job->nreadings; i++)
        e->nm[i] = fw_view_rise_nm(job->gap_um, job->eye_mm, job->readings[i].position_mm);
}

/* Does any reading show it? Not a number: thickness or glass is not known. */
static bool shows(const fw_job *job, const effect *e)
{
    bool any = false;
    for (size_t i = 0; i < job->nreadings; i++) {
        if (isnan(e->nm[i]))
            return false;
        any = any || e->nm[i] != 0;
    }
    return any;
}

static fw_status add(const fw_job *job, effect_kind kind, int flat, effects *out, fw_error *err)
{
    effect e = {kind, flat, fw_alloc(job->nreadings, sizeof(double))};
    if (!e.nm)
        return fw_out_of_memory(err);
    if (kind == EFFECT_RISE)
        fill_rise(job, &e);
    else if (kind == EFFECT_BOW)
        fill_bow(job, &e);
    else
        fill_plate(job, &e);
    if (shows(job, &e))
        out->list[out->n++] = e;
    else
        fw_free(e.nm);
    return FW_OK;
}

fw_status effects_new(const fw_job *job, effects *out, fw_error *err)
{
    bool bends = job->bending != FW_BENDING_IGNORE && (job->support_bottom.kind || job->support_top.kind);
    bool view = !isnan(job->gap_um) && !isnan(job->eye_mm), warm = !isnan(job->gradient_k);
    effects made = {0, NULL};
    fw_status status = FW_OK;
    made.list = fw_alloc(EFFECT_KINDS * (size_t)job->nflats, sizeof *made.list);
    if (!made.list)
        return fw_out_of_memory(err);
    for (int f = 0; f < job->nflats && !status; f++) {
        if (bends && !(status = add(job, EFFECT_PLATE, f, &made, err)))
            status = add(job, EFFECT_SHEAR, f, &made, err);
        if (warm && !status)
            status = add(job, EFFECT_BOW, f, &made, err);
    }
    if (view && !status)
        status = add(job, EFFECT_RISE, -1, &made, err);
    if (status)
        effects_release(&made);
    *out = made;
    return status;
}

void effects_release(effects *e)
{
    for (int k = 0; k < e->n; k++)
        fw_free(e->list[k].nm);
    fw_free(e->list);
    *e = (effects){0, NULL};
}

/* PV over the clear aperture of a plate made for it; NAN where the flat is not known. */
static double pv_of(const fw_flat *f, double beta, bool points)
{
    double pv, rms, unit = fw_plate_unit_nm(f);
    if (isnan(unit))
        return NAN;
    fw_plate p = fw_plate_of(f->glass.poisson, f->bore_mm / f->diameter_mm, beta, points);
    fw_plate_size(&p, f->clear_mm / f->diameter_mm, &pv, &rms);
    return pv * unit;
}

static double shear_pv(const carried *c, int place, double clear)
{
    double high = -INFINITY, low = INFINITY;
    for (int i = 0; i <= 64 && c->known[place]; i++) {
        const fw_plate *p = &c->plate[place];
        double x = p->bore + (clear - p->bore) * i / 64, w = fw_plate_shear(p, c->thin, x);
        high = fmax(high, w);
        low = fmin(low, w);
    }
    return c->known[place] ? (high - low) * c->unit_nm : NAN;
}

static void tell_bending(const fw_job *job, const fw_flat *f, int flat, fw_bench_flat *out)
{
    const fw_support *supports[2] = {&job->support_bottom, &job->support_top};
    carried c = carry(job, flat);
    double clear = f->clear_mm / f->diameter_mm, bore = f->bore_mm / f->diameter_mm;
    for (int place = 0; place < 2; place++) {
        out->sag_nm[place] = NAN;
        if (c.known[place])
            out->sag_nm[place] = pv_of(f, c.plate[place].beta,
                                       supports[place]->kind == FW_SUPPORT_THREE);
        out->shear_nm = fmax(out->shear_nm, shear_pv(&c, place, clear));
    }
    out->thick = c.thin / 2 > FW_PLATE_THIN;
    out->counted = job->bending != FW_BENDING_IGNORE && (c.known[0] || c.known[1]);
    if (isnan(c.unit_nm))
        return;
    double ring = fw_plate_best_ring(f->glass.poisson, bore, clear);
    double points = fmax(FW_PLATE_THREE, bore);
    out->ring_mm = ring * c.a_mm;
    out->ring_nm = pv_of(f, ring, false);
    out->points_mm = points * c.a_mm;
    out->points_nm = pv_of(f, points, true);
}

static void tell_warmth(const fw_job *job, const fw_flat *f, fw_bench_flat *out)
{
    out->bow_nm = fw_warmth_bow_nm(&f->glass, f->clear_mm, f->thickness_mm, job->gradient_k);
    out->allowed_k =
        fw_warmth_across_k(&f->glass, f->clear_mm, f->thickness_mm, job->flatness_nm / 3);
    out->across_s = fw_warmth_conduction_s(&f->glass, f->thickness_mm, true);
    fw_cooling c = {.thickness_mm = f->thickness_mm, .both = true, .across_k = job->gradient_k,
                    .above_k = 0, .film_w_m2k = NAN};
    out->wait_s = fw_warmth_wait_s(&f->glass, &c, out->allowed_k);
}

fw_status bench_tell(const fw_job *job, fw_bench *bench, fw_error *err)
{
    double widest = 0;
    bench->flats = fw_alloc(job->nflats, sizeof *bench->flats);
    if (!bench->flats)
        return fw_out_of_memory(err);
    for (int f = 0; f < job->nflats; f++) {
        fw_bench_flat *out = &bench->flats[f];
        *out = (fw_bench_flat){.ring_nm = NAN, .ring_mm = NAN, .points_nm = NAN, .points_mm = NAN,
                               .shear_nm = NAN, .factor = 1, .factor_u = FW_PLATE_RELATIVE};
        tell_bending(job, &job->flats[f], f, out);
        tell_warmth(job, &job->flats[f], out);
        widest = fmax(widest, job->flats[f].clear_mm);
    }
    bench->rise_nm = fw_view_rise_nm(job->gap_um, job->eye_mm, widest / 2);
    bench->contrast_um = fw_view_contrast_um(&job->light);
    bench->any = job->support_bottom.kind || job->support_top.kind || !isnan(job->gradient_k) ||
                 !isnan(job->gap_um) || !isnan(job->eye_mm);
    return FW_OK;
}
