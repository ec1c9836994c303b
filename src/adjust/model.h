/* model.h - what the rest asks of a solved set, whether its flats are profiles or surfaces. */
#ifndef ADJUST_MODEL_H
#define ADJUST_MODEL_H

#include "finder.h"
#include "finer.h"
#include "flatwright/form.h"
#include "snoop.h"
#include "spread.h"

/*
 * Two models fill it: heights ring by ring (model_rings.c), and circle polynomials over the whole
 * face (model_surface.c). Whoever judges, doubts, advises or shows asks through a->model.
 */
typedef struct adjust_model {
    fw_model kind;

    /* Solves a job. order: of surfaces, 0: chosen. */
    fw_status (*solve)(const fw_job *job, int order, adjustment **out, fw_error *err);

    /* The same equations without the n readings whose indices are in `without`, ascending. */
    fw_status (*again)(const adjustment *a, size_t n, const size_t *without, adjustment **out,
                       fw_error *err);

    /* The same equations with nm (one a reading of the job) in place of the readings; variance 0. */
    fw_status (*column)(adjustment *a, const double *nm, adjustment **out, fw_error *err);

    /* Heights at the stations on the datum; of a removal: of what was taken off. */
    fw_status (*profile)(adjustment *a, contrast what, fw_profile *out, fw_error *err);

    /*
     * The smooth figure with terms up to order `most` or what the stations carry; out->basis is
     * NULL when they carry none.
     */
    fw_status (*smooth)(adjustment *a, int face, const fw_profile *profile, int most, smooth *out,
                        fw_error *err);

    /* The same terms of an adjustment made by `column`. */
    fw_status (*moved)(adjustment *a, int face, const smooth *like, smooth *out, fw_error *err);

    /* countable (basis->nterms) <- the terms that the face's own stations could tell. */
    fw_status (*countable)(const adjustment *a, int face, const fw_profile *profile,
                           const fw_basis *basis, bool *countable, fw_error *err);

    /* The points over which PV is taken. */
    fw_status (*form)(const adjustment *a, int face, const fw_profile *profile,
                      const fw_basis *basis, fw_form **out, fw_error *err);

    /* Structure finer than the smooth figure. */
    fw_status (*finer)(adjustment *a, int face, const fw_profile *profile, const smooth *s,
                       finer *out, fw_error *err);

    fw_status (*snoop)(adjustment *a, snoop *out, fw_error *err);

    /* Names what is open of flats that were read and are not among `done`. */
    fw_status (*open)(finder *f, const bool *done, fw_error *err);
} adjust_model;

extern const adjust_model model_rings, model_surface;

#endif
