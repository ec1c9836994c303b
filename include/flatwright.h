/* flatwright.h - the whole library: the five calls that do a job, then the pieces they are made of. */
#ifndef FLATWRIGHT_H
#define FLATWRIGHT_H

/*
 * fw_job_new        lays a commented job folder
 * fw_job_read       a folder becomes a job, or a list of its faults
 * fw_solve          a job becomes a result: flats separated and judged
 * fw_summary_text   a result on one screen; fw_solution_text: all of it
 * fw_solution_json  a result for a program; fw_solution_csv: its heights as a table
 */
#include "flatwright/job.h"
#include "flatwright/report.h"
#include "flatwright/result.h"

/* What a reading stands for, and where its points meet. */
#include "flatwright/mating.h"
#include "flatwright/units.h"

/* Readings at the bench. */
#include "flatwright/dialog.h"
#include "flatwright/intake.h"
#include "flatwright/notebook.h"

/* Advice. */
#include "flatwright/advice.h"
#include "flatwright/grind.h"
#include "flatwright/next.h"
#include "flatwright/rehearse.h"
#include "flatwright/track.h"

/* A page and its pictures. */
#include "flatwright/page.h"

/* Figures and verdicts. */
#include "flatwright/basis.h"
#include "flatwright/conform.h"
#include "flatwright/form.h"

/* Work and the bench. */
#include "flatwright/bench.h"
#include "flatwright/plate.h"
#include "flatwright/sag.h"
#include "flatwright/stroke.h"
#include "flatwright/view.h"
#include "flatwright/warmth.h"

/* Building blocks. */
#include "flatwright/alloc.h"
#include "flatwright/fault.h"
#include "flatwright/file.h"
#include "flatwright/json.h"
#include "flatwright/lstsq.h"
#include "flatwright/nearest.h"
#include "flatwright/nnls.h"
#include "flatwright/number.h"
#include "flatwright/screen.h"
#include "flatwright/show.h"
#include "flatwright/slips.h"
#include "flatwright/stats.h"
#include "flatwright/status.h"
#include "flatwright/text.h"

#endif
