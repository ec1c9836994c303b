/* views.h - what the page shows: the flats, faces and pairings pictured, on common scales. */
#ifndef REPORT_VIEWS_H
#define REPORT_VIEWS_H

#include "flatwright/advice.h"
#include "flatwright/track.h"
#include "report/contour.h"
#include "report/markup.h"

#define VIEWS_FLATS 12    /* pictured at most: those farthest from the target */
#define VIEWS_PAIRINGS 12
#define VIEWS_STROKES 4   /* of one flat's plan */
#define VIEWS_BANDS 6     /* fringes across a pair that is flat: the wedge drawn */

#define PICTURE_NAME 96

/* A pairing that was read, with the picture it should show today. */
typedef struct view_pairing {
    int bottom, top;
    double turn_deg;
    contour_grid order; /* fringe order over the bottom's face: light waves over half */
    double pv_nm;       /* of the sum of both figures */
} view_pairing;

typedef enum picture_kind {
    PICTURE_PROFILE,
    PICTURE_FACE,
    PICTURE_FRINGES,
    PICTURE_ROUNDS,
    PICTURE_HOURS,
    PICTURE_WORK,
    PICTURE_KINDS
} picture_kind;

/* One picture: kind-flat, or kind-bottom-top-turn. */
typedef struct picture {
    char name[PICTURE_NAME];
    picture_kind kind;
    int flat;  /* profile, face, work: whose */
    int index; /* fringes: of pairings; work: the stroke */
} picture;

typedef struct views {
    const fw_result *result;   /* all borrowed */
    const fw_advice *advice;
    const fw_track *track;
    int nshown;
    int shown[VIEWS_FLATS];    /* flats pictured, in the job's order */
    contour_grid face[VIEWS_FLATS]; /* height NULL: no face */
    double reach_nm;           /* profiles go to +- this */
    double step_nm;            /* between contours */
    int nsteps;                /* of them to either side of 0 */
    double light_nm;           /* height of a fringe */
    bool light_named;          /* by the job; false: the green mercury line was taken */
    int npairings;
    int more_pairings;         /* read, but not pictured */
    view_pairing pairings[VIEWS_PAIRINGS];
    int npictures;
    picture *pictures;
} views;

/*
 *   advice, track  in   of the same result; borrowed
 *   out            out  release with views_release; {0} on failure
 * Returns FW_OK, FW_SYSTEM. Test: tests/unit/views.c.
 */
fw_status views_new(const fw_advice *advice, const fw_track *track, views *out, fw_error *err);
void views_release(views *v);

/* A flat's name, cut to fit a picture. */
#define VIEWS_NAME 24
const char *views_name(const views *v, int flat, char buffer[VIEWS_NAME]);

/* The place of a flat in shown; -1: not pictured. */
int views_place(const views *v, int flat);

/*
 * Fringe orders of the sum of two figures over the bottom's face, as seen from above:
 *     N = bands y / (2 R) - (h_bottom(r, t) + h_top(r, phi - t)) / fringe,
 * a dark band wherever N is whole: one band for each half wave of air gap, the wedge opening toward
 * y = the bottom's 90 degrees.
 *   fringe_nm  in   height of a fringe, lambda / (2 cos i)
 *   bands      in   of the wedge alone
 *   grid       in/out  made for the common clear ring of both, contour_new
 *   pv_nm      out  of the sum, piston and tilt taken off
 * Source: ISO 14999-4 (one fringe spacing is half a wavelength), and the mating of mating.h.
 * Test: tests/unit/fringes.c.
 */
void views_fringes(const fw_figure *bottom, const fw_figure *top, double turn_deg, double fringe_nm,
                   double bands, contour_grid *grid, double *pv_nm);

/* Draws one picture at x, y of what is around it. Asks for no memory. */
typedef struct canvas {
    markup *m;
    double x, y;
} canvas;
void picture_draw(const canvas *c, const views *v, const picture *p);

/* Its size in px. */
void picture_size(const views *v, const picture *p, double *width, double *height);

/* One kind each. */
void picture_profile(const canvas *c, const views *v, const picture *p);
void picture_face(const canvas *c, const views *v, const picture *p);
void picture_fringes(const canvas *c, const views *v, const picture *p);
void picture_progress(const canvas *c, const views *v, const picture *p);
void picture_work(const canvas *c, const views *v, const picture *p);

/* Are there figures of two states or more to draw? */
bool views_moved(const views *v);

/* The number of strips of a profile's picture. */
int profile_strips(const views *v, int flat);
double profile_height(const views *v, int flat);

#endif
