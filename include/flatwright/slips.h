/* slips.h - scans whose diameter or turn looks mistyped: nothing is wrong, but somebody should look. */
#ifndef FLATWRIGHT_SLIPS_H
#define FLATWRIGHT_SLIPS_H

#include "job.h"

typedef struct fw_slip {
    size_t scan;      /* index into the job's scans */
    bool turn;        /* the turn is meant, else the diameter */
    double typed_deg; /* as it stands in the file */
    double meant_deg; /* what would make the pairing whole; named from the same end as what was typed */
} fw_slip;

/*
 * A scan stands out when its pairing lacks a diameter, no other pairing reads along the scan's, and with
 * one in place of the other the pairing is read on the diameters of another one, or on three or more
 * that are evenly spaced. So does one that is all there is of its turn, where the same flats at
 * another turn lack just that diameter; and one whose stations are what a diameter beside it lacks.
 * slips  out  owned by the caller (fw_free); in the order of the scans; NULL where there are none
 * Returns FW_OK or FW_SYSTEM. Test: tests/unit/slips.c
 */
fw_status fw_slips_find(const fw_job *job, fw_slip **slips, size_t *n, fw_error *err);

#endif
