/* parts.h - the files of a job, each read by a call of its own. */
#ifndef JOB_PARTS_H
#define JOB_PARTS_H

#include "flatwright/job.h"

/*
 * Each reads one file into the job; faults are added, and reading goes on, so that one run finds
 * them all. What could not be read of job.ini leaves nflats 0, a length NAN, and the unit's factor
 * unknown: what depends on it is then not checked. FW_OK (also with faults) or FW_SYSTEM.
 */
fw_status fw_settings_read(const char *path, fw_job *job, bool *light_at_fault, fw_faults *faults,
                           fw_error *err);
/* skipped_too: rows with skip = 1 are readings like the others. */
fw_status fw_readings_read(const char *path, fw_job *job, bool light_at_fault, bool skipped_too,
                           fw_faults *faults, fw_error *err);
fw_status fw_work_read(const char *path, fw_job *job, fw_faults *faults, fw_error *err);
fw_status fw_sag_read(const char *path, fw_job *job, fw_faults *faults, fw_error *err);

/* FOLDER/NAME, owned by the caller; NULL: no memory. */
char *fw_path_in(const char *folder, const char *name);

/* ", expected A, B or C"; "" when that is too long. Returns out, which has FW_FLATS_TEXT bytes. */
#define FW_FLATS_TEXT 100
const char *fw_flats_text(const fw_job *job, char *out);

/* Lengths closer than this to a limit are on it. */
#define FW_EDGE_MM 1e-6

/* The unit that `name` names; "µm" is um. False: none. */
bool fw_unit_find(const char *name, fw_unit *unit);

extern const char *const fw_unit_names[4];
extern const char *const fw_method_names[6];

/* The glass or lamp of a name, case and the kind of gap ignored; NULL: none. */
const fw_glass *fw_glass_find(const char *name);
struct fw_lamp;
const struct fw_lamp *fw_lamp_find(const char *name);

#endif
