/* worked.c - a row of the work list as a stroke, and a stroke as a row. */
#include <math.h>

#include "flatwright/stroke.h"

static bool local(fw_method method)
{
    return method == FW_RING || method == FW_SIDE;
}

/* What a row leaves open is NAN, or 0 where it was never filled in. */
static double given(double value)
{
    return value > 0 ? value : NAN;
}

fw_stroke fw_stroke_of_work(const fw_work *work)
{
    fw_stroke s = fw_stroke_usual(work->method);
    s.lateral = given(work->sweep);
    s.lap_mm = given(work->lap_mm);
    if (local(work->method)) {
        s.inner_mm = work->inner_mm;
        s.outer_mm = work->outer_mm;
        s.side_deg = work->side_deg;
    } else
        s.length = given(work->stroke);
    return s;
}

/* Does the field have its usual value, so that a row need not name it? */
static bool usual(double value, double usual)
{
    return isnan(value) || value == usual;
}

fw_status fw_stroke_to_work(const fw_stroke *s, fw_work *work, fw_error *err)
{
    bool small = local(s->method);
    if (s->method > FW_SIDE || !usual(s->sweeps, 0.1) || !usual(s->turn_lower, 0) ||
        !usual(s->turn_upper, 0) || !usual(s->flow, 1) || (s->lateral == 0 && s->method == FW_SIDE))
        return fw_fail(err, FW_INPUT, "no row of the work list names this stroke");
    work->method = s->method;
    work->inner_mm = small ? s->inner_mm : NAN;
    work->outer_mm = small ? s->outer_mm : NAN;
    work->side_deg = s->method == FW_SIDE ? (isnan(s->side_deg) ? 0 : s->side_deg) : NAN;
    work->stroke = small ? NAN : given(s->length);
    work->sweep = given(s->lateral);
    work->lap_mm = given(s->lap_mm);
    return FW_OK;
}
