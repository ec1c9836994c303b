/* axes.h - a scale between numbers and places in a picture, with round ticks. */
#ifndef REPORT_AXES_H
#define REPORT_AXES_H

#include "report/svg.h"

#define AXIS_TICKS 24

typedef struct axis {
    double low, high; /* numbers at its ends */
    double from, to;  /* px there */
    bool log;
    int nticks;
    double ticks[AXIS_TICKS];
} axis;

/* 1, 2 or 5 times a power of ten, at least x > 0. */
double axis_round_up(double x);

/*
 * A linear scale with at most `most` ticks (2 .. AXIS_TICKS) at multiples of a round step.
 * low < high; ends stay as given. Test: tests/unit/axes.c.
 */
axis axis_linear(double low, double high, double from, double to, int most);

/* A logarithmic one, 0 < low < high, ticks at 1, 2, 5 of every decade, or at decades. */
axis axis_log(double low, double high, double from, double to);

/* Whole numbers only: rounds. */
axis axis_counts(int low, int high, double from, double to, int most);

/* The place of a number; of what lies beyond an end, that end. */
double axis_at(const axis *a, double value);

/* The numbers and thin lines of a frame: of the axis below, and of the one at the left. */
void axis_draw_below(markup *m, const axis *x, double top, double bottom, const char *unit);
void axis_draw_left(markup *m, const axis *y, double left, double right, bool sign);

#endif
