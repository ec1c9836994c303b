/* sheet_in.h - the layouts in which people write readings down. */
#ifndef JOB_SHEET_IN_H
#define JOB_SHEET_IN_H

#include "flatwright/intake.h"
#include "job/grid.h"

/* What a cell of a sheet says. Places in the row of `cell`; texts of the grid. NULL: nothing. */
typedef enum fw_role {
    FW_ROLE_BOTTOM,
    FW_ROLE_TOP,
    FW_ROLE_PAIR,
    FW_ROLE_TURN,
    FW_ROLE_DIAMETER,
    FW_ROLE_POSITION,
    FW_ROLE_DEVIATION,
    FW_ROLE_ROUND,
    FW_ROLE_SCAN,
    FW_ROLE_UNIT,
    FW_ROLE_SIGMA,
    FW_ROLE_SKIP,
    FW_ROLE_NOTE,
    FW_ROLES,
    FW_ROLE_NONE = FW_ROLES
} fw_role;

/* Where each part of one reading stands; row < 0: nowhere. */
typedef struct fw_sighting {
    struct {
        long row, cell;
    } at[FW_ROLES];
    double position_factor; /* mm in one of the file's unit of length */
    const char *unit;       /* of the column's own name; NULL: none */
} fw_sighting;

/* The role that a name stands for; *unit: what stands in brackets behind it, or the name itself. */
fw_role fw_role_of(const char *name, char unit[16]);

/* Called for each reading found. FW_OK to go on. */
typedef fw_status fw_sighted(void *context, const fw_sighting *sighting, fw_error *err);

/* Walks the grid in the layout it finds; fills sheet, nblocks, unread of the intake. */
fw_status fw_sheet_walk(const fw_grid *grid, fw_intake *intake, fw_sighted *sighted, void *context,
                        fw_error *err);

#endif
