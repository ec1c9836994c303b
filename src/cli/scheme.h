/* scheme.h - a measuring plan from the command line. */
#ifndef CLI_SCHEME_H
#define CLI_SCHEME_H

#include "flatwright/rehearse.h"

/* What was asked for; texts as typed. Counts of 0: left to the program. */
typedef struct cli_scheme {
    int nmates, room;
    struct {
        const char *pair, *turn; /* turn NULL: none said */
    } *mates;
    const char *diameters, *stations, *repeats, *sigma;
    fw_model model;
} cli_scheme;

/* Takes --pair or --turn. Returns 0 or the exit status, the reason told. */
int cli_scheme_take(cli_scheme *asked, int id, const char *value);

/*
 * The plan as numbers, once the set is known: lists owned by `scheme`, 0 entries where nothing was
 * asked for. Returns 0 or the exit status, the reason told.
 */
int cli_scheme_read(const cli_scheme *asked, const fw_job *job, fw_scheme *scheme);
void cli_scheme_release(fw_scheme *scheme);

#endif
