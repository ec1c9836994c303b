/* solution_json.c - a solved job for a program: flatwright-solution/1. */
#include <math.h>

#include "flatwright/json.h"
#include "flatwright/report.h"
#include "job/parts.h"

static void put_quantity(fw_json *json, const char *value, const char *u, fw_quantity quantity)
{
    fw_json_number(json, value, quantity.value_nm);
    fw_json_number(json, u, quantity.u_nm);
}

static void put_point(fw_json *json, const fw_point *point)
{
    fw_json_object(json, NULL, FW_JSON_INLINE);
    fw_json_number(json, "position_mm", point->position_mm);
    fw_json_number(json, "height_nm", point->determined ? point->height_nm : NAN);
    fw_json_number(json, "u_nm", point->determined ? point->u_nm : NAN);
    fw_json_bool(json, "clear", point->clear);
    fw_json_close(json);
}

static void put_diameters(fw_json *json, const fw_profile *profile)
{
    fw_json_array(json, "diameters", FW_JSON_LINES);
    for (int d = 0; d < profile->ndiameters; d++) {
        const fw_diameter *diameter = &profile->diameters[d];
        fw_json_object(json, NULL, FW_JSON_INLINE);
        fw_json_number(json, "angle_deg", diameter->angle_deg);
        fw_json_bool(json, "determined", diameter->determined);
        fw_json_array(json, "points", FW_JSON_LINES);
        for (size_t i = 0; i < diameter->npoints; i++)
            put_point(json, &diameter->points[i]);
        fw_json_close(json);
        fw_json_close(json);
    }
    fw_json_close(json);
}

static void put_surface(fw_json *json, const fw_surface *surface)
{
    fw_json_object(json, "surface", FW_JSON_LINES);
    fw_json_number(json, "radius_mm", surface->radius_mm);
    fw_json_array(json, "terms", FW_JSON_LINES);
    for (int i = 0; i < surface->nterms; i++) {
        const fw_surface_term *term = &surface->terms[i];
        fw_json_object(json, NULL, FW_JSON_INLINE);
        fw_json_integer(json, "n", term->n);
        fw_json_integer(json, "m", term->m);
        fw_json_number(json, "nm", term->nm);
        fw_json_number(json, "u_nm", term->u_nm);
        fw_json_close(json);
    }
    fw_json_close(json);
    fw_json_close(json);
}

static void put_figure(fw_json *json, const fw_figure *figure)
{
    bool smooth = isfinite(figure->pv.value_nm); /* else there was no fit to have an order */
    if (smooth)
        fw_json_integer(json, "order", figure->order);
    else
        fw_json_null(json, "order");
    put_quantity(json, "pv_nm", "pv_u_nm", figure->pv);
    fw_json_number(json, "pv_raw_nm", figure->pv_raw_nm);
    put_quantity(json, "rms_nm", "rms_u_nm", figure->rms);
    put_quantity(json, "power_nm", "power_u_nm", figure->power);
    put_quantity(json, "irregularity_nm", "irregularity_u_nm", figure->irregularity);
    put_quantity(json, "symmetric_nm", "symmetric_u_nm", figure->symmetric);
    fw_json_bool(json, "finer", figure->finer);
    fw_json_number(json, "finer_p_value", figure->finer_p);
    fw_json_number(json, "finer_rms_nm", figure->finer_rms_nm);
    fw_json_number(json, "probability_within", figure->probability_within);
    fw_json_text(json, "verdict", fw_verdict_name(figure->verdict));
}

static void put_share(fw_json *json, const fw_share *share)
{
    fw_json_number(json, "power_nm", share->power_nm);
    fw_json_number(json, "irregularity_nm", share->irregularity_nm);
    fw_json_number(json, "pv_nm", share->pv_nm);
}

/* Standard uncertainties by source, largest first; null: no bound. */
static void put_budget(fw_json *json, const fw_budget *budget)
{
    fw_json_object(json, "budget", FW_JSON_LINES);
    fw_json_array(json, "sources", FW_JSON_LINES);
    for (int k = 0; k < budget->nshares; k++) {
        fw_json_object(json, NULL, FW_JSON_INLINE);
        fw_json_text(json, "source", fw_source_name(budget->shares[k].source));
        put_share(json, &budget->shares[k]);
        fw_json_text(json, "remedy", budget->shares[k].remedy);
        fw_json_close(json);
    }
    fw_json_close(json);
    if (budget->nshares) {
        fw_json_object(json, "total", FW_JSON_INLINE);
        put_share(json, &budget->total);
        fw_json_close(json);
    } else
        fw_json_null(json, "total");
    fw_json_close(json);
}

static void put_bench(fw_json *json, const fw_job *job, const fw_bench *bench)
{
    if (!bench->any) {
        fw_json_null(json, "bench");
        return;
    }
    fw_json_object(json, "bench", FW_JSON_LINES);
    fw_json_array(json, "flats", FW_JSON_LINES);
    for (int f = 0; f < job->nflats; f++) {
        const fw_bench_flat *b = &bench->flats[f];
        fw_json_object(json, NULL, FW_JSON_INLINE);
        fw_json_text(json, "name", job->flats[f].name);
        fw_json_number(json, "sag_bottom_nm", b->sag_nm[0]);
        fw_json_number(json, "sag_top_nm", b->sag_nm[1]);
        fw_json_number(json, "shear_nm", b->shear_nm);
        fw_json_bool(json, "counted", b->counted);
        fw_json_bool(json, "solved", b->solved);
        fw_json_number(json, "factor", b->counted ? b->factor : NAN);
        fw_json_number(json, "factor_u", b->counted ? b->factor_u : NAN);
        fw_json_number(json, "best_ring_mm", b->ring_mm);
        fw_json_number(json, "best_ring_nm", b->ring_nm);
        fw_json_number(json, "best_three_mm", b->points_mm);
        fw_json_number(json, "best_three_nm", b->points_nm);
        fw_json_number(json, "bow_nm", b->bow_nm);
        fw_json_number(json, "allowed_k", b->allowed_k);
        fw_json_number(json, "wait_s", b->wait_s);
        fw_json_close(json);
    }
    fw_json_close(json);
    fw_json_number(json, "false_rise_nm", bench->rise_nm);
    fw_json_number(json, "contrast_gap_um", bench->contrast_um);
    fw_json_close(json);
}

static void put_face(fw_json *json, const fw_job *job, const fw_face *face)
{
    fw_json_object(json, NULL, FW_JSON_LINES);
    fw_json_text(json, "name", job->flats[face->flat].name);
    fw_json_integer(json, "state", face->state);
    if (face->last_round > 0) {
        fw_json_integer(json, "first_round", face->first_round);
        fw_json_integer(json, "last_round", face->last_round);
    } else {
        fw_json_null(json, "first_round");
        fw_json_null(json, "last_round");
    }
    fw_json_bool(json, "determined", face->profile.determined);
    put_figure(json, &face->figure);
    put_budget(json, &face->budget);
    put_diameters(json, &face->profile);
    if (face->surface.terms)
        put_surface(json, &face->surface);
    fw_json_close(json);
}

static bool is_today(const fw_result *result, int face)
{
    return result->today[result->faces[face].flat] == face;
}

static void put_flats(fw_json *json, const fw_result *result, bool all)
{
    fw_json_array(json, "flats", FW_JSON_LINES);
    for (int f = 0; f < result->job->nflats; f++)
        put_face(json, result->job, &result->faces[result->today[f]]);
    fw_json_close(json);
    if (!all)
        return;
    fw_json_array(json, "earlier", FW_JSON_LINES);
    for (int f = 0; f < result->nfaces; f++)
        if (!is_today(result, f))
            put_face(json, result->job, &result->faces[f]);
    fw_json_close(json);
}

static void put_fit(fw_json *json, const fw_fit *fit)
{
    fw_json_object(json, "fit", FW_JSON_INLINE);
    fw_json_integer(json, "readings", (long long)fit->readings);
    fw_json_integer(json, "unknowns", (long long)fit->unknowns);
    fw_json_integer(json, "rank", (long long)fit->rank);
    fw_json_integer(json, "redundancy", (long long)fit->redundancy);
    fw_json_bool(json, "sigma_known", fit->sigma_known);
    fw_json_number(json, "sigma0", fit->sigma0);
    fw_json_number(json, "chi_square", fit->chi_square);
    fw_json_number(json, "p_value", fit->p_value);
    fw_json_number(json, "birge", fit->birge);
    fw_json_close(json);
}

static void put_removals(fw_json *json, const fw_result *result)
{
    fw_json_array(json, "removals", FW_JSON_LINES);
    for (int r = 0; r < result->nremovals; r++) {
        const fw_removal *removal = &result->removals[r];
        fw_json_object(json, NULL, FW_JSON_LINES);
        fw_json_text(json, "flat", result->job->flats[removal->flat].name);
        fw_json_integer(json, "from_state", removal->from_state);
        fw_json_integer(json, "to_state", removal->to_state);
        fw_json_array(json, "spells", FW_JSON_LINES);
        for (int w = 0; w < removal->nwork; w++) {
            const fw_work *work = &result->job->work[removal->work[w]];
            fw_json_object(json, NULL, FW_JSON_INLINE);
            fw_json_integer(json, "round", work->round);
            fw_json_text(json, "method", fw_method_names[work->method]);
            fw_json_number(json, "hours", work->hours);
            fw_json_text(json, "file", "work.csv");
            fw_json_integer(json, "line", work->line);
            fw_json_close(json);
        }
        fw_json_close(json);
        fw_json_number(json, "hours", removal->hours);
        put_quantity(json, "rms_nm", "rms_u_nm", removal->rms);
        fw_json_bool(json, "determined", removal->profile.determined);
        put_diameters(json, &removal->profile);
        fw_json_close(json);
    }
    fw_json_close(json);
}

static void put_unknowns(fw_json *json, const fw_result *result)
{
    fw_json_array(json, "undetermined", FW_JSON_LINES);
    for (int i = 0; i < result->nunknowns; i++) {
        const fw_unknown *unknown = &result->unknowns[i];
        fw_json_object(json, NULL, FW_JSON_INLINE);
        fw_json_array(json, "flats", FW_JSON_INLINE);
        for (int f = 0; f < unknown->nflats; f++)
            fw_json_text(json, NULL, result->job->flats[unknown->flats[f]].name);
        fw_json_close(json);
        fw_json_array(json, "diameters_deg", FW_JSON_INLINE);
        for (int d = 0; d < unknown->ndiameters; d++)
            fw_json_number(json, NULL, unknown->diameters_deg[d]);
        fw_json_close(json);
        fw_json_text(json, "text", unknown->text);
        fw_json_close(json);
    }
    fw_json_close(json);
}

static void put_suspects(fw_json *json, const fw_result *result)
{
    fw_json_array(json, "suspects", FW_JSON_LINES);
    for (int i = 0; i < result->nsuspects; i++) {
        const fw_suspect *suspect = &result->suspects[i];
        const fw_scan *scan = &result->job->scans[suspect->scan];
        fw_json_object(json, NULL, FW_JSON_INLINE);
        fw_json_text(json, "file", "readings.csv");
        fw_json_integer(json, "line", suspect->line);
        fw_json_number(json, "standardised", suspect->standardised);
        fw_json_number(json, "critical", suspect->critical);
        fw_json_number(json, "error_nm", suspect->error_nm);
        fw_json_number(json, "mdb_nm", suspect->mdb_nm);
        fw_json_bool(json, "tied", suspect->tied);
        fw_json_integer(json, "round", scan->round);
        fw_json_text(json, "bottom", result->job->flats[scan->bottom].name);
        fw_json_text(json, "top", result->job->flats[scan->top].name);
        fw_json_number(json, "turn_deg", scan->turn_deg);
        fw_json_number(json, "diameter_deg", scan->diameter_deg);
        fw_json_number(json, "position_mm", suspect->position_mm);
        fw_json_close(json);
    }
    fw_json_close(json);
}

static void put_closures(fw_json *json, const fw_result *result)
{
    fw_json_array(json, "closures", FW_JSON_LINES);
    for (int i = 0; i < result->nclosures; i++) {
        const fw_closure *closure = &result->closures[i];
        const fw_flat *flats = result->job->flats;
        fw_json_object(json, NULL, FW_JSON_INLINE);
        fw_json_array(json, "flats", FW_JSON_INLINE);
        fw_json_text(json, NULL, flats[closure->a].name);
        fw_json_text(json, NULL, flats[closure->b].name);
        fw_json_text(json, NULL, flats[closure->c].name);
        fw_json_close(json);
        fw_json_number(json, "diameter_deg", closure->diameter_deg);
        fw_json_integer(json, "redundancy", closure->redundancy);
        fw_json_number(json, "rms_nm", closure->rms_nm);
        fw_json_number(json, "expected_nm", closure->expected_nm);
        fw_json_close(json);
    }
    fw_json_close(json);
}

static void put_target(fw_json *json, const fw_job *job)
{
    static const char *const measures[] = {
        [FW_MEASURE_PV] = "pv",
        [FW_MEASURE_RMS] = "rms",
        [FW_MEASURE_IRREGULARITY] = "irregularity"};
    fw_json_object(json, "target", FW_JSON_INLINE);
    fw_json_number(json, "flatness_nm", job->flatness_nm);
    fw_json_text(json, "measure", measures[job->measure]);
    fw_json_number(json, "confidence", job->confidence);
    fw_json_close(json);
}

void fw_solution_json(FILE *out, const fw_result *result, bool all)
{
    fw_json json = {.out = out};
    fw_json_object(&json, NULL, FW_JSON_LINES);
    fw_json_text(&json, "format", "flatwright-solution/1");
    fw_json_text(&json, "title", result->job->title);
    fw_json_integer(&json, "round", result->round);
    fw_json_text(&json, "model", result->model == FW_MODEL_SURFACE ? "surface" : "profile");
    fw_json_text(&json, "model_reason", result->why);
    put_target(&json, result->job);
    put_fit(&json, &result->fit);
    fw_json_number(&json, "worst_mdb_nm", result->worst_mdb_nm);
    fw_json_integer(&json, "unchecked", (long long)result->unchecked);
    put_bench(&json, result->job, &result->bench);
    put_flats(&json, result, all);
    put_removals(&json, result);
    put_unknowns(&json, result);
    put_suspects(&json, result);
    put_closures(&json, result);
    fw_json_array(&json, "notes", FW_JSON_LINES);
    for (int i = 0; i < result->nnotes; i++)
        fw_json_text(&json, NULL, result->notes[i]);
    fw_json_close(&json);
    fw_json_close(&json);
}
