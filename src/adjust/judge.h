/* judge.h - the smooth figure's numbers, their uncertainties, and the verdict. */
#ifndef ADJUST_JUDGE_H
#define ADJUST_JUDGE_H

#include "adjustment.h"
#include "flatwright/result.h"

/*
 * Judges one face. profile is that of the face; figure gets every number, NAN where the readings do
 * not carry it, with all that the bench makes uncertain; budget where its uncertainty comes from,
 * without remedies.
 */
fw_status judge_face(adjustment *a, int face, const fw_profile *profile, fw_figure *figure,
                     fw_budget *budget, fw_error *err);

#endif
