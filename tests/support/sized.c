/* sized.c - made-up jobs of any size: pairings, diameters, stations, rounds. All data are invented. */
#include "sized.h"

#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

static uint32_t state;

static double uniform(void)
{
    return (state = 1664525u * state + 1013904223u) / 4294967296.0;
}

static double noise(void)
{
    double sum = 0;
    for (int i = 0; i < 12; i++)
        sum += uniform();
    return 2 * (sum - 6);
}

static double height(int flat, double x, double y)
{
    double r2 = (x * x + y * y) / 1e4;
    return (flat - 1) * 20 * r2 + 6 * sin(0.02 * x + flat) + 4 * cos(0.03 * y - flat);
}

static FILE *create(const char *folder, const char *name)
{
    char path[4096];
    snprintf(path, sizeof path, "%s/%s", folder, name);
    FILE *f = fopen(path, "w");
    if (!f) {
        fprintf(stderr, "'%s' cannot be written\n", path);
        exit(1);
    }
    return f;
}

/* One scan's readings; a worked flat has lost 2 nm all over and 10 at the middle a round. */
static long write_scan(FILE *f, sized s, int round, int pairing, int diameter)
{
    const double rad = 0.017453292519943295;
    int bottom = pairing % 3, top = (pairing + 1) % 3, turns = pairing / 3;
    double turn = 180.0 * turns / s.diameters, angle = 180.0 * diameter / s.diameters;
    double factor = s.weights == SIZED_BY_SCAN ? 1 + 0.5 * ((pairing + diameter) % 3) : 1;
    long written = 0;
    for (int i = 0; i < s.stations; i++) {
        double at = 95 * (2.0 * i / (s.stations - 1) - 1);
        double sum = height(bottom, at * cos(angle * rad), at * sin(angle * rad)) +
                     height(top, at * cos((turn - angle) * rad), at * sin((turn - angle) * rad)) -
                     (bottom == 0 || top == 0) * (round - 1) * (12 - 10 * at * at / 9025);
        double w = s.weights == SIZED_BY_READING ? 1 + uniform() : factor, e = w * noise();
        if (s.missing > 0 && uniform() < s.missing)
            continue;
        fprintf(f, "%c,%c,%.10g,%.10g,%.4f,%.3f,%d", 'A' + bottom, 'A' + top, turn, angle, at,
                sum + e, round);
        fprintf(f, s.weights == SIZED_EQUAL ? "\n" : ",%.3f\n", 2 * w);
        written++;
    }
    return written;
}

long sized_write(const char *folder, sized s)
{
    long n = 0;
    state = 1;
    FILE *f = create(folder, "job.ini");
    fprintf(f, "[set]\nflats = A B C\ndiameter = 200\n[readings]\nunit = nm\n%s",
            s.weights == SIZED_EQUAL ? "sigma = 2\n" : "");
    if (s.turn_step > 0)
        fprintf(f, "[plan]\nturns = 0");
    int turns = s.turn_step <= 0 ? 0 : s.turns ? s.turns : (int)ceil(360 / s.turn_step);
    for (int k = 1; k < turns; k++)
        fprintf(f, ", %g", k * s.turn_step);
    fprintf(f, "\n");
    fclose(f);
    f = create(folder, "work.csv");
    fprintf(f, "round,flat,method,hours\n");
    for (int round = 1; round < s.rounds; round++)
        fprintf(f, "%d,A,flat-on-top,0.2\n", round);
    fclose(f);
    f = create(folder, "readings.csv");
    fprintf(f, "bottom,top,turn_deg,diameter_deg,position_mm,deviation,round%s\n",
            s.weights == SIZED_EQUAL ? "" : ",sigma");
    for (int round = 1; round <= s.rounds; round++)
        for (int p = 0; p < s.pairings; p++)
            for (int d = 0; d < s.diameters; d++)
                n += write_scan(f, s, round, p, d);
    fclose(f);
    return n;
}

void sized_remove(const char *folder)
{
    static const char *const names[] = {"job.ini", "work.csv", "readings.csv", "equations"};
    char path[4096];
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        snprintf(path, sizeof path, "%s/%s", folder, names[i]);
        unlink(path);
    }
    rmdir(folder);
}
