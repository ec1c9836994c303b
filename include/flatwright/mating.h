/* mating.h - which point of the top meets which point of the bottom. */
#ifndef FLATWRIGHT_MATING_H
#define FLATWRIGHT_MATING_H

/* Radians in a degree. */
#define FW_RAD 0.017453292519943295769

/* Diameters closer than this are one: 0.2 mm at the rim of a 400 mm flat. */
#define FW_ANGLE_TOLERANCE_DEG 0.05
/* Distances from the centre closer than this are one station. */
#define FW_POSITION_TOLERANCE_MM 0.01

/* A diameter of a flat: an angle in [0, 180) and the sense in which it was read. */
typedef struct fw_line {
    double angle_deg;
    int flip; /* +1: read as named; -1: named by its other end, position s is -s on angle_deg */
} fw_line;

/*
 * The diameter named by any angle. Diameters are lines: (theta, s) = (theta + 180, -s), so 190 and
 * -170 are the diameter 10 read backwards. Angles within FW_ANGLE_TOLERANCE_DEG below 180 are 0.
 */
fw_line fw_line_of(double angle_deg);

/*
 * The line of the top's own face that lies on the bottom's diameter theta at turn phi: phi - theta,
 * because the top looks down and its angles run the other way. Source: design of the mutual test,
 * Schulz & Schwider; tests/unit/mating.c.
 */
fw_line fw_line_of_top(double turn_deg, double diameter_deg);

#endif
