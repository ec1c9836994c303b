/* readings.h - the columns of readings.csv. */
#ifndef JOB_READINGS_H
#define JOB_READINGS_H

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

#endif
