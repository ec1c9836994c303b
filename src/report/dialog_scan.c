/* dialog_scan.c - what is known of the scan being read, and whether a reading fits it. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "flatwright/mating.h"
#include "flatwright/number.h"
#include "flatwright/units.h"
#include "report/dialog_parts.h"

/* Standard uncertainty where the job tells none: a thirtieth of a band, common practice. */
#define EYE_FRINGE (1.0 / 30)
#define EYE_NM 10
/* How many standard deviations a reading may be off before it is pointed out. */
#define OFF_FORETOLD 3.5
#define OFF_NEIGHBOURS 4.0
/* Misclosure in its standard deviations. */
#define OFF_CLOSURE 2.5

void dialog_renew(fw_dialog *d)
{
    fw_faults faults;
    fw_error err;
    fw_result_free(d->result);
    fw_job_free(d->now);
    d->result = NULL;
    d->now = NULL;
    d->stale = false;
    fw_status status = fw_job_read(d->job->folder, &d->now, &faults, &err);
    if (status == FW_OK && d->now->nreadings > 0)
        status = fw_solve(d->now, NULL, &d->result, &err);
    if (status != FW_OK) {
        fw_screen_begin(d->screen, 0, 2);
        fw_screen_put(d->screen, "Readings cannot be held against the others: ");
        fw_screen_text(d->screen, err.text);
        fw_screen_end(d->screen);
    }
    fw_faults_release(&faults);
}

static bool is_scan(const fw_dialog *d, const fw_scan *scan)
{
    return scan->round == d->round && scan->bottom == d->bottom && scan->top == d->top &&
           scan->turn_deg == d->turn_deg && scan->diameter_deg == d->diameter_deg;
}

static dialog_place *place_at(fw_dialog *d, double mm)
{
    for (int i = 0; i < d->nplaces; i++)
        if (fabs(d->place[i].mm - mm) <= FW_POSITION_TOLERANCE_MM)
            return &d->place[i];
    return NULL;
}

double dialog_as_typed(double value, int digits)
{
    char text[40];
    snprintf(text, sizeof text, "%.*g", digits, value);
    return fw_number_read(text, strlen(text), false, &value) == FW_NUMBER_OK ? value : NAN;
}

int dialog_find_scan(fw_dialog *d, const char *label)
{
    int found = 0;
    double unit_nm = dialog_unit_nm(d);
    for (int i = 0; i < d->nplaces; i++)
        d->place[i].value = NAN;
    for (size_t k = 0; d->now && k < d->now->nscans; k++) {
        const fw_scan *scan = &d->now->scans[k];
        if (!is_scan(d, scan) || strcmp(scan->label, label) != 0)
            continue;
        for (size_t j = scan->first; j < scan->first + scan->count; j++) {
            dialog_place *place = place_at(d, d->now->readings[j].position_mm);
            if (!place)
                continue;
            found += isnan(place->value);
            place->mm = d->now->readings[j].position_mm;
            place->value = dialog_as_typed(d->now->readings[j].deviation_nm / unit_nm, 12);
        }
    }
    for (int i = 0; i < d->nplaces; i++) {
        fw_entry entry = dialog_entry(d, &d->place[i]);
        entry.label = label;
        d->place[i].skipped = isnan(d->place[i].value) &&
                              fw_notebook_is_skipped(d->notebook, &entry);
        found += d->place[i].skipped;
    }
    return found;
}

void dialog_lay_places(fw_dialog *d)
{
    const fw_flat *pair[] = {&d->job->flats[d->bottom], &d->job->flats[d->top]};
    d->nplaces = d->at = 0;
    for (int i = 0; i < d->nstations; i++) {
        double s = fabs(d->station[i]);
        bool glass = true;
        for (int k = 0; k < 2; k++)
            glass = glass && s <= pair[k]->diameter_mm / 2 && s >= pair[k]->bore_mm / 2;
        if (glass)
            d->place[d->nplaces++] = (dialog_place){d->station[i], NAN, NAN, NAN, false};
    }
}

/* The height of a flat today at a place of its own line; false: not known. */
static bool height_at(const fw_result *r, int flat, fw_line line, double mm, double *height,
                      double *u)
{
    const fw_profile *profile = &r->faces[r->today[flat]].profile;
    for (int i = 0; i < profile->ndiameters; i++) {
        const fw_diameter *diameter = &profile->diameters[i];
        if (fabs(diameter->angle_deg - line.angle_deg) > FW_ANGLE_TOLERANCE_DEG)
            continue;
        for (size_t j = 0; j < diameter->npoints; j++) {
            const fw_point *point = &diameter->points[j];
            if (fabs(point->position_mm - line.flip * mm) > FW_POSITION_TOLERANCE_MM)
                continue;
            *height = point->height_nm;
            *u = point->u_nm;
            return point->determined && isfinite(*height) && isfinite(*u);
        }
    }
    return false;
}

/* From the solved flats: bottom plus top, d = h_bottom + h_top. */
static void foretell_by_flats(fw_dialog *d)
{
    fw_line lower = fw_line_of(d->diameter_deg);
    fw_line upper = fw_line_of_top(d->turn_deg, d->diameter_deg);
    for (int i = 0; i < d->nplaces; i++) {
        double a, b, ua, ub;
        if (height_at(d->result, d->bottom, lower, d->place[i].mm, &a, &ua) &&
            height_at(d->result, d->top, upper, d->place[i].mm, &b, &ub)) {
            d->place[i].foretold = a + b;
            d->place[i].u_nm = hypot(ua, ub);
        }
    }
}

/* Standard uncertainty of one reading, nm. */
static double sigma_of(const fw_dialog *d)
{
    if (isfinite(d->job->sigma_nm))
        return d->job->sigma_nm;
    if (d->result && !d->result->fit.sigma_known && isfinite(d->result->fit.sigma0))
        return d->result->fit.sigma0;
    double fringe = fw_unit_nm(FW_UNIT_FRINGE, &d->job->light);
    return isfinite(fringe) ? fringe * EYE_FRINGE : EYE_NM;
}

/* From the same scan read before, where the flats say nothing. */
static void foretell_by_repeat(fw_dialog *d)
{
    for (size_t k = 0; d->now && k < d->now->nscans; k++) {
        const fw_scan *scan = &d->now->scans[k];
        if (!is_scan(d, scan) || strcmp(scan->label, d->label) == 0)
            continue;
        for (size_t j = scan->first; j < scan->first + scan->count; j++) {
            dialog_place *place = place_at(d, d->now->readings[j].position_mm);
            if (place && isnan(place->foretold)) {
                place->foretold = d->now->readings[j].deviation_nm;
                place->u_nm = sigma_of(d);
            }
        }
    }
}

void dialog_foretell(fw_dialog *d)
{
    for (int i = 0; i < d->nplaces; i++)
        d->place[i].foretold = d->place[i].u_nm = NAN;
    if (d->result && d->round == d->result->round)
        foretell_by_flats(d);
    foretell_by_repeat(d);
}

static void point_out(const fw_dialog *d, int i, double expected_nm, double u_nm, const char *from)
{
    char value[FW_SCREEN_WORD], foretold[FW_SCREEN_WORD];
    double unit_nm = dialog_unit_nm(d);
    fw_screen_say(d->screen, 0, 2, FW_DOUBT "! %s does not fit" FW_PLAIN
                  ": %s " FW_PM " %.2g %s was to be expected here from %s. It is kept; `back` "
                  "corrects it.", dialog_value(d->place[i].value, value),
                  dialog_value(expected_nm / unit_nm, foretold), u_nm / unit_nm, dialog_unit(d),
                  from);
}

/*
 * Against what was foretold. The scan's height and tilt, p + q s, are fitted to the other readings
 * less what was foretold of them, weights 1 / u^2; then the reading is held against
 * foretold + p + q s. Returns false when too few are foretold.
 */
static bool check_foretold(const fw_dialog *d, int i)
{
    const dialog_place *here = &d->place[i];
    double unit_nm = dialog_unit_nm(d), sigma = sigma_of(d);
    double w = 0, ws = 0, wss = 0, wr = 0, wrs = 0;
    int others = 0;
    if (isnan(here->foretold))
        return false;
    for (int j = 0; j < d->nplaces; j++) {
        const dialog_place *p = &d->place[j];
        if (j == i || isnan(p->value) || isnan(p->foretold))
            continue;
        double weight = 1 / (sigma * sigma + p->u_nm * p->u_nm);
        double r = p->value * unit_nm - p->foretold, s = p->mm - here->mm;
        w += weight;
        ws += weight * s;
        wss += weight * s * s;
        wr += weight * r;
        wrs += weight * r * s;
        others++;
    }
    double det = w * wss - ws * ws;
    if (others < 3 || !(det > 0))
        return false;
    double offset = (wss * wr - ws * wrs) / det, variance = wss / det; /* of p at this place */
    double expected = here->foretold + offset;
    double u = sqrt(variance + sigma * sigma + here->u_nm * here->u_nm);
    if (fabs(here->value * unit_nm - expected) > OFF_FORETOLD * u)
        point_out(d, i, expected, u, "the earlier readings");
    return true;
}

/*
 * Against the three read before it: the parabola through them, carried on. Its weights w_k are
 * Lagrange's; variance sigma^2 (1 + sum w_k^2).
 */
static void check_neighbours(const fw_dialog *d, int i)
{
    double unit_nm = dialog_unit_nm(d), sigma = sigma_of(d), expected = 0, squares = 1;
    int before[3], n = 0;
    for (int j = i - 1; j >= 0 && n < 3; j--)
        if (!isnan(d->place[j].value))
            before[n++] = j;
    if (n < 3)
        return;
    for (int k = 0; k < 3; k++) {
        double w = 1;
        for (int m = 0; m < 3; m++)
            if (m != k)
                w *= (d->place[i].mm - d->place[before[m]].mm) /
                     (d->place[before[k]].mm - d->place[before[m]].mm);
        expected += w * d->place[before[k]].value * unit_nm;
        squares += w * w;
    }
    double u = sigma * sqrt(squares);
    if (fabs(d->place[i].value * unit_nm - expected) > OFF_NEIGHBOURS * u)
        point_out(d, i, expected, u, "the places before it");
}

void dialog_check(const fw_dialog *d, int i)
{
    if (!check_foretold(d, i))
        check_neighbours(d, i);
}

static void say_suspects(const fw_dialog *d)
{
    const fw_result *r = d->result;
    char value[FW_SCREEN_WORD];
    for (int i = 0; i < r->nsuspects; i++) {
        const fw_suspect *s = &r->suspects[i];
        if (!is_scan(d, &d->now->scans[s->scan]) ||
            strcmp(d->now->scans[s->scan].label, d->label) != 0)
            continue;
        fw_screen_say(d->screen, 0, 2, FW_DOUBT "! The reading at %+g mm" FW_PLAIN " does not fit "
                      "the others: an error of %s %s would explain it%s.", s->position_mm,
                      dialog_value(s->error_nm / dialog_unit_nm(d), value), dialog_unit(d),
                      s->tied ? ", or one of another reading" : "");
    }
}

/* odd(AB) - odd(AC) + odd(BC) = 0, told where this scan is one of the three. */
static void say_closures(const fw_dialog *d)
{
    const fw_result *r = d->result;
    fw_line line = fw_line_of(d->diameter_deg), mirror = fw_line_of(-d->diameter_deg);
    for (int i = 0; i < r->nclosures; i++) {
        const fw_closure *c = &r->closures[i];
        const int flats[] = {c->a, c->b, c->c};
        int mine = 0;
        for (int k = 0; k < 3; k++)
            mine += flats[k] == d->bottom || flats[k] == d->top;
        bool here = fabs(c->diameter_deg - line.angle_deg) <= FW_ANGLE_TOLERANCE_DEG ||
                    fabs(c->diameter_deg - mirror.angle_deg) <= FW_ANGLE_TOLERANCE_DEG;
        if (mine == 2 && here && d->turn_deg == 0 && c->rms_nm > OFF_CLOSURE * c->expected_nm)
            fw_screen_say(d->screen, 0, 2, FW_DOUBT "! The three pairs do not close" FW_PLAIN
                          " on this diameter: they miss by %.3g nm where %.3g nm was to be "
                          "expected.", c->rms_nm, c->expected_nm);
    }
}

void dialog_check_scan(const fw_dialog *d)
{
    if (!d->result)
        return;
    say_suspects(d);
    say_closures(d);
}
