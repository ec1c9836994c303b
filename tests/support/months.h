/* months.h - months of work simulated: true flats, true strokes, the advice followed. Invented. */
#ifndef TESTS_MONTHS_H
#define TESTS_MONTHS_H

#include <stdbool.h>
#include <stdio.h>

#include "flatwright/advice.h"

enum { MONTHS_FLATS = 3, MONTHS_SPELLS = 25 };

/* How a set went. */
typedef struct months {
    bool reached;       /* every true PV over the clear aperture came to 10 nm or less */
    bool stopped;       /* the program said so itself */
    bool stopped_well;  /* and was right */
    bool spoilt;        /* a flat truly within was made worse than 15 nm */
    int spells;         /* of the flat that took most, when reached; one stay on the lap each */
    int pairings;
    double hours;       /* on the lap, all flats */
    double start_nm, end_nm; /* worst true PV */
} months;

/*
 * One set of three fused silica flats of 200 mm, clear over 0.95 of that, read along 8 diameters with
 * noise of 2 nm: at 73 stations, and at four more that halve the two gaps next to either rim.
 *   plain  in  the rule 'work the worst flat by the sign of its power' instead of the advice
 *   menu   in  of months_menu
 *   trace  in  told what happens; NULL: silent
 */
months months_run(unsigned long seed, bool plain, fw_menu *menu, FILE *trace);

fw_menu *months_menu(void);

#endif
