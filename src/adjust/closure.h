/* closure.h - a check on the readings themselves, before anything is solved. */
#ifndef ADJUST_CLOSURE_H
#define ADJUST_CLOSURE_H

#include "flatwright/result.h"
#include "net.h"

/*
 * With three flats in three unturned pairs, X(theta) + Y(-theta) read along theta, and
 * odd(F) = (F(theta) - F(-theta)) / 2 the part of a pairing that changes sign under the mirror of
 * the 0 diameter:
 *     odd(AB) - odd(AC) + odd(BC) = 0,
 * but for a piston and a tilt of the scans. Source: the condition equations of Schulz, Schwider,
 * Hiller and Kicker, Appl. Opt. 10, 929 (1971). One entry a triple of faces and mirrored pair of
 * diameters, those at 0 < theta <= 90. *out owned by the caller (fw_free).
 */
fw_status closures_find(const fw_net *net, fw_closure **out, int *count, fw_error *err);

#endif
