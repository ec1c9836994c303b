/* hand.h - a made-up person at the lap: what the rows of a work list truly take off. */
#ifndef SHOP_HAND_H
#define SHOP_HAND_H

#include "flatwright/advice.h"

/*
 * A method m takes off (1 + sum_q shape_mq T_q(r)) rate_m times its computed profile, never less than
 * nothing, T_q the modes of fw_habit_modes; and every spell by itself a little more or less.
 */
typedef struct hand {
    unsigned long seed;
    double rate[FW_HABIT_METHODS]; /* nm an hour at unit profile */
    double shape[FW_HABIT_METHODS][FW_HABIT_MODES]; /* [m][0] is 0 */
} hand;

/* The hand of a seed, of the kind that fw_habit_start believes in. */
fw_status hand_draw(unsigned long seed, hand *out, fw_error *err);

/*
 * Adds to `removed` what work took off the flat before each point was looked at.
 *   n, r_mm, theta_rad  in      points of the flat's own face
 *   round               in      n rounds: the work of those before it counts
 *   removed             in/out  n values in nm; unchanged on failure
 * Returns FW_OK; FW_INPUT: a spell of unknown effect (grind, other), or one that is no stroke;
 * FW_SYSTEM. Test: tests/unit/practice.c.
 */
fw_status hand_removed(const hand *h, const fw_job *job, int flat, size_t n, const double *r_mm,
                       const double *theta_rad, const int *round, double *removed, fw_error *err);

#endif
