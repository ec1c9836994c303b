/* svg.c - the strokes of a picture, coordinates to a tenth of a px. */
#include <math.h>
#include <stdarg.h>
#include <string.h>

#include "report/palette.h"
#include "report/svg.h"

#define FONT "'Source Sans 3', 'Helvetica Neue', 'Liberation Sans', Arial, sans-serif"

void svg_open(markup *m, double x, double y, double width, double height, const char *title,
              const char *about)
{
    markup_open(m, "svg");
    markup_attr(m, "xmlns", "http://www.w3.org/2000/svg");
    if (x != 0 || y != 0) {
        markup_number(m, "x", x);
        markup_number(m, "y", y);
    }
    markup_number(m, "width", width);
    markup_number(m, "height", height);
    markup_put(m, "viewBox", "0 0 %g %g", width, height);
    markup_attr(m, "role", "img");
    markup_attr(m, "aria-label", title);
    markup_element(m, "title", title);
    markup_element(m, "desc", about);
    markup_open(m, "g"); /* checkers of HTML know no fonts of an svg itself */
    markup_attr(m, "font-family", FONT);
    markup_put(m, "font-size", "%d", SVG_SMALL);
    svg_rect(m, 0, 0, width, height, PALETTE_PAPER);
}

void svg_close(markup *m)
{
    markup_close_all(m, 2);
}

void svg_paint(markup *m, const char *fill, const char *stroke, double width, const char *dash)
{
    markup_attr(m, "fill", fill);
    if (stroke) {
        markup_attr(m, "stroke", stroke);
        markup_number(m, "stroke-width", width);
    }
    if (dash)
        markup_attr(m, "stroke-dasharray", dash);
    markup_void(m);
}

void svg_line(markup *m, double x1, double y1, double x2, double y2, const char *stroke,
              double width, const char *dash)
{
    markup_open(m, "line");
    markup_number(m, "x1", x1);
    markup_number(m, "y1", y1);
    markup_number(m, "x2", x2);
    markup_number(m, "y2", y2);
    svg_paint(m, "none", stroke, width, dash);
}

void svg_rect(markup *m, double x, double y, double width, double height, const char *fill)
{
    markup_open(m, "rect");
    markup_number(m, "x", x);
    markup_number(m, "y", y);
    markup_number(m, "width", width);
    markup_number(m, "height", height);
    svg_paint(m, fill, NULL, 0, NULL);
}

void svg_disc(markup *m, double x, double y, double r, const char *fill, const char *stroke,
              double width, const char *dash)
{
    markup_open(m, "circle");
    markup_number(m, "cx", x);
    markup_number(m, "cy", y);
    markup_number(m, "r", r);
    svg_paint(m, fill, stroke, width, dash);
}

static void put_pair(FILE *out, char letter, double x, double y)
{
    long a = lround(10 * x), b = lround(10 * y);
    const double place[] = {(double)a / 10, (double)b / 10};
    putc(letter, out);
    for (int i = 0; i < 2; i++)
        fprintf(out, lround(10 * place[i]) % 10 ? "%s%.1f" : "%s%.0f", i ? " " : "", place[i]);
}

void svg_path(markup *m)
{
    markup_open(m, "path");
    markup_attr_begin(m, "d");
}

void svg_move(markup *m, double x, double y)
{
    put_pair(m->out, 'M', x, y);
}

void svg_to(markup *m, double x, double y)
{
    put_pair(m->out, 'L', x, y);
}

void svg_back(markup *m)
{
    putc('Z', m->out);
}

void svg_path_end(markup *m, const char *fill, const char *stroke, double width, const char *dash)
{
    markup_attr_end(m);
    svg_paint(m, fill, stroke, width, dash);
}

static void open_text(markup *m, double x, double y, const char *anchor, double size,
                      const char *fill)
{
    markup_open(m, "text");
    markup_number(m, "x", x);
    markup_number(m, "y", y);
    if (strcmp(anchor, "start") != 0)
        markup_attr(m, "text-anchor", anchor);
    if (size != SVG_SMALL)
        markup_number(m, "font-size", size);
    if (size == SVG_HEAD)
        markup_attr(m, "font-weight", "600");
    markup_attr(m, "fill", fill);
}

void svg_words(markup *m, double x, double y, const char *anchor, double size, const char *fill,
               const char *format, ...)
{
    char text[500];
    va_list args;
    va_start(args, format);
    vsnprintf(text, sizeof text, format, args);
    va_end(args);
    open_text(m, x, y, anchor, size, fill);
    markup_text(m, text);
    markup_close(m);
}

void svg_label(markup *m, double x, double y, const char *anchor, const char *text)
{
    open_text(m, x, y, anchor, SVG_SMALL, PALETTE_INK);
    markup_attr(m, "stroke", PALETTE_PAPER);
    markup_attr(m, "stroke-width", "3");
    markup_attr(m, "stroke-linejoin", "round");
    markup_attr(m, "paint-order", "stroke");
    markup_text(m, text);
    markup_close(m);
}

char *svg_number(double value, bool sign, char buffer[SVG_NUMBER])
{
    char text[24];
    snprintf(text, sizeof text, "%.4g", fabs(value));
    snprintf(buffer, SVG_NUMBER, "%s%s", value < 0 ? "\xE2\x88\x92" : value > 0 && sign ? "+" : "",
             text);
    return buffer;
}
