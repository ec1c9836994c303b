/* words.h - what every screen says alike: numbers, verdicts, pictures of a flat. */
#ifndef REPORT_WORDS_H
#define REPORT_WORDS_H

#include "flatwright/report.h"
#include "flatwright/stroke.h"

#define WORDS_SIZE 96

/* "reading noise", "bending", ... */
const char *words_source(fw_source source);

/* "PV", "rms" or "irregularity". */
const char *words_measure(fw_measure measure);

/*
 * "5.1 +- 0.9 nm": u to two significant digits, the value to the same place; without u (NAN) three
 * significant digits. sign: a + is written. Blanks and +- are marks of screen.h. Returns buffer.
 */
char *words_quantity(fw_quantity quantity, bool sign, char buffer[WORDS_SIZE]);

/* "5.1 nm" to three significant digits. */
char *words_nm(double value, bool sign, char buffer[WORDS_SIZE]);

/* "+60 mm", "0 mm". */
char *words_position(double position_mm, char buffer[WORDS_SIZE]);

/* "0.61", "under 0.01", "over 0.99". */
char *words_probability(double p, char buffer[WORDS_SIZE]);

/* The flat's present state. */
const fw_face *words_today(const fw_result *result, int flat);

/* The quantity that the job's measure judges. */
fw_quantity words_judged(const fw_result *result, int flat);

/* "Title, round 2: target PV 10 nm at confidence 0.95." */
void words_heading(fw_screen *screen, const fw_result *result);

/* A field of text, quoted where RFC 4180 asks for it. */
void words_csv(FILE *out, const char *text);

/* "Model. Surface: why." where the program chose, or it is not the plain one. */
void words_model(fw_screen *screen, const fw_result *result);

/* How much is said of a flat's figure: what is judged; power as well; all of it. */
typedef enum words_detail { WORDS_LINE, WORDS_BRIEF, WORDS_FULL } words_detail;

/* A paragraph: the flat's name, its verdict and why, its figures. */
void words_verdict(fw_screen *screen, const fw_result *result, int flat, words_detail detail);

/* What support, warmth and view do, flat by flat; nothing when the job says nothing of them. */
void words_bench(fw_screen *screen, const fw_result *result);

/* Adds "JOB/readings.csv:12" to the paragraph. */
void words_place(fw_screen *screen, const fw_job *job, const char *file, int line);

/* Adds "JOB/readings.csv:12: B on A, 5 readings along 44 deg at turn 0: is diameter 45 meant?" */
void words_slip(fw_screen *screen, const fw_job *job, const fw_slip *slip);

/* One panel of a chart: a diameter traced, interrupted at the bore and at what is undetermined. */
fw_chart_panel words_panel(const fw_flat *flat, const fw_diameter *diameter, const char *title,
                           int columns);

/* Is any of today's heights determined? */
bool words_any_height(const fw_result *result);

/* The largest |height| among today's determined points of all flats; never below 1 nm. */
double words_largest_height(const fw_result *result);

/* What the numbers mean, and the one thing they cannot mean. */
void words_meaning(fw_screen *screen, const fw_result *result);

/* What the numbers rest on: fit, closures, removal, undetermined, suspects, notes. */
void words_rest(fw_screen *screen, const fw_result *result);

/* Every flat that has points: its extremes in words and its diameters drawn. */
void words_profiles(fw_screen *screen, const fw_result *result);

/*
 * What a stroke is done with: "full lap on top", "small lap in a ring", "large lap through the
 * middle". In constant memory.
 */
const char *words_way(const fw_flat *flat, const fw_stroke *stroke);

#endif
