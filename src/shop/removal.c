/* removal.c - a method of work becomes a lap and its travel, and removal at points of the flat. */
#include <math.h>

#include "flatwright/stroke.h"

#define PI 3.14159265358979323846
#define BROAD 0.45       /* of the zone's width: radius of its lap, */
#define BROAD_RIM 0.7    /* and where the zone ends at a rim */
#define LARGEST_LAP 0.45 /* of the flat's radius, for local work */
#define WIDE 0.5         /* of it: a zone through the middle that wide is worked by one large lap, */
#define SWING 0.1        /* which swings so far either way: the same everywhere but at its end */
#define OVERHANG 0.5     /* of the lap's radius, where a zone ends at a rim; */
#define FARTHEST (2 / 3.0) /* where the lap is too large to move, at most */
#define ROCKED 0.5       /* rad either way: half by rocking the flat, half by the lap */
#define NEARLY 0.01      /* of the way from the middle to the edge: short of it */
#define CLEARANCE 1e-9   /* of the flat's radius: a zone that close to a rim ends at it */

enum { PLACES = 24 }; /* even: see places_of */

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
 * How large a lap for a zone. It takes off in an hour as much glass as it is large, so it nearly fills
 * the zone; at a rim it hangs over.
 */
static double usual_lap(double width, bool edge, bool hub, bool middle)
{
    if (edge || hub)
        return edge && hub ? width / 2 : BROAD_RIM * width;
    return middle ? width / 3 : BROAD * width;
}

/*
 * The reach of the lap is its zone, and half a radius more at a rim; up to two thirds if it is too
 * large to move. A wide zone through the middle is worked by one large lap.
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
    double lap = usual_lap(width, edge, hub, middle);
    bool plateau = middle && !edge && outer > WIDE * r;
    lap = or_usual(s->lap_mm, plateau ? outer - SWING * r : fmin(lap, LARGEST_LAP * r));
    if (!(lap > 0 && isfinite(lap)))
        return fw_fail(err, FW_INPUT, "no lap of radius %g mm", lap);
    double to = edge ? r - (1 - OVERHANG) * lap : outer - lap;
    double from = middle ? -to : hub ? inner + (1 - OVERHANG) * lap : inner + lap;
    if (from > to && from - to <= (edge || hub ? FARTHEST - OVERHANG : 0) * lap + near)
        from = to = edge ? from : hub ? to : 0.5 * (from + to);
    if (from > to)
        return fw_fail(err, FW_INPUT,
                       "a zone from %g to %g mm is narrower than a lap of radius %g mm", inner,
                       outer, lap);
    double aside = s->method == FW_SIDE ? ROCKED * 0.5 * (from + to) : 0;
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

/* A small lap at some places along its radius: where, and how it presses. */
typedef struct local {
    double lap, half, angle; /* half: the angle to either side; pi: round */
    int nplaces;
    double nearest, farthest; /* radii that the lap reaches */
    double centre[PLACES];
    fw_contact contact[PLACES];
    double r, arc[PLACES], press[PLACES]; /* at the radius last asked for, where it is pressed */
    int npressed;
    double widest; /* of the arcs */
} local;

/* Places told apart: one of a lap that stays, half of those of a travel through the middle. */
static int places_of(const fw_travel *t)
{
    return t->from_mm == t->to_mm ? 1 : t->from_mm == -t->to_mm ? PLACES / 2 : PLACES;
}

static fw_status lay_local(const fw_stroke *stroke, const fw_disc *flat, local *s, fw_error *err)
{
    fw_travel t;
    fw_status status = fw_stroke_travel(stroke, flat, &t, err);
    if (status)
        return status;
    fw_disc lap = { t.lap_mm, 0 };
    double middle = 0.5 * fabs(t.from_mm + t.to_mm);
    s->lap = t.lap_mm;
    s->half = stroke->method == FW_RING ? PI : fmin(t.aside_mm / middle, PI);
    s->angle = or_usual(stroke->side_deg, 0) * PI / 180;
    s->r = NAN;
    if (!isfinite(s->angle))
        return fw_fail(err, FW_INPUT, "side at %g degrees is out of range", stroke->side_deg);
    s->nplaces = places_of(&t);
    s->nearest = INFINITY;
    s->farthest = 0;
    for (int i = 0; i < s->nplaces; i++) {
        s->centre[i] = fabs(t.from_mm + (t.to_mm - t.from_mm) * (i + 0.5) / PLACES);
        s->nearest = fmin(s->nearest, s->centre[i] - s->lap);
        s->farthest = fmax(s->farthest, s->centre[i] + s->lap);
        status = fw_contact_solve(flat, &lap, s->centre[i], &s->contact[i], err);
        if (status)
            return status;
    }
    return FW_OK;
}

/* Half the arc of radius r that is under the lap and pressed, and the mean pressure along it. */
static void lay_arcs(local *s, double r)
{
    s->r = r;
    s->npressed = 0;
    s->widest = 0;
    if (r < s->nearest || r > s->farthest)
        return;
    for (int i = 0; i < s->nplaces; i++) {
        const fw_contact *c = &s->contact[i];
        double e = s->centre[i], over = r * r + e * e - s->lap * s->lap, under = 2 * r * e;
        if (over >= under || c->from_mm >= r) /* not under the lap, or lifted off */
            continue;
        double end = over <= -under ? -1 : over / under; /* the cosine of the arc */
        end = c->from_mm > -r ? fmax(end, c->from_mm / r) : end;
        double arc = acos(end), half_chord = r * sqrt((1 - end) * (1 + end));
        if (!(arc > 0))
            continue;
        s->arc[s->npressed] = arc;
        s->press[s->npressed++] = c->c0 + c->c1 * half_chord / arc;
        s->widest = arc > s->widest ? arc : s->widest;
    }
}

/* The part of two even motions, each by half of `half` either way, that lies before angle a. */
static double passed(double a, double half)
{
    double x = half - fabs(a), tail = x > 0 ? 0.5 * (x / half) * (x / half) : 0;
    return a < 0 ? tail : 1 - tail;
}

/*
 * A harmonic stroke spends p |v| dt = p dx evenly over its travel. Meanwhile a ring turns, a side
 * is rocked and the lap swept: a point is under the lap for the part of the time in which the lap's
 * arc covers it, arc / pi for a ring.
 */
static double local_at(local *s, double r, double theta)
{
    double a = fabs(theta - s->angle), sum = 0;
    bool round = s->half >= PI;
    if (r != s->r)
        lay_arcs(s, r);
    if (a > PI)
        a = fabs(remainder(a, 2 * PI));
    if (!round && a - s->widest >= s->half && 2 * PI - a - s->widest >= s->half)
        return 0; /* never that far round */
    for (int i = 0; i < s->npressed; i++) {
        double arc = s->arc[i], covered = arc / PI;
        if (!round && arc < PI)
            covered = passed(a + arc, s->half) - passed(a - arc, s->half) + /* from behind: */
                      1 - passed(2 * PI - a - arc, s->half);
        sum += covered * s->press[i];
    }
    return sum / s->nplaces * PI * s->lap * s->lap;
}

/* Neither turns fast enough to count nor swept sideways. */
static bool plain(const fw_stroke *s)
{
    return or_usual(s->turn_lower, 0) == 0 && or_usual(s->turn_upper, 0) == 0 &&
           or_usual(s->lateral, 0) == 0;
}

fw_status fw_stroke_at(const fw_stroke *stroke, const fw_disc *flat, size_t n, const double *r_mm,
                       const double *theta_rad, double *removal, fw_error *err)
{
    local s;
    double radius[FW_STROKE_NODES] = { 0 }, f[FW_STROKE_NODES];
    double slack = CLEARANCE * flat->radius_mm;
    bool small = stroke->method == FW_SIDE || (stroke->method == FW_RING && plain(stroke));
    fw_status status = small ? lay_local(stroke, flat, &s, err)
                             : fw_stroke_profile(stroke, flat, radius, f, err);
    if (status)
        return status;
    double from = small ? flat->bore_mm : radius[0];
    double to = small ? flat->radius_mm : radius[FW_STROKE_NODES - 1];
    double step = (to - from) / (FW_STROKE_NODES - 1);
    for (size_t i = 0; i < n; i++) {
        double r = r_mm[i];
        if (!(r >= from - slack && r <= to + slack))
            removal[i] = 0;
        else if (small)
            removal[i] = local_at(&s, r, theta_rad ? theta_rad[i] : 0);
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

/* Rings of one width, a quarter of it apart, from near the middle or the bore to near the edge. */
static void add_rings(list *l, const fw_disc *flat, double width)
{
    double all = flat->radius_mm - flat->bore_mm;
    double first = flat->bore_mm + 0.1 * width;
    double last = flat->radius_mm - NEARLY * all - width;
    int steps = (int)ceil((last - first) / (0.25 * width));
    for (int i = 0; last >= first && i <= steps; i++) {
        double inner = steps > 0 ? first + (last - first) * i / steps : last;
        add_zone(l, FW_RING, inner, inner + width);
    }
}

/*
 * All but the edge: a large lap that swings a little through the middle takes the same everywhere
 * within its reach, and nothing beyond. Not over a bore, whose rim it would turn down.
 */
static void add_plateaus(list *l, const fw_disc *flat)
{
    static const double reaches[] = { 0.55, 0.6, 0.65, 0.7, 0.8, 0.85, 0.9, 0.93, 0.96, 0.98 };
    for (size_t i = 0; flat->bore_mm == 0 && i < sizeof reaches / sizeof reaches[0]; i++)
        add_zone(l, FW_RING, 0, reaches[i] * flat->radius_mm);
}

int fw_stroke_menu(const fw_disc *flat, int capacity, fw_stroke *menu)
{
    static const double full[] = { 0.25, 1.0 / 3, 0.5, 2.0 / 3 };
    static const double widths[] = { 0.08, 0.12, 0.16, 0.2, 0.3, 0.45, 0.7 };
    static const double edges[] = { 0.08, 0.12, 0.16, 0.2, 0.3, 0.45, 0.6, 0.9 };
    static const double middles[] = { 0.06, 0.1, 0.15, 0.2, 0.25, 0.35, 0.5, 0.75 };
    static const double sides[][2] = { { 0.15, 0.55 }, { 0.28, 0.68 }, { 0.42, 0.82 },
                                       { 0.58, 0.98 }, { 0.34, 0.96 }, { 0.72, 1 }, { 0.52, 1 },
                                       { 0.25, 1 }, { 0.1, 1 } };
    double g = flat->bore_mm, r = flat->radius_mm, w = r - g;
    list l = { menu, capacity, 0 };
    for (int above = 0; above < 2; above++)
        for (size_t i = 0; i < sizeof full / sizeof full[0]; i++) {
            fw_stroke s = fw_stroke_usual(above ? FW_FLAT_ON_TOP : FW_LAP_ON_TOP);
            s.length = full[i];
            add(&l, s);
        }
    for (size_t i = 0; i < sizeof widths / sizeof widths[0]; i++)
        add_rings(&l, flat, widths[i] * w);
    for (size_t i = 0; i < sizeof edges / sizeof edges[0]; i++)
        add_zone(&l, FW_RING, r - edges[i] * w, r);
    for (size_t i = 0; i < sizeof middles / sizeof middles[0]; i++)
        add_zone(&l, FW_RING, g, g + middles[i] * w);
    add_plateaus(&l, flat);
    for (size_t i = 0; i < sizeof sides / sizeof sides[0]; i++)
        add_zone(&l, FW_SIDE, g + sides[i][0] * w, g + sides[i][1] * w);
    return l.count;
}
