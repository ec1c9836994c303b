/* plan.h - what the work plan is made of: strokes over a grid, figures believed on it. */
#ifndef SHOP_PLAN_H
#define SHOP_PLAN_H

#include "flatwright/advice.h"

/* Part of a removal's shape that no learning takes away: no two spells are alike. */
#define PLAN_UNLEARNED 0.08

/* 1, x, y, rho^2: what is no figure, or harmless. */
#define FW_MENU_FREE 4

/* Circles of the grid: fine enough to see a ridge that strokes leave between two stations. */
#define FW_MENU_RADII 55

/* Places on a circle of it, two on a line. */
#define FW_MENU_ANGLES 16

/* Grid of a clear aperture and the strokes' removal on it, unit profile, of those asked for so far. */
struct fw_menu {
    fw_disc flat;
    double clear_mm;
    bool line;
    int npoints, nradii, nangles;
    double *r_mm, *theta; /* npoints: radius by radius, all its angles */
    double *weight;       /* npoints, sum one: half by area, half along the diameters */
    int nstrokes;         /* sides at every angle of the grid */
    fw_stroke *strokes;
    double *unit;         /* npoints x nstrokes */
    double *modes;        /* FW_HABIT_MODES x nradii x nstrokes: fw_habit_modes on every circle */
    int *first, *end;     /* nstrokes: circles reached, from the first to before the end */
    bool *known;          /* nstrokes: columns of unit, their modes and circles */
    int nfree;            /* FW_MENU_FREE, on a line one less: orthonormal by weight */
    double *free;         /* npoints x nfree */
};

/* Stroke j of the menu: its removal is known from then on. As fw_stroke_by_hand. */
fw_status menu_tabulate(fw_menu *menu, int j, fw_error *err);

/* v <- v without piston and tilt, and without power when `power`. */
void menu_project(const fw_menu *menu, bool power, double *v);

/* Sum of weight a b over the grid. */
double menu_dot(const fw_menu *menu, const double *a, const double *b);

/*
 * The same grid with other weights, weight times factor (npoints); it borrows all but the weights
 * and the free terms. Release with menu_release.
 */
fw_status menu_reweigh(const fw_menu *menu, const double *factor, fw_menu *out, fw_error *err);
void menu_release(fw_menu *menu);

/* A flat's present figure on the grid, projected: draws of what is believed of it. */
typedef struct view {
    int ndraws;
    double *draws; /* npoints x ndraws */
    double *mean;  /* npoints */
    double spacing_mm; /* of the stations: nothing finer is seen */
    double apart_rad;  /* of the diameters */
} view;

fw_status view_new(const fw_result *result, int flat, const fw_menu *menu, view *out,
                   fw_error *err);
void view_release(view *v);

#endif
