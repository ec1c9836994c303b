/* surface_figure.h - what is judged of a face of the surface model: the whole of it. */
#ifndef ADJUST_SURFACE_FIGURE_H
#define ADJUST_SURFACE_FIGURE_H

#include "model.h"

/* As the calls of adjust_model. */
fw_status surface_smooth(adjustment *a, int face, const fw_profile *profile, int most, smooth *out,
                         fw_error *err);
fw_status surface_countable(const adjustment *a, int face, const fw_profile *profile,
                            const fw_basis *basis, bool *countable, fw_error *err);
fw_status surface_form(const adjustment *a, int face, const fw_profile *profile,
                       const fw_basis *basis, fw_form **out, fw_error *err);
fw_status surface_finer(adjustment *a, int face, const fw_profile *profile, const smooth *s,
                        finer *out, fw_error *err);

#endif
