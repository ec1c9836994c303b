/* contact.c - two discs overlap, the load is on the upper one's centre: the linear pressure. */
#include <math.h>

#include "flatwright/stroke.h"

typedef struct circle {
    double centre, radius;
} circle;

/*
 * The overlap, symmetric about the line of centres: under both rims, outside both bores. Between
 * two neighbouring breaks its half chord is bounded by one rim and at most one bore.
 */
typedef struct region {
    circle circles[4]; /* rims of the lower and upper disc, then their bores */
    int ncircles;
    double breaks[16];
    int nbreaks;
} region;

static double half_chord(const circle *c, double x)
{
    double u = x - c->centre, square = c->radius * c->radius - u * u;
    return square > 0 ? sqrt(square) : 0;
}

/* Antiderivatives of u^k sqrt(q^2 - u^2), k = 0, 1, 2. */
static void primitive(double q, double u, double f[3])
{
    double square = q * q - u * u, h = square > 0 ? sqrt(square) : 0;
    double ratio = u / q;
    f[0] = 0.5 * (u * h + q * q * asin(ratio > 1 ? 1 : ratio < -1 ? -1 : ratio));
    f[1] = -h * h * h / 3;
    f[2] = 0.25 * (q * q * f[0] - u * h * h * h);
}

/* m[k] += 2 sign int x^k h(x) dx, h the half chord of the circle. */
static void add_segment(const circle *c, double from, double to, double sign, double m[3])
{
    double a[3], b[3], e = c->centre;
    primitive(c->radius, from - e, a);
    primitive(c->radius, to - e, b);
    double f0 = b[0] - a[0], f1 = b[1] - a[1], f2 = b[2] - a[2];
    m[0] += 2 * sign * f0;
    m[1] += 2 * sign * (f1 + e * f0);
    m[2] += 2 * sign * (f2 + 2 * e * f1 + e * e * f0);
}

/* Keeps the breaks sorted; one outside the rims' common stretch says nothing. */
static void add_break(region *g, double x)
{
    int i = g->nbreaks;
    if (!(x > g->breaks[0] && x < g->breaks[i - 1]))
        return;
    for (; g->breaks[i - 1] > x; i--)
        g->breaks[i] = g->breaks[i - 1];
    g->breaks[i] = x;
    g->nbreaks++;
}

static void lay_out(const fw_disc *lower, const fw_disc *upper, double e, region *g)
{
    double a = lower->radius_mm, b = upper->radius_mm;
    g->ncircles = 2;
    g->circles[0] = (circle){ 0, a };
    g->circles[1] = (circle){ e, b };
    if (lower->bore_mm > 0)
        g->circles[g->ncircles++] = (circle){ 0, lower->bore_mm };
    if (upper->bore_mm > 0)
        g->circles[g->ncircles++] = (circle){ e, upper->bore_mm };

    g->nbreaks = 2;
    g->breaks[0] = fmax(-a, e - b);
    g->breaks[1] = fmin(a, e + b);
    for (int i = 0; i < g->ncircles; i++) {
        const circle *p = &g->circles[i];
        if (i >= 2) {
            add_break(g, p->centre - p->radius);
            add_break(g, p->centre + p->radius);
        }
        for (int j = 0; j < i; j++) {
            const circle *q = &g->circles[j];
            double d = q->centre - p->centre;
            if (d != 0) /* where both have the same half chord */
                add_break(g, 0.5 * (p->centre + q->centre +
                                    (p->radius * p->radius - q->radius * q->radius) / d));
        }
    }
}

/* m[k] = int x^k dA over the part of the overlap between from and to. */
static void moments(const region *g, double from, double to, double m[3])
{
    m[0] = m[1] = m[2] = 0;
    for (int i = 0; i + 1 < g->nbreaks; i++) {
        double a = fmax(from, g->breaks[i]), b = fmin(to, g->breaks[i + 1]);
        if (!(a < b))
            continue;
        double x = 0.5 * (a + b), rim[2], bore = 0;
        rim[0] = half_chord(&g->circles[0], x);
        rim[1] = half_chord(&g->circles[1], x);
        int r = rim[1] < rim[0], hole = 0;
        for (int j = 2; j < g->ncircles; j++) {
            double h = half_chord(&g->circles[j], x);
            if (h > bore) {
                bore = h;
                hole = j;
            }
        }
        if (bore >= rim[r])
            continue;
        add_segment(&g->circles[r], a, b, 1, m);
        if (hole)
            add_segment(&g->circles[hole], a, b, -1, m);
    }
}

/* p = c0 + c1 x with force 1 and moment e, from the moments of what presses. */
static void balance(const double m[3], double e, double *c0, double *c1)
{
    double mean = m[1] / m[0], variance = m[2] / m[0] - mean * mean;
    *c1 = (e - mean) / (m[0] * variance);
    *c0 = 1 / m[0] - *c1 * mean;
}

fw_status fw_contact_solve(const fw_disc *lower, const fw_disc *upper, double offset_mm,
                           fw_contact *contact, fw_error *err)
{
    double a = lower->radius_mm, b = upper->radius_mm, e = offset_mm;
    if (!(a > 0 && b > 0 && e >= 0 && isfinite(a + b + e)) ||
        !(lower->bore_mm >= 0 && lower->bore_mm < a && upper->bore_mm >= 0 && upper->bore_mm < b))
        return fw_fail(err, FW_INPUT, "no such discs: radii %g and %g mm, %g mm apart", a, b, e);
    region g;
    lay_out(lower, upper, e, &g);
    double from = g.breaks[0], to = g.breaks[g.nbreaks - 1], m[3] = { 0 };
    if (from < to)
        moments(&g, from, to, m);
    if (!(from < to) || !(m[0] > 1e-12 * fmin(a, b) * fmin(a, b)))
        return fw_fail(err, FW_INPUT, "discs of radius %g and %g mm do not touch at %g mm", a, b,
                       e);
    if (!(e < to))
        return fw_fail(err, FW_INPUT, "the upper disc tips: its centre is %g mm out, over the edge",
                       e);

    fw_contact c = { .area_mm2 = m[0], .from_mm = from, .to_mm = to };
    balance(m, e, &c.c0, &c.c1);
    /* Newton's steps on a convex problem: the line of lift-off only moves toward the load */
    for (int i = 0; i < 200; i++) {
        double zero = c.c1 != 0 ? -c.c0 / c.c1 : -INFINITY, step = 0;
        if (c.c1 > 0 && zero > c.from_mm) {
            step = zero - c.from_mm;
            c.from_mm = zero;
        } else if (c.c1 < 0 && zero < c.to_mm) {
            step = c.to_mm - zero;
            c.to_mm = zero;
        }
        if (!(step > 1e-13 * a))
            break;
        c.lifted = true;
        moments(&g, c.from_mm, c.to_mm, m);
        if (!(m[0] > 0))
            return fw_fail(err, FW_INPUT, "the upper disc tips: no contact carries it at %g mm", e);
        balance(m, e, &c.c0, &c.c1);
    }
    double p = c.c0 + c.c1 * c.from_mm, q = c.c0 + c.c1 * c.to_mm;
    c.least = c.lifted ? 0 : fmin(p, q);
    c.greatest = fmax(p, q);
    *contact = c;
    return FW_OK;
}
