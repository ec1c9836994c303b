/* page.h - one printable page with pictures, and every picture alone. */
#ifndef FLATWRIGHT_PAGE_H
#define FLATWRIGHT_PAGE_H

#include <stdio.h>

#include "advice.h"
#include "track.h"

/*
 * Writes one self-contained page: HTML5 that is XML as well, with SVG pictures in it; no script,
 * nothing fetched from elsewhere, A4 or Letter when printed. The same job gives the same bytes.
 * At most 12 flats (those farthest from the target) and 12 pairings are pictured, and tables of
 * profiles are thinned to some 2000 rows; the page says so and names `export`.
 *   out     in   what cannot be written stays in its error indicator
 *   advice  in   with its result
 *   track   in   of the same result
 * Returns FW_OK, FW_SYSTEM (memory; nothing is written then).
 * Cost: about 20 ms, and one pass over the points pictured. Tests: tests/unit/page.c,
 * tests/cli/cases/report.sh, tests/browser.
 */
fw_status fw_page_html(FILE *out, const fw_advice *advice, const fw_track *track, fw_error *err);

/*
 * Writes one picture as an SVG file of its own.
 *   name  in   profile-FLAT, face-FLAT, fringes-BOTTOM-TOP-TURN, rounds, hours, work-FLAT-N; or the
 *              kind alone, profile, face, fringes, work: all of that kind beside each other
 * Returns FW_OK; FW_INPUT: the job has no such picture; FW_SYSTEM.
 * Nothing is written on failure. Test: tests/unit/page.c.
 */
fw_status fw_page_picture(FILE *out, const fw_advice *advice, const fw_track *track,
                          const char *name, fw_error *err);

/* The names of all pictures of a job, a line each. Returns FW_OK, FW_SYSTEM. */
fw_status fw_page_names(FILE *out, const fw_advice *advice, const fw_track *track, fw_error *err);

#endif
