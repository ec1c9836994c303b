/* removal.c - a method of work becomes a lap and its travel, and removal at points of the flat. */
#include <math.h>

#include "flatwright/stroke.h"

#define PI 3.14159265358979323846
#define LARGEST_LAP 0.45 /* of the flat's radius, for local work */
#define OVERHANG 0.5     /* of the lap's radius, where a zone ends at a rim */
#define CLEARANCE 1e-9   /* of the flat's radius: a zone that close to a rim ends at it */

enum { SIDE_NODES = 24 };

fw_stroke fw_stroke_usual(fw_method method)
{
    return (fw_stroke){ .method = method, .length = NAN, .lateral = NAN, .sweeps = NAN,
                        .turn_lower = NAN, .turn_upper = NAN, .flow = NAN, .lap_mm = NAN,
                        .inner_mm = NAN, .outer_mm = NAN, .side_deg = NAN };
}

static double or_usual(double value, double usual)
{
    return isnan(value) ? usual : value;
}

/*
 * The reach of the lap is its zone, and half a radius more at a rim. Its own radius is such that
 * something is left for the travel: half a radius, two thirds either way through the middle.
 */
static fw_status local_travel(const fw_stroke *s, const fw_disc *flat, fw_travel *t, fw_error *err)
{
    double r = flat->radius_mm, near = CLEARANCE * r;
    double inner = or_usual(s->inner_mm, flat->bore_mm), outer = or_usual(s->outer_mm, r);
    if (!(inner >= 0 && outer > inner && outer > flat->bore_mm + near && inner < r - near))
        return fw_fail(err, FW_INPUT, "no zone of the flat from %g to %g mm", inner, outer);
    bool edge = outer >= r - near, hub = flat->bore_mm > 0 && inner <= flat->bore_mm + near;
    bool middle = s->method == FW_RING && inner == 0 && !hub;
    if (edge)
        outer = r;
    if (hub)
        inner = flat->bore_mm;
    double width = outer - inner;
    double lap = middle ? width / (edge ? 5.0 / 3 - OVERHANG : 5.0 / 3)
                        : width / (2.5 - OVERHANG * (edge + hub));
    lap = or_usual(s->lap_mm, fmin(lap, LARGEST_LAP * r));
    if (!(lap > 0 && isfinite(lap)))
        return fw_fail(err, FW_INPUT, "no lap of radius %g mm", lap);
    double to = edge ? r - (1 - OVERHANG) * lap : outer - lap;
    double from = middle ? -to : hub ? inner + (1 - OVERHANG) * lap : inner + lap;
    if (from > to && from - to <= near)
        from = to = 0.5 * (from + to);
    if (from > to)
        return fw_fail(err, FW_INPUT,
                       "a zone from %g to %g mm is narrower than a lap of radius %g mm", inner,
                       outer, lap);
    double aside = s->method == FW_SIDE ? 0.25 * lap : 0;
    *t = (fw_travel){ lap, from, to, isnan(s->lateral) ? aside : s->lateral * r };
    return FW_OK;
}

fw_status fw_stroke_travel(const fw_stroke *stroke, const fw_disc *flat, fw_travel *travel,
                           fw_error *err)
{
    double r = flat->radius_mm;
    if (!(r > 0 && isfinite(r) && flat->bore_mm >= 0 && flat->bore_mm < r))
        return fw_fail(err, FW_INPUT, "no flat of radius %g mm with a bore of radius %g mm", r,
                       flat->bore_mm);
    if (!isnan(stroke->lateral) && !(stroke->lateral >= 0 && stroke->lateral < 1))
        return fw_fail(err, FW_INPUT, "a sideways sweep of %g diameters is out of range",
                       stroke->lateral);
    if (stroke->method == FW_RING || stroke->method == FW_SIDE)
        return local_travel(stroke, flat, travel, err);
    if (stroke->method != FW_LAP_ON_TOP && stroke->method != FW_FLAT_ON_TOP)
        return fw_fail(err, FW_INPUT, "this method has no known removal");

    double length = or_usual(stroke->length, 1.0 / 3), lap = or_usual(stroke->lap_mm, r);
    double flow = or_usual(stroke->flow, 1);
    if (!(length >= 0 && length < 2))
        return fw_fail(err, FW_INPUT, "a stroke of %g diameters is out of range", length);
    if (!(lap > 0 && isfinite(lap) && flow >= 0 && flow <= 1))
        return fw_fail(err, FW_INPUT, "a lap of radius %g mm that flows by %g is out of range", lap,
                       flow);
    *travel = (fw_travel){ lap, -length * r, length * r, or_usual(stroke->lateral, 0) * r };
    return FW_OK;
}

/* Steffen, Astron. Astrophys. 239, 443 (1990): cubic between even nodes, no new extremes. */
static double steffen(const double *f, int n, double t)
{
    int i = t <= 0 ? 0 : t >= n - 1 ? n - 2 : (int)t;
    double x = t - i, d[3], slope[2];
    d[1] = f[i + 1] - f[i];
    d[0] = i > 0 ? f[i] - f[i - 1] : d[1];
    d[2] = i + 2 < n ? f[i + 2] - f[i + 1] : d[1];
    for (int k = 0; k < 2; k++) {
        double least = fmin(fabs(d[k]), fabs(d[k + 1])), mean = 0.5 * (d[k] + d[k + 1]);
        slope[k] = d[k] * d[k + 1] <= 0 ? 0 : copysign(fmin(2 * least, fabs(mean)), d[k]);
    }
    double c = 3 * d[1] - 2 * slope[0] - slope[1], e = slope[0] + slope[1] - 2 * d[1];
    return f[i] + x * (slope[0] + x * (c + x * e));
}

/* The side's lap at some places along its radius: where, and how it presses. */
typedef struct side {
    double lap, aside, angle;
    double centre[SIDE_NODES];
    fw_contact contact[SIDE_NODES];
} side;

static fw_status lay_side(const fw_stroke *stroke, const fw_disc *flat, side *s, fw_error *err)
{
    fw_travel t;
    fw_status status = fw_stroke_travel(stroke, flat, &t, err);
    if (status)
        return status;
    fw_disc lap = { t.lap_mm, 0 };
    s->lap = t.lap_mm;
    s->aside = t.aside_mm;
    s->angle = or_usual(stroke->side_deg, 0) * PI / 180;
    if (!isfinite(s->angle))
        return fw_fail(err, FW_INPUT, "side at %g degrees is out of range", stroke->side_deg);
    for (int i = 0; i < SIDE_NODES; i++) {
        s->centre[i] = t.from_mm + (t.to_mm - t.from_mm) * (i + 0.5) / SIDE_NODES;
        status = fw_contact_solve(flat, &lap, fabs(s->centre[i]), &s->contact[i], err);
        if (status)
            return status;
    }
    return FW_OK;
}

/*
 * A harmonic stroke spends p |v| dt = p dx evenly over its travel; a point is under the lap for
 * the part of the sweep that covers it, q being half the lap's chord there.
 */
static double side_at(const side *s, double r, double theta)
{
    double x = r * cos(theta - s->angle), y = fabs(r * sin(theta - s->angle)), sum = 0;
    for (int i = 0; i < SIDE_NODES; i++) {
        const fw_contact *c = &s->contact[i];
        double u = x - s->centre[i], square = s->lap * s->lap - u * u;
        if (square <= 0 || x < c->from_mm || x > c->to_mm)
            continue;
        double q = sqrt(square);
        double covered = y < q;
        if (s->aside > 0)
            covered = (fmin(y + q, s->aside) - fmax(y - q, -s->aside)) / (2 * s->aside);
        if (covered > 0)
            sum += covered * (c->c0 + c->c1 * x);
    }
    return sum / SIDE_NODES * PI * s->lap * s->lap;
}

fw_status fw_stroke_at(const fw_stroke *stroke, const fw_disc *flat, size_t n, const double *r_mm,
                       const double *theta_rad, double *removal, fw_error *err)
{
    side s;
    double radius[FW_STROKE_NODES] = { 0 }, f[FW_STROKE_NODES];
    double slack = CLEARANCE * flat->radius_mm;
    bool local = stroke->method == FW_SIDE;
    fw_status status = local ? lay_side(stroke, flat, &s, err)
                             : fw_stroke_profile(stroke, flat, radius, f, err);
    if (status)
        return status;
    double from = local ? flat->bore_mm : radius[0];
    double to = local ? flat->radius_mm : radius[FW_STROKE_NODES - 1];
    double step = (to - from) / (FW_STROKE_NODES - 1);
    for (size_t i = 0; i < n; i++) {
        double r = r_mm[i];
        if (!(r >= from - slack && r <= to + slack))
            removal[i] = 0;
        else if (local)
            removal[i] = side_at(&s, r, theta_rad ? theta_rad[i] : 0);
        else
            removal[i] = fmax(0, steffen(f, FW_STROKE_NODES, (r - from) / step));
    }
    return FW_OK;
}

/* Where menu entries go; counts also those for which there is no room. */
typedef struct list {
    fw_stroke *menu;
    int capacity, count;
} list;

static void add(list *l, fw_stroke stroke)
{
    if (l->menu && l->count < l->capacity)
        l->menu[l->count] = stroke;
    l->count++;
}

static void add_zone(list *l, fw_method method, double inner, double outer)
{
    fw_stroke s = fw_stroke_usual(method);
    s.inner_mm = inner;
    s.outer_mm = outer;
    add(l, s);
}

/* Zones for a lap of radius b from rim to rim, side by side at about its own radius. */
static void add_zones(list *l, fw_method method, const fw_disc *flat, double b, double spacing)
{
    double r = flat->radius_mm, g = flat->bore_mm, width = 2.5 * b;
    if (2 * b > r - g) {
        if (b >= LARGEST_LAP * r)
            add_zone(l, method, g, r);
        return;
    }
    if (g > 0)
        add_zone(l, method, g, g + 2 * b);
    else if (method == FW_RING)
        add_zone(l, method, 0, 5 * b / 3);
    double first = g > 0 ? g + 0.5 * spacing * b : method == FW_RING ? 0.25 * b : b;
    double last = r - width - 0.25 * b;
    int steps = (int)ceil((last - first) / (spacing * b));
    for (int i = 0; last >= first && i <= steps; i++) {
        double inner = steps > 0 ? first + (last - first) * i / steps : last;
        add_zone(l, method, inner, inner + width);
    }
    add_zone(l, method, r - 2 * b, r);
}

int fw_stroke_menu(const fw_disc *flat, int capacity, fw_stroke *menu)
{
    static const double full[][2] = { { 0.25, 0 }, { 1.0 / 3, 0 }, { 0.5, 0 },
                                      { 2.0 / 3, 0 }, { 1.0 / 3, 0.25 }, { 0.5, 0.25 } };
    static const double laps[] = { 0.1, 0.15, 0.2, 0.3, LARGEST_LAP };
    list l = { menu, capacity, 0 };
    for (int above = 0; above < 2; above++)
        for (size_t i = 0; i < sizeof full / sizeof full[0]; i++) {
            fw_stroke s = fw_stroke_usual(above ? FW_FLAT_ON_TOP : FW_LAP_ON_TOP);
            s.length = full[i][0];
            s.lateral = full[i][1];
            add(&l, s);
        }
    for (size_t i = 0; i < sizeof laps / sizeof laps[0]; i++)
        add_zones(&l, FW_RING, flat, laps[i] * flat->radius_mm, 1);
    for (size_t i = 0; i < sizeof laps / sizeof laps[0]; i++)
        add_zones(&l, FW_SIDE, flat, laps[i] * flat->radius_mm, 1.2);
    return l.count;
}
