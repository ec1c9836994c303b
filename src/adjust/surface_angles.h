/* surface_angles.h - what pairs and turns show of each angular order, were the sampling perfect. */
#ifndef ADJUST_SURFACE_ANGLES_H
#define ADJUST_SURFACE_ANGLES_H

#include "net.h"

/* One more pairing of two faces, beside those that were read. */
typedef struct surface_pairing {
    int face[2];
    double turn_deg;
} surface_pairing;

/*
 * Of the terms a cos m theta + b sin m theta of every face a pairing with turn phi shows
 *     a_b + a_t cos m phi + b_t sin m phi   and   b_b + a_t sin m phi - b_t cos m phi,
 * because the bottom's theta meets the top's phi - theta. What all pairings together leave open is
 * the same for every order n >= m.
 *   use   in   per face: its terms are unknowns; NULL: all
 *   more  in   another pairing; NULL: none
 *   null  out  2 nfaces x d, (a, b) by face, orthonormal; owned by the caller; NULL: not wanted
 *   d     out  dimensions left open
 * Source: C. J. Evans, R. N. Kestner, Appl. Opt. 35, 1015 (1996), for the orders a turn is blind to.
 * Test: tests/unit/surface.c, tests/reference/blind_orders.c.
 */
fw_status surface_angles(const fw_net *net, int m, const bool *use, const surface_pairing *more,
                         double **null, int *d, fw_error *err);

#endif
