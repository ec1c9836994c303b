/* settings.h - job.ini between its text and the job: keys, their values, where they stand. */
#ifndef JOB_SETTINGS_H
#define JOB_SETTINGS_H

#include <stdbool.h>
#include <stddef.h>

#include "flatwright/job.h"
#include "flatwright/units.h"
#include "job/ini.h"

/* A unit that may follow a number; "": the bare number. A table of them ends in {NULL, 0}. */
typedef struct fw_suffix {
    const char *name;
    double factor;
} fw_suffix;

typedef struct fw_setting fw_setting;

/* Where the faults of a value go. */
typedef struct fw_place {
    fw_faults *faults;
    const char *path;
    const fw_ini_entry *entry;
} fw_place;

/* Converts the entry's value into *target; reports what is wrong with it. -1: no memory. */
typedef int fw_convert(const fw_place *place, const fw_setting *setting, void *target);

/* One key of one section; "flat" keys may stand in [set] as well. */
struct fw_setting {
    const char *section, *key;
    fw_convert *convert;
    size_t offset;            /* of its value in fw_draft_job or fw_draft_flat */
    const char *expected;     /* "a length above 0, such as 250 mm" */
    double low, high;
    bool above, below;        /* low, high itself is not taken */
    const fw_suffix *units;
    const char *const *words; /* ends in NULL */
};

fw_convert fw_convert_text, fw_convert_quantity, fw_convert_whole, fw_convert_word;
fw_convert fw_convert_glass, fw_convert_lamp, fw_convert_amount, fw_convert_support;
fw_convert fw_convert_turns;

/* A number in a unit that only the light can tell. value NAN: not given. */
typedef struct fw_amount {
    double value;
    fw_unit unit;
} fw_amount;

typedef struct fw_turns {
    int count;
    double *list; /* owned */
} fw_turns;

/* Keys that a single flat may override, in the order of the table in settings.c. */
enum {
    FW_KEY_CLEAR, FW_KEY_BORE, FW_KEY_THICKNESS, FW_KEY_GLASS, FW_KEY_YOUNG, FW_KEY_POISSON,
    FW_KEY_DENSITY, FW_KEY_EXPANSION, FW_KEY_CONDUCTIVITY, FW_KEY_HEAT, FW_FLAT_KEYS
};

/* What [set] or one [flat NAME] says of a flat; NAN, NULL: nothing. */
typedef struct fw_draft_flat {
    double clear_mm, bore_mm, thickness_mm;
    const fw_glass *glass;
    double young, poisson, density, expansion, conductivity, heat;
    const fw_ini_entry *at[FW_FLAT_KEYS]; /* NULL: not given */
    int line;                             /* of the section; 0: none */
} fw_draft_flat;

/* The other keys, in the order of the table in settings.c. */
enum {
    FW_KEY_TITLE, FW_KEY_FLATS, FW_KEY_DIAMETER, FW_KEY_FLATNESS, FW_KEY_MEASURE,
    FW_KEY_CONFIDENCE, FW_KEY_SOURCE, FW_KEY_WAVELENGTH, FW_KEY_INCIDENCE, FW_KEY_UNIT,
    FW_KEY_SIGMA, FW_KEY_LEVELLING, FW_KEY_MODEL, FW_KEY_ORDER, FW_KEY_TURNS, FW_KEY_PRIOR,
    FW_KEY_SUPPORT_BOTTOM, FW_KEY_SUPPORT_TOP, FW_KEY_BENDING, FW_KEY_GRADIENT, FW_KEY_GAP,
    FW_KEY_EYE, FW_JOB_KEYS
};

typedef struct fw_draft_job {
    fw_job *job;
    fw_faults *faults;
    const char *path;
    const char *title; /* borrowed from the ini */
    double diameter_mm, confidence, wavelength_nm, incidence_deg, sigma, prior_nm;
    double gradient_k, gap_um, eye_mm;
    fw_amount flatness;
    int measure, unit, levelling, model, order, bending;
    const fw_lamp *lamp;
    fw_turns turns;
    fw_support support_bottom, support_top;
    bool light_at_fault;
    const fw_ini_entry *at[FW_JOB_KEYS]; /* NULL: not given */
    int set_line;                        /* of [set]; 0: none */
    fw_draft_flat set, nobody;           /* nobody: a [flat NAME] whose flat is not known */
    fw_draft_flat *own;                  /* one a flat */
} fw_draft_job;

/* A flat of which nothing is said. */
fw_draft_flat fw_draft_flat_empty(void);

/* The names of [set] flats become the job's flats; faults leave none. -1: no memory. */
int fw_settings_flats(fw_draft_job *draft, const fw_ini_entry *entry);

/* Checks what one value cannot tell, and fills the job. FW_OK or FW_SYSTEM. */
fw_status fw_settings_finish(fw_draft_job *draft, fw_error *err);

#endif
