/* sized.h - made-up jobs of any size: pairings, diameters, stations, rounds. All data are invented. */
#ifndef SUPPORT_SIZED_H
#define SUPPORT_SIZED_H

/*
 * An invented set of three flats: pairings, the later ones turned, each on a fan of diameters; rounds
 * with work between them.
 */
typedef struct sized {
    int decade; /* of the readings */
    int pairings, diameters, stations, rounds;
    enum { SIZED_EQUAL, SIZED_BY_SCAN, SIZED_BY_READING } weights;
    double missing;   /* share of the readings */
    double turn_step; /* degrees between the turns that the bench can do; 0: not said */
    int turns;        /* how many of them; 0: all the way round */
} sized;

/* Writes the job's files into a folder that is there; returns the number of readings. */
long sized_write(const char *folder, sized s);

/* Removes them and the folder. */
void sized_remove(const char *folder);

#endif
