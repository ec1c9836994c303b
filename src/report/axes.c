/* axes.c - round ticks, and the thin lines that carry them. */
#include <math.h>

#include "report/axes.h"
#include "report/palette.h"

double axis_round_up(double x)
{
    static const double steps[] = {1, 2, 5};
    double decade = pow(10, floor(log10(x)));
    for (int i = 0; i < 3; i++)
        if (steps[i] * decade >= x * (1 - 1e-9))
            return steps[i] * decade;
    return 10 * decade;
}

static void add(axis *a, double tick)
{
    double margin = 1e-9 * (a->high - a->low);
    if (a->nticks < AXIS_TICKS && tick >= a->low - margin && tick <= a->high + margin)
        a->ticks[a->nticks++] = tick;
}

/* Every multiple of the step between the ends, counted from the first. */
static void add_multiples(axis *a, double step)
{
    double first = ceil(a->low / step - 1e-9);
    int count = (int)floor(a->high / step - first + 1e-9) + 1;
    for (int k = 0; k < count && k < AXIS_TICKS; k++)
        add(a, (first + k) * step + 0.0); /* no -0 */
}

axis axis_linear(double low, double high, double from, double to, int most)
{
    axis a = {.low = low, .high = high, .from = from, .to = to};
    double step = axis_round_up((high - low) / most);
    add_multiples(&a, step);
    return a;
}

axis axis_counts(int low, int high, double from, double to, int most)
{
    axis a = {.low = low, .high = high > low ? high : low + 1, .from = from, .to = to};
    double step = fmax(1, axis_round_up((a.high - a.low) / most));
    add_multiples(&a, step);
    while (a.nticks > 0 && a.ticks[a.nticks - 1] > high)
        a.nticks--;
    return a;
}

axis axis_log(double low, double high, double from, double to)
{
    static const double steps[] = {1, 2, 5};
    axis a = {.low = low, .high = high, .from = from, .to = to, .log = true};
    bool dense = high / low < 500;
    for (int decade = (int)floor(log10(low)); decade <= (int)ceil(log10(high)); decade++)
        for (int i = 0; i < (dense ? 3 : 1); i++)
            add(&a, steps[i] * pow(10, decade));
    return a;
}

double axis_at(const axis *a, double value)
{
    double t = a->log ? (value > 0 ? log(value / a->low) / log(a->high / a->low) : 0)
                      : (value - a->low) / (a->high - a->low);
    return a->from + fmin(fmax(t, 0), 1) * (a->to - a->from);
}

void axis_draw_below(markup *m, const axis *x, double top, double bottom, const char *unit)
{
    char text[SVG_NUMBER];
    for (int i = 0; i < x->nticks; i++) {
        double at = axis_at(x, x->ticks[i]);
        svg_line(m, at, top, at, bottom, PALETTE_RULE, 0.5, NULL);
        svg_words(m, at, bottom + 13, "middle", SVG_SMALL, PALETTE_SOFT, "%s",
                  svg_number(x->ticks[i], false, text));
    }
    svg_words(m, (x->from + x->to) / 2, bottom + 27, "middle", SVG_SMALL, PALETTE_SOFT, "%s", unit);
}

void axis_draw_left(markup *m, const axis *y, double left, double right, bool sign)
{
    char text[SVG_NUMBER];
    for (int i = 0; i < y->nticks; i++) {
        double at = axis_at(y, y->ticks[i]);
        svg_line(m, left, at, right, at, PALETTE_RULE, y->ticks[i] == 0 ? 1 : 0.5, NULL);
        svg_words(m, left - 5, at + 3.5, "end", SVG_SMALL, PALETTE_SOFT, "%s",
                  svg_number(y->ticks[i], sign, text));
    }
}
