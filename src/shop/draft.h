/* draft.h - a flat's plan while it is made: which strokes, and how long. */
#ifndef SHOP_DRAFT_H
#define SHOP_DRAFT_H

#include "shop/plan.h"

typedef struct draft {
    const fw_menu *menu;
    const fw_habit *habit;
    const view *v;
    bool power; /* power does no harm */
    int nseen;  /* strokes that may be used: those whose traces the readings would show */
    int *seen;
    double *p; /* npoints x nseen: what an hour is believed to take off */
    fw_menu weighed; /* the grid with the weights under which they were chosen */
    int n;     /* strokes chosen, places in `seen`; hours at each */
    int stroke[FW_PLAN_ROWS];
    double hours[FW_PLAN_ROWS];
} draft;

fw_status draft_new(fw_menu *menu, const fw_habit *habit, const view *v, bool power,
                    draft *out, fw_error *err);
void draft_release(draft *d);

/*
 * Chooses strokes and hours: at most `most` of them, and at most `hours` in all; first comes what
 * takes most of the figure away. Minimises the expected square of the figure that is left, with more
 * weight where it would stick out.
 */
fw_status draft_choose(draft *d, int most, double hours, fw_error *err);

/* The stroke, and its place in the menu, of one that was chosen. */
const fw_stroke *draft_stroke(const draft *d, int i);

#endif
