/* words.c - what every screen says alike: numbers to their uncertainty, verdicts, reasons. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "report/words.h"

#define NAME_COLUMNS 12 /* longer names push their line to the right */
#define MOST_DECIMALS 3 /* a picometre: finer digits mean nothing on glass */

const char *words_measure(fw_measure measure)
{
    return measure == FW_MEASURE_RMS            ? "rms"
           : measure == FW_MEASURE_IRREGULARITY ? "irregularity"
                                                : "PV";
}

/* The decimals that show `digits` significant ones of x > 0 after rounding; negative: tens, ... */
static int decimals_for(double x, int digits)
{
    if (x < 1e-9) /* far below the last digit shown, and near where the power of ten is no number */
        return MOST_DECIMALS;
    int exponent = (int)floor(log10(x));
    double unit = pow(10, exponent - digits + 1);
    if (round(x / unit) >= pow(10, digits)) /* 0.0996 is 0.10 */
        exponent++;
    int decimals = digits - 1 - exponent;
    return decimals > MOST_DECIMALS ? MOST_DECIMALS : decimals;
}

static int put_rounded(char *buffer, size_t size, double value, int decimals, bool sign)
{
    double unit = pow(10, -decimals);
    double rounded = decimals < 0 ? round(value / unit) * unit : value;
    if (fabs(rounded) < unit / 2) /* no -0.0, and no sign of nothing */
        return snprintf(buffer, size, "%.*f", decimals < 0 ? 0 : decimals, 0.0);
    return snprintf(buffer, size, sign ? "%+.*f" : "%.*f", decimals < 0 ? 0 : decimals, rounded);
}

char *words_nm(double value, bool sign, char buffer[WORDS_SIZE])
{
    int decimals = value != 0 ? decimals_for(fabs(value), 3) : 1;
    int used = put_rounded(buffer, WORDS_SIZE, value, decimals, sign);
    snprintf(buffer + used, WORDS_SIZE - (size_t)used, FW_BLANK "nm");
    return buffer;
}

char *words_quantity(fw_quantity quantity, bool sign, char buffer[WORDS_SIZE])
{
    double u = quantity.u_nm;
    if (!isfinite(u))
        return words_nm(quantity.value_nm, sign, buffer);
    int decimals = u > 0 ? decimals_for(u, 2) : MOST_DECIMALS;
    int used = put_rounded(buffer, WORDS_SIZE, quantity.value_nm, decimals, sign);
    if (u >= 0.5 * pow(10, -decimals)) { /* else the last digit shown is sure */
        used += snprintf(buffer + used, WORDS_SIZE - (size_t)used, FW_BLANK FW_PM FW_BLANK);
        used += put_rounded(buffer + used, WORDS_SIZE - (size_t)used, u, decimals, false);
    }
    snprintf(buffer + used, WORDS_SIZE - (size_t)used, FW_BLANK "nm");
    return buffer;
}

char *words_probability(double p, char buffer[WORDS_SIZE])
{
    if (p < 0.005)
        snprintf(buffer, WORDS_SIZE, "under" FW_BLANK "0.01");
    else if (p >= 0.995)
        snprintf(buffer, WORDS_SIZE, "over" FW_BLANK "0.99");
    else
        snprintf(buffer, WORDS_SIZE, "%.2f", p);
    return buffer;
}

const fw_face *words_today(const fw_result *result, int flat)
{
    return &result->faces[result->today[flat]];
}

fw_quantity words_judged(const fw_result *result, int flat)
{
    const fw_figure *figure = &words_today(result, flat)->figure;
    return result->job->measure == FW_MEASURE_RMS            ? figure->rms
           : result->job->measure == FW_MEASURE_IRREGULARITY ? figure->irregularity
                                                             : figure->pv;
}

void words_heading(fw_screen *screen, const fw_result *result)
{
    const fw_job *job = result->job;
    fw_screen_begin(screen, 0, 2);
    if (*job->title) {
        fw_screen_put(screen, FW_BOLD);
        fw_screen_text(screen, job->title);
        fw_screen_put(screen, FW_PLAIN ", round" FW_BLANK "%d: ", result->round);
    } else
        fw_screen_put(screen, "Round" FW_BLANK "%d: ", result->round);
    fw_screen_put(screen, "target %s" FW_BLANK "%.4g" FW_BLANK "nm at confidence" FW_BLANK "%g.",
                  words_measure(job->measure), job->flatness_nm, job->confidence);
    fw_screen_end(screen);
}

void words_model(fw_screen *screen, const fw_result *result)
{
    bool surface = result->model == FW_MODEL_SURFACE;
    if (!surface && !result->why[0])
        return;
    fw_screen_begin(screen, 0, 2);
    fw_screen_put(screen, FW_BOLD "Model." FW_PLAIN " %s", surface ? "Surface" : "Profile");
    fw_screen_put(screen, "%s", result->why[0] ? ": " : ", as asked for");
    fw_screen_text(screen, result->why);
    fw_screen_put(screen, ".");
    fw_screen_end(screen);
}

/* Why nothing can be said: never read, not told apart, or no uncertainty. */
static void put_reason(fw_screen *screen, const fw_result *result, const fw_face *face)
{
    int apart = 0, worked = 0;
    for (size_t w = 0; w < result->job->nwork; w++)
        if (result->job->work[w].flat == face->flat && result->job->work[w].round > worked)
            worked = result->job->work[w].round;
    for (int d = 0; d < face->profile.ndiameters; d++)
        apart += face->profile.diameters[d].determined;
    if (face->last_round == 0 && face->state > 0)
        fw_screen_put(screen, "no readings since the work in round" FW_BLANK "%d", worked);
    else if (face->last_round == 0)
        fw_screen_put(screen, "no readings of it yet");
    else if (!face->profile.determined && apart == 0)
        fw_screen_put(screen, "the readings do not tell it apart from the others");
    else if (!face->profile.determined && apart == face->profile.ndiameters)
        fw_screen_put(screen, "part of its figure is not shown by the readings");
    else if (!face->profile.determined)
        fw_screen_put(screen, "only %d of its %d diameters can be told apart from the others",
                      apart, face->profile.ndiameters);
    else if (!result->fit.sigma_known && result->fit.redundancy == 0)
        fw_screen_put(screen, "no uncertainty is known: no sigma is given, and no reading checks "
                              "another");
    else
        fw_screen_put(screen, "its readings are too few to judge it");
}

static void put_verdict(fw_screen *screen, const fw_result *result, const fw_face *face)
{
    static const char *const marks[] = {[FW_WITHIN] = FW_GOOD, [FW_OUTSIDE] = FW_BAD,
                                        [FW_UNDECIDED] = FW_DOUBT, [FW_UNDETERMINED] = FW_DOUBT};
    const fw_figure *figure = &face->figure;
    char chance[WORDS_SIZE];
    fw_screen_put(screen, "%s%s" FW_PLAIN, marks[figure->verdict],
                  fw_verdict_name(figure->verdict));
    if (figure->verdict == FW_UNDETERMINED) {
        fw_screen_put(screen, ": ");
        put_reason(screen, result, face);
        return;
    }
    fw_screen_put(screen, "%s %.4g" FW_BLANK "nm", figure->verdict == FW_UNDECIDED ? " at" : "",
                  result->job->flatness_nm);
    fw_screen_put(screen, " (%sprobability" FW_BLANK "%s)",
                  figure->verdict == FW_WITHIN ? "" : "within with ",
                  words_probability(figure->probability_within, chance));
}

/* Adds ", name value" when the value can be told; *said counts, to begin with ": ". */
static void put_quantity(fw_screen *screen, const char *name, fw_quantity quantity, bool sign,
                         int *said)
{
    char text[WORDS_SIZE];
    if (!isfinite(quantity.value_nm))
        return;
    fw_screen_put(screen, "%s%s %s", (*said)++ ? ", " : "", name,
                  words_quantity(quantity, sign, text));
}

static void put_power(fw_screen *screen, fw_quantity power, words_detail detail, int *said)
{
    bool full = detail == WORDS_FULL;
    if (!isfinite(power.value_nm) || detail == WORDS_LINE)
        return;
    put_quantity(screen, "power", power, true, said);
    if (isfinite(power.u_nm) && fabs(power.value_nm) < 2 * power.u_nm)
        fw_screen_put(screen, " (sign not sure)");
    else if (power.value_nm > 0)
        fw_screen_put(screen, full ? " (convex: high in the middle)" : " (convex)");
    else if (power.value_nm < 0)
        fw_screen_put(screen, full ? " (concave: low in the middle)" : " (concave)");
}

static void put_figures(fw_screen *screen, const fw_result *result, int flat, words_detail detail)
{
    const fw_figure *figure = &words_today(result, flat)->figure;
    fw_measure measure = result->job->measure;
    fw_quantity judged = words_judged(result, flat), raw = {figure->pv_raw_nm, NAN};
    int said = 0;
    if (!isfinite(judged.value_nm) && (!isfinite(figure->power.value_nm) || detail == WORDS_LINE))
        return;
    fw_screen_put(screen, figure->verdict == FW_UNDETERMINED ? "; " : ": ");
    put_quantity(screen, words_measure(measure), judged, false, &said);
    if (detail == WORDS_FULL && measure != FW_MEASURE_PV)
        put_quantity(screen, "PV", figure->pv, false, &said);
    if (detail == WORDS_FULL && measure != FW_MEASURE_RMS)
        put_quantity(screen, "rms", figure->rms, false, &said);
    put_power(screen, figure->power, detail, &said);
    if (detail != WORDS_FULL)
        return;
    if (measure != FW_MEASURE_IRREGULARITY)
        put_quantity(screen, "irregularity", figure->irregularity, false, &said);
    put_quantity(screen, "rotationally symmetric irregularity", figure->symmetric, false, &said);
    put_quantity(screen, "raw PV", raw, false, &said);
}

/* The columns that the names of all flats take in front of the verdicts. */
static int name_columns(const fw_job *job)
{
    int columns = 0;
    for (int f = 0; f < job->nflats; f++) {
        int length = (int)strlen(job->flats[f].name);
        columns = length > columns ? length : columns;
    }
    return columns > NAME_COLUMNS ? NAME_COLUMNS : columns;
}

void words_verdict(fw_screen *screen, const fw_result *result, int flat, words_detail detail)
{
    const fw_face *face = words_today(result, flat);
    const char *name = result->job->flats[flat].name;
    int columns = name_columns(result->job);
    fw_screen_begin(screen, 0, columns + 2);
    fw_screen_put(screen, FW_BOLD);
    fw_screen_text(screen, name);
    fw_screen_put(screen, FW_PLAIN);
    for (int i = (int)strlen(name); i < columns + 1; i++)
        fw_screen_put(screen, FW_BLANK);
    fw_screen_put(screen, " ");
    put_verdict(screen, result, face);
    put_figures(screen, result, flat, detail);
    if (face->figure.finer && detail == WORDS_BRIEF)
        fw_screen_put(screen, ", with finer structure");
    fw_screen_put(screen, ".");
    if (face->figure.finer && detail == WORDS_FULL) {
        char rms[WORDS_SIZE], chance[WORDS_SIZE];
        fw_screen_put(screen, " There is structure finer than the smooth figure, rms" FW_BLANK "%s "
                              "(by chance: %s): look for a ring, an edge, a groove.",
                      words_nm(face->figure.finer_rms_nm, false, rms),
                      words_probability(face->figure.finer_p, chance));
    }
    fw_screen_end(screen);
}

char *words_position(double position_mm, char buffer[WORDS_SIZE])
{
    snprintf(buffer, WORDS_SIZE, position_mm == 0 ? "0" FW_BLANK "mm" : "%+g" FW_BLANK "mm",
             position_mm);
    return buffer;
}

void words_place(fw_screen *screen, const fw_job *job, const char *file, int line)
{
    size_t length = strlen(job->folder);
    fw_screen_text(screen, job->folder);
    fw_screen_put(screen, "%s%s:%d", length > 0 && job->folder[length - 1] != '/' ? "/" : "", file,
                  line);
}

const char *words_way(const fw_flat *flat, const fw_stroke *stroke)
{
    static const char *const ways[] = {[FW_LAP_ON_TOP] = "full lap on top",
                                       [FW_FLAT_ON_TOP] = "face down on the full lap",
                                       [FW_RING] = "small lap in a ring",
                                       [FW_SIDE] = "small lap at one side"};
    fw_disc disc = {flat->diameter_mm / 2, flat->bore_mm / 2};
    fw_travel travel;
    if (stroke->method == FW_RING && fw_stroke_travel(stroke, &disc, &travel, NULL) == FW_OK &&
        travel.from_mm < 0 && travel.lap_mm > travel.to_mm)
        return "large lap through the middle";
    return ways[stroke->method];
}
