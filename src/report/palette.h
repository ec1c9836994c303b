/* palette.h - the few colours of page and pictures, told apart by the colour-blind and in print. */
#ifndef REPORT_PALETTE_H
#define REPORT_PALETTE_H

#define PALETTE_PAPER "#ffffff"
#define PALETTE_INK "#20262b"    /* words, curves */
#define PALETTE_SOFT "#525b63"   /* captions, numbers at axes */
#define PALETTE_RULE "#c6ccd0"   /* grids, frames */
#define PALETTE_BAND "#cfdce3"   /* uncertainty */
#define PALETTE_LIMIT "#8f3d08"  /* limits of the target */
#define PALETTE_WORK "#f0cfae"   /* zones to be worked */
#define PALETTE_DARK "#3d464d"   /* dark fringes */
#define PALETTE_LIGHT "#f3f4f1"  /* light ones */
#define PALETTE_GUIDE "#e9a65c"  /* where they would lie between planes */
#define PALETTE_BEYOND "#eff1f2" /* outside the clear aperture, bore */
#define PALETTE_GOOD "#0f5a4a"   /* within */
#define PALETTE_BAD "#8f3d08"    /* outside */
#define PALETTE_DOUBT "#5a4a86"  /* undecided, undetermined */

/* curves and words of the second, third, fourth flat; the first is in ink */
#define PALETTE_SECOND "#2c6296"
#define PALETTE_THIRD "#965216"
#define PALETTE_FOURTH PALETTE_DOUBT

#define PALETTE_SIZE 8 /* "#rrggbb" */

/*
 * The colour of a height: blue for low, paper for the middle, brown for high. Blue against brown is
 * told apart with any common colour blindness, and lightness falls to both sides, so that steps
 * are seen in grey as well.
 *   t     in   -1 lowest .. 1 highest
 *   code  out  "#rrggbb"; returned
 * Test: tests/unit/palette.c.
 */
char *palette_height(double t, char code[PALETTE_SIZE]);

/*
 * (L1 + 0.05) / (L2 + 0.05), L the relative luminance, L1 the lighter: WCAG 2.1, "contrast ratio".
 * Two "#rrggbb". Test: tests/unit/palette.c.
 */
double palette_contrast(const char *a, const char *b);

#endif
