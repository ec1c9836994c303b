/* warmth.h - glass warmed by work: how far it bows, and how long it needs. */
#ifndef FLATWRIGHT_WARMTH_H
#define FLATWRIGHT_WARMTH_H

#include <stdbool.h>

#include "job.h"

/* Heat given to still air by a glass face, radiation included, W/m2K (common practice). */
#define FW_WARMTH_FILM 8.0

/*
 * Bow of a disc with a temperature difference through its thickness, sagitta over its diameter:
 *     alpha dT D^2 / (8 t)
 *   glass         in  expansion
 *   diameter_mm   in  D, or the part of it that counts
 *   thickness_mm  in  t
 *   across_k      in  temperature of the face less that of the back, K
 * Returns nm, + where the face is convex (it is the warmer side); NAN when something is not known.
 * Source: derived, free thin plate with a linear profile. Test: tests/unit/warmth.c.
 */
double fw_warmth_bow_nm(const fw_glass *glass, double diameter_mm, double thickness_mm,
                        double across_k);

/*
 * The difference through the thickness, K, that bows the disc by bow_nm; NAN, source and test as
 * above.
 */
double fw_warmth_across_k(const fw_glass *glass, double diameter_mm, double thickness_mm,
                          double bow_nm);

/*
 * Bow of a disc that a steady heat flux passes, face to back: alpha q D^2 / (8 k), whatever its
 * thickness.
 *   flux_w_m2  in  q
 * Returns nm, + where the face is convex; NAN, source and test as above.
 */
double fw_warmth_flux_bow_nm(const fw_glass *glass, double diameter_mm, double flux_w_m2);

/* Thermal diffusivity k / (rho c), m2/s; NAN when something is not known. */
double fw_warmth_diffusivity(const fw_glass *glass);

/*
 * Slowest time constant of conduction through a slab whose open faces are held at one temperature:
 *     t^2 / (pi^2 kappa)  both faces open,  4 t^2 / (pi^2 kappa)  one, the other insulated.
 * The first is also that of a difference from face to back which evens out inside the glass.
 * Returns s; NAN when something is not known. Source: derived. Test: tests/unit/warmth.c.
 */
double fw_warmth_conduction_s(const fw_glass *glass, double thickness_mm, bool both);

/*
 * Time constant of the whole glass giving its heat to air:
 *     rho c t / (2 h)  both faces open,  rho c t / h  one.
 *   film_w_m2k  in  h; NAN: FW_WARMTH_FILM
 * Returns s; NAN when something is not known. Source: derived. Test: tests/unit/warmth.c.
 */
double fw_warmth_air_s(const fw_glass *glass, double thickness_mm, bool both, double film_w_m2k);

/* The glass as it comes off the lap, and how it stands to cool. */
typedef struct fw_cooling {
    double thickness_mm;
    bool both;         /* air has both faces; else the back lies on something that takes no heat */
    double across_k;   /* face less back, K, at the start (either sign) */
    double above_k;    /* mean of the glass less the room, K, at the start (either sign) */
    double film_w_m2k; /* NAN: FW_WARMTH_FILM */
} fw_cooling;

/*
 * How far the glass still is from even through its thickness after `seconds`:
 *     |across| exp(-s / t1) + u (h t / 2k) |above| exp(-s / t2)
 * t1 = t^2 / (pi^2 kappa): the difference evens out inside, hardly any of it leaves. t2: the whole
 * cools to the room, air and conduction in series: rho c t / h + 4 t^2 / (pi^2 kappa) with one face
 * open, half the first and a quarter of the second with both. While it cools, heat that leaves one
 * face only bends the glass by u h t / 2k of its excess: u = 1 with one face open, and 0.2 with
 * both, where the faces' air is taken to differ by a fifth.
 * Assumed: heat goes through the thickness only, not round the rim; the room stays as it is; the
 * warmth of the hand is not there. The two terms are added whatever their signs.
 * Returns K; NAN when something is not known.
 * Source: derived; the fifth is assumed. Test: tests/unit/warmth.c, against the heat equation
 * solved by differences.
 */
double fw_warmth_left_k(const fw_glass *glass, const fw_cooling *cooling, double seconds);

/*
 * The time until fw_warmth_left_k has fallen to allowed_k.
 *   allowed_k  in  > 0; from a bow: fw_warmth_across_k
 * Returns s, 0 when it is there already; NAN when something is not known or allowed_k is not
 * positive. Cost: 60 evaluations. Test: tests/unit/warmth.c.
 */
double fw_warmth_wait_s(const fw_glass *glass, const fw_cooling *cooling, double allowed_k);

#endif
