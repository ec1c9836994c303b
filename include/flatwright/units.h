/* units.h - lengths, deviations and light: converted when read, and when printed. */
#ifndef FLATWRIGHT_UNITS_H
#define FLATWRIGHT_UNITS_H

#include "job.h"

/*
 * Surface height of one unit, in nm: nm 1, um 1000, fringe lambda / (2 cos i), wave lambda.
 * NAN when the unit needs a light and none is given.
 * Source: one fringe spacing is half a wavelength of surface, ISO 14999-4.
 */
double fw_unit_nm(fw_unit unit, const fw_light *light);

/* A built-in lamp. */
typedef struct fw_lamp {
    const char *name;
    double wavelength_nm; /* in air */
    const char *source;   /* where the value comes from */
} fw_lamp;

/* The table of lamps; *count entries, static. */
const fw_lamp *fw_lamps(int *count);

/* The table of glasses with sources; *count entries, static. */
const fw_glass *fw_glasses(int *count);
/* Where the row `index` of fw_glasses comes from. */
const char *fw_glass_source(int index);

#endif
