/* effects.h - what the bench adds to every reading, as columns beside the readings. */
#ifndef BENCH_EFFECTS_H
#define BENCH_EFFECTS_H

#include "flatwright/bench.h"
#include "flatwright/status.h"

typedef enum effect_kind {
    EFFECT_PLATE, /* a flat's bending by plate theory, whole */
    EFFECT_SHEAR, /* what shear adds to it */
    EFFECT_BOW,   /* a flat's power, one standard uncertainty by warmth */
    EFFECT_RISE,  /* the false rise, whole */
    EFFECT_KINDS
} effect_kind;

/* A cause and what it adds to each of the job's readings, in nm. */
typedef struct effect {
    effect_kind kind;
    int flat; /* -1: none by itself */
    double *nm; /* job->nreadings */
} effect;

typedef struct effects {
    int n;
    effect *list;
} effects;

/*
 * The columns that are not zero. Plates where bending is corrected or solved for, and a flat's
 * thickness and glass are known; bow where `gradient` is given; rise with gap and eye.
 * out is empty on failure; release with effects_release.
 */
fw_status effects_new(const fw_job *job, effects *out, fw_error *err);
void effects_release(effects *e);

/* What is known of the flats on the bench; bench->flats is the caller's to free, also after failure. */
fw_status bench_tell(const fw_job *job, fw_bench *bench, fw_error *err);

#endif
