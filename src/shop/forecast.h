/* forecast.h - the figure after a plan: figure, rate and shape uncertain together. */
#ifndef SHOP_FORECAST_H
#define SHOP_FORECAST_H

#include "shop/plan.h"

/* PV, and the quantity that the job judges, before the first stroke, after it, and so on. */
typedef struct forecast {
    fw_quantity pv[FW_PLAN_ROWS + 1], judged[FW_PLAN_ROWS + 1];
} forecast;

/* Strokes of the menu, n of them, hours each. JCGM 101, fixed seed. */
fw_status forecast_new(const fw_menu *menu, const fw_habit *habit, const view *v,
                       fw_measure measure, int n, const int *stroke, const double *hours,
                       forecast *out, fw_error *err);

/* v (npoints x FW_HABIT_MODES) <- removal in an hour for a unit of each parameter of the method. */
void forecast_parts(const fw_menu *menu, int j, double *v);

#endif
