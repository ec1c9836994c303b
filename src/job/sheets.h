/* sheets.h - the four commented files that a new job begins with. */
#ifndef JOB_SHEETS_H
#define JOB_SHEETS_H

typedef struct fw_sheet {
    const char *name;
    const char *const *lines; /* without line ends; ends in NULL */
} fw_sheet;

#define FW_SHEETS 4
extern const fw_sheet fw_sheets[FW_SHEETS];

#endif
