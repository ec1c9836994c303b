/* advice_parts.h - what the words of the advice are made of: names, times, strokes, plans. */
#ifndef REPORT_ADVICE_PARTS_H
#define REPORT_ADVICE_PARTS_H

#include "flatwright/advice.h"

void advice_name(fw_screen *screen, const fw_advice *advice, int flat);

/* "3.4 minutes (about 136 strokes)"; below a minute in strokes, from two hours on in hours. */
void advice_time(fw_screen *screen, double hours);

/* "12 o'clock", "7:30": a quarter of an hour is 7.5 degrees. */
void advice_clock(fw_screen *screen, double angle_deg);

/* How and where a stroke goes: "face up, small lap in a ring, from 20 to 60 mm, lap 20 mm across". */
void advice_stroke(fw_screen *screen, const fw_flat *flat, const fw_stroke *stroke);

/*
 * The rows of a plan in an order for the hand, times untouched: full strokes, then rings, then sides;
 * the largest lap first, one lap at a time from the middle outward, sides clockwise from the mark.
 */
void advice_order(const fw_plan *plan, const fw_flat *flat, int order[FW_PLAN_ROWS]);

/* Everything about the plan of place i, its warnings too. */
void advice_plan(fw_screen *screen, const fw_advice *advice, int i);

#endif
