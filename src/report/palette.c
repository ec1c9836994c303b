/* palette.c - the colours of a height, and how well two colours are told apart. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "report/palette.h"

typedef struct shade {
    double red, green, blue; /* 0 .. 255 */
} shade;

/* From the middle outwards. */
static const shade lows[] = {{246, 246, 243}, {190, 213, 230}, {116, 162, 200}, {44, 98, 150}};
static const shade highs[] = {{246, 246, 243}, {240, 211, 170}, {214, 152, 88}, {150, 82, 22}};

char *palette_height(double t, char code[PALETTE_SIZE])
{
    const shade *side = t < 0 ? lows : highs;
    double at = fmin(fabs(t), 1) * 3;
    int i = at < 2 ? (int)at : 2;
    double f = at - i;
    snprintf(code, PALETTE_SIZE, "#%02x%02x%02x",
             (unsigned)lround(side[i].red + f * (side[i + 1].red - side[i].red)) & 0xFF,
             (unsigned)lround(side[i].green + f * (side[i + 1].green - side[i].green)) & 0xFF,
             (unsigned)lround(side[i].blue + f * (side[i + 1].blue - side[i].blue)) & 0xFF);
    return code;
}

/* WCAG 2.1, "relative luminance": sRGB made linear, weighted. */
static double luminance(const char *code)
{
    static const double weights[] = {0.2126, 0.7152, 0.0722};
    unsigned long all = strtoul(code + 1, NULL, 16);
    double sum = 0;
    for (int i = 0; i < 3; i++) {
        double c = (double)(all >> (16 - 8 * i) & 0xFF) / 255;
        sum += weights[i] * (c <= 0.04045 ? c / 12.92 : pow((c + 0.055) / 1.055, 2.4));
    }
    return sum;
}

double palette_contrast(const char *a, const char *b)
{
    double x = luminance(a), y = luminance(b);
    return (fmax(x, y) + 0.05) / (fmin(x, y) + 0.05);
}
