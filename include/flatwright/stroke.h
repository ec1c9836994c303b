/* stroke.h - what a stroke takes off: contact of two discs, removal profiles, a menu of strokes. */
#ifndef FLATWRIGHT_STROKE_H
#define FLATWRIGHT_STROKE_H

#include <stdbool.h>
#include <stddef.h>

#include "job.h"
#include "status.h"

/* A flat or a lap seen from above. Radii; bore 0: solid. */
typedef struct fw_disc {
    double radius_mm, bore_mm;
} fw_disc;

/*
 * A way to work a flat. NAN in any field: the usual value, given in brackets.
 * Full strokes (FW_LAP_ON_TOP, FW_FLAT_ON_TOP): the upper disc's centre goes to and fro over the
 * lower's, harmonically, while both turn slowly; a stroke is there and back.
 * FW_RING: the lap's centre goes to and fro along a radius so that the lap reaches from inner to
 * outer while the flat turns. FW_SIDE: the same about one place, the lap swept sideways and the
 * flat rocked, each through a quarter of a radian either way.
 * Where a zone ends at the edge of the flat or at its bore, the lap hangs over there by half its
 * radius, so that the rim is not left high; one too large to move in its zone then hangs over by more,
 * up to a third of its diameter. A ring with inner 0 on a solid flat swings through the middle.
 */
typedef struct fw_stroke {
    fw_method method;
    double length;     /* full strokes: full length over the flat's diameter [1/3] */
    double lateral;    /* full width of the sideways sweep over the flat's diameter (W stroke; a
                          side: rocking counted in) [full strokes and ring 0; side: a radian] */
    double sweeps;     /* full strokes: sweeps there and back in a stroke [0.1] */
    double turn_lower, turn_upper; /* turns in a stroke, for the speed [0: too slow to count] */
    double flow;       /* full strokes: 0 the lap keeps its face, 1 it has flowed to fit [1] */
    double lap_mm;     /* radius of the lap [full strokes: the flat's; local: from the zone, 0.45 of
                          its width, 0.7 where it ends at a rim, half of it from rim to rim, a third
                          of outer through the middle; at most 0.45 of the flat's radius. From half
                          of the radius on, short of the edge, through the middle of a solid flat:
                          all of outer but a tenth of the radius] */
    double inner_mm, outer_mm; /* ring, side: the zone the lap reaches, radii [bore; the edge] */
    double side_deg;   /* side: where, from the flat's mark [0] */
    int fine;          /* multiplies the nodes of the quadrature; 0, 1: the usual number; up to 8 */
} fw_stroke;

/* A stroke of that method with every field at its usual value. */
fw_stroke fw_stroke_usual(fw_method method);

/*
 * The stroke that a row of the work list names, and the row that names a stroke: what the plan
 * printed and a person typed in again is the very same stroke. Fields that a row leaves empty are
 * usual.
 *   work  out  method, inner_mm, outer_mm, side_deg, stroke, sweep and lap_mm; the rest is left, and
 *              all on failure
 * fw_stroke_to_work returns FW_OK; FW_INPUT for a stroke that no row can name: with turns, a lap
 * that keeps its face, sweeps of its own, or a side that is not swept. Test: tests/unit/worked.c.
 */
fw_stroke fw_stroke_of_work(const fw_work *work);
fw_status fw_stroke_to_work(const fw_stroke *stroke, fw_work *work, fw_error *err);

/* Nodes of a profile, evenly over the radii that the other disc reaches; it is 0 beyond them. */
#define FW_STROKE_NODES 41

/* What a stroke takes off both discs with a linear pressure: each mean one over its own area. */
typedef struct fw_wear {
    double lower_mm[FW_STROKE_NODES], lower[FW_STROKE_NODES];
    double upper_mm[FW_STROKE_NODES], upper[FW_STROKE_NODES];
    double change[FW_STROKE_NODES]; /* lower minus upper at the same fraction of either radius */
    double travel_mm; /* mean relative travel in a stroke where it presses; 0: a lap in one place */
    double lifted;    /* fraction of the time in which part of the contact is off */
} fw_wear;

/*
 * Preston (1927): removal(r) = < p |v| >, averaged over stroke, sweep and azimuth, with p linear
 * over the contact (fw_contact_solve) and v the relative velocity there, turns included.
 *   stroke  in   a full stroke or a ring; flow is not used
 *   flat    in   radii of the worked flat; it is the upper disc for FW_FLAT_ON_TOP
 *   wear    out  profiles of both discs; unchanged on failure
 * Returns FW_OK; FW_INPUT when the numbers make no stroke, or the upper disc would tip.
 * Stroke, sweep and turns are taken as independent: rates with a common measure, as a machine may
 * have, repeat themselves and wear less evenly. The model does not show the outermost twentieth
 * turning down, nor a lap that flows.
 * Cost: 0.5 ms; 3 ms with a sweep; ten times that with turns. The quadrature is good to 0.003 of
 * the mean for full strokes and to 0.01 of the peak for rings, where a lap's flank is steep.
 * Source: Preston, J. Soc. Glass Technol. 11, 214 (1927); Wagner & Shannon, Appl. Opt. 13, 1683
 * (1974). Tests: tests/unit/stroke.c, tests/reference/preston.c.
 */
fw_status fw_stroke_wear(const fw_stroke *stroke, const fw_disc *flat, fw_wear *wear,
                         fw_error *err);

/*
 * Removal of the flat by radius, for everything but a side.
 * Unit: k p v, where k is Preston's coefficient, p the load over the area of the smaller of flat
 * and lap, v the mean relative speed (travel_mm times strokes a second). So a full stroke has mean
 * one over the flat, and a small lap has (area of the lap) / (area of the flat).
 * Full strokes: with f = flow, own and other the wear of the flat and of the lap at the same
 * fraction of the radius,
 *     removal = own + f (1 - other), never below 0, brought to mean one.
 * A lap that keeps its face removes `own`. One that flows sinks where it is pressed most and stands
 * proud where it is pressed least, until it bears evenly; the flat then gets, to first order, what
 * the lap lacked: one plus the relative change between the two. That is the rule of practice: lap
 * on top works the edge, flat on top the middle, longer strokes more. With a lap that keeps its
 * face both discs lose the middle first, the lower one too in short strokes.
 *   radius_mm  out  FW_STROKE_NODES radii, evenly over what is worked; 0 is removed beyond
 *   removal    out  FW_STROKE_NODES values
 * Returns as fw_stroke_wear; outputs unchanged on failure. Cost as fw_stroke_wear.
 * Source of the flow: derived. Tests: tests/unit/stroke.c, tests/unit/removal.c.
 */
fw_status fw_stroke_profile(const fw_stroke *stroke, const fw_disc *flat, double *radius_mm,
                            double *removal, fw_error *err);

/*
 * Removal of the flat at points, for every method that takes off glass in a known way.
 *   stroke     in   FW_LAP_ON_TOP, FW_FLAT_ON_TOP, FW_RING or FW_SIDE
 *   n          in   number of points
 *   r_mm       in   n radii; the removal is 0 beyond the edge and in the bore
 *   theta_rad  in   n angles on the flat's face from its mark; NULL: all 0
 *   removal    out  n values in the unit of fw_stroke_profile
 * Returns FW_OK; FW_INPUT as fw_stroke_wear, and for FW_GRIND and FW_OTHER; outputs unchanged on
 * failure. Cost: one profile and 20 ns a point; a side about 0.2 us a point.
 * Test: tests/unit/removal.c.
 */
fw_status fw_stroke_at(const fw_stroke *stroke, const fw_disc *flat, size_t n, const double *r_mm,
                       const double *theta_rad, double *removal, fw_error *err);

/*
 * The same by a person's hand: the mean over strokes that end, in radius, where they should only to
 * a standard deviation of 0.025 of the flat's radius. What is narrower is smoothed; a rim of the flat
 * or of its bore stays a rim. This is what plans reckon with, and what is learned from.
 * Arguments and status as fw_stroke_at, FW_SYSTEM without memory. Cost: seven times that.
 * Source: common practice that a hand blends zones; the amount is assumed. Test: tests/unit/unsteady.c.
 */
fw_status fw_stroke_by_hand(const fw_stroke *stroke, const fw_disc *flat, size_t n,
                            const double *r_mm, const double *theta_rad, double *removal,
                            fw_error *err);

/* What a stroke means on the bench, all fields given. */
typedef struct fw_travel {
    double lap_mm;           /* radius of the lap */
    double from_mm, to_mm;   /* signed places of the upper (local: the lap's) centre on its line */
    double aside_mm;         /* half the sideways sweep; side: at the middle of its travel */
} fw_travel;

/*
 * The lap to take and where its centre goes.
 *   travel  out  unchanged on failure
 * Returns FW_OK; FW_INPUT when a number is out of range or the zone is narrower than the lap.
 * Test: tests/unit/removal.c.
 */
fw_status fw_stroke_travel(const fw_stroke *stroke, const fw_disc *flat, fw_travel *travel,
                           fw_error *err);

/*
 * The strokes a plan may choose from: full strokes both ways, rings and sides in zones 0.06 to 0.9
 * of the radius wide (of what the bore leaves of it), with laps of 0.02 to 0.45 of it; and on a solid
 * flat laps of 0.45 to 0.88 of it that swing a little through the middle and spare the edge. Every
 * entry is a stroke that a row of the work list can name again (method, inner, outer, stroke, lap).
 * Sides lie at side_deg 0: turn them as needed.
 *   flat      in   radii
 *   capacity  in   room in `menu`
 *   menu      out  the first `capacity` entries; NULL: only count
 * Returns the number of entries of the whole menu, about 180 for a solid flat.
 * Test: tests/unit/removal.c.
 */
int fw_stroke_menu(const fw_disc *flat, int capacity, fw_stroke *menu);

/*
 * Contact of two discs, pressure of a unit load that acts through the upper one's centre:
 *     p(x) = c0 + c1 x  between from_mm and to_mm,  0 elsewhere,
 * x along the line of centres, from the lower's centre toward the upper's.
 */
typedef struct fw_contact {
    double area_mm2;        /* of the overlap, also where it is off */
    double c0, c1;          /* 1/mm2, 1/mm3 */
    double from_mm, to_mm;  /* where glass and lap press */
    double least, greatest; /* pressure over the overlap, 1/mm2; least is 0 after lift-off */
    bool lifted;            /* part of the overlap is off */
} fw_contact;

/*
 * Solves  int p dA = 1,  int p (x - offset) dA = 0  over the overlap, with the negative part taken
 * away and the rest solved again until it balances. The moments of the overlap are in closed form;
 * each turn of the solution moves the line of lift-off nearer to its place from one side, so it
 * always ends.
 *   lower, upper  in   radii of the discs and of their bores
 *   offset_mm     in   distance of the centres, >= 0
 *   contact       out  unchanged on failure
 * Returns FW_OK; FW_INPUT when the discs do not touch, or the load lies outside the overlap and the
 * upper disc tips. Cost: about 0.3 us, some times that with lift-off.
 * Source: Wagner & Shannon, Appl. Opt. 13, 1683 (1974); Cordero-Davila et al., Appl. Opt. 43, 1250
 * (2004). Test: tests/unit/contact.c.
 */
fw_status fw_contact_solve(const fw_disc *lower, const fw_disc *upper, double offset_mm,
                           fw_contact *contact, fw_error *err);

/*
 * The kernel of the wear: on a circle of radius r, from angle `from_rad` to `to_rad`,
 *     (1/pi) int (c0 + c1 r cos a) |(vx - w r sin a, vy + w r cos a)| da.
 *   w      in  turning speed of the upper disc less that of the lower, `spin`
 *   nodes  in  Gauss-Legendre nodes, 1 to FW_ARC_NODES
 * Source: over a whole turn with even pressure it is a complete elliptic integral, over a part an
 * incomplete one. Test: tests/reference/preston.c.
 */
#define FW_ARC_NODES 96
double fw_stroke_arc(double c0, double c1, double r, double from_rad, double to_rad, double vx,
                     double vy, double spin, int nodes);

#endif
