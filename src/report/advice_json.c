/* advice_json.c - the decision and its two ranked lists for a program: flatwright-advice/1. */
#include <math.h>

#include "flatwright/advice.h"
#include "job/parts.h"

static void put_measure(fw_json *json, const fw_job *job, const fw_next *next)
{
    fw_json_array(json, "measure", FW_JSON_LINES);
    for (int i = 0; next && i < next->ncandidates; i++) {
        const fw_candidate *c = &next->candidates[i];
        fw_json_object(json, NULL, FW_JSON_INLINE);
        fw_json_text(json, "bottom", job->flats[c->bottom].name);
        fw_json_text(json, "top", job->flats[c->top].name);
        fw_json_number(json, "turn_deg", c->turn_deg);
        fw_json_array(json, "diameters_deg", FW_JSON_INLINE);
        for (int d = 0; d < next->ndiameters; d++)
            fw_json_number(json, NULL, next->diameters_deg[d]);
        fw_json_close(json);
        fw_json_number(json, "score_before_nm2", c->score_before_nm2);
        fw_json_number(json, "score_after_nm2", c->score_after_nm2);
        fw_json_text(json, "worst_flat", job->flats[c->worst_flat].name);
        fw_json_number(json, "worst_u_before_nm", c->worst_u_before_nm);
        fw_json_number(json, "worst_u_after_nm", c->worst_u_after_nm);
        fw_json_close(json);
    }
    fw_json_close(json);
}

static void put_row(fw_json *json, const fw_job *job, const fw_plan *plan, const fw_plan_row *row)
{
    const fw_stroke *s = &row->stroke;
    bool full = s->method == FW_LAP_ON_TOP || s->method == FW_FLAT_ON_TOP;
    const fw_flat *flat = &job->flats[plan->flat];
    fw_json_object(json, NULL, FW_JSON_INLINE);
    fw_json_text(json, "flat", flat->name);
    fw_json_text(json, "method", fw_method_names[s->method]);
    fw_json_number(json, "inner_mm", full ? flat->bore_mm / 2 : s->inner_mm);
    fw_json_number(json, "outer_mm", full ? flat->diameter_mm / 2 : s->outer_mm);
    fw_json_number(json, "side_deg", s->method == FW_SIDE ? s->side_deg : NAN);
    fw_json_number(json, "stroke", full ? s->length : NAN);
    if (s->lateral > 0)
        fw_json_number(json, "sweep", s->lateral);
    if (s->lap_mm > 0)
        fw_json_number(json, "lap_mm", s->lap_mm);
    fw_json_number(json, "hours", row->hours);
    fw_json_integer(json, "spells", (long long)ceil(row->hours - 1e-9));
    fw_json_number(json, "pv_before_nm", row->pv_before_nm);
    fw_json_number(json, "pv_after_nm", row->pv_after_nm);
    fw_json_number(json, "pv_after_u_nm", row->pv_after_u_nm);
    fw_json_close(json);
}

/* Over a wave: to be ground, for how long nobody can tell; no polishing rows. */
static void put_grind(fw_json *json, const fw_job *job, const fw_plan *plan)
{
    const fw_flat *flat = &job->flats[plan->flat];
    fw_json_object(json, NULL, FW_JSON_INLINE);
    fw_json_text(json, "flat", flat->name);
    fw_json_text(json, "method", fw_method_names[FW_GRIND]);
    fw_json_number(json, "inner_mm", flat->bore_mm / 2);
    fw_json_number(json, "outer_mm", flat->diameter_mm / 2);
    fw_json_null(json, "side_deg");
    fw_json_null(json, "stroke");
    fw_json_null(json, "hours");
    fw_json_null(json, "spells");
    fw_json_number(json, "pv_before_nm", plan->pv_before_nm);
    fw_json_null(json, "pv_after_nm");
    fw_json_null(json, "pv_after_u_nm");
    fw_json_close(json);
}

static void put_plan(fw_json *json, const fw_job *job, const fw_plan *plan)
{
    if (plan->warnings & FW_WARN_WAVE)
        put_grind(json, job, plan);
    else
        for (int r = 0; r < plan->nrows; r++)
            put_row(json, job, plan, &plan->rows[r]);
}

static void put_stale(fw_json *json, const fw_job *job, const fw_next *next)
{
    fw_json_array(json, "stale", FW_JSON_LINES);
    for (int i = 0; next && i < next->nstale; i++) {
        const fw_pairing *p = &next->stale[i];
        fw_json_object(json, NULL, FW_JSON_INLINE);
        fw_json_text(json, "bottom", job->flats[p->bottom].name);
        fw_json_text(json, "top", job->flats[p->top].name);
        fw_json_number(json, "turn_deg", p->turn_deg);
        fw_json_integer(json, "round", p->round);
        fw_json_close(json);
    }
    fw_json_close(json);
}

/* What the bench makes uncertain, and the pairing to be read exchanged. */
static void put_bench(fw_json *json, const fw_job *job, const fw_next *next)
{
    if (!next || !next->result->bench.any) {
        fw_json_null(json, "bench");
        return;
    }
    fw_json_object(json, "bench", FW_JSON_INLINE);
    fw_json_bool(json, "limits", next->bench_limits);
    fw_json_number(json, "limit_nm", next->enough.limit_nm);
    fw_json_array(json, "flats", FW_JSON_INLINE);
    for (int f = 0; f < job->nflats; f++) {
        fw_json_object(json, NULL, FW_JSON_INLINE);
        fw_json_text(json, "name", job->flats[f].name);
        fw_json_number(json, "u_nm", next->bench_nm[f]);
        fw_json_close(json);
    }
    fw_json_close(json);
    if (next->exchange >= 0) {
        const fw_pairing *p = &next->good[next->exchange];
        fw_json_object(json, "exchange", FW_JSON_INLINE);
        fw_json_text(json, "bottom", job->flats[p->top].name);
        fw_json_text(json, "top", job->flats[p->bottom].name);
        fw_json_number(json, "turn_deg", p->turn_deg);
        fw_json_close(json);
    } else
        fw_json_null(json, "exchange");
    fw_json_close(json);
}

void fw_advice_json(FILE *out, const fw_advice *advice)
{
    const fw_job *job = advice->result->job;
    fw_json json = {.out = out};
    fw_json_object(&json, NULL, FW_JSON_LINES);
    fw_json_text(&json, "format", "flatwright-advice/1");
    fw_json_integer(&json, "round", advice->result->round);
    fw_json_text(&json, "decision", fw_decision_name(advice->decision));
    put_measure(&json, job, advice->next);
    fw_json_array(&json, "work", FW_JSON_LINES);
    for (int p = 0; p < advice->nplans; p++)
        put_plan(&json, job, &advice->plans[p]);
    fw_json_close(&json);
    put_stale(&json, job, advice->next);
    put_bench(&json, job, advice->next);
    fw_json_close(&json);
}
