/* readings.h - the columns of readings.csv. */
#ifndef JOB_READINGS_H
#define JOB_READINGS_H

#include "flatwright/job.h"
#include "job/table.h"

enum {
    FW_COL_BOTTOM,
    FW_COL_TOP,
    FW_COL_TURN,
    FW_COL_DIAMETER,
    FW_COL_POSITION,
    FW_COL_DEVIATION,
    FW_COL_ROUND,
    FW_COL_SCAN,
    FW_COL_UNIT,
    FW_COL_SIGMA,
    FW_COL_SKIP,
    FW_COL_NOTE,
    FW_READING_COLUMNS
};

extern const fw_column fw_reading_columns[FW_READING_COLUMNS];

/*
 * On the glass of both flats: inside the rim, outside the bores; a flat below 0 is not looked at.
 * why  out  when not: what was found and expected
 */
bool fw_is_on_glass(const fw_job *job, int bottom, int top, double position_mm, char *why,
                    size_t size);

/* No pair is read over 10 mm of gap; what is beyond is a slip of the pen. */
#define FW_NM_LIMIT 1e7
#define FW_SIGMA_LEAST_NM 1e-9

#endif
