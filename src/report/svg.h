/* svg.h - the strokes of a picture: lines, discs, paths, words at a place. */
#ifndef REPORT_SVG_H
#define REPORT_SVG_H

#include "report/markup.h"

#define SVG_SMALL 11  /* numbers at axes, px */
#define SVG_HEAD 13   /* a picture's heading */
#define SVG_BOX_WIDTH 330 /* what fits a narrow screen, and twice side by side on paper */

/*
 * Opens a picture; what follows is in px of its own, y down; svg_close ends it. Everything it looks like stands in
 * attributes, so that it needs no style sheet.
 *   x, y   in  its place in the picture around it; else 0
 *   title  in  what a reader is told first; a line
 *   about  in  what it shows, for who does not see it
 */
void svg_open(markup *m, double x, double y, double width, double height, const char *title,
              const char *about);

void svg_close(markup *m);

/* Ends the attributes of a shape just opened with what it is painted with. dash NULL: none. */
void svg_paint(markup *m, const char *fill, const char *stroke, double width, const char *dash);

void svg_line(markup *m, double x1, double y1, double x2, double y2, const char *stroke,
              double width, const char *dash);
void svg_rect(markup *m, double x, double y, double width, double height, const char *fill);
void svg_disc(markup *m, double x, double y, double r, const char *fill, const char *stroke,
              double width, const char *dash);

/* Begins a path and its data; add points, then svg_path_end with its paint. */
void svg_path(markup *m);
void svg_move(markup *m, double x, double y);
void svg_to(markup *m, double x, double y);
void svg_back(markup *m); /* to where this piece of the path began */
void svg_path_end(markup *m, const char *fill, const char *stroke, double width, const char *dash);

/* Words at a place; anchor "start", "middle" or "end". As printf, at most 500 bytes. */
void svg_words(markup *m, double x, double y, const char *anchor, double size, const char *fill,
               const char *format, ...) __attribute__((format(printf, 7, 8)));

/* The same with a margin of paper around the letters, to be read over anything. */
void svg_label(markup *m, double x, double y, const char *anchor, const char *text);

/* A number for a picture: %.*g with a true minus; sign: a + is written as well. Returns buffer. */
#define SVG_NUMBER 32
char *svg_number(double value, bool sign, char buffer[SVG_NUMBER]);

#endif
