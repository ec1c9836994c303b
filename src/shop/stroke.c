/* stroke.c - pressure times speed, averaged over stroke, sweep and azimuth: wear of both discs. */
#include <math.h>
#include <string.h>

#include "flatwright/stroke.h"

#define PI 3.14159265358979323846

/* Nodes for a quarter of the stroke, straight and with a sweep; of the sweep; of half a circle. */
enum { STRAIGHT = 64, SWEPT = 32, SWEEP = 12, AZIMUTH = 10, FINEST = 8 };

/* One place of the stroke; velocities of the upper centre, along and across the offset. */
typedef struct place {
    fw_contact contact;
    double offset, weight;
    int nways; /* ways the centre passes here: to, fro, and either way sideways */
    double along[8], across[8];
} place;

/* A straight stroke with its sweep; turning in radians a stroke. */
typedef struct motion {
    fw_disc lower, upper;
    double middle, half, aside, sweeps, spin_lower, spin_upper;
    bool still; /* a lap worked in one place: its strokes are too short to matter, the speed even */
    int nnodes; /* of an arc */
    double node[FW_ARC_NODES], weight[FW_ARC_NODES];
} motion;

/* Gauss-Legendre on [-1, 1]: Newton's method on the recurrence. */
static void legendre_nodes(int n, double *x, double *w)
{
    for (int i = 0; i < n; i++) {
        double z = cos(PI * (i + 0.75) / (n + 0.5)), slope = 1;
        for (int turn = 0; turn < 12; turn++) {
            double p = 1, before = 0;
            for (int k = 1; k <= n; k++) {
                double next = ((2 * k - 1) * z * p - (k - 1) * before) / k;
                before = p;
                p = next;
            }
            slope = n * (z * p - before) / (z * z - 1);
            z -= p / slope;
            if (fabs(p / slope) < 1e-15)
                break;
        }
        x[i] = z;
        w[i] = 2 / ((1 - z * z) * slope * slope);
    }
}

/* The pressed part of half a circle: its ends as angles, and their sines. */
typedef struct arc {
    double from, to, sin_from, sin_to;
} arc;

static double arc_sum(double c0, double c1, double r, const arc *p, double vx, double vy,
                      double spin, int nodes, const double *x, const double *w)
{
    double middle = 0.5 * (p->from + p->to), half = 0.5 * (p->to - p->from), sum = 0;
    if (spin * r == 0) /* one speed for the whole circle */
        return hypot(vx, vy) / PI * (2 * c0 * half + c1 * r * (p->sin_to - p->sin_from));
    for (int i = 0; i < nodes; i++) {
        double a = middle + half * x[i], c = cos(a);
        double u = vx - spin * r * sin(a), v = vy + spin * r * c;
        sum += w[i] * (c0 + c1 * r * c) * sqrt(u * u + v * v);
    }
    return sum * half / PI;
}

double fw_stroke_arc(double c0, double c1, double r, double from_rad, double to_rad, double vx,
                     double vy, double spin, int nodes)
{
    double x[FW_ARC_NODES], w[FW_ARC_NODES];
    arc whole = { from_rad, to_rad, sin(from_rad), sin(to_rad) };
    int n = nodes < 1 ? 1 : nodes > FW_ARC_NODES ? FW_ARC_NODES : nodes;
    legendre_nodes(n, x, w);
    return arc_sum(c0, c1, r, &whole, vx, vy, spin, n, x, w);
}

/* numerator / denominator for a denominator >= 0, brought into [-1, 1]. */
static double cosine(double numerator, double denominator)
{
    if (numerator >= denominator)
        return 1;
    return numerator <= -denominator ? -1 : numerator / denominator;
}

/*
 * The pressed part of a circle of radius r about one disc's centre, between angles 0 and pi. The
 * other disc's centre lies at distance d, on the side of angle 0 for side = 1, of pi for side = -1;
 * `from` and `to` bound the pressed stretch, seen from this centre.
 */
static bool pressed_arc(double r, double d, int side, const fw_disc *other, double from, double to,
                        arc *out)
{
    double base = r * r + d * d, outer = other->radius_mm, bore = other->bore_mm;
    double low = cosine(to, r), high = cosine(from, r); /* at the ends of the arc: low >= high */
    if (side > 0) {
        high = fmax(high, cosine(base - outer * outer, 2 * r * d));
        if (bore > 0)
            low = fmin(low, cosine(base - bore * bore, 2 * r * d));
    } else {
        low = fmin(low, cosine(outer * outer - base, 2 * r * d));
        if (bore > 0)
            high = fmax(high, cosine(bore * bore - base, 2 * r * d));
    }
    if (!(low > high))
        return false;
    *out = (arc){ acos(low), acos(high), sqrt((1 - low) * (1 + low)),
                  sqrt((1 - high) * (1 + high)) };
    return true;
}

/* Adds what one place takes off one disc (upper or lower) to its profile. */
static void add_place(const motion *m, const place *p, bool upper, const double *radius,
                      double *removal)
{
    const fw_contact *c = &p->contact;
    const fw_disc *other = upper ? &m->lower : &m->upper;
    double origin = upper ? p->offset : 0;
    double spin = m->spin_upper - m->spin_lower;
    double carried = (upper ? m->spin_lower : m->spin_upper) * p->offset;
    double c0 = c->c0 + c->c1 * origin;
    for (int i = 0; i < FW_STROKE_NODES; i++) {
        arc pressed;
        double sum = 0;
        if (!pressed_arc(radius[i], p->offset, upper ? -1 : 1, other, c->from_mm - origin,
                         c->to_mm - origin, &pressed))
            continue;
        for (int k = 0; k < p->nways; k++)
            sum += arc_sum(c0, c->c1, radius[i], &pressed, p->along[k], p->across[k] - carried, spin,
                           m->nnodes, m->node, m->weight);
        removal[i] += p->weight * sum / p->nways;
    }
}

/*
 * The centre is at (ex, ey), moving by (+-vx, +-vy). Places mirrored in the stroke's line are taken
 * together with it, which is also what lets half a circle stand for the whole.
 */
static void ways(const motion *m, double ex, double ey, double vx, double vy, place *p)
{
    p->offset = hypot(ex, ey);
    p->nways = 0;
    double cx = p->offset > 0 ? ex / p->offset : 1, cy = p->offset > 0 ? ey / p->offset : 0;
    bool turning = m->spin_lower != 0 || m->spin_upper != 0;
    for (int k = 0; k < (!turning ? 1 : m->aside > 0 ? 8 : 2); k++) {
        double u = k & 1 ? -vx : vx, v = k & 2 ? -vy : vy, s = k & 4 ? -cy : cy;
        p->along[p->nways] = u * cx + v * s;
        p->across[p->nways++] = v * cx - u * s;
    }
}

/* Mean of a profile over the whole face, by Simpson's rule for f r dr; 0 beyond the nodes. */
static double area_mean(const fw_disc *disc, const double *r, const double *f)
{
    double sum = 0, step = (r[FW_STROKE_NODES - 1] - r[0]) / (FW_STROKE_NODES - 1);
    for (int i = 0; i < FW_STROKE_NODES; i++)
        sum += (i == 0 || i == FW_STROKE_NODES - 1 ? 1 : i % 2 ? 4 : 2) * f[i] * r[i];
    return sum * step / 3 * 2 / (disc->radius_mm * disc->radius_mm - disc->bore_mm * disc->bore_mm);
}

/* Even nodes over the part of a disc that the other one reaches. */
static void lay_nodes(const motion *m, bool upper, double *radius)
{
    const fw_disc *disc = upper ? &m->upper : &m->lower, *other = upper ? &m->lower : &m->upper;
    double nearest = fmax(0, fabs(m->middle) - m->half);
    double farthest = hypot(fabs(m->middle) + m->half, m->aside);
    double from = fmax(disc->bore_mm, nearest - other->radius_mm);
    double to = fmin(disc->radius_mm, farthest + other->radius_mm);
    for (int i = 0; i < FW_STROKE_NODES; i++)
        radius[i] = from + (to - from) * i / (FW_STROKE_NODES - 1);
}

static double face_area(const fw_disc *d)
{
    return PI * (d->radius_mm * d->radius_mm - d->bore_mm * d->bore_mm);
}

/* Sum over the midpoints of equal parts of the phases; a stroke through the middle is symmetric. */
static fw_status sum_places(const motion *m, int fine, fw_wear *wear, fw_error *err)
{
    bool central = m->middle == 0;
    int strokes = (m->aside > 0 ? SWEPT : STRAIGHT) * fine * (central ? 1 : 2);
    int sweeps = m->aside > 0 ? SWEEP * fine : 1;
    if (m->half == 0)
        strokes = 1;
    for (int i = 0; i < strokes; i++) {
        double s = central ? 0.5 * PI * (i + 0.5) / strokes : PI * ((i + 0.5) / strokes - 0.5);
        for (int j = 0; j < sweeps; j++) {
            double w = 0.5 * PI * (j + 0.5) / sweeps;
            place p = { .weight = 1.0 / strokes / sweeps };
            ways(m, m->middle + m->half * sin(s), m->aside * sin(w),
                 m->still ? 1 : 2 * PI * m->half * cos(s),
                 2 * PI * m->sweeps * m->aside * cos(w), &p);
            fw_status status = fw_contact_solve(&m->lower, &m->upper, p.offset, &p.contact, err);
            if (status)
                return status;
            add_place(m, &p, false, wear->lower_mm, wear->lower);
            add_place(m, &p, true, wear->upper_mm, wear->upper);
            wear->lifted += p.contact.lifted ? p.weight : 0;
        }
    }
    wear->travel_mm = m->still ? 0 : 1;
    return FW_OK;
}

/* The profile f, given on even nodes, at radius r: linear between them, 0 beyond the reach. */
static double between(const double *nodes, const double *f, double r)
{
    int last = FW_STROKE_NODES - 1;
    double t = (r - nodes[0]) / (nodes[last] - nodes[0]) * last, slack = 1e-9 * last;
    if (t < -slack || t > last + slack)
        return 0;
    int i = t <= 0 ? 0 : t >= last ? last - 1 : (int)t;
    return f[i] + (t - i) * (f[i + 1] - f[i]);
}

static fw_status motion_of(const fw_stroke *stroke, const fw_disc *flat, int fine, motion *m,
                           fw_error *err)
{
    fw_travel t;
    fw_status status = fw_stroke_travel(stroke, flat, &t, err);
    if (status)
        return status;
    fw_disc lap = { t.lap_mm, 0 };
    bool flat_above = stroke->method == FW_FLAT_ON_TOP;
    m->lower = flat_above ? lap : *flat;
    m->upper = flat_above ? *flat : lap;
    m->middle = 0.5 * (t.from_mm + t.to_mm);
    m->half = 0.5 * (t.to_mm - t.from_mm);
    m->aside = t.aside_mm;
    m->sweeps = isnan(stroke->sweeps) ? 0.1 : stroke->sweeps;
    m->spin_lower = isnan(stroke->turn_lower) ? 0 : 2 * PI * stroke->turn_lower;
    m->spin_upper = isnan(stroke->turn_upper) ? 0 : 2 * PI * stroke->turn_upper;
    m->still = stroke->method == FW_RING && m->half == 0 && m->aside == 0 && m->spin_lower == 0 &&
               m->spin_upper == 0;
    m->nnodes = AZIMUTH * fine;
    legendre_nodes(m->nnodes, m->node, m->weight);
    if (!(m->sweeps >= 0) || !isfinite(m->sweeps + m->spin_lower + m->spin_upper))
        return fw_fail(err, FW_INPUT, "sweeps or turns of a stroke are out of range");
    return FW_OK;
}

fw_status fw_stroke_wear(const fw_stroke *stroke, const fw_disc *flat, fw_wear *wear, fw_error *err)
{
    motion m;
    fw_wear out;
    int fine = stroke->fine < 1 ? 1 : stroke->fine > FINEST ? FINEST : stroke->fine;
    if (stroke->method == FW_SIDE)
        return fw_fail(err, FW_INPUT, "a side has no profile by radius");
    fw_status status = motion_of(stroke, flat, fine, &m, err);
    if (status)
        return status;
    memset(&out, 0, sizeof out);
    lay_nodes(&m, false, out.lower_mm);
    lay_nodes(&m, true, out.upper_mm);
    status = sum_places(&m, fine, &out, err);
    if (status)
        return status;

    double lower = area_mean(&m.lower, out.lower_mm, out.lower);
    double upper = area_mean(&m.upper, out.upper_mm, out.upper);
    if (!(lower > 0 && upper > 0))
        return fw_fail(err, FW_INPUT, "the stroke has no length");
    /* int p |v| dA for a unit load: the smaller face has the finer nodes */
    out.travel_mm *= face_area(&m.lower) < face_area(&m.upper) ? lower * face_area(&m.lower)
                                                               : upper * face_area(&m.upper);
    for (int i = 0; i < FW_STROKE_NODES; i++) {
        out.lower[i] /= lower;
        out.upper[i] /= upper;
    }
    for (int i = 0; i < FW_STROKE_NODES; i++) {
        double r = out.lower_mm[i] / m.lower.radius_mm * m.upper.radius_mm;
        out.change[i] = out.lower[i] - between(out.upper_mm, out.upper, r);
    }
    *wear = out;
    return FW_OK;
}

fw_status fw_stroke_profile(const fw_stroke *stroke, const fw_disc *flat, double *radius_mm,
                            double *removal, fw_error *err)
{
    fw_wear wear = { 0 };
    fw_travel travel;
    fw_status status = fw_stroke_wear(stroke, flat, &wear, err);
    if (!status)
        status = fw_stroke_travel(stroke, flat, &travel, err);
    if (status)
        return status;
    bool above = stroke->method == FW_FLAT_ON_TOP;
    fw_disc lap = { travel.lap_mm, 0 };
    const double *own = above ? wear.upper : wear.lower, *other = above ? wear.lower : wear.upper;
    const double *lap_mm = above ? wear.lower_mm : wear.upper_mm;
    double flow = stroke->method == FW_RING ? 0 : isnan(stroke->flow) ? 1 : stroke->flow;
    double sum[FW_STROKE_NODES];
    memcpy(radius_mm, above ? wear.upper_mm : wear.lower_mm, sizeof sum);
    for (int i = 0; i < FW_STROKE_NODES; i++) {
        double r = radius_mm[i] / flat->radius_mm * lap.radius_mm;
        sum[i] = fmax(0, own[i] + flow * (1 - between(lap_mm, other, r)));
    }
    double scale = fmin(1, face_area(&lap) / face_area(flat)) / area_mean(flat, radius_mm, sum);
    for (int i = 0; i < FW_STROKE_NODES; i++)
        removal[i] = scale * sum[i];
    return FW_OK;
}
